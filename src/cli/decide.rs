//! `billet decide`: one part from its measured exit temperature and elapsed times.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::{Global, message, out};
use crate::ask::decide::DecisionTable;
use crate::report::decision;
use crate::text::load_data;

/// Decide one part from a decision table (made by `billet delays --out`): good, wait, alarm or reject.
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
    /// Part number that the table must be of.
    #[arg(long, value_name = "TEXT")]
    part: Option<String>,
}

impl Decide {
    pub fn run(&self, global: &Global) -> Exit {
        let wrong = |text: String| {
            message::error_line(&text);
            Exit::WrongInput
        };
        let text = match load_data(&self.table, "a decision table as `delays` writes it") {
            Ok(text) => text,
            Err(error) => return wrong(error.to_string()),
        };
        let table: DecisionTable = match serde_json::from_str(&text) {
            Ok(table) => table,
            Err(error) => return wrong(format!("{}: not a decision table: {error}", self.table.display())),
        };
        if let Err(error) = table.check() {
            return wrong(format!("{}: not a decision table: {error}", self.table.display()));
        }
        if let Some(part) = self
            .part
            .as_ref()
            .filter(|part| table.identity.part.as_ref() != Some(*part))
        {
            let of = table.identity.part.as_deref().unwrap_or("no part number");
            return wrong(format!("{}: a table of {of}, not of {part}", self.table.display()));
        }
        if self.elapsed.len() > table.stages.len() {
            return wrong(format!(
                "{} elapsed times for {} hand-overs",
                self.elapsed.len(),
                table.stages.len()
            ));
        }
        if let Some(bad) = self.elapsed.iter().find(|s| !(s.is_finite() && **s >= 0.0)) {
            return wrong(format!("an elapsed time of {bad} s: allowed are 0 s and more"));
        }
        if !self.exit_c.is_finite() {
            return wrong(format!("an exit temperature of {} degC is no measurement", self.exit_c));
        }
        let decided = table.decide(self.exit_c, &self.elapsed);
        let done = if decided.goes_on() {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        out::result(
            global,
            || decision::blocks(&table, &decided),
            || {
                let limit = decision::tightest(&decided).and_then(|(limit, _)| table.limits.get(limit));
                let mut answer =
                    json!({ "identity": table.identity, "goes_on": decided.goes_on(), "limit_name": limit });
                answer["decision"] = json!(decided);
                answer
            },
            done,
        )
    }
}
