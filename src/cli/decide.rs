//! `billet decide`: one part from its measured exit temperature and elapsed times.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::{Global, message, out};
use crate::ask::decide::DecisionTable;

/// Decide one part from a decision table (made by `billet delays --out`): good or reject.
#[derive(Debug, Args)]
pub(super) struct Decide {
    /// The file decision-table.json.
    table: PathBuf,
    /// Measured exit temperature, surface, degC.
    #[arg(long, value_name = "DEGC", allow_negative_numbers = true)]
    exit_c: f64,
    /// Elapsed seconds of the hand-overs in the order of the line; those not yet done count as planned.
    #[arg(long, value_delimiter = ',', value_name = "S,S,...")]
    elapsed: Vec<f64>,
}

impl Decide {
    pub fn run(&self, global: &Global) -> Exit {
        let wrong = |text: String| {
            message::error_line(&text);
            Exit::WrongInput
        };
        let table = match DecisionTable::load(&self.table) {
            Ok(table) => table,
            Err(error) => return wrong(error.to_string()),
        };
        if self.elapsed.len() > table.stages.len() {
            return wrong(format!(
                "{} elapsed times for {} hand-overs",
                self.elapsed.len(),
                table.stages.len()
            ));
        }
        let mut elapsed = self.elapsed.clone();
        elapsed.extend(table.stages[elapsed.len()..].iter().map(|stage| stage.nominal_s));
        let decision = match table.decide(self.exit_c, &elapsed) {
            Ok(decision) => decision,
            Err(error) => return wrong(error.to_string()),
        };
        let done = if decision.good { Exit::Fine } else { Exit::LimitBroken };
        let limit = table.limits.get(decision.limit).map_or("", String::as_str);
        let text = if global.json {
            out::json(&json!({ "good": decision.good, "limit": limit, "margin_k": decision.margin_k }))
        } else {
            let word = if decision.good { "GOOD" } else { "REJECT" };
            format!(
                "{word}: {:+.1} K at {limit}, guard band taken off.\n",
                decision.margin_k
            )
        };
        out::print(&text, done)
    }
}
