//! `billet decide`: one part from its measured exit temperature and elapsed times.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::unwritten;
use super::{Global, message, out, save};
use crate::ask::decide::{DecisionTable, Log};
use crate::report::decision;
use crate::text::load_data;

/// Decide parts from a decision table (made by `billet delays --out`): good, wait, alarm or reject.
#[derive(Debug, Args)]
pub(super) struct Decide {
    /// The file decision-table.json.
    table: PathBuf,
    /// Measured exit temperature, surface, degC.
    #[arg(
        long,
        value_name = "DEGC",
        allow_negative_numbers = true,
        required_unless_present = "log"
    )]
    exit_c: Option<f64>,
    /// Elapsed seconds of the hand-overs in the order of the line; those not yet done count as planned.
    #[arg(long, value_delimiter = ',', value_name = "S,S,...")]
    elapsed: Vec<f64>,
    /// Part number that the table must be of.
    #[arg(long, value_name = "TEXT")]
    part: Option<String>,
    /// Decide every part of an event log (CSV: part, exit_c, and for each hand-over `<stage>` in seconds, or
    /// `<stage> start` and `<stage> end` in seconds or h:m:s).
    #[arg(long, value_name = "FILE", conflicts_with_all = ["exit_c", "elapsed"])]
    log: Option<PathBuf>,
    /// Write the verdict of every part of the log as CSV to this file.
    #[arg(long, value_name = "FILE", requires = "log")]
    verdicts: Option<PathBuf>,
    /// Write the scatter found in the log, as [[study.scatter]] tables, to this file.
    #[arg(long, value_name = "FILE", requires = "log")]
    scatter: Option<PathBuf>,
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
        match (&self.log, self.exit_c) {
            (Some(path), _) => self.of_log(&table, path, global),
            (None, Some(exit_c)) => self.one(&table, exit_c, global),
            (None, None) => wrong("give --exit-c or --log".to_owned()),
        }
    }

    /// Decides every part of a log.
    fn of_log(&self, table: &DecisionTable, path: &Path, global: &Global) -> Exit {
        let wrong = |text: String| {
            message::error_line(&text);
            Exit::WrongInput
        };
        let text = match load_data(path, "the event log of a line") {
            Ok(text) => text,
            Err(error) => return wrong(error.to_string()),
        };
        let log = match Log::read(&text, table) {
            Ok(log) => log,
            Err(error) => return wrong(format!("{}: {error}", path.display())),
        };
        let inputs = [path.to_owned(), self.table.clone()];
        if let Some(to) = &self.verdicts {
            let text = decision::verdicts_csv(table, &log).map_err(|error| unwritten(&error));
            if let Err(exit) = text.and_then(|text| save::file(to, text.as_bytes(), &inputs)) {
                return exit;
            }
        }
        if let Some(to) = &self.scatter
            && let Err(exit) = save::file(to, log.scatter().as_bytes(), &inputs)
        {
            return exit;
        }
        let done = if log.parts.iter().all(|part| part.verdict.goes_on()) {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        let value = || {
            json!({
                "schema_version": 1,
                "identity": table.identity,
                "limits": table.limits,
                "counts": log.counts().into_iter().map(|(word, count)| json!({ "state": word, "parts": count })).collect::<Vec<_>>(),
                "log": log,
            })
        };
        out::result(global, || decision::log_blocks(table, &log), value, done)
    }

    /// Decides one part.
    fn one(&self, table: &DecisionTable, exit_c: f64, global: &Global) -> Exit {
        let wrong = |text: String| {
            message::error_line(&text);
            Exit::WrongInput
        };
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
        if !exit_c.is_finite() {
            return wrong(format!("an exit temperature of {exit_c} degC is no measurement"));
        }
        let decided = table.decide(exit_c, &self.elapsed);
        let done = if decided.goes_on() {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        out::result(
            global,
            || decision::blocks(table, &decided),
            || {
                let limit = decision::tightest(&decided).and_then(|(limit, _)| table.limits.get(limit));
                let mut answer = json!({ "identity": table.identity, "goes_on": decided.goes_on(), "limit": limit });
                answer["decision"] = json!(decided);
                answer
            },
            done,
        )
    }
}
