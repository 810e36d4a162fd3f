//! `billet moves`: the move budget against temperature and takt.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::json;

use super::exit::Exit;
use super::planning::{Job, Progress, fail, limit_words, wrap, write};
use super::{Global, out};
use crate::ask::Failure;
use crate::ask::model::Model;
use crate::ask::moves::{MoveRow, Shared, cycle, move_rows, no_moves, share};
use crate::ask::schedule::{Chart, ShareRule};
use crate::line::RunOptions;
use crate::line::Trace;
use crate::report::chart::{Axis, CycleBar, CycleChart, CycleRow, Rule, Style};
use crate::report::number::{down, up};
use crate::report::table::text_table;
use crate::report::{OutFile, Span, View, history_chart, history_svg};
use crate::units::Display;

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
    #[arg(long, value_name = "WORD", value_parser = ["quick", "standard", "fine"])]
    resolution: Option<String>,
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
}

impl Moves {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match Job::load(&self.file, self.resolution.as_deref()) {
            Ok(job) => job,
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
            "schema_version": 1,
            "title": job.title(),
            "takt_s": found.takt_s,
            "moves": found.rows,
            "shared": found.shared,
            "cycle": found.chart,
        });
        if let Some(folder) = &self.out {
            let files = match self.files(&job, &found, &value, global.display()) {
                Ok(files) => files,
                Err(failure) => return fail(&failure),
            };
            if let Err(exit) = write(folder, &files, global) {
                return exit;
            }
        }
        let conflict = found.chart.as_ref().is_some_and(|c| !c.conflicts.is_empty());
        let done = if found.holds && !conflict {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        let text = if global.json {
            out::json(&value)
        } else {
            text(&job, &found, global.display())
        };
        out::print(&text, done)
    }

    fn find(&self, job: &Job) -> Result<Found, Failure> {
        if job.study.moves.is_empty() {
            return Err(no_moves());
        }
        let judged = job.judged()?;
        let rows = move_rows(&job.study, &judged.times()?)?;
        let shared = share(&job.model, job.cheap(), &job.study, self.share.into(), self.total)?;
        let takt_s = job.model.document().plan().takt_s;
        let chart = takt_s
            .map(|takt| cycle(&job.study, &judged.planned, takt))
            .transpose()?;
        Ok(Found {
            rows,
            shared,
            chart,
            takt_s,
            holds: judged.planned.verdicts.iter().all(|v| v.holds),
        })
    }

    fn files(
        &self,
        job: &Job,
        found: &Found,
        value: &serde_json::Value,
        display: Display,
    ) -> Result<Vec<OutFile>, Failure> {
        let mut csv = String::from(
            "stage,minimum_s,mean_s,p95_s,never_exceed_s,now_s,reject_s,longest_s,slack_s,share_s,acceleration_m_s2\n",
        );
        for (row, shared) in found.rows.iter().zip(&found.shared.moves) {
            let cell = |x: Option<f64>, digits: usize| x.map_or_else(String::new, |x| format!("{x:.digits$}"));
            csv.push_str(&format!(
                "{},{:.2},{:.2},{:.2},{:.2},{:.2},{},{},{},{:.2},{}\n",
                super::controller::quoted(&row.stage),
                row.timing.minimum_s,
                row.timing.mean_s,
                row.timing.p95_s,
                row.timing.never_exceed_s,
                row.now_s,
                cell(row.reject_s.map(|s| down(s, 1)), 1),
                cell(row.longest_s.map(|s| down(s, 1)), 1),
                cell(row.slack_s, 2),
                shared.seconds,
                cell(shared.acceleration_m_s2, 2),
            ));
        }
        let mut files = vec![
            OutFile::text("moves.json", out::json(value)),
            OutFile::text("moves.csv", csv),
        ];
        let trace = job.model.trace(&[], &RunOptions::default())?;
        if let Some(chart) = &found.chart {
            files.push(OutFile::text(
                "cycle.svg",
                cycle_svg(chart, found.takt_s, &trace, display),
            ));
        }
        files.push(OutFile::text("history.svg", history_svg(&trace, display)));
        Ok(files)
    }
}

/// The cycle with the part's temperatures above it, on one time axis.
fn cycle_svg(chart: &Chart, takt_s: Option<f64>, trace: &Trace, display: Display) -> String {
    let mut rows: Vec<CycleRow> = vec![CycleRow {
        name: "hot part".to_owned(),
        bars: chart.activities.iter().filter(|a| a.hot).map(bar).collect(),
    }];
    for device in &chart.devices {
        rows.push(CycleRow {
            name: device.device.clone(),
            bars: chart
                .activities
                .iter()
                .filter(|a| a.devices.contains(&device.device))
                .map(bar)
                .collect(),
        });
    }
    let mut temperatures = history_chart(trace, &View::from(display), Span::Line);
    temperatures.series.retain(|s| !s.hidden);
    let chart = CycleChart {
        above: Some(temperatures),
        title: "Cycle of one part and its temperature".to_owned(),
        axis: Axis::new("time after heater exit", "s"),
        rows,
        rules: takt_s
            .map(|takt| Rule {
                value: takt,
                upright: true,
                label: format!("takt {takt} s"),
            })
            .into_iter()
            .collect(),
    };
    chart.draw(&Style::default()).svg
}

fn bar(activity: &crate::ask::schedule::Placed) -> CycleBar {
    CycleBar {
        name: activity.name.clone(),
        x: (activity.start_s, activity.end_s),
        idle: activity.devices.is_empty(),
    }
}

fn text(job: &Job, found: &Found, display: Display) -> String {
    let mut text = format!("{}\n", job.title());
    let mut answer = String::new();
    if let Some(row) = found
        .rows
        .iter()
        .filter(|r| r.slack_s.is_some())
        .min_by(|a, b| a.slack_s.unwrap_or(0.0).total_cmp(&b.slack_s.unwrap_or(0.0)))
    {
        answer.push_str(&format!(
            "`{}` has least slack: {:.1} s ({:.0} {}).",
            row.stage,
            down(row.slack_s.unwrap_or(0.0), 1),
            display.difference(row.slack_k.unwrap_or(0.0)),
            display.difference_unit()
        ));
    }
    if let (Some(chart), Some(takt)) = (&found.chart, found.takt_s) {
        if let Some(device) = &chart.limiting {
            let busy = chart
                .devices
                .iter()
                .find(|d| d.device == *device)
                .map_or(0.0, |d| d.busy_s);
            answer.push_str(&format!(
                " `{device}` limits the takt: busy {busy:.1} s of {takt} s; hot time of the part {:.1} s.",
                chart.hot_time_s
            ));
        }
        match chart.conflicts.first() {
            None => answer.push_str(&format!(
                " No conflicts; the same cycle repeats at {:.1} s at the shortest.",
                up(chart.shortest_takt_s, 1)
            )),
            Some(c) => answer.push_str(&format!(
                " CONFLICT: `{}` is wanted by `{}` and `{}` at once for {:.1} s; {} s is the shortest takt without.",
                c.device,
                c.first,
                c.second,
                c.overlap_s,
                up(chart.shortest_takt_s, 1)
            )),
        }
    } else {
        answer.push_str(" No cycle chart: the file gives no takt_s.");
    }
    text.push_str(&wrap(&answer));
    let words = |x: Option<f64>| x.map_or_else(|| "any".to_owned(), |x| format!("{:.1}", down(x, 1)));
    let rows: Vec<Vec<String>> = found
        .rows
        .iter()
        .map(|r| {
            vec![
                r.stage.clone(),
                format!("{:.2}", r.timing.minimum_s),
                format!("{:.2}", r.timing.mean_s),
                format!("{:.2}", r.timing.p95_s),
                format!("{:.2}", r.timing.never_exceed_s),
                format!("{:.1}", r.now_s),
                words(r.reject_s),
                words(r.longest_s),
                words(r.slack_s),
            ]
        })
        .collect();
    text.push_str("\nMoves, in s: what the drives give, and what temperature allows\n");
    text.push_str(&text_table(
        &[
            "move",
            ">least",
            ">mean",
            ">95 %",
            ">never above",
            ">now",
            ">reject",
            ">longest",
            ">slack",
        ],
        &rows,
    ));
    for row in found.rows.iter().filter(|r| (r.timing.mean_s - r.now_s).abs() > 0.1) {
        text.push_str(&wrap(&format!(
            "`{}` takes {:.1} s in the line file, its drives give {:.2} s in the mean.",
            row.stage, row.now_s, row.timing.mean_s
        )));
    }
    let by = found
        .shared
        .limit
        .and_then(|k| job.model.limits().get(k))
        .map(|limit| format!(", set by {}", limit_words(limit, display)))
        .unwrap_or_default();
    text.push_str(&format!(
        "\n{}",
        wrap(&format!(
            "Sharing {:.1} s over the moves{by}:",
            down(found.shared.total_s, 1)
        ))
    ));
    let rows: Vec<Vec<String>> = found
        .shared
        .moves
        .iter()
        .map(|m| {
            vec![
                m.stage.clone(),
                format!("{:.2}", m.seconds),
                m.acceleration_m_s2
                    .map_or_else(|| "not reached".to_owned(), |a| format!("{a:.2}")),
            ]
        })
        .collect();
    text.push_str(&text_table(&["move", ">share s", ">acceleration m/s2"], &rows));
    if let Some(chart) = &found.chart {
        let rows: Vec<Vec<String>> = chart
            .devices
            .iter()
            .map(|d| vec![d.device.clone(), format!("{:.1}", d.busy_s), format!("{:.1}", d.idle_s)])
            .collect();
        text.push_str(&format!(
            "\n{}",
            text_table(&["device", ">busy s", ">free of takt s"], &rows)
        ));
    }
    text
}
