//! Which input causes how much of the variance.

use serde::Serialize;

use crate::ask::PlanError;
use crate::ask::error::finite;

/// Share of one input in the variance of an output.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// First-order share: what fixing this input alone would take away on average.
    pub first: f64,
    /// Standard error of the first-order share.
    pub first_error: f64,
    /// Total share: what would remain if everything but this input were fixed.
    pub total: f64,
    /// Standard error of the total share.
    pub total_error: f64,
}

/// Variance shares from outputs at two independent sample sets A and B and, for each input i, at A
/// with the column of input i taken from B.
///
/// First order: A. Saltelli et al., "Variance based sensitivity analysis of model output",
/// Computer Physics Communications 181 (2010), 259-270, table 2 (b). Total: M. J. W. Jansen,
/// "Analysis of variance designs for model output", Computer Physics Communications 117 (1999),
/// 35-43. The outputs are centred first, which lowers the error of the first-order estimate. The
/// standard errors are those of independent samples: on the safe side for stratified ones.
///
/// # Errors
/// Lists of different length, fewer than two runs, values that are not finite. Without any variance
/// all shares are zero.
#[allow(clippy::cast_precision_loss)]
pub fn shares(a: &[f64], b: &[f64], mixed: &[Vec<f64>]) -> Result<Vec<Share>, PlanError> {
    let n = a.len();
    if n < 2 {
        return Err(PlanError::count("runs for variance shares", n, "2 or more"));
    }
    for list in std::iter::once(b).chain(mixed.iter().map(Vec::as_slice)) {
        if list.len() != n {
            return Err(PlanError::count("runs of a mixed set", list.len(), n.to_string()));
        }
    }
    for &value in a.iter().chain(b).chain(mixed.iter().flatten()) {
        finite("output", value)?;
    }
    let count = n as f64;
    let mean = (a.iter().sum::<f64>() + b.iter().sum::<f64>()) / (2.0 * count);
    let variance = a.iter().chain(b).map(|y| (y - mean).powi(2)).sum::<f64>() / (2.0 * count - 1.0);
    // Rounding alone gives a variance of about (1e-16 mean)^2; nothing above it means no scatter.
    if variance <= (1e-14 * mean).powi(2) {
        return Ok(vec![
            Share {
                first: 0.0,
                first_error: 0.0,
                total: 0.0,
                total_error: 0.0
            };
            mixed.len()
        ]);
    }
    Ok(mixed
        .iter()
        .map(|m| {
            let (first, first_error) = mean_and_error((0..n).map(|k| (b[k] - mean) * (m[k] - a[k]) / variance), count);
            let (total, total_error) = mean_and_error((0..n).map(|k| 0.5 * (a[k] - m[k]).powi(2) / variance), count);
            Share {
                first,
                first_error,
                total,
                total_error,
            }
        })
        .collect())
}

fn mean_and_error(terms: impl Iterator<Item = f64> + Clone, count: f64) -> (f64, f64) {
    let mean = terms.clone().sum::<f64>() / count;
    let square = terms.map(|t| (t - mean).powi(2)).sum::<f64>();
    (mean, (square / (count * (count - 1.0))).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_variance_gives_no_shares() {
        let flat = vec![3.0; 10];
        let found = shares(&flat, &flat, std::slice::from_ref(&flat)).unwrap();
        assert_eq!(found[0].total, 0.0);
        assert!(shares(&flat, &flat[..9], &[]).is_err());
        assert!(shares(&[1.0], &[1.0], &[]).is_err());
        assert!(shares(&[1.0, f64::NAN], &[1.0, 2.0], &[]).is_err());
    }
}
