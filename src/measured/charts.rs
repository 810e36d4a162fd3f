//! Control charts of a series of parts.
//!
//! Individuals and moving range with d2 = 1.128 of two neighbours, exponentially weighted means: NIST/SEMATECH
//! e-Handbook of Statistical Methods, 6.3.2.2 and 6.3.2.4. Rules of runs: Western Electric, Statistical Quality Control
//! Handbook (1956), rules 1 to 4 (from memory).

use serde::Serialize;

/// Mean range of two values of a normal distribution over its standard deviation.
pub const D2: f64 = 1.128;
/// Upper limit of the moving range over its mean (D4 of two values).
pub const D4: f64 = 3.267;

/// Individuals and moving range.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Individuals {
    /// Values.
    pub count: usize,
    /// Mean.
    pub mean: f64,
    /// Mean moving range.
    pub range: f64,
    /// Standard deviation from that.
    pub sigma: f64,
    /// Relative standard error of that: 0.87 / √n (from memory; of the mean moving range of normal values).
    pub sigma_error: f64,
    /// Lower and upper limit of the values.
    pub limits: (f64, f64),
    /// Upper limit of the moving range.
    pub range_limit: f64,
}

impl Individuals {
    /// Chart of a series; `None` of fewer than two values.
    #[must_use]
    pub fn of(values: &[f64]) -> Option<Individuals> {
        if values.len() < 2 {
            return None;
        }
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let ranges = values.windows(2).map(|w| (w[1] - w[0]).abs());
        let range = ranges.sum::<f64>() / (values.len() - 1) as f64;
        let sigma = range / D2;
        Some(Individuals {
            count: values.len(),
            mean,
            range,
            sigma,
            sigma_error: 0.87 / (values.len() as f64).sqrt(),
            limits: (mean - 3.0 * sigma, mean + 3.0 * sigma),
            range_limit: D4 * range,
        })
    }
}

/// A rule that a series breaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// One value beyond three standard deviations.
    Beyond,
    /// Two of three beyond two standard deviations on one side.
    TwoOfThree,
    /// Four of five beyond one standard deviation on one side.
    FourOfFive,
    /// Eight in a row on one side.
    Eight,
    /// A moving range beyond its limit.
    Range,
}

impl Rule {
    /// All rules.
    pub const ALL: [Rule; 5] = [
        Rule::Beyond,
        Rule::TwoOfThree,
        Rule::FourOfFive,
        Rule::Eight,
        Rule::Range,
    ];
}

/// Where a series breaks a rule: index of the value that completes it, and the rule.
#[must_use]
pub fn signals(values: &[f64], chart: &Individuals) -> Vec<(usize, Rule)> {
    let z = |k: usize| {
        if chart.sigma > 0.0 {
            (values[k] - chart.mean) / chart.sigma
        } else {
            0.0
        }
    };
    let mut found = Vec::new();
    for k in 0..values.len() {
        let beyond = |length: usize, least: f64| {
            let from = (k + 1).saturating_sub(length);
            let count = |side: f64| (from..=k).filter(|i| side * z(*i) > least).count();
            let here = |side: f64| side * z(k) > least;
            [1.0, -1.0]
                .into_iter()
                .filter(|side| here(*side))
                .map(count)
                .max()
                .unwrap_or(0)
        };
        if z(k).abs() > 3.0 {
            found.push((k, Rule::Beyond));
        }
        if k >= 2 && beyond(3, 2.0) >= 2 {
            found.push((k, Rule::TwoOfThree));
        }
        if k >= 4 && beyond(5, 1.0) >= 4 {
            found.push((k, Rule::FourOfFive));
        }
        if k >= 7 && beyond(8, 0.0) >= 8 {
            found.push((k, Rule::Eight));
        }
        if k >= 1 && (values[k] - values[k - 1]).abs() > chart.range_limit {
            found.push((k, Rule::Range));
        }
    }
    found
}

/// Exponentially weighted means with their limits.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ewma {
    /// Weight of the newest value.
    pub lambda: f64,
    /// Means, one a value.
    pub means: Vec<f64>,
    /// Lower and upper limit after many values.
    pub limits: (f64, f64),
}

impl Ewma {
    /// Means of a series that starts at `target`, of values with standard deviation `sigma`.
    #[must_use]
    pub fn of(values: &[f64], target: f64, sigma: f64, lambda: f64) -> Ewma {
        let mut last = target;
        let means = values
            .iter()
            .map(|value| {
                last += lambda * (value - last);
                last
            })
            .collect();
        let half = 3.0 * sigma * (lambda / (2.0 - lambda)).sqrt();
        Ewma {
            lambda,
            means,
            limits: (target - half, target + half),
        }
    }

    /// The first value whose mean lies outside the limits.
    #[must_use]
    pub fn first_outside(&self) -> Option<usize> {
        self.means.iter().position(|m| *m < self.limits.0 || *m > self.limits.1)
    }
}
