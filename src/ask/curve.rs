//! Margins of all limits along one variable, with few expensive runs.

use super::failure::Failure;
use super::model::{Change, Model};
use crate::numeric::root::{LimitOutcome, SearchError, falling_limit};

/// Margins along one variable x.
///
/// Where a cheaper model of the same line is given, the shape of the curve comes from it and is
/// shifted to pass through every run of the full model; a crossing found on the shifted curve is
/// then confirmed by a full run there, which shifts the curve again, until the full run agrees.
/// The answer is that of the full model, only found with fewer runs of it.
pub(crate) struct Curve<'a> {
    full: &'a dyn Model,
    cheap: Option<&'a dyn Model>,
    changes: Box<dyn Fn(f64) -> Vec<Change> + Sync + 'a>,
    full_runs: Vec<(f64, Vec<f64>)>,
    /// Runs that are known but do not shape the curve at present.
    aside: Vec<(f64, Vec<f64>)>,
    cheap_runs: Vec<(f64, Vec<f64>)>,
    /// Taken off every margin; empty for nothing.
    guard_k: Vec<f64>,
}

/// How near zero, in K, the margin of the full model has to be at a crossing.
const NEAR_K: f64 = 0.05;

impl<'a> Curve<'a> {
    /// A curve; `changes` says what x means.
    pub(crate) fn new(
        full: &'a dyn Model,
        cheap: Option<&'a dyn Model>,
        changes: impl Fn(f64) -> Vec<Change> + Sync + 'a,
    ) -> Self {
        Self {
            full,
            cheap,
            changes: Box::new(changes),
            full_runs: Vec::new(),
            aside: Vec::new(),
            cheap_runs: Vec::new(),
            guard_k: Vec::new(),
        }
    }

    /// The same curve with a guard band taken off every margin, one value per limit or none at all.
    pub(crate) fn guarded(mut self, guard_k: &[f64]) -> Self {
        self.guard_k = guard_k.to_vec();
        self
    }

    fn margins(&self, model: &dyn Model, x: f64) -> Result<Vec<f64>, Failure> {
        let mut margins = model.run(&(self.changes)(x))?.margins_k();
        for (margin, guard) in margins.iter_mut().zip(&self.guard_k) {
            *margin -= guard;
        }
        Ok(margins)
    }

    /// Runs of the full model so far.
    pub(crate) fn runs(&self) -> usize {
        self.full_runs.len() + self.aside.len()
    }

    /// Starts a search afresh: the curve is shaped by the first run at x = 0 alone, so that what is
    /// found does not depend on what was asked before. No run is made twice.
    pub(crate) fn restart(&mut self) {
        let (kept, aside) = std::mem::take(&mut self.full_runs)
            .into_iter()
            .partition(|(x, _)| *x == 0.0);
        self.full_runs = kept;
        let mut more: Vec<(f64, Vec<f64>)> = aside;
        self.aside.append(&mut more);
    }

    /// Lets every run made so far shape the curve.
    pub(crate) fn recall(&mut self) {
        for (x, margins) in std::mem::take(&mut self.aside) {
            insert(&mut self.full_runs, x, margins);
        }
    }

    /// Puts in a run of the full model that is already known.
    pub(crate) fn know(&mut self, x: f64, margins_k: Vec<f64>) {
        insert(&mut self.full_runs, x, margins_k);
    }

    /// Margins of the full model at x.
    pub(crate) fn exact(&mut self, x: f64) -> Result<Vec<f64>, Failure> {
        if let Some(known) = find(&self.full_runs, x) {
            return Ok(known.clone());
        }
        let margins = match self.aside.iter().position(|(at, _)| *at == x) {
            Some(known) => self.aside.swap_remove(known).1,
            None => self.margins(self.full, x)?,
        };
        insert(&mut self.full_runs, x, margins.clone());
        Ok(margins)
    }

    fn cheap(&mut self, model: &dyn Model, x: f64) -> Result<Vec<f64>, Failure> {
        if let Some(known) = find(&self.cheap_runs, x) {
            return Ok(known.clone());
        }
        let margins = self.margins(model, x)?;
        insert(&mut self.cheap_runs, x, margins.clone());
        Ok(margins)
    }

    /// Margins at x: of the cheap model shifted onto the full one, or of the full one alone.
    pub(crate) fn near(&mut self, x: f64) -> Result<Vec<f64>, Failure> {
        let Some(cheap) = self.cheap else {
            return self.exact(x);
        };
        if let Some(known) = find(&self.full_runs, x) {
            return Ok(known.clone());
        }
        let mut margins = self.cheap(cheap, x)?;
        // Shift between the two known runs on either side, or that of the nearest one.
        let after = self.full_runs.partition_point(|(at, _)| *at < x);
        let sides =
            [after.checked_sub(1), Some(after)].map(|k| k.and_then(|k| self.full_runs.get(k)).map(|(at, _)| *at));
        let shift_at = |curve: &mut Self, at: f64| -> Result<Vec<f64>, Failure> {
            let low = curve.cheap(cheap, at)?;
            let high = curve.exact(at)?;
            Ok(high.iter().zip(&low).map(|(h, l)| h - l).collect())
        };
        let shift = match sides {
            [Some(a), Some(b)] => {
                let (left, right) = (shift_at(self, a)?, shift_at(self, b)?);
                let w = (x - a) / (b - a);
                left.iter().zip(&right).map(|(l, r)| l + w * (r - l)).collect()
            }
            [Some(a), None] | [None, Some(a)] => shift_at(self, a)?,
            [None, None] => vec![0.0; margins.len()],
        };
        for (m, s) in margins.iter_mut().zip(shift) {
            *m += s;
        }
        Ok(margins)
    }

    /// Margins of the cheap model at x between nodes that lie ever further apart, by the parabola
    /// through three of them. What this errs is taken up by the shift onto the full runs.
    fn between_nodes(&mut self, cheap: &dyn Model, nodes: &[f64], x: f64) -> Result<Vec<f64>, Failure> {
        let after = nodes.partition_point(|node| *node <= x).clamp(1, nodes.len() - 1);
        let first = after.saturating_sub(2).min(nodes.len() - 3);
        let (a, b, c) = (nodes[first], nodes[first + 1], nodes[first + 2]);
        let (fa, fb, fc) = (self.cheap(cheap, a)?, self.cheap(cheap, b)?, self.cheap(cheap, c)?);
        let wa = (x - b) * (x - c) / ((a - b) * (a - c));
        let wb = (x - a) * (x - c) / ((b - a) * (b - c));
        let wc = (x - a) * (x - b) / ((c - a) * (c - b));
        Ok((0..fa.len()).map(|k| wa * fa[k] + wb * fb[k] + wc * fc[k]).collect())
    }

    /// As [`Curve::near`], with the cheap model taken between nodes.
    fn guess(&mut self, nodes: &[f64], x: f64) -> Result<Vec<f64>, Failure> {
        let Some(cheap) = self.cheap else {
            return self.exact(x);
        };
        if let Some(known) = find(&self.full_runs, x) {
            return Ok(known.clone());
        }
        let mut margins = self.between_nodes(cheap, nodes, x)?;
        let after = self.full_runs.partition_point(|(at, _)| *at < x);
        let left = after.checked_sub(1).and_then(|k| self.full_runs.get(k)).cloned();
        let right = self.full_runs.get(after).cloned();
        let mut shift_of = |run: &(f64, Vec<f64>)| -> Result<Vec<f64>, Failure> {
            let low = self.between_nodes(cheap, nodes, run.0)?;
            Ok(run.1.iter().zip(&low).map(|(h, l)| h - l).collect())
        };
        let shift = match (&left, &right) {
            (Some(a), Some(b)) => {
                let (low, high) = (shift_of(a)?, shift_of(b)?);
                let w = (x - a.0) / (b.0 - a.0);
                low.iter().zip(&high).map(|(l, h)| l + w * (h - l)).collect()
            }
            (Some(run), None) | (None, Some(run)) => shift_of(run)?,
            (None, None) => Vec::new(),
        };
        for (m, s) in margins.iter_mut().zip(shift) {
            *m += s;
        }
        Ok(margins)
    }

    /// Where `measure` of the margins, positive at `start`, first falls below zero on the way to
    /// `end`; to `tolerance` in x. With `confirm` the crossing is one of the full model, otherwise one
    /// of the cheap model shifted onto the full runs there are.
    pub(crate) fn crossing(
        &mut self,
        measure: &dyn Fn(&[f64]) -> f64,
        (start, first_step, end): (f64, f64, f64),
        tolerance: f64,
        confirm: bool,
    ) -> Result<LimitOutcome, Failure> {
        if end <= start {
            let margin = measure(&self.exact(start)?);
            return Ok(if margin < 0.0 {
                LimitOutcome::AlreadyBroken { margin }
            } else {
                LimitOutcome::NeverBreaks { margin, end: start }
            });
        }
        let mut nodes = vec![start, start + 0.5 * first_step];
        let mut step = first_step;
        while start + step < end {
            nodes.push(start + step);
            step *= 2.0;
        }
        nodes.push(end);
        if end <= start + first_step {
            nodes = vec![start, 0.5 * (start + end), end];
        }
        let mut total = 0;
        loop {
            let outcome = falling_limit(
                |x| {
                    // Without a run to confirm it, the curve between nodes is not good enough.
                    let margins = if confirm { self.guess(&nodes, x) } else { self.near(x) };
                    margins.map(|m| measure(&m))
                },
                start,
                first_step,
                end,
                tolerance,
            )
            .map_err(search_failure)?;
            if self.cheap.is_none() || (!confirm && !self.full_runs.is_empty()) {
                return Ok(outcome);
            }
            total += 1;
            let x = match outcome {
                LimitOutcome::AlreadyBroken { .. } => start,
                LimitOutcome::NeverBreaks { end, .. } => end,
                LimitOutcome::Limit { holds, .. } => holds,
            };
            let here = measure(&self.exact(x)?);
            let agrees = match outcome {
                LimitOutcome::AlreadyBroken { .. } => here < 0.0,
                LimitOutcome::NeverBreaks { .. } => here >= 0.0,
                LimitOutcome::Limit { .. } => here.abs() < NEAR_K,
            };
            // Ten corrections settle anything but a jump.
            if !agrees && total < 10 {
                continue;
            }
            let LimitOutcome::Limit {
                holds,
                breaks,
                x,
                evaluations,
            } = outcome
            else {
                return Ok(outcome);
            };
            if here >= 0.0 {
                return Ok(outcome);
            }
            // Just beyond: step back to the safe side along the slope.
            let back = (0.1 * (holds - start)).min(0.5);
            let earlier = measure(&self.guess(&nodes, holds - back)?);
            let slope = (earlier - here) / back;
            let safe = if slope > 0.0 {
                holds + here / slope
            } else {
                holds - back
            };
            return Ok(LimitOutcome::Limit {
                holds: safe.max(start),
                breaks: holds.max(breaks),
                x,
                evaluations,
            });
        }
    }
}

pub(crate) fn search_failure(error: SearchError<Failure>) -> Failure {
    match error {
        SearchError::Function(inner) => inner,
        SearchError::NoSignChange {
            low,
            high,
            at_low,
            at_high,
        } => SearchError::NoSignChange {
            low,
            high,
            at_low,
            at_high,
        }
        .into(),
        SearchError::NotFinite { at } => SearchError::NotFinite { at }.into(),
        SearchError::NotConverged { evaluations, low, high } => {
            SearchError::NotConverged { evaluations, low, high }.into()
        }
    }
}

fn find(runs: &[(f64, Vec<f64>)], x: f64) -> Option<&Vec<f64>> {
    runs.iter().find(|(at, _)| *at == x).map(|(_, m)| m)
}

fn insert(runs: &mut Vec<(f64, Vec<f64>)>, x: f64, margins: Vec<f64>) {
    let place = runs.partition_point(|(at, _)| *at < x);
    runs.insert(place, (x, margins));
}
