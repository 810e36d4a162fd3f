//! `billet stops`: which parts in flight survive a stop of the line.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{Progress, enquire, fail, legend, resolution, times_json, wrap};
use super::{Global, out};
use crate::ask::enquiry::Judged;
use crate::ask::hand_overs::State;
use crate::ask::model::{Model, limit_name};
use crate::ask::stoppage::{Hold, Survival};
use crate::line::plan::Resolution;
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
    #[arg(long, value_name = "WORD", value_parser = resolution)]
    resolution: Option<Resolution>,
}

/// Longest stop searched, s.
const LONGEST_S: f64 = 600.0;

impl Stops {
    pub fn run(&self, global: &Global) -> Exit {
        if let Some(wrong) = self.seconds.iter().find(|s| !(**s > 0.0 && **s <= LONGEST_S)) {
            super::message::error_line(&format!("a stop of {wrong} s: allowed are above 0 to {LONGEST_S} s"));
            return Exit::WrongInput;
        }
        let enquiry = match enquire(&self.file, self.resolution) {
            Ok(enquiry) => enquiry,
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
        let text = if global.json {
            out::json(&self.json(&judged, &found))
        } else {
            self.text(&judged, &found, global)
        };
        out::print(&text, done)
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
            "stops_s": self.seconds,
            "searched_s": LONGEST_S,
            "positions": list,
        })
    }

    fn text(&self, judged: &Judged, found: &[Survival], global: &Global) -> String {
        let limits = judged.enquiry.model.limits();
        let mut text = format!("{}\n", judged.enquiry.title());
        text.push_str(&wrap(&headline(judged, found, &self.seconds)));
        text.push_str("\nThe line stops for so many seconds: what to do with the part?\n");
        let stops: Vec<String> = self.seconds.iter().map(|s| format!(">{s} s")).collect();
        let mut header = vec!["part is in", "held", ">longest s", ">limit"];
        header.extend(stops.iter().map(String::as_str));
        let rows: Vec<Vec<String>> = found
            .iter()
            .map(|s| {
                let mut row = vec![
                    s.position.stage.clone(),
                    hold_words(s.position.hold).to_owned(),
                    match s.longest_s() {
                        Some(stop) if stop > 0.0 => format!("{:.1}", down(stop, 1)),
                        Some(_) => "none".to_owned(),
                        None => format!("{LONGEST_S}+"),
                    },
                    s.limit().map_or_else(|| "-".to_owned(), |k| (k + 1).to_string()),
                ];
                row.extend(s.states.iter().map(|state| state.word().to_owned()));
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
        if judged.uncertainty.is_some() {
            text.push_str(&wrap(
                "Stops keep the guard band for the reject risk, as the reject times of `delays` do.",
            ));
        }
        text
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

/// What is broken without a stop, then what to reject at each stop length.
fn headline(judged: &Judged, found: &[Survival], stops: &[f64]) -> String {
    let mut text = String::new();
    for verdict in judged.planned.verdicts.iter().filter(|v| !v.holds) {
        text.push_str(&format!("BROKEN without any stop: {}. ", limit_name(&verdict.limit)));
    }
    let here = || found.iter().filter(|s| s.position.hold != Hold::OnRest);
    let goes_on = |state: &State| matches!(state, State::Good | State::Alarm);
    let all = |k: usize, wanted: bool| here().all(|s| s.states.get(k).is_some_and(|state| goes_on(state) == wanted));
    let longest = (0..stops.len())
        .filter(|&k| all(k, true))
        .map(|k| stops[k])
        .fold(0.0, f64::max);
    let hopeless = (0..stops.len())
        .filter(|&k| all(k, false))
        .map(|k| stops[k])
        .fold(f64::INFINITY, f64::min);
    if !text.is_empty() {
        text.push_str("Mend that first; times are those that no other limit forbids.");
    } else if longest > 0.0 {
        text.push_str(&format!("Up to {longest} s: carry on with every part."));
    } else {
        let least = stops.iter().copied().fold(f64::INFINITY, f64::min);
        text.push_str(&format!("Already {least} s costs parts."));
    }
    if hopeless.is_finite() {
        text.push_str(&format!(" From {hopeless} s: reject everything in flight."));
    }
    let weakest = here()
        .filter_map(|s| Some((s, s.longest_s()?)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((s, stop)) = weakest {
        text.push_str(&format!(
            " First to go: the part in `{}`, {}, after {:.1} s.",
            s.position.stage,
            hold_words(s.position.hold),
            down(stop, 1)
        ));
    }
    text
}
