//! `billet shift`: the parts of a log judged, and charts of how the line runs.

use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::measured::fail;
use super::planning::{GuardOption, Job, Progress, enquire, unwritten};
use super::{Global, interrupt, message, out, save};
use crate::ask::decide::DecisionTable;
use crate::ask::model::Model;
use crate::line::plan::Resolution;
use crate::measured::{BadRow, Bench, Judging, MeasuredError, Shift, ShiftPart, State, shift};
use crate::report::shift as report;
use crate::show::View;
use crate::text::load_data;

/// Judge every part of a log by its measured exit and times; control charts, capability, drift, parts to set aside.
#[derive(Debug, Args)]
pub(super) struct ShiftCommand {
    /// The log (CSV). Its columns are those that the [[measurement]] tables of the line name, or `part`, `exit_c` and the
    /// seconds of each stage under its name.
    log: PathBuf,
    /// The line file.
    #[arg(long, value_name = "FILE")]
    line: PathBuf,
    /// Decide by this decision table (made by `billet delays --out`) instead of by margins with guard bands.
    #[arg(long, value_name = "FILE")]
    table: Option<PathBuf>,
    /// Write every part as CSV to this file.
    #[arg(long, value_name = "FILE")]
    parts: Option<PathBuf>,
    /// Write the answer as a page to this file.
    #[arg(long, value_name = "FILE")]
    page: Option<PathBuf>,
    /// Go on with the rows that are added to the log, a line for each part, until interrupted.
    #[arg(long, conflicts_with_all = ["parts", "page"])]
    follow: bool,
    /// Confidence of the intervals.
    #[arg(long, value_name = "SHARE", default_value_t = 0.95, value_parser = super::fit::confidence)]
    confidence: f64,
    #[command(flatten)]
    guard: GuardOption,
}

/// How often a log that is followed is looked at.
const LOOK: Duration = Duration::from_millis(50);

impl ShiftCommand {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match enquire(global, &self.line, Some(Resolution::Quick)) {
            Ok(job) => self.guard.of(job),
            Err(exit) => return exit,
        };
        let table = match self.table.as_deref().map(read_table).transpose() {
            Ok(table) => table,
            Err(why) => {
                message::error_line(&why);
                return Exit::WrongInput;
            }
        };
        if self.follow {
            return self.follow(&job, table.as_ref(), global);
        }
        let inputs = match self.check_targets(&job) {
            Ok(inputs) => inputs,
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "judging the parts");
        let found = Bench::of_log(&job.model, &self.log).and_then(|bench| {
            let judging = Judging::new(&job, &bench, table.as_ref())?;
            let found = shift(&judging, &bench, self.confidence);
            drop(judging);
            Ok((bench, found))
        });
        progress.end();
        let (bench, found) = match found {
            Ok(found) => found,
            Err(error) => return fail(&error),
        };
        let view = global.view();
        if !found.parts.is_empty()
            && let Err(exit) = self.write(&job, (&bench, &found), &inputs, &view)
        {
            return exit;
        }
        out::result(
            global,
            || report::blocks(job.title(), &bench, &found, &view),
            || json!({ "schema_version": 1, "title": job.title(), "shift": found, "bad_rows": report::rows(&bench, &found) }),
            done(&found),
        )
    }

    /// Refuses files that are read, and two that are one; gives all that are read.
    fn check_targets(&self, job: &Job) -> Result<Vec<PathBuf>, Exit> {
        let mut inputs = Bench::sources(&job.model).map_err(|error| fail(&error))?;
        inputs.extend([self.log.clone(), self.line.clone()]);
        inputs.extend(self.table.clone());
        let targets: Vec<&Path> = [&self.parts, &self.page]
            .into_iter()
            .flatten()
            .map(PathBuf::as_path)
            .collect();
        for target in &targets {
            save::check_file(target, &inputs)?;
        }
        save::apart(&targets)?;
        Ok(inputs)
    }

    fn write(&self, job: &Job, (bench, found): (&Bench, &Shift), inputs: &[PathBuf], view: &View) -> Result<(), Exit> {
        if let Some(to) = &self.parts {
            let text = report::csv(found).map_err(|error| unwritten(&error))?;
            save::file(to, text.as_bytes(), inputs)?;
        }
        if let Some(to) = &self.page {
            let blocks = report::blocks(job.title(), bench, found, view);
            let page = crate::report::blocks_html(job.title(), &blocks, view);
            save::file(to, page.as_bytes(), inputs)?;
        }
        Ok(())
    }

    /// Judges the rows that are there, then those that come, a line each.
    fn follow(&self, job: &Job, table: Option<&DecisionTable>, global: &Global) -> Exit {
        let bench = match Bench::of_log(&job.model, &self.log) {
            Ok(bench) => bench,
            Err(error) => return fail(&error),
        };
        let judging = match Judging::new(job, &bench, table) {
            Ok(judging) => judging,
            Err(error) => return fail(&error),
        };
        let limits: Vec<String> = job.model.limits().iter().map(ToString::to_string).collect();
        let tell = |rows: Rows| tell(global, &limits, rows);
        let mut length = size(&self.log);
        let first = Rows::of(&bench, &judging, 0, ends_a_line(&self.log));
        let mut told = match tell(first) {
            Ok(last) => last,
            Err(exit) => return exit,
        };
        while !interrupt::came() {
            std::thread::sleep(LOOK);
            let now = size(&self.log);
            if now == length || !ends_a_line(&self.log) {
                continue;
            }
            // A log that became shorter is another one.
            if now < length {
                told = 0;
            }
            length = now;
            match Bench::of_log(&job.model, &self.log) {
                Ok(bench) => match tell(Rows::of(&bench, &judging, told, true)) {
                    Ok(last) => told = told.max(last),
                    Err(exit) => return exit,
                },
                Err(MeasuredError::Log { .. }) => {}
                Err(error) => return fail(&error),
            }
        }
        interrupt::exit()
    }
}

/// How a shift ends: a log of which no part is judged is no answer, a row that is not judged no good one.
fn done(found: &Shift) -> Exit {
    if found.parts.is_empty() {
        message::error_line(&format!("no part was judged, of {} rows", found.not_judged.len()));
        return Exit::WrongInput;
    }
    let good = found.parts.iter().all(|p| p.state != State::Reject);
    if good && found.not_judged.is_empty() {
        Exit::Fine
    } else {
        Exit::LimitBroken
    }
}

/// Rows of a log that is followed, in the order of their lines: judged, or the reason why not.
struct Rows(Vec<(usize, Result<ShiftPart, BadRow>)>);

impl Rows {
    /// The rows below line `from`; the last one waits where it is not whole.
    fn of(bench: &Bench, judging: &Judging, from: usize, whole: bool) -> Rows {
        let Some(setup) = bench.setups.iter().find(|s| s.driver.is_some() && s.line == 0) else {
            return Rows(Vec::new());
        };
        let parts = setup.parts.iter().map(|part| part.line);
        let last = parts.chain(setup.not_run.iter().map(|row| row.line)).max();
        let counts = |line: usize| line > from && (whole || Some(line) != last);
        let judged = setup.parts.iter().filter(|part| counts(part.line));
        let mut rows: Vec<(usize, Result<ShiftPart, BadRow>)> =
            judged.map(|part| (part.line, judging.part(part))).collect();
        let not_run = setup.not_run.iter().filter(|row| counts(row.line));
        rows.extend(not_run.map(|row| (row.line, Err(row.clone()))));
        rows.sort_by_key(|row| row.0);
        Rows(rows)
    }
}

/// Prints rows, a line each, and gives the line of the last one.
fn tell(global: &Global, limits: &[String], rows: Rows) -> Result<usize, Exit> {
    let mut last = 0;
    for (line, row) in rows.0 {
        let text = match (global.json, &row) {
            (true, Ok(part)) => json!(part).to_string() + "\n",
            (true, Err(row)) => json!({ "state": "not_judged", "row": row }).to_string() + "\n",
            (false, row) => {
                let block = match row {
                    Ok(part) => report::line(limits, part),
                    Err(row) => report::not_judged(row),
                };
                let text = out::shown(global, &[block]).map_err(|_| Exit::Failed)?;
                text.trim_start_matches('\n').to_owned()
            }
        };
        interrupt::whole("the verdicts printed so far", || match out::print(&text, Exit::Fine) {
            Exit::Fine => Ok(()),
            failed => Err(failed),
        })?;
        last = line;
    }
    Ok(last)
}

fn size(path: &Path) -> u64 {
    std::fs::metadata(path).map_or(0, |metadata| metadata.len())
}

/// Whether the last row of a file is whole.
fn ends_a_line(path: &Path) -> bool {
    let last = || -> std::io::Result<u8> {
        let mut file = std::fs::File::open(path)?;
        file.seek(SeekFrom::End(-1))?;
        let mut byte = [0];
        file.read_exact(&mut byte)?;
        Ok(byte[0])
    };
    last().is_ok_and(|byte| byte == b'\n')
}

fn read_table(path: &Path) -> Result<DecisionTable, String> {
    let text = load_data(path, "a decision table as `delays` writes it").map_err(|error| error.to_string())?;
    let named = |error: String| format!("{}: not a decision table: {error}", path.display());
    let table: DecisionTable = serde_json::from_str(&text).map_err(|error| named(error.to_string()))?;
    table.check().map_err(|error| named(error.to_string()))?;
    Ok(table)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measured::testing::{bench, enquiry};

    #[test]
    fn rows_that_are_not_judged_give_a_status() {
        let enquiry = enquiry("");
        let bench = bench(&enquiry, &["over,over,12,40"]);
        let judging = Judging::new(&enquiry, &bench, None).unwrap();
        let mut found = shift(&judging, &bench, 0.95);
        assert_eq!(done(&found), Exit::LimitBroken);
        found.not_judged.clear();
        assert_eq!(done(&found), Exit::Fine);
        found.parts.clear();
        assert_eq!(done(&found), Exit::WrongInput);
    }

    /// Rows with words and without an exit are told like the others; the last one waits until it is whole.
    #[test]
    fn a_log_that_is_followed_tells_every_row() {
        let enquiry = enquiry("");
        let bench = bench(&enquiry, &["over,over,12,40", "none,,12,40", "last,1230,12,4"]);
        let judging = Judging::new(&enquiry, &bench, None).unwrap();
        let told = |from: usize, whole: bool| -> Vec<(usize, bool)> {
            let rows = Rows::of(&bench, &judging, from, whole).0;
            rows.iter().map(|(line, row)| (*line, row.is_ok())).collect()
        };
        assert_eq!(told(60, true), [(61, true), (62, false), (63, false), (64, true)]);
        assert_eq!(told(60, false), [(61, true), (62, false), (63, false)]);
    }
}
