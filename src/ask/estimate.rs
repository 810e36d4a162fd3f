//! How far each node may be off: the line run once more on a finer mesh.

use serde::Serialize;

use crate::judge::{Moment, Reading};
use crate::line::Plan;
use crate::line::plan::Resolution;
use crate::line::run::{RunError, RunOptions, run};
use crate::line::trace::Trace;

/// Differences of the node temperatures from those of a finer run, over all moments.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct ErrorEstimate {
    /// Resolution of the finer run.
    pub against: Resolution,
    /// The nodes that both runs have.
    pub nodes: Vec<NodeError>,
}

/// The largest difference at one node.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct NodeError {
    /// Node name.
    pub node: String,
    /// Largest difference, K.
    pub difference_k: f64,
    /// Where: stage and moment.
    #[serde(rename = "moment", serialize_with = "joined")]
    pub place: (String, Moment),
}

/// Stage and moment as one text.
fn joined<S: serde::Serializer>(place: &(String, Moment), out: S) -> Result<S::Ok, S::Error> {
    out.collect_str(&format_args!("{}, {}", place.0, place.1))
}

impl ErrorEstimate {
    /// The resolution that another is held against; `None` for the finest.
    pub fn finer(resolution: Resolution) -> Option<Resolution> {
        match resolution {
            Resolution::Quick => Some(Resolution::Standard),
            Resolution::Standard => Some(Resolution::Fine),
            Resolution::Fine => None,
        }
    }

    /// Runs the plan once more on the next finer mesh and compares; `None` where there is no finer one.
    ///
    /// # Errors
    /// What the finer run says.
    pub fn of(plan: &Plan, trace: &Trace) -> Result<Option<ErrorEstimate>, RunError> {
        let Some(finer) = ErrorEstimate::finer(plan.resolution) else {
            return Ok(None);
        };
        let options = RunOptions {
            resolution: Some(finer),
            ..RunOptions::bare()
        };
        Ok(Some(ErrorEstimate::between(trace, &run(plan, &options)?)))
    }

    /// The differences between two runs of one line.
    pub fn between(trace: &Trace, reference: &Trace) -> ErrorEstimate {
        let nodes = trace
            .nodes
            .iter()
            .enumerate()
            .filter_map(|(column, node)| largest(trace, reference, column, node))
            .collect();
        ErrorEstimate {
            against: reference.resolution,
            nodes,
        }
    }
}

/// The largest difference of one node over the moments of both runs.
fn largest(trace: &Trace, reference: &Trace, column: usize, node: &str) -> Option<NodeError> {
    let other = reference.nodes.iter().position(|name| name == node)?;
    let at = |moment: &Reading, column: usize| moment.temps_c.get(column).copied().flatten();
    let mut worst: Option<NodeError> = None;
    for moment in &trace.moments {
        let twin = reference
            .moments
            .iter()
            .find(|m| m.stage == moment.stage && m.moment == moment.moment);
        let Some((value, better)) = at(moment, column).zip(twin.and_then(|m| at(m, other))) else {
            continue;
        };
        let difference_k = (value - better).abs();
        if worst.as_ref().is_none_or(|w| difference_k > w.difference_k) {
            let stage = trace.stages.get(moment.stage).map(|stage| stage.name.clone());
            worst = Some(NodeError {
                node: node.to_owned(),
                difference_k,
                place: (stage.unwrap_or_default(), moment.moment),
            });
        }
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::file::Document;

    /// The finest grid is not held against itself.
    #[test]
    fn the_finest_grid_has_no_estimate() {
        let line = "title = \"x\"\nresolution = \"fine\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 50\nlength_mm = 80\n\
            [heater]\nkind = \"measured\"\ntemperature_c = 1220\n\
            [[stage]]\nkind = \"carry\"\nname = \"carry\"\nseconds = 0.5\n";
        let document = Document::parse(line, "x.toml").unwrap();
        assert_eq!(document.plan().resolution, Resolution::Fine);
        let trace = document.trace(&RunOptions::bare()).unwrap();
        assert_eq!(ErrorEstimate::of(document.plan(), &trace).unwrap(), None);
        assert_eq!(ErrorEstimate::finer(Resolution::Quick), Some(Resolution::Standard));
    }
}
