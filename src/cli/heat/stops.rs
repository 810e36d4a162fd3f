//! Stoppages of a row of coils, and what they and the start-up cost.

use super::coils::said;
use super::{Heat, Stopped};
use crate::heater::coil::Drive;
use crate::heater::line::{Criteria, HoldTime, StopMode, Study, Verdict, stoppage};
use crate::heater::{Bar, HeaterError};
use crate::line::plan::CoilLine;
use crate::report::heater::{Event, numbers};
use crate::report::table::text_table;
use crate::report::{Side, View};

/// A line at work.
pub(super) struct Running<'a> {
    pub heater: &'a CoilLine,
    pub bar: &'a Bar,
    pub drives: &'a [Drive],
    pub hold: &'a [f64],
    pub criteria: &'a Criteria,
    pub slices: usize,
}

/// One stoppage as asked for.
pub(super) struct Stop {
    pub seconds: f64,
    pub mode: &'static str,
    /// Power of each coil meanwhile, W: into the billets for a hold, else at the terminals.
    pub powers_w: Vec<f64>,
    /// Time between billets meanwhile, where they are pushed on.
    pub takt_s: Option<f64>,
    pub study: Study,
}

impl Stop {
    /// Billets that came out while the line stood: nobody forges them.
    pub fn pushed_out(&self) -> usize {
        let during = |b: &&crate::heater::line::Judged| self.takt_s.is_some() && b.billet.time_s <= self.seconds + 1e-6;
        self.study.billets.iter().filter(during).count()
    }

    /// Billets rejected after the restart.
    pub fn rejected_after(&self) -> usize {
        let out = self.pushed_out();
        let bad = |b: &&crate::heater::line::Judged| b.verdict != Verdict::Good;
        self.study.billets.iter().skip(out).filter(bad).count()
    }

    /// What the heater does meanwhile, in words.
    pub fn says(&self) -> &'static str {
        match self.mode {
            "off" => "power off",
            "hold" => "hold power",
            _ => "run on slowly",
        }
    }
}

/// Drives with their powers times a share.
pub(super) fn scaled(drives: &[Drive], share: f64) -> Vec<Drive> {
    drives
        .iter()
        .map(|d| match *d {
            Drive::Terminals(p) => Drive::Terminals(p * share),
            Drive::Load(p) => Drive::Load(p * share),
            Drive::Field(h) => Drive::Field(h * share.sqrt()),
        })
        .collect()
}

pub(super) fn stops(heat: &Heat, running: &Running) -> Result<Vec<Stop>, HeaterError> {
    let (heater, bar, slices) = (running.heater, running.bar, running.slices);
    let after = 2 * heater.line.places() + 10;
    let wanted: &[&str] = match heat.stopped {
        Stopped::Off => &["off"],
        Stopped::Hold => &["hold"],
        Stopped::RunOn => &["run on"],
        Stopped::Both => &["off", "hold"],
        Stopped::All => &["off", "hold", "run on"],
    };
    // The drives of running on are the same for every length of stop.
    let slow = match wanted.contains(&"run on") && !heat.stop.is_empty() {
        true => Some(run_on(heat, running)),
        false => None,
    };
    let mut stops = Vec::new();
    for &seconds in &heat.stop {
        for &mode in wanted {
            let (how, takt_s) = match (mode, &slow) {
                ("hold", _) => (
                    StopMode::Hold(running.hold.iter().map(|p| Drive::Load(*p)).collect()),
                    None,
                ),
                ("run on", Some((takt_s, drives))) => {
                    let drives = drives.clone();
                    (
                        StopMode::RunOn {
                            takt_s: *takt_s,
                            drives,
                        },
                        Some(*takt_s),
                    )
                }
                _ => (StopMode::Off, None),
            };
            let study = stoppage(
                &heater.line,
                bar,
                running.drives,
                slices,
                (seconds, &how),
                after,
                running.criteria,
            )?;
            let powers_w = match &how {
                StopMode::Off => vec![0.0; running.drives.len()],
                StopMode::Hold(_) => running.hold.to_vec(),
                StopMode::RunOn { .. } => last_powers(&study, seconds),
            };
            stops.push(Stop {
                seconds,
                mode,
                powers_w,
                takt_s,
                study,
            });
        }
    }
    Ok(stops)
}

/// Power at the terminals of each coil at the end of a stop.
fn last_powers(study: &Study, seconds: f64) -> Vec<f64> {
    let last = study.moments.iter().rev().find(|m| m.time_s <= seconds + 1e-6);
    last.or(study.moments.first())
        .map(|m| m.terminals_w.clone())
        .unwrap_or_default()
}

/// Takt and drives of running on. Without a given power each coil goes down with the throughput, so
/// that a billet gets as much from it as before: powers set for the slower pace would overheat what is
/// in the last coil when the stop begins.
fn run_on(heat: &Heat, running: &Running) -> (f64, Vec<Drive>) {
    let takt_s = heat.run_on_takt.unwrap_or(2.0 * running.heater.line.takt_s);
    let in_proportion = running.heater.line.takt_s / takt_s;
    let share = heat.run_on_percent.map_or(in_proportion, |p| p / 100.0);
    (takt_s, scaled(running.drives, share))
}

/// Start-up and stops as what they cost: of the ways to bridge a stop, the one that costs least.
pub(super) fn events<'a>(cold: Option<&'a Study>, stops: &'a [Stop]) -> Vec<Vec<Event<'a>>> {
    let mut events: Vec<Vec<Event>> = cold
        .map(|study| Event {
            name: "start-up".to_owned(),
            study,
            lost: study.rejected,
        })
        .into_iter()
        .map(|e| vec![e])
        .collect();
    let mut lengths: Vec<f64> = stops.iter().map(|s| s.seconds).collect();
    lengths.dedup();
    for seconds in lengths {
        let ways = stops.iter().filter(|s| s.seconds == seconds).map(|s| Event {
            name: format!("stop of {seconds:.0} s, {}", s.says()),
            study: &s.study,
            lost: s.pushed_out() + s.rejected_after(),
        });
        events.push(ways.collect());
    }
    events
}

pub(super) fn stop_text(stops: &[Stop], hold: &[f64], view: &View) -> String {
    let rows: Vec<Vec<String>> = stops
        .iter()
        .map(|s| {
            vec![
                view.number(s.seconds, 0),
                s.mode.to_owned(),
                s.pushed_out().to_string(),
                s.rejected_after().to_string(),
                numbers(&s.study, Verdict::TooCold),
                numbers(&s.study, Verdict::TooHot),
                numbers(&s.study, Verdict::Uneven),
                s.study.first_good.map_or("none".to_owned(), |n| n.to_string()),
            ]
        })
        .collect();
    let kw = |powers: &[f64]| {
        let list: Vec<String> = powers.iter().map(|p| view.number(p / 1e3, 1)).collect();
        list.join(" / ")
    };
    let mut what = format!(
        "Stoppages (billets counted from the hot end; hold = {} kW into the billets",
        kw(hold)
    );
    if let Some((stop, takt)) = stops.iter().find_map(|s| s.takt_s.map(|t| (s, t))) {
        what.push_str(&format!(
            "; run on = {} kW at the terminals, one billet every {} s set aside",
            kw(&stop.powers_w),
            view.number(takt, 1)
        ));
    }
    what.push_str("):");
    let mut text = format!("\n{}", said(&what));
    text.push_str(&text_table(
        &[
            "> stop s",
            "power",
            "> set aside",
            "> rejected",
            "too cold",
            "too hot",
            "uneven",
            "> good from",
        ],
        &rows,
    ));
    text
}

pub(super) fn lasting_text(time: &HoldTime, criteria: &Criteria, view: &View) -> String {
    let unit = view.temperature_unit();
    let until = |seconds: Option<f64>, what: &str| match seconds {
        Some(s) => format!("{} s until {what}", view.seconds(s, Side::Down)),
        None => format!("more than {} s until {what}", view.number(time.looked_s, 0)),
    };
    let hot = format!(
        "a billet inside passes {} {unit}",
        view.degrees(criteria.never_above_c, Side::Nearest)
    );
    let cold = "the billet at the hot end has cooled by the width of the sort gate".to_owned();
    said(&format!(
        "How long the hold power may last: {}; {}.",
        until(time.until_hot_s, &hot),
        until(time.until_cold_s, &cold)
    ))
}
