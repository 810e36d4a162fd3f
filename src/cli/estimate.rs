//! How far each node may be off: the line run once more on a finer mesh.

use serde_json::{Value, json};

use crate::line::Plan;
use crate::line::plan::Resolution;
use crate::line::run::{RunError, RunOptions, run};
use crate::line::trace::Trace;
use crate::report::{Part, PartTable, View};
use crate::units::Display;

/// Differences of the node temperatures from those of a finer run, over all moments.
pub(super) struct ErrorEstimate {
    finer: String,
    nodes: Vec<(String, f64, String)>,
}

impl ErrorEstimate {
    /// Runs the plan once more on the next finer mesh.
    pub fn of(plan: &Plan, trace: &Trace) -> Result<ErrorEstimate, RunError> {
        let finer = match plan.resolution {
            Resolution::Quick => Resolution::Standard,
            Resolution::Standard | Resolution::Fine => Resolution::Fine,
        };
        let options = RunOptions {
            resolution: Some(finer),
            ..RunOptions::bare()
        };
        let reference = run(plan, &options)?;
        Ok(ErrorEstimate::between(trace, &reference))
    }

    /// As a section of the report.
    pub fn part(&self, view: &View) -> Part {
        let rows = self
            .nodes
            .iter()
            .map(|(node, difference, place)| {
                let value = view.number(view.display.difference(*difference), 2);
                vec![node.clone(), value, place.clone()]
            })
            .collect();
        let unit = view.display.difference_unit();
        let header = vec![
            view.say("word.node").to_owned(),
            format!("> \u{394} {unit}"),
            view.say("word.moment").to_owned(),
        ];
        Part {
            tables: vec![PartTable {
                caption: format!("{}: {}", view.say("word.resolution"), self.finer),
                header,
                rows,
            }],
            ..Part::default()
        }
    }

    fn between(trace: &Trace, reference: &Trace) -> ErrorEstimate {
        let mut nodes = Vec::new();
        for (column, name) in trace.nodes.iter().enumerate() {
            let other = reference.nodes.iter().position(|node| node == name);
            let mut worst: Option<(f64, String)> = None;
            for moment in &trace.moments {
                let twin = reference
                    .moments
                    .iter()
                    .find(|m| m.stage == moment.stage && m.moment == moment.moment);
                let at = |m: &crate::line::trace::Reading, c: usize| m.temps_c.get(c).copied().flatten();
                let difference = match (at(moment, column), twin.zip(other).and_then(|(m, c)| at(m, c))) {
                    (Some(value), Some(better)) => (value - better).abs(),
                    _ => continue,
                };
                if worst.as_ref().is_none_or(|(most, _)| difference > *most) {
                    let stage = trace.stages.get(moment.stage).map_or("", |stage| stage.name.as_str());
                    worst = Some((difference, format!("{stage}, {}", moment.moment)));
                }
            }
            if let Some((difference, place)) = worst {
                nodes.push((name.clone(), difference, place));
            }
        }
        ErrorEstimate {
            finer: reference.resolution.word().to_owned(),
            nodes,
        }
    }

    /// As JSON.
    pub fn json(&self) -> Value {
        let nodes: Vec<Value> = self
            .nodes
            .iter()
            .map(|(node, difference, place)| json!({ "node": node, "difference_k": difference, "moment": place }))
            .collect();
        json!({ "against": self.finer, "nodes": nodes })
    }

    /// As text.
    pub fn text(&self, display: Display) -> String {
        let unit = display.difference_unit();
        let rows: Vec<Vec<String>> = self
            .nodes
            .iter()
            .map(|(node, difference, place)| {
                vec![
                    node.clone(),
                    format!("{:.2}", display.difference(*difference)),
                    place.clone(),
                ]
            })
            .collect();
        let header = ["node", &format!(">difference {unit}"), "largest at"];
        format!(
            "\nLargest difference of each node from a run at resolution {}:\n{}",
            self.finer,
            crate::report::table::text_table(&header, &rows)
        )
    }
}
