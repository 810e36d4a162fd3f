//! `billet sensitivities`: what one second, one kelvin, one blow is worth.

use std::path::PathBuf;

use clap::Args;
use rayon::prelude::*;
use serde_json::json;

use super::exit::Exit;
use super::planning::{Job, Progress, fail, legend};
use super::{Global, out};
use crate::ask::Failure;
use crate::ask::model::{Model, Outcome, limit_name};
use crate::ask::sensitivity::{Sensitivity, exit_sensitivity, sensitivity};
use crate::report::table::{text_table, wrap};
use crate::units::Display;

/// Print the pocket table: what each step, the exit temperature, emissivity, die and blows are worth.
#[derive(Debug, Args)]
pub(super) struct Sensitivities {
    /// The line file.
    file: PathBuf,
    /// Further inputs by path, besides the usual ones.
    #[arg(long, value_name = "PATH")]
    input: Vec<String>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = ["quick", "standard", "fine"])]
    resolution: Option<String>,
}

/// One line of the table: what is changed, by how much, in which words.
struct Row {
    words: String,
    unit_words: String,
    amount: f64,
    slope: Sensitivity,
}

impl Sensitivities {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match Job::load(&self.file, self.resolution.as_deref()) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "changing one input after the other");
        let found = job
            .nominal()
            .and_then(|nominal| Ok((self.rows(&job, &nominal)?, nominal)));
        progress.end();
        let ((rows, left_out), nominal) = match found {
            Ok(found) => found,
            Err(failure) => return fail(&failure),
        };
        let done = if nominal.verdicts.iter().all(|v| v.holds) {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        let text = if global.json {
            let list: Vec<_> = rows
                .iter()
                .map(|row| {
                    json!({
                        "input": row.slope.path,
                        "unit": row.slope.unit,
                        "nominal": row.slope.nominal,
                        "step": row.slope.step,
                        "k_per_unit": row.slope.per_unit,
                        "margin_k_per_unit": row.slope.margin_per_unit,
                        "disagreement_k_per_unit": row.slope.spread,
                    })
                })
                .collect();
            let names: Vec<_> = job.model.limits().iter().map(limit_name).collect();
            out::json(
                &json!({ "schema_version": 1, "title": job.title(), "limits": names, "sensitivities": list, "left_out": left_out }),
            )
        } else {
            text(&job, &rows, &left_out, global.display())
        };
        out::print(&text, done)
    }

    fn rows(&self, job: &Job, nominal: &Outcome) -> Result<(Vec<Row>, Vec<String>), Failure> {
        let model = &job.model;
        let mut wanted: Vec<(String, String, f64, String)> = Vec::new();
        for h in model.handovers() {
            wanted.push((h.stage.clone(), "1 s".to_owned(), 1.0, h.path.clone()));
        }
        for input in model.inputs() {
            let path = input.path.as_str();
            if path == "billet.emissivity" {
                wanted.push(("emissivity".to_owned(), "0.1".to_owned(), 0.1, path.to_owned()));
            } else if path == "die.bulk_c" {
                wanted.push(("die temperature".to_owned(), "50 K".to_owned(), 50.0, path.to_owned()));
            } else if let Some(stage) = path.strip_prefix("stage.").and_then(|p| p.strip_suffix(".blows")) {
                wanted.push((format!("blows, {stage}"), "1 blow".to_owned(), 1.0, path.to_owned()));
            } else if let Some((stage, words)) = lying(path) {
                wanted.push((format!("{words}, {stage}"), "1 s".to_owned(), 1.0, path.to_owned()));
            }
        }
        for path in &self.input {
            let unit = model.input(path)?.unit;
            wanted.push((path.clone(), format!("1 {unit}"), 1.0, path.clone()));
        }
        let mut rows: Vec<Row> = Vec::new();
        if model.exit_inputs().is_some() {
            rows.push(Row {
                words: "heater exit".to_owned(),
                unit_words: "1 K".to_owned(),
                amount: 1.0,
                slope: exit_sensitivity(model, nominal)?,
            });
        }
        let slopes: Vec<_> = wanted
            .into_par_iter()
            .map(|(words, unit_words, amount, path)| {
                let slope = match sensitivity(model, &path, nominal) {
                    Ok(slope) => slope,
                    // One blow more may not be the same line; nobody asked for it by name.
                    Err(error) if path.ends_with(".blows") && !self.input.contains(&path) => {
                        return Err(Ok(format!("{words}: {error}")));
                    }
                    Err(error) => return Err(Err(error)),
                };
                Ok(Row {
                    words,
                    unit_words,
                    amount,
                    slope,
                })
            })
            .collect::<Vec<Result<Row, Result<String, Failure>>>>();
        let mut left_out = Vec::new();
        for slope in slopes {
            match slope {
                Ok(row) => rows.push(row),
                Err(Ok(why)) => left_out.push(why),
                Err(Err(error)) => return Err(error),
            }
        }
        Ok((rows, left_out))
    }
}

/// The stage of a time lying on a die, and that time in words.
fn lying(path: &str) -> Option<(&str, &'static str)> {
    let path = path.strip_prefix("stage.")?;
    let before = path
        .strip_suffix(".lying_before_s")
        .map(|stage| (stage, "lying before"));
    before.or_else(|| path.strip_suffix(".lying_after_s").map(|stage| (stage, "lying after")))
}

fn text(job: &Job, rows: &[Row], left_out: &[String], display: Display) -> String {
    let limits = job.model.limits();
    let mut text = format!("{}\n", job.title());
    // The hand-over whose second costs the tightest limit most.
    let costly = rows.iter().filter(|row| row.slope.unit == "s").max_by(|a, b| {
        let worst = |row: &Row| row.slope.margin_per_unit.iter().fold(0.0_f64, |m, s| m.max(-s));
        worst(a).total_cmp(&worst(b))
    });
    if let Some(row) = costly {
        let worst = row.slope.margin_per_unit.iter().fold(0.0_f64, |m, s| m.max(-s));
        text.push_str(&format!(
            "One second of `{}` costs most: {:.1} {}.\n",
            row.words,
            display.difference(worst),
            display.difference_unit()
        ));
    }
    text.push_str(&format!(
        "\nChange of each limited value in {}\n",
        display.difference_unit()
    ));
    let numbers: Vec<String> = (1..=limits.len()).map(|k| format!(">{k}")).collect();
    let mut header = vec!["more of", "by"];
    header.extend(numbers.iter().map(String::as_str));
    let cells: Vec<Vec<String>> = rows
        .iter()
        .map(|row| {
            let mut line = vec![row.words.clone(), row.unit_words.clone()];
            line.extend(row.slope.per_unit.iter().map(|s| {
                let change = display.difference(s * row.amount);
                if change.abs() < 0.005 {
                    "0".to_owned()
                } else {
                    format!("{change:+.2}")
                }
            }));
            line
        })
        .collect();
    text.push_str(&text_table(&header, &cells));
    for why in left_out {
        text.push_str(&wrap(&format!("left out: {why}"), 80, "  "));
    }
    text.push('\n');
    text.push_str(&legend(limits, display));
    text
}
