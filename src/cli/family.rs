//! `billet family`: one line file over a table of part numbers.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};

use super::exit::Exit;
use super::planning::{Job, fail, unwritten};
use super::progress::Progress;
use super::{Global, out, save};
use crate::ask::compare::{FamilyRow, read_family, run_family};
use crate::ask::model::{Model, ModelError, Outcome, limit_name};
use crate::report::ReportError;
use crate::report::compare::family;
use crate::report::csv::write_rows;

/// Run one line file for every row of a table of part numbers (CSV: part, then inputs by path).
#[derive(Debug, Args)]
pub(super) struct Family {
    /// The line file.
    file: PathBuf,
    /// The table: the first column names the part, every other column is the path of an input.
    table: PathBuf,
    /// Write the results as CSV to this file; `-` writes them to standard output instead of the table.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = ["quick", "standard", "fine"])]
    resolution: Option<String>,
}

impl Family {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match Job::load(global, &self.file, self.resolution.as_deref()) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        let mut inputs = job.model.document().files();
        inputs.push(self.table.clone());
        if let Some(path) = &self.csv
            && let Err(exit) = save::check_file(path, &inputs)
        {
            return exit;
        }
        let rows = match read_family(&self.table, &job.model) {
            Ok(rows) => rows,
            Err(failure) => return fail(&failure),
        };
        let progress = Progress::spinner(global, "running the family");
        let results = run_family(&job.model, &rows);
        progress.end();
        if let Some(path) = &self.csv
            && path != Path::new("-")
        {
            let text = csv(&job, &rows, &results).map_err(|error| unwritten(&error));
            if let Err(exit) = text.and_then(|text| save::file(path, text.as_bytes(), &inputs)) {
                return exit;
            }
        }
        let failed = results.iter().any(|r| matches!(r, Err(ModelError::Failed { .. })));
        let refused = results.iter().any(Result::is_err);
        let broken = results.iter().flatten().any(|o| !o.holds());
        let done = match (failed, refused, broken) {
            (true, ..) => Exit::Failed,
            (_, true, _) => Exit::WrongInput,
            (_, _, true) => Exit::LimitBroken,
            _ => Exit::Fine,
        };
        if self.csv.as_deref() == Some(Path::new("-")) {
            return match csv(&job, &rows, &results) {
                Ok(text) => out::print(&text, done),
                Err(error) => unwritten(&error),
            };
        }
        let limits = job.model.limits();
        let value = || {
            let list: Vec<Value> = rows
                .iter()
                .zip(&results)
                .map(|(row, result)| row_json(row, result))
                .collect();
            let names: Vec<String> = limits.iter().map(limit_name).collect();
            json!({ "schema_version": 1, "title": job.title(), "limits": names, "parts": list })
        };
        out::result(global, || family(job.title(), &rows, &results, limits), value, done)
    }
}

fn verdict(result: &Result<Outcome, ModelError>) -> &'static str {
    match result {
        Ok(outcome) if outcome.holds() => "ok",
        Ok(_) => "BROKEN",
        Err(_) => "no run",
    }
}

fn row_json(row: &FamilyRow, result: &Result<Outcome, ModelError>) -> Value {
    match result {
        Ok(outcome) => json!({
            "part": row.part,
            "verdict": verdict(result),
            "values": outcome.verdicts.iter().map(|v| v.value).collect::<Vec<_>>(),
            "margins_k": outcome.margins_k(),
        }),
        Err(error) => json!({ "part": row.part, "verdict": "no run", "reason": error.to_string() }),
    }
}

fn csv(job: &Job, rows: &[FamilyRow], results: &[Result<Outcome, ModelError>]) -> Result<String, ReportError> {
    let mut head = vec!["part".to_owned(), "verdict".to_owned()];
    for limit in job.model.limits() {
        let name = limit_name(limit);
        head.extend([format!("value: {name}"), format!("margin_k: {name}")]);
    }
    head.push("reason".to_owned());
    let width = head.len();
    let rows = rows.iter().zip(results).map(|(row, result)| {
        let mut cells = vec![row.part.clone(), verdict(result).to_owned()];
        for v in result.iter().flat_map(|outcome| &outcome.verdicts) {
            cells.extend([format!("{:.2}", v.value), format!("{:.2}", v.margin_k)]);
        }
        cells.resize(width - 1, String::new());
        cells.push(result.as_ref().err().map(ToString::to_string).unwrap_or_default());
        cells
    });
    write_rows(std::iter::once(head).chain(rows))
}
