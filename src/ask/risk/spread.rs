//! What is uncertain, and how sure an answer has to be.

use serde::Serialize;

use crate::ask::uncertainty::Scattered;

/// Risks that guard bands keep.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Risks {
    /// Risk that a part right at the reject time is bad (default 0.05).
    pub reject: f64,
    /// Risk that a part right at the alarm time is bad (default 0.00135, three standard deviations).
    pub alarm: f64,
}

impl Default for Risks {
    fn default() -> Self {
        Self {
            reject: 0.05,
            alarm: 0.001_35,
        }
    }
}

/// What is uncertain, and how sure an answer has to be.
#[derive(Debug, Clone, Copy, Default)]
pub struct Spread<'a> {
    /// Inputs that scatter.
    pub scattered: &'a [Scattered],
    /// Correlations between them (i, j, r).
    pub correlations: &'a [(usize, usize, f64)],
    /// Standard uncertainty of the measured exit temperature, K, where it is measured on each part and
    /// does not scatter unseen.
    pub exit_sd_k: Option<f64>,
    /// Risks of the guard bands.
    pub risks: Risks,
}
