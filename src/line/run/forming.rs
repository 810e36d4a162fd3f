//! The heat of forming (flow stress times strain, or a share of the blow energy) and of friction.

use super::tools::Tool;
use super::{RunError, Runner};
use crate::body::{Grid, sliding};
use crate::judge::{Datum, Warning};
use crate::line::plan::{DeformationHeat, Forge, Friction};
use crate::surface::contact::interface_share;

/// Raster of a [`MeanStress`], K. Between two points a flow stress that falls by half in 150 K is
/// off by 2e-4 of itself at most.
const RASTER_K: f64 = 8.0;

/// Mean flow stress of one blow against temperature, on a raster filled where it is asked for:
/// the integral over the strain is worth some hundred evaluations of the law, and thousands of
/// cells ask for it at much the same temperatures.
struct MeanStress {
    /// Strain at the end of the blow, by which the table is found again.
    end: f64,
    low_c: f64,
    values: Vec<Option<f64>>,
}

impl MeanStress {
    fn new(temps_c: &[f64], end: f64) -> MeanStress {
        let (low, high) = temps_c
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| {
                (low.min(*t), high.max(*t))
            });
        let low_c = (low / RASTER_K).floor() * RASTER_K;
        let points = ((high - low_c) / RASTER_K) as usize + 2;
        MeanStress {
            end,
            low_c,
            values: vec![None; points],
        }
    }

    /// The value at a temperature within those the table was made for.
    fn at(&mut self, temp_c: f64, law: impl Fn(f64) -> f64) -> f64 {
        let x = (temp_c - self.low_c) / RASTER_K;
        let i = (x as usize).min(self.values.len() - 2);
        let low_c = self.low_c;
        let mut point = |k: usize| *self.values[k].get_or_insert_with(|| law(low_c + RASTER_K * k as f64));
        let (a, b) = (point(i), point(i + 1));
        a + (x - i as f64) * (b - a)
    }
}

/// How a stage strains the part, for its flow stress.
#[derive(Clone, Copy)]
struct Straining<'a> {
    /// Total strain of the stage.
    strain: f64,
    /// Total strain of each ring.
    rings: &'a [f64],
    rate_1_s: f64,
    /// Flow stress that replaces that of the metal, Pa.
    stress_pa: Option<f64>,
    /// Share of the strain that the blows before have made, and this one makes.
    shares: (f64, f64),
}

impl Straining<'_> {
    /// Strain of a ring before this blow, and by this blow.
    fn of_blow(&self, ring: Option<usize>) -> (f64, f64) {
        let total = ring.and_then(|r| self.rings.get(r)).copied().unwrap_or(self.strain);
        (total * self.shares.0, total * self.shares.1)
    }
}

/// Strain rate of a blow: the mean of the stage, or in proportion to its share of the strain.
fn rate_of(forge: &Forge, blow: u32, rate_1_s: f64) -> f64 {
    if forge.rate_follows {
        rate_1_s * forge.blow_share(blow) * f64::from(forge.blows)
    } else {
        rate_1_s
    }
}

impl Runner<'_> {
    /// Sets the heat of forming of blow `blow` (from 0) as a source over its contact time, after the
    /// friction \[J\] that the blow energy pays for.
    pub(super) fn forming_heat(&mut self, forge: &Forge, blow: u32, friction_j: f64) -> Result<(), RunError> {
        let grid = self.part.mesh.grid.clone();
        let volume = grid.volume();
        let joules: Vec<f64> = match &forge.heat {
            DeformationHeat::None => return Ok(()),
            DeformationHeat::BlowEnergy {
                energy_j,
                efficiency,
                heat_share,
            } => {
                let forming_j = (energy_j * efficiency - friction_j).max(0.0);
                let per_volume = forming_j * heat_share / grid.total_volume();
                volume.iter().map(|v| v * per_volume).collect()
            }
            DeformationHeat::FlowStress {
                strain,
                ring_strain,
                strain_rate_1_s,
                flow_stress_pa,
                heat_share,
            } => {
                let straining = Straining {
                    strain: *strain,
                    rings: ring_strain,
                    rate_1_s: rate_of(forge, blow, *strain_rate_1_s),
                    stress_pa: *flow_stress_pa,
                    shares: (forge.shape_share(blow), forge.blow_share(blow)),
                };
                let rings = self.part.ring_of_cells();
                let cells: Vec<usize> = (0..grid.cells()).filter(|c| volume[*c] > 0.0).collect();
                let stress = self.flow_stress(&straining, &rings, &cells);
                let mut joules = vec![0.0; grid.cells()];
                for (c, stress) in cells.iter().zip(stress) {
                    joules[*c] = heat_share * stress * straining.of_blow(rings[*c]).1 * volume[*c];
                }
                joules
            }
        };
        let account = self.part.solver.account("deformation");
        let power: Vec<f64> = joules.iter().map(|q| q / forge.contact_s).collect();
        self.part.solver.add_source(account, &power);
        Ok(())
    }

    /// Mean flow stress \[Pa\] of some cells during the present blow.
    fn flow_stress(&mut self, straining: &Straining<'_>, rings: &[Option<usize>], cells: &[usize]) -> Vec<f64> {
        let mut out_of_range = None;
        let temps_c = self.part.solver.temperatures();
        let mut tables: Vec<MeanStress> = Vec::new();
        let rate = straining.rate_1_s;
        let stress = cells
            .iter()
            .map(|c| match (straining.stress_pa, &self.plan.metal.flow_stress) {
                (Some(p), _) => p,
                (None, Some(law)) => {
                    let (so_far, strain) = straining.of_blow(rings[*c]);
                    let temp_c = temps_c[*c];
                    let end = so_far + strain;
                    out_of_range = out_of_range.take().or(law.out_of_range(temp_c, end, rate));
                    // Cells of one ring share their strain.
                    let table = match tables.iter().position(|t| t.end == end) {
                        Some(table) => &mut tables[table],
                        None => {
                            tables.push(MeanStress::new(&temps_c, end));
                            let last = tables.len() - 1;
                            &mut tables[last]
                        }
                    };
                    table.at(temp_c, |t| law.mean_between_pa(t, so_far, end, rate))
                }
                (None, None) => 0.0,
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
                let mut warning = Warning::new("flow-stress-extrapolated", message);
                warning
                    .tell("stage", Datum::Name(stage))
                    .tell("quantity", Datum::Term(out.quantity.to_owned()))
                    .tell("value", Datum::Plain(out.value))
                    .tell("low", Datum::Plain(out.range.0))
                    .tell("high", Datum::Plain(out.range.1))
                    .tell("unit", Datum::Name(out.unit.to_owned()));
                self.warn(warning);
            }
        }
        stress
    }

    /// Sets the heat of friction of one blow free at the faces that slide over the dies: part and die
    /// share it by their effusivities, as two half-spaces do. `before` is the mesh that the blow
    /// found. Gives the work of friction on both faces, J.
    pub(super) fn friction_heat(
        &mut self,
        forge: &Forge,
        blow: u32,
        friction: &Friction,
        before: &Grid,
        tools: [(&Tool, bool); 2],
    ) -> Result<f64, RunError> {
        let grid = self.part.mesh.grid.clone();
        let slides = sliding(before, &grid);
        let rings = self.part.ring_of_cells();
        let straining = Straining {
            strain: friction.strain,
            rings: &friction.ring_strain,
            rate_1_s: rate_of(forge, blow, friction.strain_rate_1_s),
            stress_pa: friction.flow_stress_pa,
            shares: (forge.shape_share(blow), forge.blow_share(blow)),
        };
        // Work on each face of each tool.
        let mut work: Vec<Vec<f64>> = Vec::new();
        for (tool, upper) in tools {
            let cells: Vec<usize> = tool.faces.iter().map(|f| grid.faces()[*f].cell).collect();
            let stress = self.flow_stress(&straining, &rings, &cells);
            let of_face = tool
                .faces
                .iter()
                .zip(cells.iter().zip(stress))
                .map(|(face, (cell, stress))| {
                    let touch = rings[*cell].and_then(|r| forge.ring_touch.get(r)).copied();
                    if !touch.unwrap_or_default().meets(upper) {
                        return 0.0;
                    }
                    let shear = friction.factor * stress / 3.0_f64.sqrt();
                    let area = grid.faces()[*face].area * tool.share;
                    shear * area * slides[grid.position(*cell)[1]]
                });
            work.push(of_face.collect());
        }
        let mut total: f64 = work.iter().flatten().sum();
        if let DeformationHeat::BlowEnergy {
            energy_j, efficiency, ..
        } = &forge.heat
        {
            let most = energy_j * efficiency;
            if total > most {
                let stage = self.recorder.stage_name().to_owned();
                let message = format!(
                    "stage `{stage}`: friction would take {:.2} kJ of a blow that brings {:.2} kJ to the part; all of \
                     it was taken as friction",
                    total * 1e-3,
                    most * 1e-3
                );
                let mut warning = Warning::new("friction-exceeds-energy", message);
                warning
                    .tell("stage", Datum::Name(stage))
                    .tell("friction", Datum::Joules(total))
                    .tell("blow", Datum::Joules(most));
                self.warn(warning);
                work.iter_mut().flatten().for_each(|w| *w *= most / total);
                total = most;
            }
        }
        let mut part_power = vec![0.0; grid.cells()];
        for ((tool, _), work) in tools.into_iter().zip(work) {
            let mut tool_power = vec![0.0; tool.faces.len()];
            for (column, (face, joules)) in tool.faces.iter().zip(&work).enumerate() {
                let cell = grid.faces()[*face].cell;
                let own = self.part.solver.effusivity(cell);
                let other = self.part.solver.columns(tool.set).effusivity(column);
                let share = interface_share(own, other).map_err(|source| RunError::Surface {
                    stage: self.recorder.stage_name().to_owned(),
                    source,
                })?;
                part_power[cell] += share * joules / forge.contact_s;
                tool_power[column] = (1.0 - share) * joules / forge.contact_s;
            }
            let kept: f64 = tool_power.iter().sum();
            self.part.solver.columns_mut(tool.set).set_source(&tool_power);
            self.recorder.note_friction(tool.name, kept * forge.contact_s * 1e-3);
        }
        let account = self.part.solver.account("friction");
        self.part.solver.add_source(account, &part_power);
        Ok(total)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::steel::{FlowLaw, FlowStress, Provenance};

    #[test]
    fn the_raster_follows_the_law() {
        let law = FlowStress::new(FlowLaw::Misaka { carbon: 0.42 }, "", Provenance::Given);
        let temps: Vec<f64> = (0..200).map(|i| 760.0 + 2.5 * f64::from(i)).collect();
        let exact = |t: f64| law.mean_between_pa(t, 0.1, 0.3, 60.0);
        let mut table = MeanStress::new(&temps, 0.3);
        for t in temps {
            let ratio = table.at(t, exact) / exact(t);
            assert!((ratio - 1.0).abs() < 2e-4, "{t}: {ratio}");
        }
    }
}
