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
use crate::measured::{Bench, Judging, MeasuredError, State, shift};
use crate::report::shift as report;
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
        let progress = Progress::spinner(global, "judging the parts");
        let found = Bench::of_log(&job.model, Some(&self.log)).and_then(|bench| {
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
        let inputs = [self.log.clone(), self.line.clone()];
        if let Some(to) = &self.parts {
            let text = report::csv(&found).map_err(|error| unwritten(&error));
            if let Err(exit) = text.and_then(|text| save::file(to, text.as_bytes(), &inputs)) {
                return exit;
            }
        }
        let view = global.view();
        if let Some(to) = &self.page {
            let page =
                crate::report::blocks_html(job.title(), &report::blocks(job.title(), &bench, &found, &view), &view);
            if let Err(exit) = save::file(to, page.as_bytes(), &inputs) {
                return exit;
            }
        }
        let good = found.parts.iter().all(|p| p.state != State::Reject);
        out::result(
            global,
            || report::blocks(job.title(), &bench, &found, &view),
            || json!({ "schema_version": 1, "title": job.title(), "shift": found, "bad_rows": bench.bad }),
            if good { Exit::Fine } else { Exit::LimitBroken },
        )
    }

    /// Judges the rows that are there, then those that come, a line each.
    fn follow(&self, job: &Job, table: Option<&DecisionTable>, global: &Global) -> Exit {
        let bench = match Bench::of_log(&job.model, Some(&self.log)) {
            Ok(bench) => bench,
            Err(error) => return fail(&error),
        };
        let judging = match Judging::new(job, &bench, table) {
            Ok(judging) => judging,
            Err(error) => return fail(&error),
        };
        let limits: Vec<String> = job.model.limits().iter().map(ToString::to_string).collect();
        let setups = |bench: &Bench, from: usize| -> Result<usize, Exit> {
            let parts = bench
                .setups
                .iter()
                .find(|s| s.driver.is_some())
                .map_or(&[][..], |s| &s.parts);
            for part in parts.iter().filter(|p| p.line > from).filter_map(|p| judging.part(p)) {
                let text = match global.json {
                    true => json!(part).to_string() + "\n",
                    false => match out::shown(global, &[report::line(&limits, &part)]) {
                        Ok(text) => text.trim_start_matches('\n').to_owned(),
                        Err(_) => return Err(Exit::Failed),
                    },
                };
                if out::print(&text, Exit::Fine) != Exit::Fine {
                    return Err(Exit::Failed);
                }
            }
            Ok(parts.iter().map(|p| p.line).fold(from, usize::max))
        };
        let mut told = match setups(&bench, 0) {
            Ok(told) => told,
            Err(exit) => return exit,
        };
        let mut length = size(&self.log);
        while !interrupt::came() {
            std::thread::sleep(LOOK);
            let now = size(&self.log);
            if now == length || !ends_a_line(&self.log) {
                continue;
            }
            length = now;
            match Bench::of_log(&job.model, Some(&self.log)) {
                Ok(bench) => match setups(&bench, told) {
                    Ok(last) => told = last,
                    Err(exit) => return exit,
                },
                Err(MeasuredError::Log { .. }) => {}
                Err(error) => return fail(&error),
            }
        }
        interrupt::exit()
    }
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
