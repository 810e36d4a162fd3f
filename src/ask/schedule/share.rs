//! Sharing a total time over moves.

use serde::{Deserialize, Serialize};

use crate::ask::PlanError;
use crate::ask::error::{finite, positive};

/// How a total is shared. No move gets less than its kinematic minimum under any rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ShareRule {
    /// The same seconds for every move.
    Equal,
    /// In proportion to the kinematic minimum of each move.
    Minimum,
    /// So that the total cost is least when the cost of a move is its weight times the square of
    /// (minimum / time): the acceleration needed grows with that square.
    Cost,
}

/// Shares `total_s` over moves with kinematic minima `minimum_s` and cost weights `weights` (only
/// used by [`ShareRule::Cost`]). The shares sum to the total.
///
/// # Errors
/// No moves, minima or weights that are not above zero, or a total below the sum of the minima
/// (by how much).
pub fn share_total(total_s: f64, minimum_s: &[f64], weights: &[f64], rule: ShareRule) -> Result<Vec<f64>, PlanError> {
    finite("total in s", total_s)?;
    if minimum_s.is_empty() {
        return Err(PlanError::count("moves", 0, "1 or more"));
    }
    if rule == ShareRule::Cost && weights.len() != minimum_s.len() {
        return Err(PlanError::count(
            "cost weights",
            weights.len(),
            minimum_s.len().to_string(),
        ));
    }
    for &m in minimum_s {
        positive("kinematic minimum in s", m)?;
    }
    let least: f64 = minimum_s.iter().sum();
    if total_s < least * (1.0 - 1e-12) {
        return Err(PlanError::range(
            "total time to share in s",
            total_s,
            format!("at least {least:.3}, the sum of the kinematic minima"),
        ));
    }
    // Before the floor is applied, move i gets a part of the total in proportion to its weight.
    // For the cost rule the minimum of sum w_i (m_i/t_i)^2 at fixed sum t_i has t_i proportional to
    // (w_i m_i^2)^(1/3) (Lagrange).
    let mut parts = Vec::with_capacity(minimum_s.len());
    for (i, &m) in minimum_s.iter().enumerate() {
        parts.push(match rule {
            ShareRule::Equal => 1.0,
            ShareRule::Minimum => m,
            ShareRule::Cost => (positive("cost weight", weights[i])? * m * m).cbrt(),
        });
    }
    // Moves that would fall below their minimum are held there and the rest is shared again; each
    // round fixes at least one, so it ends.
    let mut fixed = vec![false; parts.len()];
    loop {
        let free: f64 = (0..parts.len()).filter(|&i| !fixed[i]).map(|i| parts[i]).sum();
        let taken: f64 = (0..parts.len()).filter(|&i| fixed[i]).map(|i| minimum_s[i]).sum();
        let scale = if free > 0.0 { (total_s - taken) / free } else { 0.0 };
        let short: Vec<usize> = (0..parts.len())
            .filter(|&i| !fixed[i] && parts[i] * scale < minimum_s[i])
            .collect();
        if short.is_empty() {
            return Ok((0..parts.len())
                .map(|i| if fixed[i] { minimum_s[i] } else { parts[i] * scale })
                .collect());
        }
        for i in short {
            fixed[i] = true;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn rules_by_hand() {
        let minimum = [1.0, 2.0, 3.0];
        let equal = share_total(9.0, &minimum, &[], ShareRule::Equal).unwrap();
        assert_eq!(equal, [3.0, 3.0, 3.0]);
        let floor = share_total(7.0, &minimum, &[], ShareRule::Equal).unwrap();
        assert_eq!(floor, [2.0, 2.0, 3.0]);
        let ratio = share_total(9.0, &minimum, &[], ShareRule::Minimum).unwrap();
        assert_relative_eq!(ratio[2], 4.5);
        // Costs 1, 8, 1 with equal minima: parts 1 : 2 : 1.
        let cost = share_total(8.0, &[1.0; 3], &[1.0, 8.0, 1.0], ShareRule::Cost).unwrap();
        assert_relative_eq!(cost[1], 4.0, max_relative = 1e-12);
    }

    #[test]
    fn cost_rule_is_the_cheapest() {
        let (minimum, weights) = ([0.8, 1.3, 2.1], [3.0, 1.0, 5.0]);
        let cost = |t: &[f64]| -> f64 { (0..3).map(|i| weights[i] * (minimum[i] / t[i]).powi(2)).sum() };
        let best = share_total(6.0, &minimum, &weights, ShareRule::Cost).unwrap();
        for (i, j) in [(0, 1), (1, 2), (2, 0)] {
            let mut other = best.clone();
            other[i] += 0.05;
            other[j] -= 0.05;
            assert!(cost(&other) > cost(&best));
        }
    }

    #[test]
    fn impossible_totals_are_refused() {
        assert!(share_total(5.9, &[1.0, 2.0, 3.0], &[], ShareRule::Equal).is_err());
        assert!(share_total(5.9, &[], &[], ShareRule::Equal).is_err());
        assert!(share_total(5.9, &[1.0], &[], ShareRule::Cost).is_err());
        assert!(share_total(f64::NAN, &[1.0], &[], ShareRule::Equal).is_err());
    }
}
