//! `billet decide`: one part from its measured exit temperature and elapsed times.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::{Global, message, out};
use crate::ask::decide::{Decision, DecisionTable};

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
        let text = match std::fs::read_to_string(&self.table) {
            Ok(text) => text,
            Err(error) => return wrong(format!("{}: {error}", self.table.display())),
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
        let decision = table.decide(self.exit_c, &self.elapsed);
        let done = if decision.goes_on() {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        let text = if global.json {
            let limit = limit_of(&decision).and_then(|(limit, _)| table.limits.get(limit));
            let mut answer = json!({ "identity": table.identity, "goes_on": decision.goes_on(), "limit_name": limit });
            answer["decision"] = json!(decision);
            out::json(&answer)
        } else {
            words(&table, &decision)
        };
        out::print(&text, done)
    }
}

/// The tightest limit of a decision and its margin.
fn limit_of(decision: &Decision) -> Option<(usize, f64)> {
    match *decision {
        Decision::Good { limit, margin_k }
        | Decision::Alarm { limit, margin_k }
        | Decision::Wait { limit, margin_k, .. }
        | Decision::Reject { limit, margin_k } => Some((limit, margin_k)),
        _ => None,
    }
}

/// The decision in one line.
fn words(table: &DecisionTable, decision: &Decision) -> String {
    let word = decision.word().to_uppercase();
    let Some((limit, margin_k)) = limit_of(decision) else {
        let (first, last) = (table.exit_c[0], table.exit_c[table.exit_c.len() - 1]);
        return format!("{word}. It covers {first:.0} to {last:.0} degC and its own times of each hand-over.\n");
    };
    let name = table.limits.get(limit).map_or("", String::as_str);
    let until = match decision {
        Decision::Wait { until_s, .. } => format!(" until {until_s:.1} s in this hand-over"),
        _ => String::new(),
    };
    format!("{word}{until}: {margin_k:+.1} K at {name}, guard band taken off.\n")
}
