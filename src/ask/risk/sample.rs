//! Samples of the scattered inputs from their distributions.

use rayon::prelude::*;

use super::surface::Axis;
use crate::ask::PlanError;
use crate::ask::distribution::Distribution;
use crate::ask::random::{Copula, Sampler, Scheme};
use crate::numeric::special::{normal_cdf, normal_quantile};

/// Samples: forty of them lie beyond the alarm risk.
const SAMPLES: u64 = 32_768;

/// Seed of the samples: the same everywhere, so that an answer does not depend on who asks.
const SEED: u64 = 7;

/// Independent standard normal values, one list per input, with what couples the inputs.
#[derive(Debug, Clone)]
pub(super) struct Sample {
    scores: Vec<Vec<f64>>,
    tables: Vec<Quantiles>,
    pairs: Vec<(usize, usize, f64)>,
    /// Values of the inputs where none of them is known.
    drawn: Vec<Vec<f64>>,
}

impl Sample {
    pub fn new(axes: &[Axis], pairs: &[(usize, usize, f64)]) -> Result<Self, PlanError> {
        let sampler = Sampler::new(Scheme::QuasiRandom, SEED, SAMPLES, axes.len())
            .or_else(|_| Sampler::new(Scheme::LatinHypercube, SEED, SAMPLES, axes.len()))?;
        let points: Vec<Vec<f64>> = (0..SAMPLES).into_par_iter().map(|k| sampler.point(k)).collect();
        let scores = (0..axes.len())
            .into_par_iter()
            .map(|axis| points.iter().map(|point| normal_quantile(point[axis])).collect())
            .collect();
        let tables = axes.par_iter().map(|axis| Quantiles::of(&axis.distribution)).collect();
        let mut sample = Self {
            scores,
            tables,
            pairs: pairs.to_vec(),
            drawn: Vec::new(),
        };
        // Correlations that contradict each other are told here, once.
        Copula::new(axes.len(), pairs)?;
        sample.drawn = sample.given(axes, &[]);
        Ok(sample)
    }

    /// Number of samples.
    pub fn count(&self) -> usize {
        self.scores.first().map_or(0, Vec::len)
    }

    /// Values of one input in every sample by another distribution, the same scores drawn.
    pub fn column(&self, input: usize, by: &Quantiles) -> Vec<f64> {
        let mut z: Vec<f64> = self.scores[input].clone();
        if let (Ok(copula), false) = (Copula::new(self.scores.len(), &self.pairs), self.pairs.is_empty()) {
            let row = |k: usize| self.scores.iter().map(|scores| scores[k]).collect::<Vec<f64>>();
            for (k, z) in z.iter_mut().enumerate() {
                let mut row = row(k);
                copula.correlate(&mut row);
                *z = row[input];
            }
        }
        z.iter().map(|z| by.at(*z)).collect()
    }

    /// Values of every input in every sample, one list per input, when those in `known` are known to be
    /// as planned: what is coupled to them keeps only the scatter that they leave.
    pub fn given(&self, axes: &[Axis], known: &[usize]) -> Vec<Vec<f64>> {
        let count = axes.len();
        let touched = |pair: &&(usize, usize, f64)| known.contains(&pair.0) || known.contains(&pair.1);
        if !self.drawn.is_empty() && self.pairs.iter().filter(touched).count() == 0 {
            return self.drawn.clone();
        }
        // Known inputs first: their scores are zero, and the factor leaves the others what is left.
        let (mut order, rest): (Vec<usize>, Vec<usize>) = (0..count).partition(|k| known.contains(k));
        order.extend(rest);
        let place = |input: usize| order.iter().position(|k| *k == input).unwrap_or(input);
        let pairs: Vec<_> = self.pairs.iter().map(|&(i, j, r)| (place(i), place(j), r)).collect();
        let copula = Copula::new(count, &pairs).ok();
        let rows: Vec<Vec<f64>> = (0..self.count())
            .into_par_iter()
            .map(|k| {
                let mut z: Vec<f64> = order
                    .iter()
                    .map(|&input| {
                        if known.contains(&input) {
                            0.0
                        } else {
                            self.scores[input][k]
                        }
                    })
                    .collect();
                if let (Some(copula), false) = (&copula, self.pairs.is_empty()) {
                    copula.correlate(&mut z);
                }
                z
            })
            .collect();
        (0..count)
            .into_par_iter()
            .map(|input| {
                let column = place(input);
                rows.iter().map(|row| self.tables[input].at(row[column])).collect()
            })
            .collect()
    }
}

/// Values of a distribution over the standard normal score, tabulated: inverting some of them is dear.
#[derive(Debug, Clone)]
pub(super) struct Quantiles(Vec<f64>);

/// Ends and steps of the tables.
const REACH: f64 = 5.0;
const STEPS: usize = 2000;

impl Quantiles {
    pub fn of(distribution: &Distribution) -> Self {
        let score = |k: usize| REACH * (2.0 * k as f64 / STEPS as f64 - 1.0);
        Self(
            (0..=STEPS)
                .map(|k| distribution.quantile(normal_cdf(score(k))))
                .collect(),
        )
    }

    fn at(&self, score: f64) -> f64 {
        let place = ((score / REACH + 1.0) * 0.5 * STEPS as f64).clamp(0.0, STEPS as f64);
        let k = (place as usize).min(STEPS - 1);
        let (low, high) = (self.0[k], self.0[k + 1]);
        low + (place - k as f64) * (high - low)
    }
}
