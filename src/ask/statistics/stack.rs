//! Stack-up of tolerances: worst case and root of the sum of squares.

use serde::Serialize;

use crate::ask::PlanError;
use crate::ask::error::{finite, not_negative};

/// What one input adds to the scatter of an output.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Contribution {
    /// Name of the input.
    pub input: String,
    /// Change of the output per unit of the input.
    pub slope: f64,
    /// Standard deviation of the input.
    pub sd: f64,
    /// Farthest the input goes from its nominal value to the side that lowers the output.
    pub worst: f64,
}

/// Sum of all contributions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StackUp {
    /// One standard deviation of the output: root of the sum of (slope x sd)^2.
    pub sd: f64,
    /// Everything at its worst together: sum of |slope| x worst.
    pub worst: f64,
    /// Share of each input in the variance, in the order given; they sum to 1. With correlations it is
    /// the covariance of the input's part with the whole (Li, Rabitz et al., J. Phys. Chem. A 114
    /// (2010) 6022), negative where an input offsets another.
    pub shares: Vec<f64>,
}

/// Linear stack-up with the correlations given as (i, j, r): JCGM 100:2008 equation (13), which is
/// the root of the sum of squares, equation (10), when there are none. `worst` is the same with and
/// without.
///
/// # Errors
/// A slope or spread that is not finite, or a negative spread.
pub fn stack_up(contributions: &[Contribution], correlations: &[(usize, usize, f64)]) -> Result<StackUp, PlanError> {
    let mut worst = 0.0;
    for c in contributions {
        finite("slope", c.slope)?;
        not_negative("standard deviation", c.sd)?;
        not_negative("worst deviation", c.worst)?;
        worst += c.slope.abs() * c.worst;
    }
    let parts: Vec<f64> = contributions.iter().map(|c| c.slope * c.sd).collect();
    // Covariance of each part with the whole.
    let mut with_whole: Vec<f64> = parts.iter().map(|p| p * p).collect();
    for &(i, j, r) in correlations {
        if let (Some(a), Some(b)) = (parts.get(i), parts.get(j)) {
            with_whole[i] += r * a * b;
            with_whole[j] += r * a * b;
        }
    }
    let variance = with_whole.iter().sum::<f64>().max(0.0);
    let shares = with_whole
        .iter()
        .map(|v| if variance > 0.0 { v / variance } else { 0.0 })
        .collect();
    Ok(StackUp {
        sd: variance.sqrt(),
        worst,
        shares,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn three_four_five() {
        let c = |slope: f64, sd: f64| Contribution {
            input: String::new(),
            slope,
            sd,
            worst: 3.0 * sd,
        };
        let s = stack_up(&[c(-3.0, 1.0), c(1.0, 4.0)], &[]).unwrap();
        assert_relative_eq!(s.sd, 5.0);
        assert_relative_eq!(s.worst, 21.0);
        assert_relative_eq!(s.shares[0], 0.36);
        assert!(stack_up(&[c(f64::NAN, 1.0)], &[]).is_err());
        assert!(stack_up(&[c(1.0, -1.0)], &[]).is_err());
        assert_eq!(stack_up(&[], &[]).unwrap().sd, 0.0);
        // 9 + 16 - 2 x 0.5 x 12 = 13, of which 9 - 6 and 16 - 6.
        let s = stack_up(&[c(-3.0, 1.0), c(1.0, 4.0)], &[(0, 1, 0.5)]).unwrap();
        assert_relative_eq!(s.sd, 13f64.sqrt());
        assert_relative_eq!(s.shares[0], 3.0 / 13.0);
        assert_relative_eq!(s.shares[1], 10.0 / 13.0);
    }
}
