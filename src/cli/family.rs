//! `billet family`: one line file over a table of part numbers.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};

use super::controller;
use super::exit::Exit;
use super::exit_band::bands_json;
use super::planning::{GuardOption, Job, Progress, enquire, fail, resolution, times_json, unwritten};
use super::{Global, out, save};
use crate::ask::Failure;
use crate::ask::family::{FamilyPart, FamilyRow, read_family, run_family};
use crate::ask::model::Model;
use crate::line::plan::{Heater, Resolution};
use crate::report::ReportError;
use crate::report::compare::{family, family_times, stated_exit_c};
use crate::report::csv::write_rows;
use crate::report::number::{down, up};

/// Run one line file for every row of a table of part numbers (CSV: part, then inputs by path). A row that changes the
/// size of the billet keeps its volume: heights of shapes, or lengths of cross-sections, that it does not give follow.
#[derive(Debug, Args)]
pub(super) struct Family {
    /// The line file.
    file: PathBuf,
    /// The table: the first column names the part, every other column is the path of an input, numbers or
    /// words (billet.steel).
    table: PathBuf,
    /// Write the results as CSV to this file; `-` writes them to standard output instead of the table.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Also find the times of the hand-overs and the exit band of every part.
    #[arg(long)]
    planning: bool,
    /// Write delays, controller and decision tables of every part into a folder each; finds the times too.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Run only part I of N of the rows, for spreading them over machines.
    #[arg(long, value_name = "I/N")]
    shard: Option<String>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = resolution)]
    resolution: Option<Resolution>,
    #[command(flatten)]
    guard: GuardOption,
}

type Found = Result<FamilyPart, Failure>;

impl Family {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match enquire(global, &self.file, self.resolution) {
            Ok(job) => self.guard.of(job),
            Err(exit) => return exit,
        };
        let mut inputs = job.model.document().files();
        inputs.push(self.table.clone());
        if let Some(path) = &self.csv
            && let Err(exit) = save::check_file(path, &inputs)
        {
            return exit;
        }
        let rows = match read_family(&self.table, &job.model).and_then(|rows| self.part(rows)) {
            Ok(rows) => rows,
            Err(failure) => return fail(&failure),
        };
        let planning = self.planning || self.out.is_some();
        let progress = Progress::spinner(global, "running the family");
        let mut results = run_family(&job, &rows, planning);
        let written = match &self.out {
            Some(_) => self.write_parts(&rows, &mut results, &inputs, global),
            None => Ok(()),
        };
        progress.end();
        if let Err(exit) = written {
            return exit;
        }
        if let Some(path) = &self.csv
            && path != Path::new("-")
        {
            let text = csv(&job, &rows, &results, planning).map_err(|error| unwritten(&error));
            if let Err(exit) = text.and_then(|text| save::file(path, text.as_bytes(), &inputs)) {
                return exit;
            }
        }
        let failed = results
            .iter()
            .any(|r| matches!(r, Err(error) if error.exit_code() == 3));
        let refused = results.iter().any(Result::is_err);
        let broken = results.iter().flatten().any(|part| !part.outcome.holds());
        let done = match (failed, refused, broken) {
            (true, ..) => Exit::Failed,
            (_, true, _) => Exit::WrongInput,
            (_, _, true) => Exit::LimitBroken,
            _ => Exit::Fine,
        };
        if self.csv.as_deref() == Some(Path::new("-")) {
            return match csv(&job, &rows, &results, planning) {
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
            let names: Vec<String> = limits.iter().map(ToString::to_string).collect();
            json!({ "schema_version": 1, "title": job.title(), "limits": names, "parts": list })
        };
        let blocks = || {
            let mut blocks = family(job.title(), &rows, &results, limits);
            if planning {
                blocks.extend(family_times(&job, &rows, &results));
            }
            blocks
        };
        out::result(global, blocks, value, done)
    }

    /// The rows of the shard asked for.
    fn part(&self, rows: Vec<FamilyRow>) -> Result<Vec<FamilyRow>, Failure> {
        let Some(text) = &self.shard else { return Ok(rows) };
        let numbers = text.split_once('/');
        let numbers = numbers.and_then(|(i, n)| Some((i.parse::<usize>().ok()?, n.parse::<usize>().ok()?)));
        match numbers {
            Some((part, parts)) if part >= 1 && part <= parts => {
                let (from, to) = (rows.len() * (part - 1) / parts, rows.len() * part / parts);
                Ok(rows.into_iter().take(to).skip(from).collect())
            }
            _ => Err(Failure::NothingToDo(format!(
                "--shard `{text}`: write it as 2/8 for part 2 of 8"
            ))),
        }
    }

    /// Writes the controller's files of every part; one that has none keeps the reason.
    fn write_parts(
        &self,
        rows: &[FamilyRow],
        results: &mut [Found],
        inputs: &[PathBuf],
        global: &Global,
    ) -> Result<(), Exit> {
        let Some(folder) = &self.out else { return Ok(()) };
        for (row, result) in rows.iter().zip(results.iter_mut()) {
            let files = match result {
                Ok(part) => match &part.plan {
                    Some(plan) => part
                        .enquiry
                        .judged_as(part.outcome.clone())
                        .and_then(|judged| controller::files(&judged, &plan.times, &global.view())),
                    None => continue,
                },
                Err(_) => continue,
            };
            match files {
                Ok(files) => {
                    let own = folder.join(folder_name(&row.part));
                    if let Some(folder) = save::folder(Some(&own), inputs.to_vec(), global)? {
                        folder.write(&files)?;
                    }
                }
                Err(failure) => *result = Err(failure),
            }
        }
        Ok(())
    }
}

/// A part number as the name of a folder.
fn folder_name(part: &str) -> String {
    let plain = |c: char| {
        if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') {
            c
        } else {
            '-'
        }
    };
    let name: String = part.chars().map(plain).take(100).collect();
    if name.trim_matches('.').is_empty() {
        "part".to_owned()
    } else {
        name
    }
}

fn verdict(result: &Found) -> &'static str {
    match result {
        Ok(part) if part.outcome.holds() => "ok",
        Ok(_) => "BROKEN",
        Err(_) => "no run",
    }
}

fn row_json(row: &FamilyRow, result: &Found) -> Value {
    match result {
        Ok(part) => {
            let limits = part.enquiry.model.limits();
            let mut value = json!({
                "part": row.part,
                "verdict": verdict(result),
                "limits": limits.iter().map(ToString::to_string).collect::<Vec<_>>(),
                "values": part.outcome.verdicts.iter().map(|v| v.value).collect::<Vec<_>>(),
                "margins_k": part.outcome.margins_k(),
            });
            if part.stretched != 1.0 {
                value["heights_times"] = json!(part.stretched);
            }
            if let Some(heater) = &part.heater {
                value["heater"] = json!(heater);
            }
            if let Some(plan) = &part.plan {
                let times = plan.times.iter().map(|t| {
                    json!({
                        "stage": t.stage,
                        "planned_s": t.planned_s,
                        "alone": times_json(Some(&t.alone), limits),
                        "reject": times_json(t.reject.as_ref(), limits),
                        "alarm": times_json(t.alarm.as_ref(), limits),
                        "planned": t.state(t.planned_s),
                    })
                });
                value["handovers"] = times.collect();
                value["exit_band"] = plan
                    .bands
                    .as_ref()
                    .map_or(Value::Null, |bands| bands_json(bands, limits));
            }
            value
        }
        Err(error) => json!({ "part": row.part, "verdict": "no run", "reason": first_line(error) }),
    }
}

/// Coils of a computed heater.
fn coil_names(job: &Job) -> Option<Vec<String>> {
    match &job.model.document().plan().heater {
        Heater::CoilLine(coils) => {
            let line = &coils.line;
            Some(line.coils().map(|(zone, _)| line.zones[zone].name.clone()).collect())
        }
        _ => None,
    }
}

/// The reason of a row in one line.
fn first_line(error: &Failure) -> String {
    error.to_string().lines().next().unwrap_or_default().to_owned()
}

fn csv(job: &Job, rows: &[FamilyRow], results: &[Found], planning: bool) -> Result<String, ReportError> {
    let mut head = vec!["part".to_owned(), "verdict".to_owned()];
    let limits: Vec<String> = job.model.limits().iter().map(ToString::to_string).collect();
    for name in &limits {
        head.extend([format!("value: {name}"), format!("margin_k: {name}")]);
    }
    if planning {
        head.extend(["exit_from_c".to_owned(), "exit_to_c".to_owned()]);
        for of in job.model.handovers() {
            head.extend(["earliest_s", "alarm_s", "reject_s"].map(|word| format!("{word}: {}", of.stage)));
        }
    }
    let (before_heater, coils) = (head.len(), coil_names(job));
    if let Some(coils) = &coils {
        head.push("mains_kwh_t".to_owned());
        head.extend(coils.iter().map(|name| format!("power_kw: {name}")));
    }
    head.push("reason".to_owned());
    let width = head.len();
    let rows = rows.iter().zip(results).map(|(row, result)| {
        let mut cells = vec![row.part.clone(), verdict(result).to_owned()];
        if let Ok(part) = result {
            for name in &limits {
                let own = part.outcome.verdicts.iter().find(|v| v.limit.to_string() == *name);
                cells.extend(match own {
                    Some(v) => [format!("{:.2}", v.value), format!("{:.2}", v.margin_k)],
                    None => ["none", "none"].map(str::to_owned),
                });
            }
            cells.extend(part.plan.iter().flat_map(|_| planned_cells(part)));
            if let (Some(_), Some(heater)) = (&coils, &part.heater) {
                cells.resize(before_heater, "none".to_owned());
                cells.push(format!("{:.1}", heater.mains_kwh_t));
                cells.extend(heater.coils.iter().map(|c| format!("{:.1}", c.power_kw)));
            }
        }
        cells.resize(width - 1, "none".to_owned());
        cells.push(result.as_ref().err().map_or_else(|| "none".to_owned(), first_line));
        cells
    });
    write_rows(std::iter::once(head).chain(rows))
}

/// Exit band and times of a part, on the safe side; a word where there is no number.
fn planned_cells(part: &FamilyPart) -> Vec<String> {
    let Some(plan) = &part.plan else { return Vec::new() };
    let mut cells = match plan.bands.as_ref().and_then(stated_exit_c) {
        Some((low, high)) => vec![format!("{:.0}", up(low, 0)), format!("{:.0}", down(high, 0))],
        None => vec!["no exit".to_owned(); 2],
    };
    for t in &plan.times {
        let earliest = t.stated().earliest();
        cells.push(earliest.map_or_else(|| "at once".to_owned(), |edge| format!("{:.1}", up(edge.seconds, 1))));
        for times in [t.alarm.as_ref(), Some(t.stated())] {
            cells.push(match times {
                None => "not stated".to_owned(),
                Some(crate::ask::times::Times::Never { .. }) => "no time".to_owned(),
                Some(times) => {
                    let latest = times.latest();
                    latest.map_or_else(|| "any".to_owned(), |edge| format!("{:.1}", down(edge.seconds, 1)))
                }
            });
        }
    }
    cells
}
