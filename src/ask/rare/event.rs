//! A rare event, and why there is no figure for it.

use serde::Serialize;

use crate::ask::PlanError;
use crate::numeric::special::normal_quantile;

/// Probability of a rare event with its stated error.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RareEvent {
    /// Estimate.
    pub probability: f64,
    /// Standard error of the estimate over the estimate.
    pub relative_error: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
    /// Confidence of the interval.
    pub confidence: f64,
    /// Evaluations of the margin.
    pub evaluations: u64,
    /// Most likely point of the event in standard normal coordinates (importance sampling), or the
    /// point of the event nearest to the origin among the samples (subset simulation).
    pub likely_point: Vec<f64>,
}

impl RareEvent {
    /// Interval from a lognormal error, which cannot go below zero.
    pub(super) fn new(
        probability: f64,
        relative_error: f64,
        confidence: f64,
        evaluations: u64,
        likely_point: Vec<f64>,
    ) -> Self {
        let z = normal_quantile(0.5 + 0.5 * confidence);
        let factor = (z * relative_error.powi(2).ln_1p().sqrt()).exp();
        Self {
            probability,
            relative_error,
            low: probability / factor,
            high: (probability * factor).min(1.0),
            confidence,
            evaluations,
            likely_point,
        }
    }
}

/// Why a rare-event study gave no figure. `E` is the error of the margin.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RareError<E> {
    /// The options or the dimensions do not fit.
    #[error(transparent)]
    Input(#[from] PlanError),
    /// The margin gave something that is not a number.
    #[error("the margin is not a number at sample {index}")]
    NotANumber {
        /// Index of the sample.
        index: u64,
    },
    /// No step of the search found the border of the event.
    #[error(
        "no point of the event was found within {distance:.1} standard deviations; its probability is below {bound:.1e}"
    )]
    NotFound {
        /// How far was searched.
        distance: f64,
        /// Bound on the probability that follows.
        bound: f64,
    },
    /// The margin itself failed.
    #[error(transparent)]
    Margin(E),
}

pub(super) fn confidence_is_valid(confidence: f64) -> Result<(), PlanError> {
    if confidence > 0.0 && confidence < 1.0 {
        Ok(())
    } else {
        Err(PlanError::range("confidence", confidence, "above 0 and below 1"))
    }
}
