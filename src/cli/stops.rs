//! `billet stops`: which parts in flight survive a stop of the line.

use crate::judge::Kind;
use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{Job, Progress, allowed_json, fail, legend, wrap};
use super::{Global, out};
use crate::ask::Failure;
use crate::ask::delays::Allowed;
use crate::ask::model::{Handover, Model};
use crate::ask::stoppage::{Hold, Position, Survival, positions, survivals};
use crate::report::number::down;
use crate::report::table::text_table;

/// Find which parts between heater and trim are still good after the line has stopped.
#[derive(Debug, Args)]
pub(super) struct Stops {
    /// The line file.
    file: PathBuf,
    /// Stop lengths of the wall table in s.
    #[arg(long, value_delimiter = ',', default_values_t = [5.0, 10.0, 20.0, 30.0, 60.0, 120.0], value_name = "S,S,...")]
    seconds: Vec<f64>,
    /// Leave out the variants that hold the part on a rest of its own.
    #[arg(long)]
    no_rest: bool,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = ["quick", "standard", "fine"])]
    resolution: Option<String>,
}

/// Longest stop searched, s.
const LONGEST_S: f64 = 600.0;

impl Stops {
    pub fn run(&self, global: &Global) -> Exit {
        if let Some(wrong) = self.seconds.iter().find(|s| !(**s > 0.0 && **s <= LONGEST_S)) {
            super::message::error_line(&format!("a stop of {wrong} s: allowed are above 0 to {LONGEST_S} s"));
            return Exit::WrongInput;
        }
        let job = match Job::load(&self.file, self.resolution.as_deref()) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "stopping the line in every position");
        let found = self.find(&job);
        progress.end();
        let found = match found {
            Ok(found) => found,
            Err(failure) => return fail(&failure),
        };
        let limits = job.model.limits();
        let broken = found.iter().any(|s| matches!(s.longest, Allowed::Broken { .. }));
        let done = if broken { Exit::LimitBroken } else { Exit::Fine };
        if global.json {
            let list: Vec<_> = found
                .iter()
                .map(|s| {
                    json!({
                        "stage": s.position.stage,
                        "hold": hold_words(s.position.hold),
                        "longest_stop": allowed_json(0.0, Some(&s.longest), limits),
                        "good": s.good,
                    })
                })
                .collect();
            let value = json!({
                "schema_version": 1,
                "title": job.title(),
                "stops_s": self.seconds,
                "positions": list,
            });
            return out::print(&out::json(&value), done);
        }
        let mut text = format!("{}\n", job.title());
        text.push_str(&wrap(&headline(&found, &self.seconds)));
        text.push_str("\nThe line stops for so many seconds: is the part still good?\n");
        let stops: Vec<String> = self.seconds.iter().map(|s| format!(">{s} s")).collect();
        let mut header = vec!["part is in", "held", ">longest s", ">limit"];
        header.extend(stops.iter().map(String::as_str));
        let rows: Vec<Vec<String>> = found
            .iter()
            .map(|s| {
                let mut row = vec![
                    s.position.stage.clone(),
                    hold_words(s.position.hold).to_owned(),
                    match s.longest {
                        Allowed::Extra { seconds, .. } => format!("{:.1}", down(seconds, 1)),
                        Allowed::Broken { .. } => "none".to_owned(),
                        Allowed::Endless { .. } => format!("{LONGEST_S}+"),
                    },
                    s.longest
                        .limit()
                        .map_or_else(|| "-".to_owned(), |k| (k + 1).to_string()),
                ];
                row.extend(s.good.iter().map(|good| if *good { "good" } else { "NO" }.to_owned()));
                row
            })
            .collect();
        text.push_str(&text_table(&header, &rows));
        text.push('\n');
        text.push_str(&legend(limits, global.display()));
        text.push_str(&wrap(
            "Only the stop is added; the rest of the line then goes as planned. A part between blows counts as lying \
             before the first or after the last of them.",
        ));
        out::print(&text, done)
    }

    fn find(&self, job: &Job) -> Result<Vec<Survival>, Failure> {
        let nominal = job.nominal()?;
        let places = positions(&job.model, &nominal);
        let mut found = survivals(&job.model, job.cheap(), &nominal, &places, &self.seconds, LONGEST_S)?;
        if self.no_rest {
            return Ok(found);
        }
        // A part in a gripper can also be put down; the rest is an extra stage of no length.
        let carries: Vec<&Handover> = job.model.handovers().iter().filter(|h| h.kind == Kind::Carry).collect();
        for carry in carries {
            let name = format!("rest after {}", carry.stage);
            let with = job.model.with_rest(&carry.stage, &name)?;
            let quick = job
                .quick
                .as_ref()
                .map(|q| q.with_rest(&carry.stage, &name))
                .transpose()?;
            let place = Position {
                stage: carry.stage.clone(),
                kind: Kind::Rest,
                hold: Hold::OnRest,
                path: format!("stage.{name}.seconds"),
                seconds: 0.0,
            };
            let cheap = quick.as_ref().map(|q| q as &dyn Model);
            let nominal = with.run(&[])?;
            let mut one = survivals(&with, cheap, &nominal, &[place], &self.seconds, LONGEST_S)?;
            let after = found.iter().position(|s| s.position.stage == carry.stage);
            let at = after.map_or(found.len(), |k| k + 1);
            for survival in one.drain(..) {
                found.insert(at, survival);
            }
        }
        Ok(found)
    }
}

fn hold_words(hold: Hold) -> &'static str {
    match hold {
        Hold::InPlace => "in place",
        Hold::OnDieBefore => "on die, before blows",
        Hold::OnDieAfter => "on die, after blows",
        Hold::OnRest => "put on a rest",
    }
}

/// What to reject at each stop length, in one sentence.
fn headline(found: &[Survival], stops: &[f64]) -> String {
    let here = |s: &&Survival| s.position.hold != Hold::OnRest;
    let all_good = (0..stops.len())
        .filter(|&k| found.iter().filter(here).all(|s| s.good[k]))
        .map(|k| stops[k])
        .fold(0.0, f64::max);
    let all_bad = (0..stops.len())
        .filter(|&k| found.iter().filter(here).all(|s| !s.good[k]))
        .map(|k| stops[k])
        .fold(f64::INFINITY, f64::min);
    let mut text = if all_good > 0.0 {
        format!("Up to {all_good} s: carry on with every part.")
    } else {
        format!(
            "Already {} s costs parts.",
            stops.iter().copied().fold(f64::INFINITY, f64::min)
        )
    };
    if all_bad.is_finite() {
        text.push_str(&format!(" From {all_bad} s: reject everything in flight."));
    }
    let weakest = found
        .iter()
        .filter(here)
        .filter_map(|s| Some((s, s.longest.seconds()?)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((s, seconds)) = weakest {
        text.push_str(&format!(
            " First to go: the part in `{}`, {}, after {:.1} s.",
            s.position.stage,
            hold_words(s.position.hold),
            down(seconds, 1)
        ));
    }
    text
}
