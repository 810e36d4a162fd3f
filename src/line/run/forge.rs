//! Impressions and trimming: contact, lying, shape change and the heat of forming.

use super::handover::share_of_one;
use super::tools::{Body, Tool, facing};
use super::{RunError, Runner};
use crate::body::{Shape, Skin};
use crate::line::plan::{Between, DeformationHeat, Dies, Forge, Pose, Surroundings, Trim};

/// Which dies touch the part.
#[derive(Clone, Copy, PartialEq)]
enum Touch {
    None,
    Lower(f64),
    Both(f64),
}

/// The pair of dies of a stage.
struct Pair {
    tools: Vec<Tool>,
    skins: Vec<Vec<Skin>>,
    pose: Pose,
    share: f64,
}

impl Runner<'_> {
    /// Runs the blows of one impression.
    pub(super) fn forge(&mut self, index: usize, forge: &Forge) -> Result<(), RunError> {
        let surroundings = self.plan.stages[index].surroundings;
        let start = self.part.solver.time_s();
        self.part.pose = forge.pose;
        let mut pair = self.dies(&forge.dies, forge.pose, forge.share, &surroundings)?;
        if forge.lying_before_s > 0.0 {
            self.phase(
                &pair,
                &surroundings,
                Touch::Lower(forge.dies.resting_w_m2k),
                start + forge.lying_before_s,
            )?;
        }
        let first = self.part.shape.clone();
        for blow in 0..forge.blows {
            let at = start + forge.blow_start_s(blow);
            self.recorder.moment(&format!("blow {}", blow + 1), &self.part);
            let title = format!("{}, blow {}", self.recorder.stage_name(), blow + 1);
            self.recorder.map(&title, &self.part);
            if let (Some(from), Some(to)) = (&first, &forge.shape) {
                self.strike_shape(&mut pair, &after_blow(from, to, blow + 1, forge.blows))?;
            }
            self.forming_heat(forge, at)?;
            self.phase(
                &pair,
                &surroundings,
                Touch::Both(forge.dies.blow_w_m2k),
                at + forge.contact_s,
            )?;
            self.part.solver.clear_source();
            if blow + 1 < forge.blows {
                let touch = match forge.between {
                    Between::Lying => Touch::Lower(forge.dies.resting_w_m2k),
                    Between::Lifted => Touch::None,
                    Between::Pressed => Touch::Both(forge.dies.pressed_w_m2k),
                };
                self.phase(&pair, &surroundings, touch, start + forge.blow_start_s(blow + 1))?;
            }
        }
        if forge.lying_after_s > 0.0 {
            let end = start + forge.seconds();
            self.phase(&pair, &surroundings, Touch::Lower(forge.dies.resting_w_m2k), end)?;
        }
        self.leave(&pair, &surroundings)
    }

    /// Runs a trimming or piercing stroke.
    pub(super) fn trim(&mut self, index: usize, trim: &Trim) -> Result<(), RunError> {
        let surroundings = self.plan.stages[index].surroundings;
        let start = self.part.solver.time_s();
        self.part.pose = trim.pose;
        let pair = self.dies(&trim.dies, trim.pose, trim.share, &surroundings)?;
        if trim.lying_before_s > 0.0 {
            self.phase(
                &pair,
                &surroundings,
                Touch::Lower(trim.dies.resting_w_m2k),
                start + trim.lying_before_s,
            )?;
        }
        self.recorder.moment("blow 1", &self.part);
        let title = format!("{}, stroke", self.recorder.stage_name());
        self.recorder.map(&title, &self.part);
        let end = start + trim.lying_before_s + trim.contact_s;
        self.phase(&pair, &surroundings, Touch::Both(trim.dies.blow_w_m2k), end)?;
        self.leave(&pair, &surroundings)?;
        if !trim.removes.is_empty() {
            self.book();
            let lost = self.part.remove(&trim.removes).map_err(|source| RunError::Mesh {
                stage: self.recorder.stage_name().to_owned(),
                source,
            })?;
            let account = self
                .part
                .solver
                .account(&format!("removed {}", trim.removes.join(", ")));
            self.part.solver.ledger_mut().add(account, -lost);
            self.part.solver.ledger_mut().add_stored(-lost);
            self.set_air(&surroundings, &[0.0; 6])?;
        }
        Ok(())
    }

    fn dies(&mut self, dies: &Dies, pose: Pose, share: f64, s: &Surroundings) -> Result<Pair, RunError> {
        let (below, above) = facing(pose);
        let one = share_of_one(pose, share);
        let lower = self.add_tool("lower die", &below, one, &Body::of_die(&dies.lower), s)?;
        let upper = self.add_tool("upper die", &above, one, &Body::of_die(&dies.upper), s)?;
        Ok(Pair {
            tools: vec![lower, upper],
            skins: vec![below, above],
            pose,
            share: one,
        })
    }

    /// Marches to `end` with the given contact.
    fn phase(&mut self, pair: &Pair, s: &Surroundings, touch: Touch, end: f64) -> Result<(), RunError> {
        let (lower, upper) = match touch {
            Touch::None => (None, None),
            Touch::Lower(h) => (Some(h), None),
            Touch::Both(h) => (Some(h), Some(h)),
        };
        self.touch(&pair.tools[0], lower);
        self.touch(&pair.tools[1], upper);
        let mut covered = [0.0; 6];
        for (skins, on) in pair.skins.iter().zip([lower, upper]) {
            for skin in skins {
                covered[*skin as usize] += if on.is_some() { pair.share } else { 0.0 };
            }
        }
        debug_assert!(pair.pose == Pose::Standing || covered.iter().all(|c| *c <= 1.0));
        self.set_air(s, &covered)?;
        self.advance(end)?;
        for tool in &pair.tools {
            self.note_tool(tool);
        }
        Ok(())
    }

    /// The part leaves the dies.
    fn leave(&mut self, pair: &Pair, s: &Surroundings) -> Result<(), RunError> {
        for tool in &pair.tools {
            self.touch(tool, None);
        }
        self.book();
        self.part.solver.take_columns();
        self.set_air(s, &[0.0; 6])
    }

    /// Changes the shape with the dies in place.
    fn strike_shape(&mut self, pair: &mut Pair, new: &Shape) -> Result<(), RunError> {
        let stage = self.recorder.stage_name().to_owned();
        self.book();
        let before = self.part.solver.total_enthalpy();
        let columns = self.part.solver.take_columns();
        self.part
            .reshape(new)
            .map_err(|source| RunError::Mesh { stage, source })?;
        let after = self.part.solver.total_enthalpy();
        // Volumes agree within the tolerance of the line file; the difference is booked by name.
        let account = self.part.solver.account("volume difference of shapes");
        self.part.solver.ledger_mut().add(account, after - before);
        self.part.solver.ledger_mut().add_stored(after - before);
        self.carry_tools(&mut pair.tools, columns, &pair.skins);
        Ok(())
    }

    /// Sets the heat of forming of one blow as a source over its contact time.
    fn forming_heat(&mut self, forge: &Forge, at: f64) -> Result<(), RunError> {
        debug_assert!((self.part.solver.time_s() - at).abs() < 1e-6);
        let grid = self.part.mesh.grid.clone();
        let volume = grid.volume();
        let blows = f64::from(forge.blows);
        let joules: Vec<f64> = match &forge.heat {
            DeformationHeat::None => return Ok(()),
            DeformationHeat::BlowEnergy {
                energy_j,
                efficiency,
                heat_share,
            } => {
                let per_volume = energy_j * efficiency * heat_share / grid.total_volume();
                volume.iter().map(|v| v * per_volume).collect()
            }
            DeformationHeat::FlowStress {
                strain,
                ring_strain,
                strain_rate_1_s,
                flow_stress_pa,
                heat_share,
            } => {
                let done = self.recorder.blows_done();
                let rings: Vec<Option<usize>> = self.part.ring_of_cells();
                let mut out_of_range = None;
                let joules = (0..grid.cells())
                    .map(|c| {
                        if volume[c] == 0.0 {
                            return 0.0;
                        }
                        let total = rings[c].and_then(|r| ring_strain.get(r)).copied().unwrap_or(*strain);
                        let share = total / blows;
                        let temp_c = self.part.solver.temperature(c);
                        let stress = match (flow_stress_pa, &self.plan.metal.flow_stress) {
                            (Some(p), _) => *p,
                            (None, Some(law)) => {
                                let so_far = share * (done - 1.0);
                                let end = so_far + share;
                                out_of_range = out_of_range.take().or(law.out_of_range(temp_c, end, *strain_rate_1_s));
                                law.mean_between_pa(temp_c, so_far, end, *strain_rate_1_s)
                            }
                            (None, None) => 0.0,
                        };
                        heat_share * stress * share * volume[c]
                    })
                    .collect();
                if let Some(out) = out_of_range {
                    let stage = self.recorder.stage_name().to_owned();
                    let start = format!("stage `{stage}`: flow stress used at {}", out.quantity);
                    // Once a stage and quantity is enough; later blows only go further.
                    if !self.warnings.iter().any(|w| w.message.starts_with(&start)) {
                        let unit = if out.unit.is_empty() {
                            String::new()
                        } else {
                            format!(" {}", out.unit)
                        };
                        let message = format!(
                            "{start} {:.2}{unit}, outside the {} to {}{unit} it was fitted to",
                            out.value, out.range.0, out.range.1
                        );
                        self.warn("flow-stress-extrapolated", message);
                    }
                }
                joules
            }
        };
        let account = self.part.solver.account("deformation");
        let power: Vec<f64> = joules.iter().map(|q| q / forge.contact_s).collect();
        self.part.solver.set_source(account, &power);
        Ok(())
    }
}

/// Shape after blow `blow` of `blows`: the final outline, still stretched along the axis so that
/// every blow takes the same share of the logarithmic height change.
fn after_blow(from: &Shape, to: &Shape, blow: u32, blows: u32) -> Shape {
    if blow >= blows {
        return to.clone();
    }
    let ratio = from.mean_height_m() / to.mean_height_m();
    let left = f64::from(blows - blow) / f64::from(blows);
    to.stretched(ratio.powf(left))
}
