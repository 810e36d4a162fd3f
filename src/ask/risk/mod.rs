//! What the stated (or the program's own) uncertainties make of each limit: guard bands for a risk.
//!
//! A part is accepted while its margin is not below a guard band, so that the risk of accepting a bad one
//! at the edge is the one stated: guarded acceptance of JCGM 106:2012, 8.3.2. The band is the quantile of
//! what the scattered inputs take from the margin, drawn from their distributions as they are (tails of
//! retries, skew, means that are not the planned value, correlations) on a response surface, with the error
//! of that surface added.

mod assumed;
mod causes;
mod guard;
mod sample;
mod spread;
mod surface;

pub use assumed::{Assumed, assumed, left_known, usual_range};
pub use causes::{Cause, CauseOf, Causes};
pub use guard::GuardLine;
pub use spread::{Risks, Spread};

use rayon::prelude::*;
use serde::Serialize;

use self::sample::Sample;
use self::surface::{Lean, Surface};
use super::failure::Failure;
use super::model::{Change, ExitInputs, Model};

/// Guard bands in K, one value per limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Guards {
    /// For the reject risk.
    pub reject: Vec<f64>,
    /// For the alarm risk.
    pub alarm: Vec<f64>,
}

/// The response surface of a line over its scattered inputs, with samples of them.
#[derive(Debug, Clone)]
pub struct Risk {
    risks: Risks,
    surface: Surface,
    sample: Sample,
    error_k: Vec<f64>,
    runs: usize,
}

impl Risk {
    /// Makes the surface on `model`, which may be a coarse one: only differences are taken from it.
    /// With `exit` the exit temperature is measured on each part: it does not scatter, its measurement
    /// does where its uncertainty is stated. `None` where nothing scatters.
    ///
    /// # Errors
    /// A run that fails; correlations that contradict each other.
    pub fn new(model: &dyn Model, spread: &Spread, exit: Option<&ExitInputs>) -> Result<Option<Self>, Failure> {
        let (surface, kept) = Surface::fit(model, spread, exit)?;
        if surface.axes.is_empty() {
            return Ok(None);
        }
        let sample = Sample::new(&surface.axes, &renumbered(spread.correlations, &kept))?;
        let mut risk = Self {
            risks: spread.risks,
            error_k: vec![0.0; surface.base_k.len()],
            runs: 0,
            surface,
            sample,
        };
        risk.error_k = risk.check(model)?;
        risk.runs = risk.surface.runs + CHECKED.len();
        Ok(Some(risk))
    }

    /// Runs that it took.
    #[must_use]
    pub fn runs(&self) -> usize {
        self.runs
    }

    /// By how much the surface was found to err to the unsafe side, K, one per limit.
    #[must_use]
    pub fn error_k(&self) -> &[f64] {
        &self.error_k
    }

    /// Guard bands about the planned line, the inputs in `known` being measured on each part.
    #[must_use]
    pub fn guards(&self, known: &[&str]) -> Guards {
        self.of_losses(&self.all(), self.losses(&self.all(), known, None))
    }

    /// The same about another place: the line with `at` changed, by runs of `model` there. Limits that are far from
    /// breaking there keep their band of `flat`, that about the planned line; where that is none they get what the runs
    /// made for the others say, so that one that scatter reaches away from the plan alone is not left without.
    ///
    /// # Errors
    /// A run that fails.
    pub fn guards_at(
        &self,
        model: &dyn Model,
        known: &[&str],
        at: &[Change],
        flat: &Guards,
    ) -> Result<Guards, Failure> {
        let here = model.run(at)?.margins_k();
        let reach = |limit: usize| FAR * flat.alarm[limit] + FAR_K;
        let near: Vec<usize> = (0..here.len()).filter(|&limit| here[limit] < reach(limit)).collect();
        let lean = self.surface.lean(model, known, (at, &here), &near)?;
        let told = |limit: &usize| near.contains(limit) || flat.alarm[*limit] == 0.0;
        let told: Vec<usize> = (0..here.len()).filter(told).collect();
        let found = self.of_losses(&told, self.losses(&told, known, Some(&lean)));
        let mut guards = flat.clone();
        for (k, limit) in told.into_iter().enumerate() {
            guards.reject[limit] = found.reject[k];
            guards.alarm[limit] = found.alarm[k];
        }
        Ok(guards)
    }

    /// Every limit.
    fn all(&self) -> Vec<usize> {
        (0..self.error_k.len()).collect()
    }

    /// What the inputs take from some margins in each sample, K: the outer list is by limit.
    fn losses(&self, limits: &[usize], known: &[&str], lean: Option<&Lean>) -> Vec<Vec<f64>> {
        let known: Vec<usize> = (0..self.surface.axes.len())
            .filter(|&k| self.surface.axes[k].is_in(known))
            .collect();
        let drawn = self.sample.given(&self.surface.axes, &known);
        limits
            .par_iter()
            .map(|limit| self.surface.losses(*limit, &drawn, &known, lean))
            .collect()
    }

    fn of_losses(&self, limits: &[usize], losses: Vec<Vec<f64>>) -> Guards {
        let (reject, alarm): (Vec<f64>, Vec<f64>) = losses
            .into_par_iter()
            .zip(limits)
            .map(|(mut losses, limit)| {
                let mut at = |risk: f64| match quantile(&mut losses, risk) {
                    // What moves by less is not touched by what scatters.
                    loss if loss > surface::STILL_K => loss + self.error_k[*limit],
                    _ => 0.0,
                };
                (at(self.risks.reject), at(self.risks.alarm))
            })
            .unzip();
        Guards { reject, alarm }
    }

    /// Runs of samples from the middle of the distribution into its tail, and by how much they lose more
    /// than the surface says.
    fn check(&self, model: &dyn Model) -> Result<Vec<f64>, Failure> {
        let losses = self.losses(&self.all(), &[], None);
        let bare = self.of_losses(&self.all(), losses.clone()).reject;
        let relative = |k: usize| {
            let of = losses.iter().zip(&bare).filter(|(_, guard)| **guard > 0.0);
            of.map(|(loss, guard)| loss[k] / guard).fold(0.0_f64, f64::max)
        };
        let mut order: Vec<(f64, usize)> = (0..self.sample.count()).map(|k| (relative(k), k)).collect();
        order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let drawn = self.sample.given(&self.surface.axes, &[]);
        let errors: Vec<Result<Vec<f64>, Failure>> = CHECKED
            .par_iter()
            .map(|share| {
                let place = (share * order.len() as f64) as usize;
                let index = order[place.min(order.len() - 1)].1;
                let values = drawn.iter().map(|column| column[index]);
                let changes: Vec<Change> = self
                    .surface
                    .axes
                    .iter()
                    .zip(values)
                    .flat_map(|(axis, value)| axis.changes(value))
                    .collect();
                let run = model.run(&changes)?.margins_k();
                let lost = self.surface.base_k.iter().zip(&run).map(|(base, run)| base - run);
                Ok(lost.zip(&losses).map(|(lost, on)| lost - on[index]).collect())
            })
            .collect();
        let mut worst = vec![0.0_f64; self.error_k.len()];
        for errors in errors {
            for (worst, error) in worst.iter_mut().zip(errors?) {
                *worst = worst.max(error);
            }
        }
        Ok(worst)
    }
}

/// A limit is far from breaking where its margin is larger than this many alarm bands of the planned line. Chosen: room
/// for a band that grows to thrice its size away from the plan.
const FAR: f64 = 3.0;

/// And K more. Chosen: room for a band of some kelvin where the planned line has next to none.
const FAR_K: f64 = 10.0;

/// Places in the distribution where the surface is compared with runs: from what is usual to what happens
/// once in ten thousand.
const CHECKED: [f64; 10] = [0.5, 0.8, 0.9, 0.94, 0.96, 0.98, 0.99, 0.996, 0.9985, 0.9999];

/// Standard errors of a count by which an order statistic is moved to the safe side: quasi-random samples
/// scatter about a third as much as independent ones.
const SAFE: f64 = 0.3;

/// The value that all but a share `risk` of the samples do not exceed, on the safe side of the sampling.
fn quantile(values: &mut [f64], risk: f64) -> f64 {
    let count = values.len() as f64;
    let place = count * (1.0 - risk) + SAFE * (count * risk).sqrt();
    let place = (place.ceil() as usize).min(values.len() - 1);
    *values.select_nth_unstable_by(place, f64::total_cmp).1
}

/// Correlations between the inputs that are kept, by their new places.
fn renumbered(correlations: &[(usize, usize, f64)], kept: &[usize]) -> Vec<(usize, usize, f64)> {
    let place = |input: usize| kept.iter().position(|k| *k == input);
    let pairs = correlations.iter();
    pairs.filter_map(|&(i, j, r)| Some((place(i)?, place(j)?, r))).collect()
}
