//! Importance sampling around the most likely point of the event.

use rayon::prelude::*;

use super::event::{RareError, RareEvent, confidence_is_valid};
use crate::ask::PlanError;
use crate::ask::random::{Sampler, Scheme};
use crate::numeric::special::{normal_cdf, normal_quantile};

/// Options of [`importance`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ImportanceOptions {
    /// Seed of the samples.
    pub seed: u64,
    /// Samples around the most likely point (default 2000).
    pub samples: u64,
    /// Step of the difference quotients, in standard deviations (default 0.05: wide enough not to
    /// feel the rounding of a computed margin).
    pub step: f64,
    /// Confidence of the interval (default 0.95).
    pub confidence: f64,
}

impl Default for ImportanceOptions {
    fn default() -> Self {
        Self {
            seed: 1,
            samples: 2000,
            step: 0.05,
            confidence: 0.95,
        }
    }
}

/// Probability that `margin` is below zero for independent standard normal inputs.
///
/// The most likely point is found by the iteration of A. M. Hasofer and N. C. Lind, J. Eng. Mech.
/// 100 (1974), 111-121, and R. Rackwitz and B. Fiessler, Computers and Structures 9 (1978),
/// 489-494; samples around it are weighed by the ratio of the densities (R. E. Melchers,
/// "Importance sampling in structural systems", Structural Safety 6 (1989), 3-10). The stated error
/// is that of the weighed mean. It holds for the region around that point; another region further
/// out than the samples reach is not seen, for that use [`super::subset`].
///
/// # Errors
/// [`RareError`]: a failing margin, wrong options, or an event that is not found within 8.5
/// standard deviations.
#[allow(clippy::cast_precision_loss)]
pub fn importance<E: Send>(
    margin: impl Fn(&[f64]) -> Result<f64, E> + Sync,
    dimensions: usize,
    options: &ImportanceOptions,
) -> Result<RareEvent, RareError<E>> {
    confidence_is_valid(options.confidence)?;
    if options.samples < 2 {
        return Err(PlanError::count("samples", 1, "2 or more").into());
    }
    if !(options.step > 0.0 && options.step < 1.0) {
        return Err(PlanError::range("step", options.step, "above 0 and below 1").into());
    }
    let (centre, searched) = likely_point(&margin, dimensions, options.step)?;
    // The sampler has to be independent: the stated error is that of independent samples.
    let sampler = Sampler::new(Scheme::Independent, options.seed, options.samples, dimensions)?;
    let square: f64 = centre.iter().map(|x| x * x).sum();
    let weights: Vec<f64> = (0..options.samples)
        .into_par_iter()
        .map(|index| {
            let mut u = sampler.point(index);
            for (x, c) in u.iter_mut().zip(&centre) {
                *x = c + normal_quantile(*x);
            }
            let g = margin(&u).map_err(RareError::Margin)?;
            if g.is_nan() {
                return Err(RareError::NotANumber { index });
            }
            let product: f64 = u.iter().zip(&centre).map(|(x, c)| x * c).sum();
            Ok(if g < 0.0 { (0.5 * square - product).exp() } else { 0.0 })
        })
        .collect::<Result<_, _>>()?;
    let n = options.samples as f64;
    let mean = weights.iter().sum::<f64>() / n;
    if mean == 0.0 {
        return Err(not_found(square.sqrt()));
    }
    let variance = weights.iter().map(|w| (w - mean).powi(2)).sum::<f64>() / (n * (n - 1.0));
    Ok(RareEvent::new(
        mean,
        variance.sqrt() / mean,
        options.confidence,
        searched + options.samples,
        centre,
    ))
}

fn not_found<E>(distance: f64) -> RareError<E> {
    RareError::NotFound {
        distance,
        bound: normal_cdf(-distance),
    }
}

const FARTHEST: f64 = 8.5;

/// Point of the event's border nearest to the origin, and the evaluations it took.
fn likely_point<E: Send>(
    margin: &(impl Fn(&[f64]) -> Result<f64, E> + Sync),
    dimensions: usize,
    step: f64,
) -> Result<(Vec<f64>, u64), RareError<E>> {
    let mut u = vec![0.0; dimensions];
    let mut evaluations = 0;
    let norm = |v: &[f64]| v.iter().map(|x| x * x).sum::<f64>().sqrt();
    for _ in 0..30 {
        let differences: Vec<f64> = (0..2 * dimensions)
            .into_par_iter()
            .map(|k| {
                let mut v = u.clone();
                v[k / 2] += if k % 2 == 0 { step } else { -step };
                margin(&v).map_err(RareError::Margin)
            })
            .collect::<Result<_, _>>()?;
        let here = margin(&u).map_err(RareError::Margin)?;
        evaluations += 2 * dimensions as u64 + 1;
        if here.is_nan() || differences.iter().any(|d| d.is_nan()) {
            return Err(RareError::NotANumber { index: 0 });
        }
        let gradient: Vec<f64> = differences
            .chunks(2)
            .map(|pair| (pair[0] - pair[1]) / (2.0 * step))
            .collect();
        let length = norm(&gradient);
        if length == 0.0 {
            return Err(not_found(norm(&u)));
        }
        // Nearest point of the tangent plane's border to the origin.
        let along: f64 = gradient.iter().zip(&u).map(|(g, x)| g * x).sum();
        let target: Vec<f64> = gradient
            .iter()
            .map(|g| g * (along - here) / (length * length))
            .collect();
        let reach = norm(&target);
        // A far jump is a sign of strong curvature; go part of the way and look again.
        let shrink = if reach > FARTHEST { FARTHEST / reach } else { 1.0 };
        let next: Vec<f64> = target.iter().map(|x| x * shrink).collect();
        let moved = norm(&next.iter().zip(&u).map(|(a, b)| a - b).collect::<Vec<_>>());
        u = next;
        if moved < 0.02 {
            if shrink < 1.0 {
                return Err(not_found(FARTHEST));
            }
            return Ok((u, evaluations));
        }
    }
    // Not settled: any point near the border is still a valid centre, only less efficient, and the
    // stated error shows it.
    Ok((u, evaluations))
}
