//! The seconds that a stage may take: the one answer behind delays, stops, sheets, margins and the
//! controller.
//!
//! A stage whose length is free has an earliest and a latest time. Waiting cools the part, so a limit
//! that wants it hot sets a latest time, and one that wants it cold (a part too hot for its trim tool)
//! an earliest. Both ends of every limit are searched alone; what all limits allow is where they
//! overlap, so a limit printed beside a verdict and the same limit in the table of delays cannot differ.

use serde::Serialize;

use super::curve::{Curve, Look};
use super::failure::Failure;
use super::model::{Change, Model};
use super::risk::GuardLine;
use crate::numeric::root::LimitOutcome;

/// An end of the seconds that a stage may take.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Edge {
    /// Seconds of the whole stage, on the side that holds.
    pub seconds: f64,
    /// Index of the limit that is broken beyond.
    pub limit: usize,
}

/// How long a stage may take.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "outcome", rename_all = "snake_case")]
pub enum Times {
    /// Every limit holds from `earliest` to `latest`. Where an end is `None`, no limit sets it between
    /// the least and the longest seconds that were searched.
    Between {
        /// First moment at which the part is not too hot.
        earliest: Option<Edge>,
        /// Last moment at which the part is not too cold.
        latest: Option<Edge>,
    },
    /// No length is right.
    Never {
        /// Index of a limit that is broken then: the one that wants the stage shorter where two
        /// exclude each other.
        limit: usize,
        /// The limit that wants it longer, where two exclude each other.
        other: Option<usize>,
        /// Margin in K of `limit` at the planned seconds, guard band taken off.
        margin_k: f64,
    },
}

impl Times {
    /// Any length is right.
    pub const ANY: Times = Times::Between {
        earliest: None,
        latest: None,
    };

    /// Earliest seconds, where a limit sets them.
    #[must_use]
    pub fn earliest(&self) -> Option<Edge> {
        match self {
            Times::Between { earliest, .. } => *earliest,
            Times::Never { .. } => None,
        }
    }

    /// Latest seconds, where a limit sets them.
    #[must_use]
    pub fn latest(&self) -> Option<Edge> {
        match self {
            Times::Between { latest, .. } => *latest,
            Times::Never { .. } => None,
        }
    }

    /// Whether every limit holds when the stage takes `seconds`.
    #[must_use]
    pub fn holds_at(&self, seconds: f64) -> bool {
        match self {
            Times::Between { earliest, latest } => {
                earliest.is_none_or(|edge| seconds >= edge.seconds) && latest.is_none_or(|edge| seconds <= edge.seconds)
            }
            Times::Never { .. } => false,
        }
    }

    /// The limit that decides first: that of the latest time, else of the earliest, else the broken one.
    #[must_use]
    pub fn limit(&self) -> Option<usize> {
        match self {
            Times::Between { earliest, latest } => latest.or(*earliest).map(|edge| edge.limit),
            Times::Never { limit, .. } => Some(*limit),
        }
    }

    /// The limits that set the ends, or that leave no time.
    fn deciding(&self) -> impl Iterator<Item = usize> {
        let ends = match self {
            Times::Between { earliest, latest } => [earliest, latest].map(|end| end.map(|edge| edge.limit)),
            Times::Never { limit, other, .. } => [Some(*limit), *other],
        };
        ends.into_iter().flatten()
    }

    /// What both allow; `margins_k` are those at the planned seconds.
    pub(super) fn and(self, other: Times, margins_k: &[f64]) -> Times {
        let (
            Times::Between { earliest: e, latest: l },
            Times::Between {
                earliest: e2,
                latest: l2,
            },
        ) = (self, other)
        else {
            return if matches!(self, Times::Never { .. }) {
                self
            } else {
                other
            };
        };
        let pick = |a: Option<Edge>, b: Option<Edge>, later: bool| match (a, b) {
            (Some(a), Some(b)) => Some(if (b.seconds > a.seconds) == later { b } else { a }),
            (a, b) => a.or(b),
        };
        let (earliest, latest) = (pick(e, e2, true), pick(l, l2, false));
        match (earliest, latest) {
            (Some(from), Some(to)) if from.seconds > to.seconds => Times::Never {
                limit: to.limit,
                other: Some(from.limit),
                margin_k: margins_k[to.limit].min(margins_k[from.limit]),
            },
            _ => Times::Between { earliest, latest },
        }
    }
}

/// Options of the searches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimesOptions {
    /// Longest time beyond the planned one that is searched, s (default 600).
    pub longest_s: f64,
    /// Tolerance of an end, s (default 0.005).
    pub tolerance_s: f64,
}

impl Default for TimesOptions {
    fn default() -> Self {
        Self {
            longest_s: 600.0,
            tolerance_s: 0.005,
        }
    }
}

/// First step of the searches, s.
const FIRST_STEP_S: f64 = 4.0;

/// A margin that moves by less than this, K, over the first step is not this stage's business.
const STILL_K: f64 = 0.01;

/// The length of one stage as a variable, all else planned or changed as said.
pub(crate) struct Slider<'a> {
    planned_s: f64,
    least_s: f64,
    options: TimesOptions,
    later: Curve<'a>,
    earlier: Curve<'a>,
    margins_k: Vec<f64>,
}

impl<'a> Slider<'a> {
    /// A slider over the seconds at `path`, planned to last `planned_s` and at least `least_s`;
    /// `others` are changed in every run. `nominal` are the margins at the planned seconds where they
    /// are known.
    pub(crate) fn new(
        (full, cheap): (&'a dyn Model, Option<&'a dyn Model>),
        path: &'a str,
        (planned_s, least_s): (f64, f64),
        others: Vec<Change>,
        nominal: Option<Vec<f64>>,
        options: TimesOptions,
    ) -> Result<Self, Failure> {
        let with = move |others: Vec<Change>, sign: f64| {
            move |x: f64| {
                let mut changes = others.clone();
                changes.push(Change::new(path, (planned_s + sign * x).max(least_s)));
                changes
            }
        };
        let mut later = Curve::new(full, cheap, with(others.clone(), 1.0));
        let mut earlier = Curve::new(full, cheap, with(others, -1.0));
        if let Some(margins) = nominal {
            later.know(0.0, margins);
        }
        let margins_k = later.exact(0.0)?;
        earlier.know(0.0, margins_k.clone());
        Ok(Self {
            planned_s,
            least_s,
            options,
            later,
            earlier,
            margins_k,
        })
    }

    /// Margins in K at the planned seconds.
    pub(crate) fn margins_k(&self) -> &[f64] {
        &self.margins_k
    }

    /// Runs of the full model so far.
    pub(crate) fn runs(&self) -> usize {
        self.later.runs() + self.earlier.runs()
    }

    /// How far the stage can be shortened, s.
    fn room_s(&self) -> f64 {
        (self.planned_s - self.least_s).max(0.0)
    }

    /// Which limits feel the length of this stage at all.
    pub(crate) fn felt(&mut self) -> Result<Vec<bool>, Failure> {
        let later = self.later.near(FIRST_STEP_S)?;
        let room = self.room_s();
        let earlier = if room > 0.0 {
            self.earlier.near(room)?
        } else {
            self.margins_k.clone()
        };
        let moved = |(here, other): (&f64, &f64)| (here - other).abs() > STILL_K;
        let (here, sides) = (&self.margins_k, [&later, &earlier]);
        Ok((0..here.len())
            .map(|k| sides.iter().any(|side| moved((&here[k], &side[k]))))
            .collect())
    }

    /// What one limit alone allows. With a full look both ends are those of the full model, found from
    /// the planned run alone, so that every question gets the same number.
    pub(crate) fn of_limit(&mut self, limit: usize, guard: &GuardLine, look: Look) -> Result<Times, Failure> {
        if look == Look::Full {
            self.later.restart();
            self.earlier.restart();
        }
        let (room, longest) = (self.room_s(), self.options.longest_s);
        let planned = self.planned_s;
        let edge = |seconds: f64| Some(Edge { seconds, limit });
        if self.margins_k[limit] >= guard.at(planned, limit) {
            let end = self.breaks(true, limit, guard, (0.0, longest), look)?;
            let latest = end.and_then(|x| edge(planned + x));
            let end = self.breaks(false, limit, guard, (0.0, room), look)?;
            let earliest = end.and_then(|x| edge(planned - x));
            return Ok(Times::Between { earliest, latest });
        }
        if let Some(from) = self.mends(true, limit, guard, longest, look)? {
            let end = self.breaks(true, limit, guard, (from, longest), look.without_runs())?;
            return Ok(Times::Between {
                earliest: edge(planned + from),
                latest: end.and_then(|x| edge(planned + x)),
            });
        }
        if let Some(from) = self.mends(false, limit, guard, room, look)? {
            let end = self.breaks(false, limit, guard, (from, room), look.without_runs())?;
            return Ok(Times::Between {
                earliest: end.and_then(|x| edge(planned - x)),
                latest: edge(planned - from),
            });
        }
        Ok(Times::Never {
            limit,
            other: None,
            margin_k: self.margins_k[limit] - guard.at(planned, limit),
        })
    }

    /// Where a limit that holds at `from` is broken on the way to `to`.
    fn breaks(
        &mut self,
        later: bool,
        limit: usize,
        guard: &GuardLine,
        (from, to): (f64, f64),
        look: Look,
    ) -> Result<Option<f64>, Failure> {
        if to <= from {
            return Ok(None);
        }
        let seconds = self.seconds(later);
        let (curve, tolerance) = self.side(later);
        let measure = |x: f64, margins: &[f64]| margins[limit] - guard.at(seconds(x), limit);
        let step = FIRST_STEP_S.min(0.5 * (to - from));
        Ok(match curve.crossing(&measure, (from, step, to), tolerance, look)? {
            LimitOutcome::Limit { holds, .. } => Some(holds),
            LimitOutcome::AlreadyBroken { .. } => Some(from),
            LimitOutcome::NeverBreaks { .. } => None,
        })
    }

    /// Where a limit that is broken as planned begins to hold on the way to `to`.
    fn mends(
        &mut self,
        later: bool,
        limit: usize,
        guard: &GuardLine,
        to: f64,
        look: Look,
    ) -> Result<Option<f64>, Failure> {
        if to <= 0.0 {
            return Ok(None);
        }
        let seconds = self.seconds(later);
        let (curve, tolerance) = self.side(later);
        let measure = |x: f64, margins: &[f64]| guard.at(seconds(x), limit) - margins[limit];
        let step = FIRST_STEP_S.min(0.5 * to);
        let outcome = curve.crossing(&measure, (0.0, step, to), tolerance, look)?;
        let LimitOutcome::Limit { mut breaks, .. } = outcome else {
            return Ok(None);
        };
        // The full model may still be a hair on the broken side there.
        for _ in 0..8 {
            let margins = match look {
                Look::Full => curve.exact(breaks)?,
                Look::Nodes | Look::Near => curve.near(breaks)?,
            };
            let margin = margins[limit] - guard.at(seconds(breaks), limit);
            if margin >= 0.0 || breaks >= to {
                break;
            }
            breaks = (breaks + tolerance.max(-margin / STEEPEST_K_S)).min(to);
        }
        Ok(Some(breaks))
    }

    /// Seconds of the stage at x on one side.
    fn seconds(&self, later: bool) -> impl Fn(f64) -> f64 + use<> {
        let (planned, sign) = (self.planned_s, if later { 1.0 } else { -1.0 });
        move |x| planned + sign * x
    }

    fn side(&mut self, later: bool) -> (&mut Curve<'a>, f64) {
        let tolerance = self.options.tolerance_s;
        (if later { &mut self.later } else { &mut self.earlier }, tolerance)
    }

    /// What the limits together allow that feel the length of the stage. The ends are those of the limits that
    /// set them, found as [`Slider::of_limit`] finds them.
    pub(crate) fn of_all(&mut self) -> Result<Times, Failure> {
        let bare = GuardLine::default();
        let felt = self.felt()?;
        let count = self.margins_k.len();
        let mut found: Vec<(Times, bool)> = Vec::with_capacity(count);
        for (limit, felt) in felt.iter().enumerate() {
            found.push(if *felt {
                (self.of_limit(limit, &bare, Look::Nodes)?, false)
            } else {
                (Times::ANY, true)
            });
        }
        loop {
            let all = overlap(&found, &self.margins_k);
            let mut open: Vec<usize> = all.deciding().filter(|limit| !found[*limit].1).collect();
            if open.is_empty() {
                open = self.broken_at_ends(&all, &felt)?;
                open.retain(|limit| !found[*limit].1);
            }
            if open.is_empty() {
                return Ok(all);
            }
            for limit in open {
                found[limit] = (self.of_limit(limit, &bare, Look::Full)?, true);
            }
        }
    }

    /// Limits that the full model breaks at the ends found.
    fn broken_at_ends(&mut self, all: &Times, felt: &[bool]) -> Result<Vec<usize>, Failure> {
        let mut broken = Vec::new();
        for edge in [all.earliest(), all.latest()].into_iter().flatten() {
            let x = edge.seconds - self.planned_s;
            let margins = if x >= 0.0 {
                self.later.exact(x)?
            } else {
                self.earlier.exact(-x)?
            };
            broken.extend((0..margins.len()).filter(|k| felt[*k] && margins[*k] < 0.0));
        }
        Ok(broken)
    }

    /// What all limits allow with a guard band each, read off the curve of the runs made so far.
    pub(crate) fn guarded(&mut self, guard: &GuardLine) -> Result<Times, Failure> {
        let felt = self.felt()?;
        self.later.recall();
        self.earlier.recall();
        let margins = self.margins_k.iter().enumerate();
        let margins: Vec<f64> = margins.map(|(k, m)| m - guard.at(self.planned_s, k)).collect();
        let mut found: Vec<(Times, bool)> = Vec::with_capacity(margins.len());
        for (limit, felt) in felt.iter().enumerate() {
            found.push(match felt {
                true => (self.of_limit(limit, guard, Look::Nodes)?, false),
                false => (Times::ANY, true),
            });
        }
        loop {
            let all = overlap(&found, &margins);
            let Some(limit) = all.deciding().find(|limit| !found[*limit].1) else {
                return Ok(all);
            };
            found[limit] = (self.of_limit(limit, guard, Look::Near)?, true);
        }
    }
}

/// What all limits found so far allow together.
fn overlap(found: &[(Times, bool)], margins_k: &[f64]) -> Times {
    found
        .iter()
        .fold(Times::ANY, |all, (times, _)| all.and(*times, margins_k))
}

/// No part cools faster than this at a judged node, K/s: the step of the last correction.
const STEEPEST_K_S: f64 = 200.0;
