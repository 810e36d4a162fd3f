//! The plan: a checked line file, typed and in SI units, ready to run.
//!
//! A plan is only ever made from a checked line file (see [`crate::line::file`]), so its numbers are
//! finite and inside their ranges, its stage names are distinct, its limits name stages and nodes
//! that exist, and its shapes carry the volume of the billet. Nothing in it needs checking again.

mod cool;
mod heater;
mod induction;
mod input;
mod piece;
mod resolution;
mod scale;
mod stage;
mod support;

pub use crate::text::Allowed;
pub use cool::{Company, Conveyor, Cool, Fan};
pub(crate) use heater::above_solidus;
pub use heater::{FurnaceZone, Heater, StartField};
pub use induction::{CoilLine, StaticCoil};
pub use input::{Input, InputRecord, InputValue};
pub use piece::{CrossSection, Metal, Piece, Ring, Section, Shape, Strip};
pub use resolution::Resolution;
pub use scale::ScaleLayer;
pub use stage::{
    Behind, Between, DeformationHeat, Die, Dies, Forge, Friction, Grip, GripEnd, Gripper, KnockOut, RingTouch, Stage,
    StageKind, Surroundings, Trim,
};
pub use support::{Pose, Support};

use crate::judge::{Kind, Limit, Moment, Warning};

/// A checked line: everything a run needs, in SI units with temperatures in degC.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Title of the line file.
    pub title: String,
    /// Part number, if given.
    pub part: Option<String>,
    /// Revision of the line file, if given.
    pub revision: Option<String>,
    /// Free remark, if given.
    pub note: Option<String>,
    /// How finely to resolve.
    pub resolution: Resolution,
    /// The billet as it leaves the heater.
    pub piece: Piece,
    /// Metal of the billet.
    pub metal: Metal,
    /// Share of the billet's mass that is scale and comes off with the first new shape.
    pub scale_loss: f64,
    /// Temperature below which the ends of a gripped bar are too cold, degC; `None` where nothing grips
    /// or nothing is known.
    pub cold_end_c: Option<f64>,
    /// Scale as a layer that insulates; `None` where the contact coefficients hold it already.
    pub scale: Option<ScaleLayer>,
    /// Surroundings of the shop; each stage carries its own copy with its overrides.
    pub surroundings: Surroundings,
    /// Time between parts in s, if given.
    pub takt_s: Option<f64>,
    /// Film coefficient of the air at tool faces that no part touches, W/m²K.
    pub tool_film_w_m2k: f64,
    /// How the billet gets hot.
    pub heater: Heater,
    /// Added everywhere to the temperatures that the heater gives, K: what a pyrometer reads above
    /// the computed exit, or a search.
    pub exit_offset_k: f64,
    /// Stages from heater exit on, in order. Never empty.
    pub stages: Vec<Stage>,
    /// Limits to judge: those of the file, or the steel's when the file has none.
    pub limits: Vec<Limit>,
    /// Every input that counts, with its owner, in the order of the file.
    pub inputs: Vec<Input>,
    /// Remarks of the check: unusual coefficients, extrapolated properties.
    pub warnings: Vec<Warning>,
}

impl Plan {
    /// The inputs as records for the result.
    pub fn records(&self) -> Vec<InputRecord> {
        self.inputs.iter().map(Input::record).collect()
    }

    /// Indices of the hand-overs: the stages whose length is free to vary. These are carries, waits and
    /// rests, and cooling where a limit is judged at its end or after it.
    pub fn hand_overs(&self) -> Vec<usize> {
        let after = |index: usize, name: &str| self.stages[index + 1..].iter().any(|stage| stage.name == name);
        let judged = |index: usize| {
            let own = &self.stages[index].name;
            self.limits.iter().any(|limit| match &limit.stage {
                Some(name) if name == own => limit.moment != Moment::Start,
                Some(name) => after(index, name),
                None => limit.moment == Moment::End,
            })
        };
        let free = |index: &usize| match self.stages[*index].kind.kind() {
            Kind::Carry | Kind::Wait | Kind::Rest => true,
            Kind::Cool => judged(*index),
            _ => false,
        };
        (0..self.stages.len()).filter(free).collect()
    }

    /// Names of the cross-sections of a long part; empty for other parts.
    pub fn section_names(&self) -> Vec<String> {
        let long = self.stages.iter().find_map(|stage| match &stage.kind {
            StageKind::Forge(forge) => forge.shape.as_ref().filter(|s| s.is_long()),
            _ => None,
        });
        long.map_or(Vec::new(), |shape| {
            shape.sections.iter().map(|s| s.name.clone()).collect()
        })
    }

    /// Shape of the part after stage `index` (the billet itself before any forging).
    pub fn shape_after(&self, index: usize) -> Option<Shape> {
        let mut shape = self.piece.shape();
        for stage in self.stages.iter().take(index + 1) {
            match &stage.kind {
                StageKind::Forge(forge) => {
                    if let Some(new) = &forge.shape {
                        shape = Some(new.clone());
                    }
                }
                StageKind::Trim(trim) => {
                    if let Some(shape) = &mut shape {
                        shape.rings.retain(|ring| !trim.removes.contains(&ring.zone));
                    }
                }
                _ => {}
            }
        }
        shape
    }
}
