//! Stated uncertainties of inputs and what they make of each limit.

use serde::Serialize;

use super::distribution::Distribution;
use super::failure::Failure;
use super::model::Outcome;
use super::sensitivity::{Models, Sensitivity, sensitivities};
use super::statistics::{Contribution, StackUp, stack_up};

/// An input that scatters.
#[derive(Debug, Clone, PartialEq)]
pub struct Scattered {
    /// Path of the input.
    pub path: String,
    /// Nominal value.
    pub nominal: f64,
    /// Its distribution.
    pub distribution: Distribution,
}

/// Probability of what counts as the worst of an unbounded distribution: that of three standard
/// deviations of a normal, to either side.
const WORST: f64 = 0.998_650_101_968_37;

impl Scattered {
    /// Value that goes farthest up (or down) within three standard deviations of a normal.
    #[must_use]
    pub fn worst(&self, up: bool) -> f64 {
        self.distribution.quantile(if up { WORST } else { 1.0 - WORST })
    }

    /// Whether the input is the length of a stage.
    #[must_use]
    pub fn is_time(&self) -> bool {
        self.path.ends_with(".seconds")
    }
}

/// Scatter of every limited value by linear stack-up of the stated uncertainties.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Uncertainty {
    /// Slopes of the margins, one per scattered input.
    pub slopes: Vec<Sensitivity>,
    /// Standard deviation of each scattered input.
    pub sds: Vec<f64>,
    /// Stack-up of each limit.
    pub limits: Vec<StackUp>,
    /// Correlations between the inputs (i, j, r).
    pub correlations: Vec<(usize, usize, f64)>,
}

/// Linear stack-up of the scattered inputs at every limit of the nominal run.
///
/// # Errors
/// As [`sensitivities`].
pub fn uncertainty(
    models: Models<'_>,
    scattered: &[Scattered],
    correlations: &[(usize, usize, f64)],
    nominal: &Outcome,
) -> Result<Uncertainty, Failure> {
    let paths: Vec<String> = scattered.iter().map(|s| s.path.clone()).collect();
    let slopes = sensitivities(models, &paths, nominal)?;
    let limits = (0..nominal.verdicts.len())
        .map(|limit| {
            let contributions: Vec<Contribution> = scattered
                .iter()
                .zip(&slopes)
                .map(|(entry, slope)| {
                    let slope = slope.margin_per_unit[limit];
                    // The side that lowers the margin.
                    let worst = entry.worst(slope < 0.0);
                    Contribution {
                        input: entry.path.clone(),
                        slope,
                        sd: entry.distribution.standard_deviation(),
                        worst: (worst - entry.nominal).abs(),
                    }
                })
                .collect();
            stack_up(&contributions, correlations)
        })
        .collect::<Result<_, _>>()?;
    let sds = scattered.iter().map(|s| s.distribution.standard_deviation()).collect();
    Ok(Uncertainty {
        slopes,
        sds,
        limits,
        correlations: correlations.to_vec(),
    })
}
