//! `billet compare`: what differs between two or three line files, and what comes of it.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{Job, Progress, fail, wrap};
use super::{Global, out};
use crate::ask::Failure;
use crate::ask::compare::{Different, SideBySide, differences, side_by_side};
use crate::ask::model::{Model, Outcome};
use crate::judge::Kind;
use crate::report::table::text_table;

/// Set two or three line files side by side: only what differs, inputs and results.
#[derive(Debug, Args)]
pub(super) struct Compare {
    /// The line files.
    #[arg(num_args = 2..=3, required = true)]
    files: Vec<PathBuf>,
    /// Resolution of the runs, instead of that of the files.
    #[arg(long, value_name = "WORD", value_parser = ["quick", "standard", "fine"])]
    resolution: Option<String>,
}

impl Compare {
    pub fn run(&self, global: &Global) -> Exit {
        let mut jobs = Vec::new();
        for file in &self.files {
            match Job::load(file, self.resolution.as_deref()) {
                Ok(job) => jobs.push(job),
                Err(exit) => return exit,
            }
        }
        let progress = Progress::spinner(global, "running the lines");
        let outcomes: Result<Vec<Outcome>, Failure> = jobs.iter().map(|job| Ok(job.model.run(&[])?)).collect();
        progress.end();
        let outcomes = match outcomes {
            Ok(outcomes) => outcomes,
            Err(failure) => return fail(&failure),
        };
        let inputs: Vec<_> = jobs.iter().map(|job| job.model.document().inputs()).collect();
        let different = differences(&inputs);
        let results = side_by_side(&outcomes);
        let done = if outcomes.iter().all(|o| o.verdicts.iter().all(|v| v.holds)) {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        if global.json {
            let hot: Vec<f64> = outcomes.iter().map(hot_time).collect();
            let titles: Vec<&str> = jobs.iter().map(Job::title).collect();
            let value = json!({
                "schema_version": 1,
                "files": self.files,
                "titles": titles,
                "inputs": different,
                "limits": results,
                "hot_time_s": hot,
            });
            return out::print(&out::json(&value), done);
        }
        out::print(&self.text(&outcomes, &different, &results, global), done)
    }

    fn text(&self, outcomes: &[Outcome], different: &[Different], results: &[SideBySide], global: &Global) -> String {
        let display = global.display();
        let letters = ["A", "B", "C"];
        let mut text = String::new();
        for (letter, file) in letters.iter().zip(&self.files) {
            text.push_str(&format!("{letter}  {}\n", file.display()));
        }
        let verdicts: Vec<String> = outcomes
            .iter()
            .zip(letters)
            .map(|(outcome, letter)| match outcome.tightest() {
                None => format!("{letter} has no limits"),
                Some(k) => {
                    let v = &outcome.verdicts[k];
                    let word = if v.holds { "holds" } else { "BREAKS" };
                    format!(
                        "{letter} {word} with {:+.0} {} at the tightest",
                        display.difference(v.margin_k),
                        display.difference_unit()
                    )
                }
            })
            .collect();
        text.push_str(&wrap(&format!("{}.", verdicts.join("; "))));
        let columns: Vec<String> = letters[..self.files.len()].iter().map(|l| format!(">{l}")).collect();
        let header = |first: &'static str, second: &'static str| {
            let mut header = vec![first, second];
            header.extend(columns.iter().map(String::as_str));
            header
        };
        if different.is_empty() {
            text.push_str("\nNo input differs.\n");
        } else {
            let rows: Vec<Vec<String>> = different
                .iter()
                .map(|d| {
                    let mut row = vec![d.path.clone(), d.unit.clone()];
                    row.extend(d.values.iter().map(|v| v.clone().unwrap_or_else(|| "-".to_owned())));
                    row
                })
                .collect();
            text.push_str(&format!("\n{}", text_table(&header("input", "unit"), &rows)));
        }
        let mut rows: Vec<Vec<String>> = results
            .iter()
            .map(|r| {
                let mut row = vec![r.limit.clone(), format!("margin {}", display.difference_unit())];
                row.extend(r.results.iter().map(|x| match x {
                    Some((_, margin)) => format!("{:+.1}", display.difference(*margin)),
                    None => "-".to_owned(),
                }));
                row
            })
            .collect();
        let mut hot = vec!["hot time".to_owned(), "s".to_owned()];
        hot.extend(outcomes.iter().map(|o| format!("{:.1}", hot_time(o))));
        rows.push(hot);
        text.push_str(&format!("\n{}", text_table(&header("result", ""), &rows)));
        text
    }
}

/// Heater exit to the end of the last stage before the conveyor, s.
fn hot_time(outcome: &Outcome) -> f64 {
    outcome
        .stages
        .iter()
        .filter(|span| span.kind != Kind::Cool)
        .map(|span| span.end_s)
        .fold(0.0, f64::max)
}
