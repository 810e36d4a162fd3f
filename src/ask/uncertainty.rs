//! Stated uncertainties of inputs and what they make of each limit.

use serde::Serialize;

use super::distribution::Distribution;
use super::error::PlanError;
use super::failure::Failure;
use super::model::{Model, Outcome};
use super::random::Copula;
use super::sensitivity::{Sensitivity, sensitivities};
use super::statistics::{Contribution, StackUp, stack_up};
use crate::numeric::special::normal_quantile;

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
    /// Value that goes farthest up (or down) within [`WORST`].
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

impl Uncertainty {
    /// Guard band in K of each limit for a risk of `risk` that a part right at the guarded limit is
    /// bad, leaving out the scatter of the inputs `measured`: what the controller measures on each
    /// part is known and does not scatter. `meter` adds the uncertainty of such a measurement: its
    /// slopes and its standard deviation.
    ///
    /// # Errors
    /// Correlations that contradict each other.
    pub fn guard_k(
        &self,
        risk: f64,
        measured: &[&str],
        meter: Option<(&Sensitivity, f64)>,
    ) -> Result<Vec<f64>, PlanError> {
        let z = -normal_quantile(risk);
        // Measured inputs first: what they say of the others is known too.
        let is_known = |i: &usize| measured.contains(&self.slopes[*i].path.as_str());
        let (mut order, rest): (Vec<usize>, Vec<usize>) = (0..self.slopes.len()).partition(is_known);
        let known = order.len();
        order.extend(rest);
        let place = |input: usize| order.iter().position(|i| *i == input).unwrap_or(input);
        let pairs: Vec<_> = self
            .correlations
            .iter()
            .map(|&(i, j, r)| (place(i), place(j), r))
            .collect();
        let copula = Copula::new(order.len(), &pairs)?;
        let guard = |limit: usize| {
            let parts: Vec<f64> = order
                .iter()
                .map(|&i| self.slopes[i].margin_per_unit[limit] * self.sds[i])
                .collect();
            let meter = meter.map_or(0.0, |(slope, sd)| (slope.margin_per_unit[limit] * sd).powi(2));
            z * (copula.variance_given(&parts, known) + meter).sqrt()
        };
        Ok((0..self.limits.len()).map(guard).collect())
    }
}

/// Linear stack-up of the scattered inputs at every limit of the nominal run.
///
/// # Errors
/// As [`sensitivities`].
pub fn uncertainty(
    model: &dyn Model,
    scattered: &[Scattered],
    correlations: &[(usize, usize, f64)],
    nominal: &Outcome,
) -> Result<Uncertainty, Failure> {
    let paths: Vec<String> = scattered.iter().map(|s| s.path.clone()).collect();
    let slopes = sensitivities(model, &paths, nominal)?;
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
