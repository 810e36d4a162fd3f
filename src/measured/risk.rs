//! Risks of accepting and rejecting by a measured value (JCGM 106:2012, clauses 7 to 9).

use serde::Serialize;

use crate::numeric::special::normal_cdf;

/// What a decision risks, as shares of all parts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Risk {
    /// Bad and accepted (the consumer's risk).
    pub false_accept: f64,
    /// Good and rejected (the producer's risk).
    pub false_reject: f64,
    /// Bad at all.
    pub bad: f64,
    /// Rejected at all.
    pub rejected: f64,
}

/// Intervals of the integration on each side of a limit.
const PANELS: usize = 2000;

/// Risks where the true value has the density `prior` over `range`, good parts lie between `limits`, and a part is accepted
/// while its reading, normal about the truth with standard deviation `u`, lies between `accept`. By Simpson's rule between
/// the limits, where the integrand has its steps.
#[must_use]
pub fn risks(prior: &dyn Fn(f64) -> f64, range: (f64, f64), limits: (f64, f64), accept: (f64, f64), u: f64) -> Risk {
    let accepted = |y: f64| normal_cdf((accept.1 - y) / u) - normal_cdf((accept.0 - y) / u);
    let inside = |x: f64| x.max(range.0).min(range.1);
    let cuts = [range.0, inside(limits.0), inside(limits.1), range.1];
    let mut sums = [(0.0, 0.0); 3];
    for (k, sum) in sums.iter_mut().enumerate() {
        let (from, to) = (cuts[k], cuts[k + 1]);
        let h = (to - from) / (2 * PANELS) as f64;
        if h <= 0.0 {
            continue;
        }
        for i in 0..=2 * PANELS {
            let weight = match i {
                0 => 1.0,
                i if i == 2 * PANELS => 1.0,
                i if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            let y = from + i as f64 * h;
            let mass = weight * h / 3.0 * prior(y);
            sum.0 += mass;
            sum.1 += mass * accepted(y);
        }
    }
    let [below, good, above] = sums;
    Risk {
        false_accept: below.1 + above.1,
        false_reject: good.0 - good.1,
        bad: below.0 + above.0,
        rejected: 1.0 - below.1 - good.1 - above.1,
    }
}
