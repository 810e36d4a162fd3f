//! `billet family`: one line file over a table of part numbers.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};

use super::controller::quoted;
use super::exit::Exit;
use super::planning::{Job, Progress, fail, legend, unwritten};
use super::{Global, out};
use crate::ask::compare::{FamilyRow, read_family, run_family};
use crate::ask::model::{Model, ModelError, Outcome, limit_name};
use crate::report::table::text_table;
use crate::report::write_file;

/// Run one line file for every row of a table of part numbers (CSV: part, then inputs by path).
#[derive(Debug, Args)]
pub(super) struct Family {
    /// The line file.
    file: PathBuf,
    /// The table: the first column names the part, every other column is the path of an input.
    table: PathBuf,
    /// Write the results as CSV to this file.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = ["quick", "standard", "fine"])]
    resolution: Option<String>,
}

impl Family {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match Job::load(&self.file, self.resolution.as_deref()) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        let rows = match read_family(&self.table, &job.model) {
            Ok(rows) => rows,
            Err(failure) => return fail(&failure),
        };
        let progress = Progress::spinner(global, "running the family");
        let results = run_family(&job.model, &rows);
        progress.end();
        if let Some(path) = &self.csv
            && let Err(error) = write_file(path, csv(&job, &rows, &results).as_bytes())
        {
            return unwritten(&error);
        }
        let failed = results.iter().any(|r| matches!(r, Err(ModelError::Failed { .. })));
        let refused = results.iter().any(Result::is_err);
        let broken = results.iter().flatten().any(|o| o.verdicts.iter().any(|v| !v.holds));
        let done = match (failed, refused, broken) {
            (true, ..) => Exit::Failed,
            (_, true, _) => Exit::WrongInput,
            (_, _, true) => Exit::LimitBroken,
            _ => Exit::Fine,
        };
        let text = if global.json {
            let list: Vec<Value> = rows
                .iter()
                .zip(&results)
                .map(|(row, result)| row_json(row, result))
                .collect();
            let names: Vec<String> = job.model.limits().iter().map(limit_name).collect();
            out::json(&json!({ "schema_version": 1, "title": job.title(), "limits": names, "parts": list }))
        } else {
            self.text(&job, &rows, &results, global)
        };
        out::print(&text, done)
    }

    fn text(&self, job: &Job, rows: &[FamilyRow], results: &[Result<Outcome, ModelError>], global: &Global) -> String {
        let display = global.display();
        let count = |word: &str| results.iter().filter(|r| verdict(r) == word).count();
        let mut text = format!(
            "{}\n{} parts: {} hold, {} break a limit, {} could not be run.\n\n",
            job.title(),
            rows.len(),
            count("ok"),
            count("BROKEN"),
            count("no run")
        );
        let numbers: Vec<String> = (1..=job.model.limits().len()).map(|k| format!(">{k}")).collect();
        let mut header = vec!["part", "verdict", ">tightest"];
        header.extend(numbers.iter().map(String::as_str));
        let cells: Vec<Vec<String>> = rows
            .iter()
            .zip(results)
            .map(|(row, result)| {
                let mut line = vec![row.part.clone(), verdict(result).to_owned()];
                match result {
                    Ok(outcome) => {
                        line.push(
                            outcome
                                .tightest()
                                .map_or_else(|| "-".to_owned(), |k| (k + 1).to_string()),
                        );
                        line.extend(
                            outcome
                                .verdicts
                                .iter()
                                .map(|v| format!("{:+.0}", display.difference(v.margin_k))),
                        );
                    }
                    Err(_) => line.extend(vec![String::new(); header.len() - 2]),
                }
                line
            })
            .collect();
        text.push_str(&text_table(&header, &cells));
        text.push_str(&format!("\nmargins in {}; ", display.difference_unit()));
        text.push_str(&legend(job.model.limits(), display));
        for (row, result) in rows.iter().zip(results) {
            if let Err(error) = result {
                text.push_str(&super::planning::wrap(&format!("{}: {error}", row.part)));
            }
        }
        text
    }
}

fn verdict(result: &Result<Outcome, ModelError>) -> &'static str {
    match result {
        Ok(outcome) if outcome.verdicts.iter().all(|v| v.holds) => "ok",
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

fn csv(job: &Job, rows: &[FamilyRow], results: &[Result<Outcome, ModelError>]) -> String {
    let mut text = String::from("part,verdict");
    for limit in job.model.limits() {
        let name = limit_name(limit);
        text.push_str(&format!(
            ",{},{}",
            quoted(&format!("value: {name}")),
            quoted(&format!("margin_k: {name}"))
        ));
    }
    text.push_str(",reason\n");
    for (row, result) in rows.iter().zip(results) {
        text.push_str(&format!("{},{}", quoted(&row.part), verdict(result)));
        match result {
            Ok(outcome) => {
                for v in &outcome.verdicts {
                    text.push_str(&format!(",{:.2},{:.2}", v.value, v.margin_k));
                }
                text.push_str(",\n");
            }
            Err(error) => {
                text.push_str(&",".repeat(2 * job.model.limits().len() + 1));
                text.push_str(&quoted(&error.to_string()));
                text.push('\n');
            }
        }
    }
    text
}
