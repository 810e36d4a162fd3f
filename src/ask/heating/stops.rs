//! Stoppages of a row of coils, and what they and the start-up cost.

use super::question::CoilQuestion;
use crate::heater::coil::Drive;
use crate::heater::energy::{Event, EventKind, StopWay};
use crate::heater::line::{Course, Criteria, Feed, Judged, Origin, Phase, Study, Transition, Verdict};
use crate::heater::{Bar, HeaterError};
use crate::line::plan::CoilLine;

/// A line at work.
pub(super) struct Running<'a> {
    pub heater: &'a CoilLine,
    pub bar: &'a Bar,
    pub drives: &'a [Drive],
    /// Drives of the coils at hold power.
    pub hold: &'a [Drive],
    /// Hold power of each channel, W into the billets.
    pub hold_w: &'a [f64],
    pub criteria: &'a Criteria,
    pub slices: usize,
    /// Power at the terminals of each channel, W.
    pub powers_w: &'a [f64],
}

impl<'a> Running<'a> {
    /// A transition to these powers at the line's own pace.
    pub fn transition(&'a self, origin: Origin<'a>, before: Option<&'a Phase>, powers_w: &'a [f64]) -> Transition<'a> {
        Transition {
            line: &self.heater.line,
            bar: self.bar,
            slices: self.slices,
            origin,
            before,
            next: None,
            takt_s: self.heater.line.takt_s,
            powers_w,
            highest_w: &self.heater.highest_w,
            criteria: self.criteria,
        }
    }
}

/// One stoppage.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Stop {
    /// Length, s.
    pub seconds: f64,
    /// What the heater does meanwhile.
    pub way: StopWay,
    /// Power of each channel meanwhile, W: into the billets for a hold, else at the terminals.
    pub powers_w: Vec<f64>,
    /// Time between billets meanwhile, s, where they are pushed on.
    pub takt_s: Option<f64>,
    /// The powers of the restart, and what comes of it.
    pub restart: Course,
}

impl Stop {
    /// What comes of the stop and the planned restart.
    pub fn study(&self) -> &Study {
        &self.restart.study
    }

    /// Billets that came out while the line stood: nobody forges them.
    pub fn pushed_out(&self) -> usize {
        let during = |b: &&Judged| self.takt_s.is_some() && b.billet.time_s <= self.seconds + 1e-6;
        self.study().billets.iter().filter(during).count()
    }

    /// Billets rejected after the restart.
    pub fn rejected_after(&self) -> usize {
        let out = self.pushed_out();
        let bad = |b: &&Judged| b.verdict != Verdict::Good;
        self.study().billets.iter().skip(out).filter(bad).count()
    }
}

/// Drives with their powers times a share.
pub(super) fn scaled(drives: &[Drive], share: f64) -> Vec<Drive> {
    drives.iter().map(|d| d.scaled(share)).collect()
}

/// Every stop asked for, in every way asked for.
pub(super) fn stops(question: &CoilQuestion, running: &Running) -> Result<Vec<Stop>, HeaterError> {
    // The drives of running on are the same for every length of stop.
    let slow = run_on(question, running);
    let mut stops = Vec::new();
    for &seconds in &question.stops_s {
        for &way in &question.ways {
            stops.push(one(seconds, way, &slow, running)?);
        }
    }
    Ok(stops)
}

fn one(seconds: f64, way: StopWay, slow: &(f64, Vec<Drive>), running: &Running) -> Result<Stop, HeaterError> {
    let (takt_s, drives) = match way {
        StopWay::Off => (None, vec![Drive::Terminals(0.0); running.drives.len()]),
        StopWay::Hold => (None, running.hold.to_vec()),
        StopWay::RunOn => (Some(slow.0), slow.1.clone()),
    };
    let stop = Phase {
        seconds,
        takt_s,
        drives,
        feed: Feed::USUAL,
    };
    let restart = running
        .transition(Origin::Running(running.drives), Some(&stop), running.powers_w)
        .plan()?;
    let powers_w = match way {
        StopWay::Off => vec![0.0; running.powers_w.len()],
        StopWay::Hold => running.hold_w.to_vec(),
        StopWay::RunOn => running.heater.line.by_channel(&last_powers(&restart.study, seconds)),
    };
    Ok(Stop {
        seconds,
        way,
        powers_w,
        takt_s,
        restart,
    })
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
fn run_on(question: &CoilQuestion, running: &Running) -> (f64, Vec<Drive>) {
    let takt_s = question.run_on_takt_s.unwrap_or(2.0 * running.heater.line.takt_s);
    let in_proportion = running.heater.line.takt_s / takt_s;
    let share = question.run_on_share.unwrap_or(in_proportion);
    (takt_s, scaled(running.drives, share))
}

/// Start-up and stops as events: the ways to bridge a stop stand together.
pub(super) fn events<'a>(cold: Option<&'a Study>, stops: &'a [Stop]) -> Vec<Vec<Event<'a>>> {
    let start = cold.map(|study| Event {
        kind: EventKind::StartUp,
        study,
        lost: study.rejected,
    });
    let mut events: Vec<Vec<Event>> = start.into_iter().map(|event| vec![event]).collect();
    let mut lengths: Vec<f64> = stops.iter().map(|s| s.seconds).collect();
    lengths.dedup();
    for seconds in lengths {
        let ways = stops.iter().filter(|s| s.seconds == seconds).map(|s| Event {
            kind: EventKind::Stop(seconds, s.way),
            study: s.study(),
            lost: s.pushed_out() + s.rejected_after(),
        });
        events.push(ways.collect());
    }
    events
}
