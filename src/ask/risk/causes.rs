//! What bad parts have in common: each cause taken out, and the bad parts counted again.
//!
//! A share in the variance says little of the parts that break a limit: a rare retry has a small share in
//! the variance and may be behind half of the bad parts. So each cause is set to its planned value (a retry
//! to none) in all samples of the response surface, and the same samples are counted again.

use rayon::prelude::*;
use serde::Serialize;

use super::Risk;
use super::sample::Quantiles;
use crate::ask::distribution::Distribution;

/// What is taken out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CauseOf {
    /// All scatter of an input.
    Input(String),
    /// The retries of a time, its other scatter kept.
    Retries(String),
}

/// A cause and how many of the bad parts go with it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cause {
    /// What is taken out.
    pub of: CauseOf,
    /// Share of the bad parts that are good without it; negative where there are more without it.
    pub removed: f64,
    /// Standard error of that share: the square root of the parts that change sides.
    pub error: f64,
}

impl Cause {
    /// Whether the share is more than the noise of the count.
    #[must_use]
    pub fn is_seen(&self) -> bool {
        self.removed.abs() > 2.0 * self.error
    }
}

/// Bad parts and their causes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Causes {
    /// Share of bad parts on the surface.
    pub bad: f64,
    /// Samples counted.
    pub samples: usize,
    /// Causes, the one that removes most first; empty where too few parts are bad to tell.
    pub causes: Vec<Cause>,
}

/// Fewest bad parts that tell anything.
const TELLING: usize = 20;

impl Risk {
    /// Which causes the bad parts have, `margins_k` being those of the planned line.
    #[must_use]
    pub fn causes(&self, margins_k: &[f64]) -> Causes {
        let axes = &self.surface.axes;
        let drawn = self.sample.given(axes, &[]);
        let bad = self.bad(margins_k, &drawn, &[]);
        let count = bad.iter().filter(|bad| **bad).count();
        let mut found = Causes {
            bad: count as f64 / bad.len() as f64,
            samples: bad.len(),
            causes: Vec::new(),
        };
        if count < TELLING {
            return found;
        }
        let told = |of: CauseOf, without: Vec<bool>| {
            let changed = |from: bool| {
                bad.iter()
                    .zip(&without)
                    .filter(|(a, b)| **a == from && **b != from)
                    .count()
            };
            let (mended, broken) = (changed(true) as f64, changed(false) as f64);
            Cause {
                of,
                removed: (mended - broken) / count as f64,
                error: (mended + broken).sqrt() / count as f64,
            }
        };
        let inputs = (0..axes.len()).into_par_iter().map(|k| {
            let left = self.sample.given(axes, &[k]);
            told(CauseOf::Input(axes[k].name()), self.bad(margins_k, &left, &[k]))
        });
        let retries = (0..axes.len()).into_par_iter().filter_map(|k| {
            let Distribution::Retry(retry) = &axes[k].distribution else {
                return None;
            };
            let mut left = drawn.clone();
            left[k] = self.sample.column(k, &Quantiles::of(&retry.without_retries()));
            Some(told(CauseOf::Retries(axes[k].name()), self.bad(margins_k, &left, &[])))
        });
        let mut causes: Vec<Cause> = inputs.collect();
        causes.extend(retries.collect::<Vec<_>>());
        causes.sort_by(|a, b| b.removed.total_cmp(&a.removed));
        found.causes = causes;
        found
    }

    /// Which samples break a limit.
    fn bad(&self, margins_k: &[f64], drawn: &[Vec<f64>], known: &[usize]) -> Vec<bool> {
        let mut bad = vec![false; self.sample.count()];
        for (limit, margin) in margins_k.iter().enumerate() {
            let losses = self.surface.losses(limit, drawn, known, None);
            for (bad, loss) in bad.iter_mut().zip(losses) {
                *bad |= loss > *margin;
            }
        }
        bad
    }
}
