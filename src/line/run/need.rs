//! What a run needs, estimated before it from the sizes of its meshes and the number of its phases, and what it may
//! need.

use std::fmt;

use serde::Serialize;

use super::part::{fineness, meshes};
use crate::body::Mesh;
use crate::line::plan::{Plan, Resolution, Stage, StageKind};

/// Cells of the tools for each cell of a part that is struck.
const WITH_TOOLS: f64 = 1.5;
/// Memory of a cell with its faces and work arrays, bytes (measured: 550 on a bar of 90,000 cells).
const CELL_BYTES: f64 = 600.0;
/// Memory of a step that is recorded, bytes (measured: 712 MB for 20,000 blows).
const STEP_BYTES: f64 = 2000.0;
/// Time of a cell in a step, s (measured: 64 ms for 11,600 cells and 192 steps in one thread of a release build).
const CELL_STEP_S: f64 = 3e-8;
/// Steps of a stage without blows, of a cooling stage, of a forging stage, and of each of its blows (measured on the
/// examples at `standard`).
const STEPS: [f64; 4] = [8.0, 25.0, 8.0, 18.0];

/// What one run of a line needs, in round figures.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Need {
    /// Cells of the part and of its tools.
    pub cells: f64,
    /// Steps of the solver.
    pub steps: f64,
    /// Memory, MB.
    pub memory_mb: f64,
    /// Time on one processor core, s; a computed heater comes on top of it.
    pub seconds: f64,
}

impl Need {
    /// Estimates the need of a plan at a resolution.
    pub fn of(plan: &Plan, resolution: Resolution) -> Need {
        let fine = fineness(resolution);
        let count = |mesh: Result<usize, _>| mesh.map_or(f64::INFINITY, |cells| cells as f64);
        let billet = plan.piece.shape();
        let cells = meshes(plan, billet.as_ref())
            .into_iter()
            .map(|(what, touched)| count(Mesh::cells_needed(&what, &fine, touched)))
            .fold(0.0, f64::max);
        let struck = plan
            .stages
            .iter()
            .any(|stage| matches!(stage.kind, StageKind::Forge(_)));
        let cells = if struck { cells * WITH_TOOLS } else { cells };
        let finer = match resolution {
            Resolution::Quick => 0.5,
            Resolution::Standard => 1.0,
            Resolution::Fine => 3.0,
        };
        let steps = finer * plan.stages.iter().map(steps).sum::<f64>();
        Need {
            cells,
            steps,
            memory_mb: (cells * CELL_BYTES + steps * STEP_BYTES) * 1e-6,
            seconds: cells * steps * CELL_STEP_S,
        }
    }
}

impl fmt::Display for Need {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        let rough = |value: f64| match value {
            value if value < 10.0 => format!("{value:.1}"),
            value if value < 1e6 => format!("{value:.0}"),
            value => format!("{value:.1e}"),
        };
        let (cells, steps) = (rough(self.cells.round()), rough(self.steps.round()));
        let (memory, seconds) = (rough(self.memory_mb), rough(self.seconds));
        write!(out, "{cells} cells, {steps} steps, {memory} MB, {seconds} s")
    }
}

fn steps(stage: &Stage) -> f64 {
    match &stage.kind {
        StageKind::Forge(forge) => STEPS[2] + STEPS[3] * f64::from(forge.blows),
        StageKind::Cool(_) => STEPS[1],
        _ => STEPS[0],
    }
}

/// What one run may need.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Budget {
    /// Memory, MB.
    pub memory_mb: f64,
    /// Time on one processor core, s.
    pub seconds: f64,
}

impl Default for Budget {
    fn default() -> Budget {
        Budget {
            memory_mb: 2000.0,
            seconds: 600.0,
        }
    }
}

impl Budget {
    /// So many times the usual budget.
    #[must_use]
    pub fn times(factor: f64) -> Budget {
        let usual = Budget::default();
        Budget {
            memory_mb: usual.memory_mb * factor,
            seconds: usual.seconds * factor,
        }
    }

    /// How many times the budget a need is, where it is more.
    #[must_use]
    pub fn exceeded(&self, need: &Need) -> Option<f64> {
        let times = (need.memory_mb / self.memory_mb).max(need.seconds / self.seconds);
        (times > 1.0).then_some(times)
    }
}

impl Budget {
    /// Why a need is too much, and what would make it smaller; `None` where it is not.
    #[must_use]
    pub fn refusal(&self, need: &Need) -> Option<(String, &'static str)> {
        let times = self.exceeded(need)?;
        let over = match times.is_finite() {
            true => format!(", {:.1} times as much", times),
            false => String::new(),
        };
        let detail = format!(
            "a run needs about {need}, the budget is {:.0} MB and {:.0} s{over}",
            self.memory_mb, self.seconds
        );
        let help = "a coarser resolution, a shorter or thicker billet, fewer stages and blows make it smaller; --budget \
                    multiplies the usual budget";
        Some((detail, help))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::file::Document;
    use crate::line::run::{RunOptions, run};

    #[test]
    fn the_estimate_is_near_what_runs_take() {
        for name in ["hub", "flange", "pin", "connecting-rod"] {
            let document = Document::load(format!("examples/{name}.toml")).unwrap();
            for resolution in [Resolution::Quick, Resolution::Standard] {
                let need = Need::of(document.plan(), resolution);
                let options = RunOptions {
                    resolution: Some(resolution),
                    ..RunOptions::bare()
                };
                let work = run(document.plan(), &options).unwrap().work;
                let ratios = [need.cells / work.cells as f64, need.steps / work.steps as f64];
                println!("{name} {}: {need:?}, {work:?}", resolution.word());
                assert!(ratios.iter().all(|r| (0.2..5.0).contains(r)), "{name}: {ratios:?}");
            }
        }
    }
}
