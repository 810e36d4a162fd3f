//! Reproducible random numbers: sample i depends only on (seed, i) and, for the stratified
//! schemes, on the number of samples.
//!
//! Nothing is drawn in sequence, so samples may be computed in any order, on any thread, or on
//! different machines, and a study may be resumed or split without changing a digit.

mod copula;
mod hash;
mod joe_kuo;
mod latin;
mod sobol;

use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng;
use serde::{Deserialize, Serialize};

use self::sobol::MOST_DIMENSIONS;
pub use copula::Copula;

use self::hash::{mix, open_unit};
use super::PlanError;

/// How points in the unit cube are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scheme {
    /// Independent points.
    Independent,
    /// Latin hypercube: each input has exactly one sample in each of n equal slices. M. D. McKay,
    /// R. J. Beckman and W. J. Conover, Technometrics 21 (1979), 239-245.
    LatinHypercube,
    /// Sobol sequence with nested uniform scrambling. A. B. Owen, "Scrambling Sobol' and
    /// Niederreiter-Xing points", J. Complexity 14 (1998), 466-489.
    QuasiRandom,
}

/// Points in the open unit cube, addressed by index.
#[derive(Debug, Clone, PartialEq)]
pub struct Sampler {
    scheme: Scheme,
    seed: u64,
    samples: u64,
    dimensions: usize,
}

impl Sampler {
    /// A sampler of `samples` points with `dimensions` coordinates each.
    ///
    /// # Errors
    /// No samples, no dimensions, more than 2^32 samples, or more dimensions than the
    /// quasi-random table has.
    pub fn new(scheme: Scheme, seed: u64, samples: u64, dimensions: usize) -> Result<Self, PlanError> {
        if samples == 0 || samples > 1 << 32 {
            return Err(PlanError::count(
                "samples",
                usize::try_from(samples).unwrap_or(usize::MAX),
                "1 to 4294967296",
            ));
        }
        if dimensions == 0 {
            return Err(PlanError::count("varied inputs", 0, "1 or more"));
        }
        if scheme == Scheme::QuasiRandom && dimensions > MOST_DIMENSIONS {
            return Err(PlanError::TooManyDimensions {
                found: dimensions,
                most: MOST_DIMENSIONS,
            });
        }
        Ok(Self {
            scheme,
            seed,
            samples,
            dimensions,
        })
    }

    /// Number of coordinates.
    #[must_use]
    pub fn dimensions(&self) -> usize {
        self.dimensions
    }

    /// Number of samples.
    #[must_use]
    pub fn samples(&self) -> u64 {
        self.samples
    }

    /// Writes the coordinates of sample `index` into `point`, each strictly between 0 and 1.
    /// An index beyond the number of samples starts again from the first.
    pub fn fill(&self, index: u64, point: &mut [f64]) {
        let index = index % self.samples;
        match self.scheme {
            Scheme::Independent => {
                let mut stream = Stream::new(self.seed, index);
                for u in point.iter_mut() {
                    *u = stream.uniform();
                }
            }
            Scheme::LatinHypercube => {
                for (j, u) in point.iter_mut().enumerate() {
                    *u = latin::coordinate(self.seed, index, self.samples, j);
                }
            }
            Scheme::QuasiRandom => {
                for (j, u) in point.iter_mut().enumerate() {
                    *u = sobol::scrambled(self.seed, index, j);
                }
            }
        }
    }

    /// Coordinates of sample `index`.
    #[must_use]
    pub fn point(&self, index: u64) -> Vec<f64> {
        let mut point = vec![0.5; self.dimensions];
        self.fill(index, &mut point);
        point
    }
}

/// An endless stream of random numbers that belongs to one (seed, index).
///
/// M. E. O'Neill's PCG XSL RR 128/64 generator; the index selects one of its 2^127 sequences.
#[derive(Debug, Clone)]
pub struct Stream(Pcg64);

impl Stream {
    /// The stream of sample `index` under `seed`.
    #[must_use]
    pub fn new(seed: u64, index: u64) -> Self {
        // The generator wants well mixed starting states; neighbouring seeds are not.
        let high = mix(seed ^ 0x9e37_79b9_7f4a_7c15);
        let low = mix(high ^ mix(index));
        let state = (u128::from(high) << 64) | u128::from(low);
        Self(Pcg64::new(state, u128::from(index)))
    }

    /// Next number, uniform and strictly between 0 and 1 (52 bits).
    pub fn uniform(&mut self) -> f64 {
        open_unit(self.0.next_u64())
    }

    /// Next number of the standard normal distribution, by inversion.
    pub fn normal(&mut self) -> f64 {
        crate::numeric::special::normal_quantile(self.uniform())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sample_does_not_depend_on_the_order_of_asking() {
        for scheme in [Scheme::Independent, Scheme::LatinHypercube, Scheme::QuasiRandom] {
            let sampler = Sampler::new(scheme, 7, 100, 5).unwrap();
            let forward: Vec<_> = (0..100).map(|i| sampler.point(i)).collect();
            let backward: Vec<_> = (0..100).rev().map(|i| sampler.point(i)).collect();
            assert!(forward.iter().eq(backward.iter().rev()));
            assert_ne!(sampler.point(3), sampler.point(4));
            let other = Sampler::new(scheme, 8, 100, 5).unwrap();
            assert_ne!(sampler.point(3), other.point(3));
            assert!(forward.iter().flatten().all(|u| *u > 0.0 && *u < 1.0));
        }
    }

    #[test]
    fn impossible_samplers_are_refused() {
        assert!(Sampler::new(Scheme::Independent, 1, 0, 1).is_err());
        assert!(Sampler::new(Scheme::Independent, 1, 5, 0).is_err());
        assert!(matches!(
            Sampler::new(Scheme::QuasiRandom, 1, 5, 101),
            Err(PlanError::TooManyDimensions { found: 101, .. })
        ));
    }

    #[test]
    fn streams_of_neighbours_are_unrelated() {
        // Correlation of 2000 pairs of neighbouring streams: within 4 standard errors of 0.
        let n = 2000_u32;
        let sum: f64 = (0..u64::from(n))
            .map(|i| Stream::new(1, i).normal() * Stream::new(1, i + 1).normal())
            .sum();
        assert!((sum / f64::from(n)).abs() < 4.0 / f64::from(n).sqrt());
    }
}
