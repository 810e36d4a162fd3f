//! Questions about a temperature history itself, and integrals over it.

use super::error::{ConditionError, within};

/// Checks that a history can be used.
pub(super) fn check(history: &[(f64, f64)]) -> Result<(), ConditionError> {
    if history.is_empty() {
        return Err(ConditionError::EmptyHistory);
    }
    for (index, &(time_s, temp_c)) in history.iter().enumerate() {
        if !time_s.is_finite() || !temp_c.is_finite() || temp_c <= -273.15 {
            return Err(ConditionError::BadPoint { index, time_s, temp_c });
        }
    }
    for (i, w) in history.windows(2).enumerate() {
        if w[1].0 < w[0].0 {
            return Err(ConditionError::TimeGoesBack {
                index: i + 1,
                time_s: w[1].0,
                before_s: w[0].0,
            });
        }
    }
    Ok(())
}

/// ∫ rate(T(t)) dt over a checked history, from `low_c` upwards only. Simpson's rule on pieces
/// of at most 10 K, because rates grow by 5 to 15 % in 10 K.
pub(super) fn integrate(history: &[(f64, f64)], low_c: f64, rate: impl Fn(f64) -> f64) -> f64 {
    history
        .windows(2)
        .map(|w| {
            let (dt, a, b) = (w[1].0 - w[0].0, w[0].1, w[1].1);
            let (lower, upper) = (a.min(b), a.max(b));
            if dt == 0.0 || upper < low_c {
                return 0.0;
            }
            // Only the part of the segment above the limit; a segment is linear in time.
            let from = lower.max(low_c);
            let share = if upper > lower {
                (upper - from) / (upper - lower)
            } else {
                1.0
            };
            let pieces = ((upper - from) / 10.0).ceil().max(1.0);
            let step = (upper - from) / pieces;
            let sum: f64 = (0..pieces as usize)
                .map(|i| {
                    let x = from + step * i as f64;
                    (rate(x) + 4.0 * rate(x + 0.5 * step) + rate(x + step)) / 6.0
                })
                .sum();
            dt * share * sum / pieces
        })
        .sum()
}

/// Time spent at or above a temperature, s.
///
/// ```
/// let history = [(0.0, 1000.0), (10.0, 1200.0), (30.0, 1200.0), (50.0, 1000.0)];
/// let t = billet_thermal::inside::condition::time_above(&history, 1100.0)?;
/// assert!((t - 35.0).abs() < 1e-12);
/// # Ok::<(), billet_thermal::inside::condition::ConditionError>(())
/// ```
pub fn time_above(history: &[(f64, f64)], temp_c: f64) -> Result<f64, ConditionError> {
    check(history)?;
    within("temperature", "degC", temp_c, -273.15, 1e4)?;
    Ok(integrate(history, temp_c, |_| 1.0))
}

/// A mean cooling rate between two temperatures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoolingRate {
    /// Time of the last downward crossing of the upper temperature, s.
    pub start_s: f64,
    /// Time of the first crossing of the lower temperature after that, s.
    pub end_s: f64,
    /// Mean rate, K/s, positive for cooling.
    pub rate_k_s: f64,
}

/// Mean cooling rate from `upper_c` to `lower_c` (usually 800 and 500 degC, in which most steels
/// transform): between the last time the metal leaves the upper temperature downwards and the
/// first time after that it reaches the lower one. `None` when it does not cool through both, or
/// does so within one instant.
///
/// ```
/// let history = [(0.0, 900.0), (100.0, 400.0)];
/// let c = billet_thermal::inside::condition::cooling_rate(&history, 800.0, 500.0)?.unwrap();
/// assert!((c.rate_k_s - 5.0).abs() < 1e-9);
/// # Ok::<(), billet_thermal::inside::condition::ConditionError>(())
/// ```
pub fn cooling_rate(history: &[(f64, f64)], upper_c: f64, lower_c: f64) -> Result<Option<CoolingRate>, ConditionError> {
    check(history)?;
    within("upper temperature", "degC", upper_c, -273.15, 1e4)?;
    within("lower temperature", "degC", lower_c, -273.15, upper_c)?;
    let crossing = |w: &[(f64, f64)], level: f64| {
        (w[0].1 >= level && w[1].1 < level).then(|| w[0].0 + (w[1].0 - w[0].0) * (w[0].1 - level) / (w[0].1 - w[1].1))
    };
    // Walk through the history; a new crossing of the upper temperature starts again, unless the
    // lower one has already been reached.
    let mut start = None;
    for w in history.windows(2) {
        if let Some(t) = crossing(w, upper_c) {
            start = Some(t);
        }
        if let (Some(start_s), Some(end_s)) = (start, crossing(w, lower_c)) {
            let span = end_s - start_s;
            return Ok((span > 0.0).then(|| CoolingRate {
                start_s,
                end_s,
                rate_k_s: (upper_c - lower_c) / span,
            }));
        }
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reheating_starts_the_cooling_rate_again() {
        let history = [(0.0, 900.0), (10.0, 700.0), (20.0, 900.0), (60.0, 500.0), (90.0, 200.0)];
        let c = cooling_rate(&history, 800.0, 500.0).unwrap().unwrap();
        assert!((c.start_s - 30.0).abs() < 1e-9 && (c.rate_k_s - 10.0).abs() < 0.05);
        assert_eq!(cooling_rate(&history, 1000.0, 500.0).unwrap(), None);
        assert_eq!(cooling_rate(&history, 800.0, 100.0).unwrap(), None);
    }

    #[test]
    fn bad_histories_are_named() {
        assert_eq!(time_above(&[], 0.0), Err(ConditionError::EmptyHistory));
        assert!(matches!(
            time_above(&[(0.0, 20.0), (1.0, f64::NAN)], 0.0),
            Err(ConditionError::BadPoint { index: 1, .. })
        ));
        assert!(matches!(
            time_above(&[(1.0, 20.0), (0.0, 20.0)], 0.0),
            Err(ConditionError::TimeGoesBack { index: 1, .. })
        ));
    }

    #[test]
    fn integral_of_an_exponential_rate() {
        // rate = exp(T/100): over a ramp 0 -> 1000 in 10 s the integral is exact in closed form.
        let exact = 10.0 * (100.0 / 1000.0) * (10.0_f64.exp() - 1.0);
        let up = integrate(&[(0.0, 0.0), (10.0, 1000.0)], -300.0, |t| (t / 100.0).exp());
        let down = integrate(&[(0.0, 1000.0), (10.0, 0.0)], -300.0, |t| (t / 100.0).exp());
        assert!((up / exact - 1.0).abs() < 1e-6, "{up} {exact}");
        assert!((down / exact - 1.0).abs() < 1e-6);
    }
}
