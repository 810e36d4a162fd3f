//! Stages between tools: carry, wait, rest, descale, cool.

use super::tools::{Body, Press, Tool, facing};
use super::{RunError, Runner};
use crate::body::{Layout, Skin};
use crate::conduction::Exchange;
use crate::line::plan::{Grip, GripEnd, Pose, StageKind, Support, Surroundings};

impl Runner<'_> {
    /// Runs a stage that is neither forge nor trim.
    pub(super) fn hand_over(&mut self, index: usize) -> Result<(), RunError> {
        let stage = &self.plan.stages[index];
        let surroundings = stage.surroundings;
        let end = self.part.solver.time_s() + stage.seconds();
        match &stage.kind {
            StageKind::Carry { grips, .. } if !grips.is_empty() => self.carry_gripped(grips, &surroundings, end),
            StageKind::Rest { support, .. } => self.rest(support, &surroundings, end),
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
                self.set_everywhere(&exchange, "descaling water");
                self.advance("spray", end)?;
                self.set_air(&surroundings, &super::air::BARE)
            }
            _ => {
                self.set_air(&surroundings, &super::air::BARE)?;
                self.advance("air", end)
            }
        }
    }

    fn carry_gripped(&mut self, grips: &[Grip], surroundings: &Surroundings, end: f64) -> Result<(), RunError> {
        let length = |which: GripEnd| grips.iter().find(|g| g.end == which).map_or(0.0, |g| g.length_m);
        let mesh = self
            .part
            .mesh
            .gripped(length(GripEnd::GripEnd), length(GripEnd::FreeEnd));
        self.part.solver.regroup(mesh.grid.clone());
        let plain = std::mem::replace(&mut self.part.mesh, mesh);
        let mut covered = super::air::BARE;
        let mut tools: Vec<Tool> = Vec::new();
        for grip in grips {
            let (skin, name) = match grip.end {
                GripEnd::GripEnd => (Skin::GripLow, "jaws at grip end"),
                GripEnd::FreeEnd => (Skin::GripHigh, "jaws at free end"),
            };
            let body = Body {
                metal: &grip.metal,
                depth_m: grip.depth_m,
                bulk_c: grip.jaw_c,
                cold_c: grip.jaw_c,
                fixed: false,
                is_die: false,
            };
            tools.push(self.add_tool(name, &[skin], grip.share, &body, surroundings, None)?);
        }
        let start = self.part.solver.time_s();
        let mut order: Vec<usize> = (0..grips.len()).collect();
        order.sort_by(|a, b| grips[*a].late_s.total_cmp(&grips[*b].late_s));
        for index in order {
            let (grip, tool) = (&grips[index], &tools[index]);
            let closes = (start + grip.late_s).min(end);
            if closes > self.part.solver.time_s() {
                self.set_air(surroundings, &covered)?;
                self.advance("air", closes)?;
            }
            self.touch(tool, Some(&Press::even(grip.contact_w_m2k)), false);
            covered[tool.skins[0] as usize] = grip.share;
        }
        self.set_air(surroundings, &covered)?;
        self.advance("air", end)?;
        for tool in &mut tools {
            self.note_tool(tool);
        }
        // The jaws open as the stage ends; the part's faces are one skin again.
        self.recorder.moment("end", &self.part);
        self.put_back(tools)?;
        self.part.solver.regroup(plain.grid.clone());
        self.part.mesh = plain;
        self.set_air(surroundings, &super::air::BARE)
    }

    fn rest(&mut self, support: &Support, surroundings: &Surroundings, end: f64) -> Result<(), RunError> {
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
            is_die: false,
        };
        let mut tool = self.add_tool("support", &skins, share, &body, surroundings, None)?;
        self.touch(&tool, Some(&Press::even(support.contact_w_m2k)), false);
        self.set_air(surroundings, &covered(&skins, share))?;
        self.advance("resting", end)?;
        self.note_tool(&mut tool);
        self.recorder.moment("end", &self.part);
        self.put_back(vec![tool])?;
        self.set_air(surroundings, &super::air::BARE)
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
