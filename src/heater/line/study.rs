//! Studies of the column: cold start, change of pace, stoppage and restart, holding.

use serde::Serialize;

use super::channel::Highest;
use super::column::{Column, Energies, Filling, Moment};
use super::criteria::{Criteria, Verdict};
use super::gone::Gone;
use super::layout::HeaterLine;
use super::order::NextOrder;
use super::phase::{Feed, Phase};
use crate::heater::bar::Bar;
use crate::heater::coil::Drive;
use crate::heater::error::HeaterError;

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
    /// The same of the billets of each order, where there is more than one.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub order_peaks_c: Vec<f64>,
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
    criteria: &[&Criteria],
    gone: Vec<Gone>,
    inside: Vec<Gone>,
    record: Recorder,
) -> Study {
    let billets: Vec<Judged> = gone
        .into_iter()
        .map(|billet| Judged {
            verdict: criteria[billet.order].judge(&billet),
            billet,
        })
        .collect();
    let bad_until = billets.iter().rposition(|b| b.verdict != Verdict::Good);
    let first_good = match bad_until {
        None => billets.first(),
        Some(i) => billets.get(i + 1),
    };
    let rejected = || billets.iter().filter(|b| b.verdict != Verdict::Good);
    let rejected_j = rejected().map(|b| column.enthalpy_above_entry_j(&b.billet)).sum();
    let inside_now = column.billets();
    let mut peaks_c = vec![f64::NEG_INFINITY; criteria.len()];
    for billet in billets.iter().map(|b| &b.billet).chain(inside_now.iter().map(|b| &b.1)) {
        peaks_c[billet.order] = peaks_c[billet.order].max(billet.peak_c);
    }
    let peak_c = peaks_c.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Study {
        first_good: first_good.map(|b| b.billet.number),
        rejected: rejected().count(),
        peak_c,
        order_peaks_c: if criteria.len() > 1 { peaks_c } else { Vec::new() },
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
        feed: Feed::USUAL,
    };
    let gone = column.run(&phase, &mut |_, m| record.take(m))?;
    Ok(finish(&column, &[criteria], gone, inside, record))
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
    with_kept(&mut column, line, kept, (takts, Feed::USUAL), criteria)
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
    with_kept(&mut column, line, kept, (line.places() + 1, Feed::Nothing), criteria)
}

/// One billet of another order, such as a warm one, among those of the running line.
pub fn one_among(
    (line, bar, drives): (&HeaterLine, &Bar, &[Drive]),
    one: NextOrder,
    slices: usize,
    criteria: &Criteria,
) -> Result<Study, HeaterError> {
    let mut column = Column::steady(line, bar, drives, slices)?;
    let order = column.expect(one.line, one.bar)?;
    let inside = column.billets().into_iter().map(|b| b.1).collect();
    let mut record = Recorder::new();
    let mut gone = Vec::new();
    for (takts, order) in [(1, order), (line.places() + 2, 0)] {
        let phase = Phase {
            seconds: takts as f64 * line.takt_s,
            takt_s: Some(line.takt_s),
            drives: drives.to_vec(),
            feed: Feed::Order(order),
        };
        gone.extend(column.run(&phase, &mut |_, m| record.take(m))?);
    }
    Ok(finish(&column, &[criteria, one.criteria], gone, inside, record))
}

fn with_kept(
    column: &mut Column,
    line: &HeaterLine,
    kept: &[Drive],
    (takts, feed): (usize, Feed),
    criteria: &Criteria,
) -> Result<Study, HeaterError> {
    let mut record = Recorder::new();
    let inside = column.billets().into_iter().map(|b| b.1).collect();
    let phase = Phase {
        seconds: takts as f64 * line.takt_s,
        takt_s: Some(line.takt_s),
        drives: kept.to_vec(),
        feed,
    };
    let gone = column.run(&phase, &mut |_, m| record.take(m))?;
    Ok(finish(column, &[criteria], gone, inside, record))
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
        feed: Feed::USUAL,
    };
    let gone = column.run(&phase, &mut |_, m| record.take(m))?;
    Ok(finish(&column, &[criteria], gone, inside, record))
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
        feed: Feed::USUAL,
    };
    let mut gone = column.run(&stop, &mut |_, m| record.take(m))?;
    let inside = column.billets().into_iter().map(|b| b.1).collect();
    let restart = Phase {
        seconds: after as f64 * line.takt_s,
        takt_s: Some(line.takt_s),
        drives: drives.to_vec(),
        feed: Feed::USUAL,
    };
    gone.extend(column.run(&restart, &mut |_, m| record.take(m))?);
    Ok(finish(&column, &[criteria], gone, inside, record))
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
        feed: Feed::USUAL,
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
/// Halvings between the last hold that is good and the first that is not, on the quick grid and on the one asked for.
const HOLD_HALVINGS: usize = 4;
const LAST_HALVINGS: usize = 3;
/// Holds up to the one found that are confirmed on the grid asked for.
const CONFIRMED: [f64; 3] = [1.0 / 3.0, 2.0 / 3.0, 1.0];

/// Whether the peak limit and the gate hold after restarts at the running powers.
struct Restarts<'a> {
    line: &'a HeaterLine,
    drives: &'a [Drive],
    hold: &'a [Drive],
    criteria: &'a Criteria,
    /// The column at the stop, and the same held for some time, s.
    start: Column<'a>,
    held: (Column<'a>, f64),
}

impl<'a> Restarts<'a> {
    fn new(
        (line, bar, slices): (&'a HeaterLine, &'a Bar, usize),
        (drives, hold): (&'a [Drive], &'a [Drive]),
        criteria: &'a Criteria,
    ) -> Result<Restarts<'a>, HeaterError> {
        let start = Column::steady(line, bar, drives, slices)?;
        Ok(Restarts {
            line,
            drives,
            hold,
            criteria,
            held: (start.clone(), 0.0),
            start,
        })
    }

    fn go_on(
        column: &mut Column,
        seconds: f64,
        takt_s: Option<f64>,
        drives: &[Drive],
    ) -> Result<Vec<Gone>, HeaterError> {
        let phase = Phase {
            seconds,
            takt_s,
            drives: drives.to_vec(),
            feed: Feed::USUAL,
        };
        column.run(&phase, &mut |_, _| {})
    }

    /// After a hold of so many seconds: whether no billet passes its limit, and whether none is rejected.
    fn tried(&mut self, seconds: f64) -> Result<(bool, bool), HeaterError> {
        if seconds < self.held.1 {
            self.held = (self.start.clone(), 0.0);
        }
        let (column, at) = &mut self.held;
        Self::go_on(column, seconds - *at, None, self.hold)?;
        *at = seconds;
        let mut column = column.clone();
        let takts = (self.line.places() + 2) as f64;
        let gone = Self::go_on(
            &mut column,
            takts * self.line.takt_s,
            Some(self.line.takt_s),
            self.drives,
        )?;
        let cool = gone.iter().all(|b| b.peak_c <= self.criteria.never_above_c);
        Ok((cool, gone.iter().all(|b| self.criteria.judge(b) == Verdict::Good)))
    }

    /// Halves the way from a hold that is good to one that is not.
    fn between(
        &mut self,
        (mut good, mut bad): (f64, f64),
        halvings: usize,
        holds: impl Fn((bool, bool)) -> bool,
    ) -> Result<f64, HeaterError> {
        for _ in 0..halvings {
            let middle = 0.5 * (good + bad);
            match holds(self.tried(middle)?) {
                true => good = middle,
                false => bad = middle,
            }
        }
        Ok(good)
    }

    /// The last hold that is good, looked for in steps up to `seconds`; `None` where all are.
    fn first_guess(&mut self, seconds: f64, holds: impl Fn((bool, bool)) -> bool) -> Result<Option<f64>, HeaterError> {
        let (mut at, mut next) = (0.0, self.line.takt_s.min(seconds));
        while at < seconds {
            if !holds(self.tried(next)?) {
                return self.between((at, next), HOLD_HALVINGS, holds).map(Some);
            }
            at = next;
            next = (HOLD_RATIO * next).min(seconds);
        }
        Ok(None)
    }

    /// A hold up to one found elsewhere that is good here, and so are those confirmed on the way to it.
    fn confirmed(&mut self, guess: f64, holds: impl Fn((bool, bool)) -> bool) -> Result<Option<f64>, HeaterError> {
        let mut good = 0.0;
        for share in CONFIRMED {
            let next = share * guess;
            if !holds(self.tried(next)?) {
                return self.between((good, next), LAST_HALVINGS, holds).map(Some);
            }
            good = next;
        }
        Ok(None)
    }
}

/// How long a hold may last for what comes after it: the restart at the running powers is run from holds ever
/// longer, up to `seconds`, on the quick grid; what is found is confirmed on the grid asked for, or shortened until it
/// holds there. Returns the last hold before a billet then passes its limit, and before one is rejected, s; `None`
/// where that does not happen.
fn restarts(
    line: &HeaterLine,
    bar: &Bar,
    drives: (&[Drive], &[Drive]),
    slices: usize,
    seconds: f64,
    criteria: &Criteria,
) -> Result<(Option<f64>, Option<f64>), HeaterError> {
    let coarse = bar.coarser()?;
    let mut exact = Restarts::new((line, bar, slices), drives, criteria)?;
    // The quick grid tells surface from core too coarsely to judge by it.
    let by_heat = Criteria {
        difference_k: None,
        ..*criteria
    };
    let mut quick = match &coarse {
        Some(coarse) => Some(Restarts::new((line, coarse, 1), drives, &by_heat)?),
        None => None,
    };
    let mut until = |which: fn((bool, bool)) -> bool| -> Result<Option<f64>, HeaterError> {
        let Some(quick) = &mut quick else {
            return exact.first_guess(seconds, which);
        };
        let guess = quick.first_guess(seconds, which)?;
        let shorter = exact.confirmed(guess.unwrap_or(seconds), which)?;
        Ok(shorter.or(guess))
    };
    Ok((until(|(cool, _)| cool)?, until(|(_, good)| good)?))
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
        feed: Feed::USUAL,
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
