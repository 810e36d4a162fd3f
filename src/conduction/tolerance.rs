//! Accuracy of a step, and how long the next one may be.

use thiserror::Error;

/// Accuracy of a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Largest error estimate of a step anywhere, K.
    pub step_k: f64,
    /// Largest step, s.
    pub longest_s: f64,
}

impl Tolerance {
    /// What the error of a step counts, from its length in terms of the time in which heat crosses the body where
    /// the error is made. In a step that is short against it the error spreads and fades; in a longer one all cells
    /// err alike, and it stays.
    pub(super) fn weight(&self, crossings: f64) -> f64 {
        if crossings > LASTING {
            self.step_k / (LASTING_SHARE * self.step_k).max(self.step_k.min(FINEST_K))
        } else {
            1.0
        }
    }

    /// A tolerance in K with no bound on the step.
    pub fn kelvin(step_k: f64) -> Tolerance {
        Tolerance {
            step_k,
            longest_s: f64::INFINITY,
        }
    }
}

/// Length of a step, in terms of the time in which heat crosses the body, above which its error stays.
const LASTING: f64 = 0.02;

/// Tolerance for the error of such a step as a share of the usual one. On billets that cool through their transformation
/// for 100 s to 24 h an estimate of 1 K leaves 0.3 K at the worst cell, one of 3 K leaves 0.8 K.
const LASTING_SHARE: f64 = 0.35;

/// The tolerance that is fine enough for it, K.
const FINEST_K: f64 = 0.05;

/// Why the solver stopped.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SolveError {
    /// The error estimate stays above the tolerance down to the smallest step.
    #[error(
        "at {time_s:.6} s the step fell to {step_s:.3e} s with an error estimate of {error_k:.3e} K (tolerance {tolerance_k} K)"
    )]
    StepTooSmall {
        /// Time in s.
        time_s: f64,
        /// Step in s.
        step_s: f64,
        /// Error estimate in K (NaN when the step gave no number).
        error_k: f64,
        /// Tolerance in K.
        tolerance_k: f64,
    },
    /// More steps than any sensible march takes.
    #[error("at {time_s:.6} s the march had taken {steps} steps and was still {left_s:.3e} s from its end")]
    TooManySteps {
        /// Time in s.
        time_s: f64,
        /// Steps taken, rejected ones included.
        steps: u64,
        /// Time left in s.
        left_s: f64,
    },
    /// The end time lies before the present.
    #[error("cannot advance from {time_s} s back to {until_s} s")]
    Backwards {
        /// Time in s.
        time_s: f64,
        /// Requested end in s.
        until_s: f64,
    },
}

/// Safety factor of the step size control (Hairer, Norsett and Wanner, Solving Ordinary
/// Differential Equations I, section II.4).
const SAFETY: f64 = 0.9;
/// Bounds of the step change.
const SHRINK: f64 = 0.15;
const GROW: f64 = 10.0;

/// Order of the error estimate in the length of a step.
pub(super) const ORDER: f64 = 3.0;
/// Least order that a refused step shows: the estimate of one that starts off balance does not fall with
/// its length before that is short against what brings it back.
const LEAST_ORDER: f64 = 0.3;

/// Order of the error estimate that a refused step and a shorter one show, from the ratio of their lengths
/// and of their estimates.
pub(super) fn order(lengths: f64, estimates: f64) -> f64 {
    let order = estimates.ln() / lengths.ln();
    if order.is_finite() {
        order.clamp(LEAST_ORDER, ORDER)
    } else {
        ORDER
    }
}

/// What the length of the next step is multiplied by, from the error estimate over the tolerance (not a
/// number: the step gave none) and the order of the estimate.
pub(super) fn step_factor(ratio: f64, order: f64) -> f64 {
    if ratio.is_finite() {
        (SAFETY * ratio.max(1e-12).powf(-1.0 / order)).clamp(SHRINK, GROW)
    } else {
        0.1
    }
}
