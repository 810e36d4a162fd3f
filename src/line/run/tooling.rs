//! What tools keep from one part to the next.

use super::tools::Tool;
use super::{RunError, Runner};
use crate::conduction::{Exchange, SolveError};
use crate::die::{Faces, Ground};
use crate::line::trace::LedgerEntry;

/// A tool after its part has left.
#[derive(Debug, Clone)]
pub(crate) struct Kept {
    /// Index of the stage in the plan.
    pub stage: usize,
    /// Name in the ledger and the die record.
    pub body: &'static str,
    /// Its face.
    pub ground: Ground,
    /// Law of the face in the shop's air.
    pub air: Exchange,
    /// Faces when the part came.
    pub before: Faces,
    /// Hottest face while the part was there, degC.
    pub peak_c: f64,
    /// Mean face when the part left, degC.
    pub after_c: f64,
    /// Heat that the part gave it, J.
    pub heat_j: f64,
    /// The gripper that jaws belong to.
    pub gripper: Option<String>,
    /// When jaws opened, s after the heater exit of the present part; `None` for tools of one stage.
    pub left_s: Option<f64>,
}

impl Kept {
    /// What is behind its faces after the time since the last part, at `now_s`.
    pub(super) fn rested(mut self, now_s: f64, step_k: f64) -> Result<Ground, SolveError> {
        let idle_s = self.left_s.map_or(0.0, |left| now_s - left);
        if idle_s > 0.0 {
            self.ground.rest(idle_s, &self.air, step_k)?;
        }
        Ok(self.ground)
    }
}

/// The tools of a run.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tooling {
    /// Whether tools are kept at all; a single part meets them as the line file says.
    pub keep: bool,
    /// Whether the dies start from their preheat rather than from steady work.
    pub cold: bool,
    /// Preheat of all dies in place of the plan's, degC.
    pub preheat_c: Option<f64>,
    /// Tools left by the part before, and by this one.
    pub kept: Vec<Kept>,
}

impl Tooling {
    /// The tool that an earlier part has left.
    pub fn take(&mut self, stage: usize, body: &str) -> Option<Kept> {
        let mine = |k: &Kept| k.gripper.is_none() && k.stage == stage && k.body == body;
        let at = self.kept.iter().position(mine)?;
        Some(self.kept.remove(at))
    }

    /// The jaws of a gripper as its last grip left them.
    pub fn take_jaws(&mut self, gripper: &str) -> Option<Kept> {
        let at = self.kept.iter().position(|k| k.gripper.as_deref() == Some(gripper))?;
        Some(self.kept.remove(at))
    }
}

impl Runner<'_> {
    /// Index of the present stage in the plan.
    pub(super) fn plan_stage(&self) -> usize {
        self.recorder.stage().saturating_sub(1)
    }

    /// The part leaves all tools; they keep what they took.
    pub(super) fn put_back(&mut self, tools: Vec<Tool>) -> Result<(), RunError> {
        self.book();
        let stage = self.plan_stage();
        let columns = self.part.solver.take_columns();
        let step_k = self.part.solver.tolerance().step_k;
        for mut tool in tools {
            let seconds = self.settle(&mut tool)?;
            let here = |entry: &&LedgerEntry| entry.stage == self.recorder.stage() && entry.name == tool.name;
            let heat_j = -1e3
                * self
                    .ledger
                    .iter()
                    .filter(here)
                    .map(|entry| entry.energy_kj)
                    .sum::<f64>();
            if let Some(mut ground) = tool.ground {
                ground.take_back(&tool.spans, &columns[tool.set]);
                // Heat goes sideways after the time with the part rather than during it: half of it, as the part
                // leaves, is right to second order.
                let before = ground.faces().mean_c;
                let spread = ground.spread(seconds, step_k);
                spread.map_err(|source| self.in_stage(source))?;
                let after_c = 0.5 * (before + ground.faces().mean_c);
                self.tooling.kept.push(Kept {
                    stage,
                    body: tool.name,
                    ground,
                    air: tool.air,
                    before: tool.before,
                    peak_c: tool.peak_c,
                    after_c,
                    heat_j,
                    left_s: tool.jaws.as_ref().map(|_| self.part.solver.time_s()),
                    gripper: tool.jaws.flatten(),
                });
            }
        }
        Ok(())
    }

    /// Brings what the part does not cover of a tool up to the present time; gives the time since it was so.
    pub(super) fn settle(&mut self, tool: &mut Tool) -> Result<f64, RunError> {
        let now = self.part.solver.time_s();
        let step_k = self.part.solver.tolerance().step_k;
        let seconds = now - tool.settled_s;
        tool.settled_s = now;
        if let Some(ground) = &mut tool.ground {
            // What the part covers wholly is taken back from it.
            if seconds > 0.0 && !ground.covered_by(&tool.spans) {
                let rested = ground.rest_face(seconds, &tool.air, step_k);
                rested.map_err(|source| self.in_stage(source))?;
            }
        }
        Ok(seconds)
    }

    /// A failure of the present stage.
    pub(super) fn in_stage(&self, source: SolveError) -> RunError {
        RunError::Solve {
            stage: self.recorder.stage_name().to_owned(),
            source,
        }
    }
}
