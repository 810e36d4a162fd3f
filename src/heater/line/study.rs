//! Studies of the column: cold start, change of pace, stoppage and restart, holding.

use serde::Serialize;

use super::channel::Highest;
use super::column::{Column, Energies, Filling, Gone, Moment, Phase};
use super::layout::HeaterLine;
use crate::heater::bar::Bar;
use crate::heater::coil::Drive;
use crate::heater::error::HeaterError;
use crate::heater::slice::Nodes;

/// Which temperature of the billet a lower limit is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Target {
    /// Temperature of the mean enthalpy.
    Mean,
    /// Surface at mid-length.
    Surface,
    /// Core at mid-length.
    Core,
}

impl Target {
    /// The temperature of a billet, degC.
    pub fn of(self, billet: &Gone) -> f64 {
        match self {
            Target::Mean => billet.mean_c,
            Target::Surface => billet.surface_c,
            Target::Core => billet.core_c,
        }
    }

    /// The temperature among those of a section or a billet, degC.
    pub fn among(self, nodes: &Nodes) -> f64 {
        match self {
            Target::Mean => nodes.mean_c,
            Target::Surface => nodes.surface_c,
            Target::Core => nodes.core_c,
        }
    }
}

/// When a billet at the exit is good.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Criteria {
    /// Lowest temperature and what it is about, degC.
    pub at_least: (Target, f64),
    /// Highest temperature of the same node, degC; `None` for no upper sort limit.
    pub at_most_c: Option<f64>,
    /// Never to be exceeded anywhere inside at any time, degC.
    pub never_above_c: f64,
    /// Largest difference between surface and core, K.
    pub difference_k: Option<f64>,
}

/// What the exit gate should do with a billet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// On to the line.
    Good,
    /// Below the lower limit: back, from cold.
    TooCold,
    /// Above a limit at some time: to be examined.
    TooHot,
    /// Surface and core too far apart.
    Uneven,
}

impl Study {
    /// Mean power at the terminals of each coil, W, over each of so many equal spans, with the span's start, s.
    pub fn mean_powers(&self, spans: usize) -> Vec<(f64, Vec<f64>)> {
        let end = self.moments.last().map_or(0.0, |m| m.time_s);
        let width = end / spans.max(1) as f64;
        let mean = |from: f64| {
            let within = |m: &&Moment| m.time_s > from + 1e-9 && m.time_s <= from + width + 1e-9;
            let inside: Vec<&Moment> = self.moments.iter().filter(within).collect();
            let coils = inside.first().map_or(0, |m| m.terminals_w.len());
            let of = |c: usize| inside.iter().map(|m| m.terminals_w[c]).sum::<f64>() / inside.len() as f64;
            (from, (0..coils).map(of).collect())
        };
        (0..spans).map(|n| mean(n as f64 * width)).collect()
    }
}

impl Criteria {
    /// Judges a billet; too hot weighs most, for it cannot be mended.
    pub fn judge(&self, billet: &Gone) -> Verdict {
        let value = self.at_least.0.of(billet);
        if billet.peak_c > self.never_above_c || self.at_most_c.is_some_and(|m| value > m) {
            Verdict::TooHot
        } else if value < self.at_least.1 {
            Verdict::TooCold
        } else if self
            .difference_k
            .is_some_and(|d| (billet.surface_c - billet.core_c).abs() > d)
        {
            Verdict::Uneven
        } else {
            Verdict::Good
        }
    }
}

/// A billet that left the heater, with its verdict.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// The billet.
    pub billet: Gone,
    /// Its verdict.
    pub verdict: Verdict,
}

/// What a study gives.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Study {
    /// Billets in the order in which they left.
    pub billets: Vec<Judged>,
    /// Number of the first billet from which on all are good; `None` when the last is not.
    pub first_good: Option<usize>,
    /// Billets rejected.
    pub rejected: usize,
    /// Highest anywhere in any billet from the beginning of the study on, degC.
    pub peak_c: f64,
    /// State of the billets inside when the special phase ended, from the hot end.
    pub inside: Vec<Gone>,
    /// Power of each coil over time.
    pub moments: Vec<Moment>,
    /// Energies of the whole study.
    pub energies: Energies,
    /// Heat above the entry temperature in rejected billets, J (lost with them).
    pub rejected_j: f64,
    /// Highest readings of coils and converters.
    pub highest: Highest,
}

/// What the coils do while the line stands.
#[derive(Debug, Clone, PartialEq)]
pub enum StopMode {
    /// No power.
    Off,
    /// The column stands, with a reduced drive per coil.
    Hold(Vec<Drive>),
    /// The column goes on at another takt (s) and with other drives; what comes out is rejected
    /// unless it is good.
    RunOn {
        /// Time between billets, s.
        takt_s: f64,
        /// One drive per coil.
        drives: Vec<Drive>,
    },
}

/// Most moments kept for charts.
const MOMENTS: usize = 2000;

#[derive(Clone)]
pub(super) struct Recorder {
    moments: Vec<Moment>,
    every: usize,
    seen: usize,
}

impl Recorder {
    pub(super) fn new() -> Recorder {
        Recorder {
            moments: Vec::new(),
            every: 1,
            seen: 0,
        }
    }

    pub(super) fn take(&mut self, moment: &Moment) {
        if self.seen.is_multiple_of(self.every) {
            self.moments.push(moment.clone());
        }
        self.seen += 1;
        if self.moments.len() > MOMENTS {
            let mut keep = 0;
            self.moments.retain(|_| {
                keep += 1;
                keep % 2 == 1
            });
            self.every *= 2;
        }
    }
}

pub(super) fn finish(
    column: &Column,
    criteria: &Criteria,
    gone: Vec<Gone>,
    inside: Vec<Gone>,
    record: Recorder,
) -> Study {
    let billets: Vec<Judged> = gone
        .into_iter()
        .map(|billet| Judged {
            verdict: criteria.judge(&billet),
            billet,
        })
        .collect();
    let bad_until = billets.iter().rposition(|b| b.verdict != Verdict::Good);
    let first_good = match bad_until {
        None => billets.first(),
        Some(i) => billets.get(i + 1),
    };
    let rejected = || billets.iter().filter(|b| b.verdict != Verdict::Good);
    let rejected_j = rejected().map(|b| column.enthalpy_above_entry_j(b.billet.mean_c)).sum();
    let peaks = billets.iter().map(|b| b.billet.peak_c);
    let peak_c = peaks
        .chain(column.billets().iter().map(|b| b.1.peak_c))
        .fold(f64::NEG_INFINITY, f64::max);
    Study {
        first_good: first_good.map(|b| b.billet.number),
        rejected: rejected().count(),
        peak_c,
        billets,
        inside,
        moments: record.moments,
        energies: column.energies(),
        rejected_j,
        highest: column.highest().clone(),
    }
}

/// A cold start: the heater filled as given, then `billets` takts at the full drives.
pub fn start_up(
    line: &HeaterLine,
    bar: &Bar,
    drives: &[Drive],
    slices: usize,
    filling: Filling,
    billets: usize,
    criteria: &Criteria,
) -> Result<Study, HeaterError> {
    let mut column = Column::new(line, bar, filling, slices)?;
    let inside = column.billets().into_iter().map(|b| b.1).collect();
    let mut record = Recorder::new();
    let phase = Phase {
        seconds: billets as f64 * line.takt_s,
        takt_s: Some(line.takt_s),
        drives: drives.to_vec(),
        fed: true,
    };
    let gone = column.run(&phase, &mut |_, m| record.take(m))?;
    Ok(finish(&column, criteria, gone, inside, record))
}

/// An empty heater that billets come into one by one, with what `kept` keeps of each coil. A kept field, as a constant
/// voltage nearly gives it, lets each billet live the history of steady work whatever else is inside.
pub fn start_empty(
    line: &HeaterLine,
    bar: &Bar,
    kept: &[Drive],
    slices: usize,
    criteria: &Criteria,
) -> Result<Study, HeaterError> {
    let mut column = Column::new(line, bar, Filling::Empty, slices)?;
    let takts = 2 * line.places() + 6;
    with_kept(&mut column, line, kept, (takts, true), criteria)
}

/// No more billets come in; those inside are pushed out from the periodic state, with what `kept` keeps of each coil.
pub fn run_out(
    line: &HeaterLine,
    bar: &Bar,
    drives: &[Drive],
    kept: &[Drive],
    slices: usize,
    criteria: &Criteria,
) -> Result<Study, HeaterError> {
    let mut column = Column::steady(line, bar, drives, slices)?;
    with_kept(&mut column, line, kept, (line.places() + 1, false), criteria)
}

fn with_kept(
    column: &mut Column,
    line: &HeaterLine,
    kept: &[Drive],
    (takts, fed): (usize, bool),
    criteria: &Criteria,
) -> Result<Study, HeaterError> {
    let mut record = Recorder::new();
    let inside = column.billets().into_iter().map(|b| b.1).collect();
    let phase = Phase {
        seconds: takts as f64 * line.takt_s,
        takt_s: Some(line.takt_s),
        drives: kept.to_vec(),
        fed,
    };
    let gone = column.run(&phase, &mut |_, m| record.take(m))?;
    Ok(finish(column, criteria, gone, inside, record))
}

/// A change of pace from the periodic state: the takt and drives of `next` for `billets` takts.
pub fn takt_change(
    line: &HeaterLine,
    bar: &Bar,
    drives: &[Drive],
    slices: usize,
    next: (f64, &[Drive]),
    billets: usize,
    criteria: &Criteria,
) -> Result<Study, HeaterError> {
    let mut column = Column::steady(line, bar, drives, slices)?;
    let inside = column.billets().into_iter().map(|b| b.1).collect();
    let mut record = Recorder::new();
    let phase = Phase {
        seconds: billets as f64 * next.0,
        takt_s: Some(next.0),
        drives: next.1.to_vec(),
        fed: true,
    };
    let gone = column.run(&phase, &mut |_, m| record.take(m))?;
    Ok(finish(&column, criteria, gone, inside, record))
}

/// A stoppage (its seconds and what happens meanwhile) from the periodic state, then the nominal
/// pace and drives until `after` takts have passed.
pub fn stoppage(
    line: &HeaterLine,
    bar: &Bar,
    drives: &[Drive],
    slices: usize,
    (seconds, mode): (f64, &StopMode),
    after: usize,
    criteria: &Criteria,
) -> Result<Study, HeaterError> {
    let mut column = Column::steady(line, bar, drives, slices)?;
    let mut record = Recorder::new();
    let off = vec![Drive::Terminals(0.0); drives.len()];
    let (takt_s, stop_drives) = match mode {
        StopMode::Off => (None, off),
        StopMode::Hold(d) => (None, d.clone()),
        StopMode::RunOn { takt_s, drives } => (Some(*takt_s), drives.clone()),
    };
    let stop = Phase {
        seconds,
        takt_s,
        drives: stop_drives,
        fed: true,
    };
    let mut gone = column.run(&stop, &mut |_, m| record.take(m))?;
    let inside = column.billets().into_iter().map(|b| b.1).collect();
    let restart = Phase {
        seconds: after as f64 * line.takt_s,
        takt_s: Some(line.takt_s),
        drives: drives.to_vec(),
        fed: true,
    };
    gone.extend(column.run(&restart, &mut |_, m| record.take(m))?);
    Ok(finish(&column, criteria, gone, inside, record))
}

/// Hold power of each coil, W into the billets: what they lose in that coil when the line stops in
/// its periodic state, so that the content of the coil neither gains nor loses heat at first.
pub fn hold_powers(line: &HeaterLine, bar: &Bar, drives: &[Drive], slices: usize) -> Result<Vec<f64>, HeaterError> {
    let column = Column::steady(line, bar, drives, slices)?;
    Ok(column.loss_by_coil().into_iter().map(|p| p.max(0.0)).collect())
}

/// Power at the terminals of each coil, W, when the line begins to stand in its periodic state with these
/// drives.
pub fn standing_powers(
    line: &HeaterLine,
    bar: &Bar,
    (drives, hold): (&[Drive], &[Drive]),
    slices: usize,
) -> Result<Vec<f64>, HeaterError> {
    let mut column = Column::steady(line, bar, drives, slices)?;
    let phase = Phase {
        seconds: line.look_s(bar),
        takt_s: None,
        drives: hold.to_vec(),
        fed: true,
    };
    let mut powers = Vec::new();
    column.run(&phase, &mut |_, moment| powers.clone_from(&moment.terminals_w))?;
    Ok(powers)
}

/// Power at the terminals of each channel, W, when the line begins to stand in its periodic state at hold power: each
/// channel makes good what the billets in its coils lose.
pub fn hold_at_terminals(
    line: &HeaterLine,
    bar: &Bar,
    drives: &[Drive],
    slices: usize,
) -> Result<Vec<f64>, HeaterError> {
    let into = line.by_channel(&hold_powers(line, bar, drives, slices)?);
    let hold = line.spread(&into.iter().map(|p| Drive::Load(*p)).collect::<Vec<_>>());
    Ok(line.by_channel(&standing_powers(line, bar, (drives, &hold), slices)?))
}

/// How long a hold may last.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HoldTime {
    /// Until a billet inside passes the never-exceed limit, s; `None` when not within the time
    /// looked at.
    pub until_hot_s: Option<f64>,
    /// Until the billet at the hot end has cooled by the drop asked about, s; likewise.
    pub until_cold_s: Option<f64>,
    /// Until a restart at the running powers at once takes a billet past the never-exceed limit, s; likewise.
    pub until_restart_hot_s: Option<f64>,
    /// Until a restart at the running powers at once costs the first reject, s; likewise.
    pub until_rejects_s: Option<f64>,
    /// Time looked at, s.
    pub looked_s: f64,
}

/// Ratio of the holds after which restarts are tried.
const HOLD_RATIO: f64 = 1.5;
/// Halvings between the last hold that is good and the first that is not.
const HOLD_HALVINGS: usize = 4;

/// How long a hold may last for what comes after it: the restart at the running powers is run from holds ever
/// longer, up to `seconds`. Returns the last hold before a billet then passes its limit, and before one is
/// rejected, s; `None` where that does not happen.
fn restarts(
    line: &HeaterLine,
    bar: &Bar,
    (drives, hold): (&[Drive], &[Drive]),
    slices: usize,
    seconds: f64,
    criteria: &Criteria,
) -> Result<(Option<f64>, Option<f64>), HeaterError> {
    let coarse = bar.coarser()?;
    let (bar, slices) = match &coarse {
        Some(coarse) => (coarse, 1),
        None => (bar, slices),
    };
    let start = Column::steady(line, bar, drives, slices)?;
    let go_on = |column: &mut Column, seconds: f64, takt_s: Option<f64>, drives: &[Drive]| {
        let phase = Phase {
            seconds,
            takt_s,
            drives: drives.to_vec(),
            fed: true,
        };
        column.run(&phase, &mut |_, _| {})
    };
    // Whether the peak limit and the gate hold after a hold of some seconds more.
    let tried = |from: &Column, more_s: f64| -> Result<(bool, bool), HeaterError> {
        let mut column = from.clone();
        go_on(&mut column, more_s, None, hold)?;
        let takts = (line.places() + 2) as f64;
        let gone = go_on(&mut column, takts * line.takt_s, Some(line.takt_s), drives)?;
        let verdicts = || gone.iter().map(|b| criteria.judge(b));
        let cool = gone.iter().all(|b| b.peak_c <= criteria.never_above_c);
        Ok((cool, verdicts().all(|v| v == Verdict::Good)))
    };
    let mut until = [None, None];
    for (which, end) in until.iter_mut().enumerate() {
        let holds = |(cool, good): (bool, bool)| if which == 0 { cool } else { good };
        let mut column = start.clone();
        let (mut at, mut next) = (0.0, line.takt_s);
        while at < seconds && holds(tried(&column, next - at)?) {
            go_on(&mut column, next - at, None, hold)?;
            at = next;
            next = (HOLD_RATIO * next).min(seconds);
        }
        if at < seconds {
            let (mut good, mut bad) = (at, next);
            for _ in 0..HOLD_HALVINGS {
                let middle = 0.5 * (good + bad);
                if holds(tried(&column, middle - at)?) {
                    good = middle;
                } else {
                    bad = middle;
                }
            }
            *end = Some(good);
        }
    }
    Ok((until[0], until[1]))
}

/// Follows a hold from the periodic state for `seconds` and tells when it has lasted too long: when
/// a billet inside is too hot, the one at the hot end `drop_k` \[K\] colder than at the stop, or a restart at the
/// running powers brings a billet past its limit or costs a reject.
pub fn hold_time(
    line: &HeaterLine,
    bar: &Bar,
    (drives, hold): (&[Drive], &[Drive]),
    slices: usize,
    (seconds, drop_k): (f64, f64),
    criteria: &Criteria,
) -> Result<HoldTime, HeaterError> {
    let mut column = Column::steady(line, bar, drives, slices)?;
    let node = criteria.at_least.0;
    let at_stop = column.billets().first().map_or(f64::NAN, |(_, b)| node.of(b));
    let (until_restart_hot_s, until_rejects_s) = restarts(line, bar, (drives, hold), slices, seconds, criteria)?;
    let mut time = HoldTime {
        until_hot_s: None,
        until_cold_s: None,
        until_restart_hot_s,
        until_rejects_s,
        looked_s: seconds,
    };
    let phase = Phase {
        seconds,
        takt_s: None,
        drives: hold.to_vec(),
        fed: true,
    };
    column.run(&phase, &mut |column, moment| {
        if time.until_hot_s.is_some() && time.until_cold_s.is_some() {
            return;
        }
        let inside = column.billets();
        let hot = inside.iter().any(|(_, b)| b.hottest_c > criteria.never_above_c);
        if hot {
            time.until_hot_s.get_or_insert(moment.time_s);
        }
        if inside.first().is_some_and(|(_, b)| node.of(b) < at_stop - drop_k) {
            time.until_cold_s.get_or_insert(moment.time_s);
        }
    })?;
    Ok(time)
}
