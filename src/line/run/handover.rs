//! Stages between tools: carry, wait, rest, descale, cool.

use super::tools::{Body, Jaws, Press, Tool, facing};
use super::{RunError, Runner};
use crate::body::{Layout, Skin};
use crate::conduction::{Exchange, Tolerance};
use crate::judge::Moment;
use crate::line::plan::{Grip, GripEnd, Pose, StageKind, Support, Surroundings};

/// Tolerance of a step under a spray as a share of the usual one. A spray takes a corner through its transformation in a
/// second from three sides: with the usual tolerance corners of random lines were off by up to 3.2 K, with this by 0.6 K.
const SPRAYED_SHARE: f64 = 0.2;

impl Runner<'_> {
    /// Runs a stage that is neither forge nor trim.
    pub(super) fn hand_over(&mut self, index: usize) -> Result<(), RunError> {
        let stage = &self.plan.stages[index];
        let surroundings = stage.surroundings;
        let end = self.part.solver.time_s() + stage.seconds();
        match &stage.kind {
            StageKind::Carry { grips, .. } if !grips.is_empty() => self.carry_gripped(grips, &surroundings, end),
            StageKind::Rest { support, .. } => self.rest(support, &surroundings, end),
            StageKind::Cool(cool) => self.cool(cool, &surroundings, end),
            StageKind::Descale {
                film_w_m2k, water_c, ..
            } => {
                let exchange = Exchange {
                    film: (*film_w_m2k).into(),
                    fluid_c: (*water_c).into(),
                    emissivity: self.films.emissivity(&self.plan.metal, &surroundings),
                    view: surroundings.view_factor,
                    radiant_c: surroundings.surroundings_c.into(),
                    ..Exchange::none()
                };
                if let Some(scale) = &mut self.scale {
                    scale.wet(true);
                }
                self.set_everywhere(&exchange, "descaling water");
                let usual = self.part.solver.tolerance();
                self.part.solver.set_tolerance(Tolerance {
                    step_k: SPRAYED_SHARE * usual.step_k,
                    ..usual
                });
                self.advance("spray", end)?;
                self.part.solver.set_tolerance(usual);
                if let Some(scale) = &mut self.scale {
                    scale.wet(false);
                }
                self.set_air(&surroundings, &super::air::BARE)
            }
            _ => {
                self.set_air(&surroundings, &super::air::BARE)?;
                self.advance("air", end)
            }
        }
    }

    /// From each closing or opening of a grip to the next, with the jaws that are closed meanwhile.
    fn carry_gripped(&mut self, grips: &[Grip], surroundings: &Surroundings, end: f64) -> Result<(), RunError> {
        let start = self.part.solver.time_s();
        let closes = |grip: &Grip| (start + grip.late_s).min(end);
        let opens = |grip: &Grip| grip.opens_s.map_or(end, |s| (start + s).min(end));
        let mut times: Vec<f64> = grips.iter().flat_map(|g| [closes(g), opens(g)]).chain([end]).collect();
        times.sort_by(f64::total_cmp);
        let mut from = start;
        for until in times {
            if until - from < 1e-9 {
                continue;
            }
            let closed: Vec<&Grip> = grips
                .iter()
                .filter(|g| closes(g) <= from + 1e-9 && opens(g) >= until - 1e-9)
                .collect();
            self.hold(&closed, grips, surroundings, until, until == end)?;
            from = until;
        }
        Ok(())
    }

    /// Marches to `until` with some grips closed.
    fn hold(
        &mut self,
        closed: &[&Grip],
        all: &[Grip],
        surroundings: &Surroundings,
        until: f64,
        last: bool,
    ) -> Result<(), RunError> {
        if closed.is_empty() {
            self.set_air(surroundings, &super::air::BARE)?;
            return self.advance("air", until);
        }
        let reach = |end: GripEnd| {
            let grip = closed.iter().find(|g| g.end == end);
            grip.map_or((0.0, 0.0), |g| (g.from_end_m, g.from_end_m + g.length_m))
        };
        let mesh = self
            .part
            .mesh
            .gripped_between(reach(GripEnd::GripEnd), reach(GripEnd::FreeEnd));
        self.part.solver.regroup(mesh.grid.clone());
        let plain = std::mem::replace(&mut self.part.mesh, mesh);
        let mut tools: Vec<Tool> = Vec::new();
        for grip in closed {
            let held = (grip.from_end_m, grip.from_end_m + grip.length_m);
            let (skin, name, reach) = match grip.end {
                GripEnd::GripEnd => (Skin::GripLow, "jaws at grip end", self.part.mesh.from_low(held)),
                GripEnd::FreeEnd => (Skin::GripHigh, "jaws at free end", self.part.mesh.from_high(held)),
            };
            let body = Body {
                metal: &grip.metal,
                depth_m: grip.depth_m,
                bulk_c: grip.jaw_c,
                cold_c: grip.gripper.as_ref().map_or(grip.jaw_c, |gripper| gripper.cold_c),
                fixed: false,
                back: grip.back,
                die: None,
                jaws: Some(Jaws {
                    gripper: grip.gripper.as_ref(),
                    again: all.iter().filter(|other| other.end == grip.end).count() > 1,
                    reach,
                }),
            };
            let tool = self.add_tool(name, &[skin], grip.share, &body, surroundings, None)?;
            self.touch(&tool, Some(&Press::even(grip.contact_w_m2k)), false);
            tools.push(tool);
        }
        let of_tool = |tool: &Tool| {
            let taken = tool.taken.iter().map(|taken| taken * tool.share);
            tool.faces.iter().copied().zip(taken).collect::<Vec<_>>()
        };
        self.expose(tools.iter().flat_map(of_tool).collect::<Vec<_>>().into_iter());
        self.set_air(surroundings, &super::air::BARE)?;
        self.advance("air", until)?;
        for tool in &mut tools {
            self.note_tool(tool);
        }
        if last {
            // The jaws open as the stage ends; its last temperatures are theirs.
            self.recorder.moment(Moment::End, &self.part);
        }
        self.put_back(tools)?;
        self.part.solver.regroup(plain.grid.clone());
        self.part.mesh = plain;
        self.set_air(surroundings, &super::air::BARE)
    }

    fn rest(&mut self, support: &Support, surroundings: &Surroundings, end: f64) -> Result<(), RunError> {
        let (mut tool, covered) = self.stand(support, surroundings)?;
        self.set_air(surroundings, &covered)?;
        self.advance("resting", end)?;
        self.note_tool(&mut tool);
        self.recorder.moment(Moment::End, &self.part);
        self.lift_off(tool, surroundings)
    }

    /// Takes the part off its support.
    pub(super) fn lift_off(&mut self, tool: Tool, surroundings: &Surroundings) -> Result<(), RunError> {
        self.put_back(vec![tool])?;
        self.expose(std::iter::empty());
        self.set_air(surroundings, &super::air::BARE)
    }

    /// Puts the part on a support; gives it with the share of each skin that it covers.
    pub(super) fn stand(
        &mut self,
        support: &Support,
        surroundings: &Surroundings,
    ) -> Result<(Tool, [f64; Skin::ALL.len()]), RunError> {
        self.part.pose = support.pose;
        let layout = self.part.mesh.layout;
        let (skins, _) = facing(support.pose, layout);
        // A plate has two faces and rests on one.
        let share = if layout == Layout::Plate {
            0.5 * support.share
        } else {
            support.share
        };
        let body = Body {
            metal: &support.metal,
            depth_m: support.depth_m,
            bulk_c: support.bulk_c,
            cold_c: support.bulk_c,
            fixed: false,
            back: support.back,
            die: None,
            jaws: None,
        };
        let tool = self.add_tool("support", &skins, share, &body, surroundings, None)?;
        if support.lowest && self.touch_lowest(&tool, support.contact_w_m2k) {
            return Ok((tool, super::air::BARE));
        }
        self.touch(&tool, Some(&Press::even(support.contact_w_m2k)), false);
        Ok((tool, covered(&skins, share)))
    }
}

/// Covered share of each skin.
pub(super) fn covered(skins: &[Skin], share: f64) -> [f64; Skin::ALL.len()] {
    let mut out = super::air::BARE;
    for skin in skins {
        out[*skin as usize] = share;
    }
    out
}

/// Share of a face that one of two tools takes in a pose: end faces belong to one tool each, a
/// lying side, or the two faces of a plate, are shared by the lower and the upper tool.
pub(super) fn share_of_one(pose: Pose, layout: Layout, share: f64) -> f64 {
    match pose {
        _ if layout == Layout::Strips => share,
        Pose::Standing if layout != Layout::Plate => share,
        _ => 0.5 * share,
    }
}
