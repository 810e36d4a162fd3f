//! Margins of all limits along one variable, with few expensive runs.

use super::failure::Failure;
use super::model::{Change, Model};
use super::root::{LimitOutcome, SearchError, falling_limit};

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
    cheap_runs: Vec<(f64, Vec<f64>)>,
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
            cheap_runs: Vec::new(),
        }
    }

    /// Runs of the full model so far.
    pub(crate) fn runs(&self) -> usize {
        self.full_runs.len()
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
        let margins = self.full.run(&(self.changes)(x))?.margins_k();
        insert(&mut self.full_runs, x, margins.clone());
        Ok(margins)
    }

    fn cheap(&mut self, model: &dyn Model, x: f64) -> Result<Vec<f64>, Failure> {
        if let Some(known) = find(&self.cheap_runs, x) {
            return Ok(known.clone());
        }
        let margins = model.run(&(self.changes)(x))?.margins_k();
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

    /// Where `measure` of the margins, positive at `start`, first falls below zero on the way to
    /// `end`; to `tolerance` in x.
    pub(crate) fn crossing(
        &mut self,
        measure: &dyn Fn(&[f64]) -> f64,
        start: f64,
        first_step: f64,
        end: f64,
        tolerance: f64,
    ) -> Result<LimitOutcome, Failure> {
        let mut total = 0;
        loop {
            let outcome = falling_limit(|x| self.near(x).map(|m| measure(&m)), start, first_step, end, tolerance)
                .map_err(search_failure)?;
            total += 1;
            let (x, width) = match outcome {
                LimitOutcome::AlreadyBroken { .. } => (start, 0.0),
                LimitOutcome::NeverBreaks { end, .. } => (end, 0.0),
                LimitOutcome::Limit { holds, breaks, .. } => (holds, (breaks - holds).abs()),
            };
            if self.cheap.is_none() {
                return Ok(outcome);
            }
            let known = find(&self.full_runs, x).is_some();
            let here = measure(&self.exact(x)?);
            let agrees = match outcome {
                LimitOutcome::AlreadyBroken { .. } => here < 0.0,
                LimitOutcome::NeverBreaks { .. } => here >= 0.0,
                LimitOutcome::Limit { .. } => here >= 0.0 && (here < NEAR_K || width <= tolerance && known),
            };
            // Ten corrections settle anything but a jump; the bracket is then the answer.
            if agrees || total >= 10 {
                return Ok(outcome);
            }
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
