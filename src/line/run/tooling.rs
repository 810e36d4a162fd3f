//! What tools keep from one part to the next.

use super::tools::Tool;
use super::{RunError, Runner};
use crate::conduction::Exchange;
use crate::die::{Faces, Ground};

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
    /// The gripper that jaws belong to.
    pub gripper: Option<String>,
    /// When jaws opened, s after the heater exit of the present part; `None` for tools of one stage.
    pub left_s: Option<f64>,
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
        for mut tool in tools {
            self.settle(&mut tool)?;
            if let Some(mut ground) = tool.ground {
                ground.take_back(&tool.spans, &columns[tool.set]);
                self.tooling.kept.push(Kept {
                    stage,
                    body: tool.name,
                    ground,
                    air: tool.air,
                    before: tool.before,
                    peak_c: tool.peak_c,
                    left_s: tool.jaws.as_ref().map(|_| self.part.solver.time_s()),
                    gripper: tool.jaws.flatten(),
                });
            }
        }
        Ok(())
    }

    /// Brings what the part does not cover of a tool up to the present time.
    pub(super) fn settle(&mut self, tool: &mut Tool) -> Result<(), RunError> {
        let now = self.part.solver.time_s();
        let step_k = self.part.solver.tolerance().step_k;
        if let Some(ground) = &mut tool.ground {
            let seconds = now - tool.settled_s;
            // What the part covers wholly is taken back from it.
            if seconds > 0.0 && !ground.covered_by(&tool.spans) {
                ground
                    .rest(seconds, &tool.air, step_k)
                    .map_err(|source| RunError::Solve {
                        stage: self.recorder.stage_name().to_owned(),
                        source,
                    })?;
            }
        }
        tool.settled_s = now;
        Ok(())
    }
}
