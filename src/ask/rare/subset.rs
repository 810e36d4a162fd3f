//! Subset simulation: a small probability as a product of larger ones.

use rayon::prelude::*;

use super::event::{RareError, RareEvent, confidence_is_valid};
use crate::ask::PlanError;
use crate::ask::random::Stream;

/// Options of [`subset`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SubsetOptions {
    /// Seed of the samples.
    pub seed: u64,
    /// Samples a level (default 2000); a multiple of 10.
    pub samples: usize,
    /// Correlation of a chain's successive candidates (default 0.8).
    pub correlation: f64,
    /// Most levels (default 9, which reaches 1e-9).
    pub levels: usize,
    /// Confidence of the interval (default 0.95).
    pub confidence: f64,
}

impl Default for SubsetOptions {
    fn default() -> Self {
        Self {
            seed: 1,
            samples: 2000,
            correlation: 0.8,
            levels: 9,
            confidence: 0.95,
        }
    }
}

/// One sample in ten goes on to the next level.
const KEPT: usize = 10;

#[derive(Clone)]
struct Sample {
    u: Vec<f64>,
    margin: f64,
}

/// Probability that `margin` is below zero for independent standard normal inputs.
///
/// S.-K. Au and J. L. Beck, "Estimation of small failure probabilities in high dimensions by subset
/// simulation", Probabilistic Engineering Mechanics 16 (2001), 263-277, with conditional sampling
/// in normal space (I. Papaioannou, W. Betz, K. Zwirglmaier and D. Straub, Probabilistic
/// Engineering Mechanics 41 (2015), 89-103). The stated error is equation (29) of Au and Beck with
/// the chain correlations measured, levels taken as fully correlated (their upper bound), so it is
/// on the safe side.
///
/// # Errors
/// [`RareError`]: a failing margin, wrong options, or an event rarer than the levels reach.
#[allow(clippy::cast_precision_loss)]
pub fn subset<E: Send>(
    margin: impl Fn(&[f64]) -> Result<f64, E> + Sync,
    dimensions: usize,
    options: &SubsetOptions,
) -> Result<RareEvent, RareError<E>> {
    confidence_is_valid(options.confidence)?;
    let n = options.samples;
    if n < 10 * KEPT || !n.is_multiple_of(KEPT) {
        return Err(PlanError::count("samples a level", n, "a multiple of 10, 100 or more").into());
    }
    if dimensions == 0 {
        return Err(PlanError::count("varied inputs", 0, "1 or more").into());
    }
    if !(options.correlation > 0.0 && options.correlation < 1.0) {
        return Err(PlanError::range("chain correlation", options.correlation, "above 0 and below 1").into());
    }
    let evaluate = |u: Vec<f64>, index: u64| {
        let value = margin(&u).map_err(RareError::Margin)?;
        if value.is_nan() {
            return Err(RareError::NotANumber { index });
        }
        Ok(Sample { u, margin: value })
    };
    let mut samples: Vec<Sample> = (0..n as u64)
        .into_par_iter()
        .map(|index| {
            let mut stream = Stream::new(options.seed, index);
            evaluate((0..dimensions).map(|_| stream.normal()).collect(), index)
        })
        .collect::<Result<_, _>>()?;
    let mut evaluations = n as u64;
    let mut probability = 1.0;
    let mut error = 0.0;
    // In the first level every sample is its own chain.
    let mut chain_length = 1;
    for level in 0..=options.levels {
        let mut order: Vec<usize> = (0..n).collect();
        order.sort_by(|&i, &j| samples[i].margin.total_cmp(&samples[j].margin).then(i.cmp(&j)));
        let kept = n / KEPT;
        let threshold = 0.5 * (samples[order[kept - 1]].margin + samples[order[kept]].margin);
        let last = threshold <= 0.0;
        let border = threshold.max(0.0);
        let inside: Vec<bool> = samples
            .iter()
            .map(|s| if last { s.margin < 0.0 } else { s.margin <= border })
            .collect();
        let hits = inside.iter().filter(|x| **x).count();
        let p = hits as f64 / n as f64;
        probability *= p;
        if hits > 0 {
            let spread = (1.0 - p) / (p * n as f64) * (1.0 + chain_factor(&inside, chain_length, p));
            error += spread.max(0.0).sqrt();
        }
        if last {
            if hits == 0 {
                break;
            }
            let nearest = nearest(&samples, &inside);
            return Ok(RareEvent::new(
                probability,
                error,
                options.confidence,
                evaluations,
                nearest,
            ));
        }
        if level == options.levels {
            break;
        }
        chain_length = KEPT;
        let chains: Vec<Vec<Sample>> = order[..kept]
            .par_iter()
            .enumerate()
            .map(|(number, &seed)| {
                let id = ((level as u64 + 1) << 40) | number as u64;
                chain(&samples[seed], border, (options, id), &evaluate)
            })
            .collect::<Result<_, RareError<E>>>()?;
        evaluations += n as u64;
        samples = chains.into_iter().flatten().collect();
    }
    Err(RareError::NotFound {
        distance: -crate::numeric::special::normal_quantile(probability.min(0.5)),
        bound: probability,
    })
}

/// The states of one chain that starts at a sample and stays at margins up to a border.
fn chain<E>(
    seed: &Sample,
    border: f64,
    (options, id): (&SubsetOptions, u64),
    evaluate: &impl Fn(Vec<f64>, u64) -> Result<Sample, RareError<E>>,
) -> Result<Vec<Sample>, RareError<E>> {
    let rho = options.correlation;
    let fresh = (1.0 - rho * rho).sqrt();
    let mut stream = Stream::new(options.seed, id);
    let mut current = seed.clone();
    let mut states = Vec::with_capacity(KEPT);
    for step in 0..KEPT {
        let candidate: Vec<f64> = current.u.iter().map(|x| rho * x + fresh * stream.normal()).collect();
        let next = evaluate(candidate, id + step as u64)?;
        if next.margin <= border {
            current = next;
        }
        states.push(current.clone());
    }
    Ok(states)
}

/// The sample inside that is nearest to the middle of all inputs; empty where none is inside.
fn nearest(samples: &[Sample], inside: &[bool]) -> Vec<f64> {
    let hits = samples.iter().zip(inside).filter(|(_, inside)| **inside);
    hits.map(|(sample, _)| sample)
        .min_by(|a, b| square(&a.u).total_cmp(&square(&b.u)))
        .map_or_else(Vec::new, |sample| sample.u.clone())
}

fn square(u: &[f64]) -> f64 {
    u.iter().map(|x| x * x).sum()
}

/// Extra variance by the correlation within chains: 2 sum over k of (1 - k/m) rho(k), with m the
/// chain length and rho(k) the correlation of the indicator k steps apart (Au and Beck, 2001).
#[allow(clippy::cast_precision_loss)]
fn chain_factor(inside: &[bool], length: usize, p: f64) -> f64 {
    let variance = p * (1.0 - p);
    if length < 2 || variance <= 0.0 {
        return 0.0;
    }
    let m = length as f64;
    2.0 * (1..length)
        .map(|k| {
            let pairs = inside
                .chunks_exact(length)
                .flat_map(|chain| chain.windows(k + 1).map(move |w| w[0] && w[k]));
            let (both, count) = pairs.fold((0_u64, 0_u64), |(b, c), x| (b + u64::from(x), c + 1));
            let covariance = both as f64 / count as f64 - p * p;
            (1.0 - k as f64 / m) * covariance / variance
        })
        .sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Chains whose states are all alike count as one sample each: the variance is that of independent samples times
    /// the length of a chain (2 sum (1 - k/m) = m - 1). Alternating states have the correlation -1 one step apart.
    #[test]
    fn chains_of_equal_states_count_as_one_sample() {
        for length in [2, 4, 10] {
            let inside: Vec<bool> = (0..2 * length).map(|k| k < length).collect();
            let factor = chain_factor(&inside, length, 0.5);
            assert!((factor - (length as f64 - 1.0)).abs() < 1e-12, "{length}: {factor}");
        }
        assert!((chain_factor(&[true, false, false, true], 2, 0.5) + 1.0).abs() < 1e-12);
        assert_eq!(chain_factor(&[true, false], 1, 0.5), 0.0);
    }
}
