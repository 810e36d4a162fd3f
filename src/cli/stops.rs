//! `billet stops`: which parts in flight survive a stop of the line.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{GuardOption, Progress, enquire, fail, resolution, times_json};
use super::{Global, out};
use crate::ask::enquiry::Judged;
use crate::ask::model::Model;
use crate::ask::stoppage::{Hold, LONGEST_STOP_S as LONGEST_S, STOPS_S, Survival};
use crate::line::plan::Resolution;
use crate::report::stops;
use crate::text::number::down;

/// Find which parts between heater and trim are still good after the line has stopped.
#[derive(Debug, Args)]
pub(super) struct Stops {
    /// The line file.
    file: PathBuf,
    /// Stop lengths of the wall table in s.
    #[arg(long, value_delimiter = ',', default_values_t = STOPS_S, value_name = "S,S,...")]
    seconds: Vec<f64>,
    /// Leave out the variants that hold the part on a rest of its own.
    #[arg(long)]
    no_rest: bool,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = resolution)]
    resolution: Option<Resolution>,
    #[command(flatten)]
    guard: GuardOption,
}

impl Stops {
    pub fn run(&self, global: &Global) -> Exit {
        if let Some(wrong) = self.seconds.iter().find(|s| !(**s > 0.0 && **s <= LONGEST_S)) {
            super::message::error_line(&format!("a stop of {wrong} s: allowed are above 0 to {LONGEST_S} s"));
            return Exit::WrongInput;
        }
        let enquiry = match enquire(global, &self.file, self.resolution) {
            Ok(enquiry) => self.guard.of(enquiry),
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "stopping the line in every position");
        let found = enquiry.judged().and_then(|judged| {
            let found = judged.stops(&self.seconds, LONGEST_S, !self.no_rest)?;
            Ok((judged, found))
        });
        progress.end();
        let (judged, found) = match found {
            Ok(found) => found,
            Err(failure) => return fail(&failure),
        };
        let broken = judged.planned.verdicts.iter().any(|v| !v.holds);
        let done = if broken { Exit::LimitBroken } else { Exit::Fine };
        let asked = stops::Asked {
            stops_s: &self.seconds,
            longest_s: LONGEST_S,
        };
        out::result(
            global,
            || stops::blocks(&judged, &found, &asked),
            || self.json(&judged, &found),
            done,
        )
    }

    fn json(&self, judged: &Judged, found: &[Survival]) -> serde_json::Value {
        let limits = judged.enquiry.model.limits();
        let list: Vec<_> = found
            .iter()
            .map(|s| {
                json!({
                    "stage": s.position.stage,
                    "hold": hold_words(s.position.hold),
                    "planned_s": s.position.seconds,
                    "longest_stop_s": s.longest_s().map(|stop| down(stop, 1)),
                    "alone": times_json(Some(&s.alone), limits),
                    "reject": times_json(s.reject.as_ref(), limits),
                    "alarm": times_json(s.alarm.as_ref(), limits),
                    "states": s.states,
                })
            })
            .collect();
        json!({
            "schema_version": 2,
            "title": judged.enquiry.title(),
            "guarded_acceptance": judged.enquiry.guarding,
            "own_values_counted_as_known": judged.enquiry.counted_as_known(),
            "stops_s": self.seconds,
            "searched_s": LONGEST_S,
            "positions": list,
        })
    }
}

/// How a part is held, as results name it.
fn hold_words(hold: Hold) -> &'static str {
    match hold {
        Hold::InPlace => "in place",
        Hold::OnDieBefore => "on die, before blows",
        Hold::OnDieAfter => "on die, after blows",
        Hold::OnRest => "put on a rest",
    }
}
