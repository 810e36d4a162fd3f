//! `billet moves`: the move budget against temperature and takt.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::{Value, json};

use super::exit::Exit;
use super::planning::{GuardOption, Job, Progress, enquire, fail, resolution, unwritten};
use super::{Global, out, save};
use crate::ask::Failure;
use crate::ask::model::Model;
use crate::ask::moves::{MoveRow, Shared, cycle, drive_times, move_rows, no_moves, share};
use crate::ask::schedule::{Chart, ShareRule};
use crate::line::plan::Resolution;
use crate::line::{RunOptions, Trace};
use crate::report::csv::write_rows;
use crate::report::moves::{self, Budget};
use crate::report::{OutFile, ReportError, Span, history};
use crate::show::View;
use crate::text::number::{down, up};

/// Set the moves against temperature and takt: times, slack, devices, conflicts, shares.
#[derive(Debug, Args)]
pub(super) struct Moves {
    /// The line file with its [[study.move]] tables.
    file: PathBuf,
    /// How the time that temperature allows is shared over the moves.
    #[arg(long, value_enum, default_value = "minimum")]
    share: Rule_,
    /// Share this total in s instead of the largest that the limits allow.
    #[arg(long, value_name = "S")]
    total: Option<f64>,
    /// Write moves.json, moves.csv, the cycle chart and the history on the same time axis.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = resolution)]
    resolution: Option<Resolution>,
    #[command(flatten)]
    guard: GuardOption,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Rule_ {
    /// The same seconds for every move.
    Equal,
    /// In proportion to the kinematic minimum.
    Minimum,
    /// Least total cost, cost growing with the acceleration.
    Cost,
}

impl From<Rule_> for ShareRule {
    fn from(rule: Rule_) -> ShareRule {
        match rule {
            Rule_::Equal => ShareRule::Equal,
            Rule_::Minimum => ShareRule::Minimum,
            Rule_::Cost => ShareRule::Cost,
        }
    }
}

struct Found {
    rows: Vec<MoveRow>,
    shared: Shared,
    chart: Option<Chart>,
    takt_s: Option<f64>,
    holds: bool,
    /// The line at the times of its drives.
    trace: Trace,
}

impl Moves {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match enquire(global, &self.file, self.resolution) {
            Ok(job) => self.guard.of(job),
            Err(exit) => return exit,
        };
        let folder = match save::folder(self.out.as_deref(), job.model.document().files(), global) {
            Ok(folder) => folder,
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "budgeting the moves");
        let found = self.find(&job);
        progress.end();
        let found = match found {
            Ok(found) => found,
            Err(failure) => return fail(&failure),
        };
        let value = json!({
            "schema_version": 2,
            "title": job.title(),
            "guarded_acceptance": job.guarding,
            "own_values_counted_as_known": job.counted_as_known(),
            "takt_s": found.takt_s,
            "moves": found.rows,
            "shared": found.shared,
            "cycle": found.chart,
        });
        if let Some(folder) = &folder {
            let mut files = self.files(&found, &value, &global.view());
            match csv(&found) {
                Ok(text) => files.push(OutFile::text("moves.csv", text)),
                Err(error) => return unwritten(&error),
            }
            if let Err(exit) = folder.write(&files) {
                return exit;
            }
        }
        let conflict = found.chart.as_ref().is_some_and(|c| !c.conflicts.is_empty());
        let done = if found.holds && !conflict {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        let budget = Budget {
            rows: &found.rows,
            shared: &found.shared,
            chart: found.chart.as_ref(),
            takt_s: found.takt_s,
        };
        let blocks = || moves::blocks(&job, &budget);
        out::result(global, blocks, || value.clone(), done)
    }

    fn find(&self, job: &Job) -> Result<Found, Failure> {
        if job.study.moves.is_empty() {
            return Err(no_moves());
        }
        let mut document = job.model.document().clone();
        let drives = drive_times(&job.study, job.model.handovers())?;
        let drives: Vec<(&str, f64)> = drives.iter().map(|(path, s)| (path.as_str(), *s)).collect();
        document.set_all(&drives)?;
        let driven = self.guard.of(Job::new(document, Some(job.model.resolution()))?);
        let judged = driven.judged()?;
        let risk = judged.risk.as_ref();
        let rows = move_rows(&job.study, job.model.handovers(), &judged.times()?, risk)?;
        let models = (&driven.model as &dyn Model, driven.cheap());
        let shared = share(models, &job.study, (self.share.into(), self.total), risk)?;
        let takt_s = job.model.document().plan().takt_s;
        let chart = takt_s
            .map(|takt| cycle(&job.study, job.model.document().plan(), &judged.planned, takt))
            .transpose()?;
        Ok(Found {
            rows,
            shared,
            chart,
            takt_s,
            holds: judged.planned.verdicts.iter().all(|v| v.holds),
            trace: driven.model.trace(&[], &RunOptions::default())?,
        })
    }

    fn files(&self, found: &Found, value: &Value, view: &View) -> Vec<OutFile> {
        let mut files = vec![OutFile::text("moves.json", out::json(value))];
        if let Some(chart) = &found.chart {
            let drawing = moves::cycle_chart(chart, found.takt_s, &found.trace, view);
            files.push(OutFile::text("cycle.svg", drawing.svg));
        }
        files.push(OutFile::text(
            "history.svg",
            history(&found.trace, view, Span::Line).svg,
        ));
        files
    }
}

/// The moves with all their times, one row a move.
fn csv(found: &Found) -> Result<String, ReportError> {
    let head = [
        "stage",
        "minimum_s",
        "mean_s",
        "p95_s",
        "never_exceed_s",
        "now_s",
        "earliest_s",
        "reject_s",
        "longest_s",
        "slack_s",
        "share_s",
        "acceleration_m_s2",
    ];
    let cell = |x: Option<f64>, digits: usize| x.map_or_else(String::new, |x| format!("{x:.digits$}"));
    let rows = found.rows.iter().zip(&found.shared.moves).map(|(row, shared)| {
        vec![
            row.stage.clone(),
            cell(Some(row.timing.minimum_s), 2),
            cell(Some(row.timing.mean_s), 2),
            cell(Some(row.timing.p95_s), 2),
            cell(Some(row.timing.never_exceed_s), 2),
            cell(Some(row.now_s), 2),
            cell(row.earliest_s.map(|s| up(s, 1)), 1),
            cell(row.reject_s.map(|s| down(s, 1)), 1),
            cell(row.longest_s.map(|s| down(s, 1)), 1),
            cell(row.slack_s.map(|s| down(s, 2)), 2),
            cell(Some(down(shared.seconds, 2)), 2),
            cell(shared.acceleration_m_s2.map(|a| up(a, 2)), 2),
        ]
    });
    write_rows(std::iter::once(head.map(str::to_owned).to_vec()).chain(rows))
}
