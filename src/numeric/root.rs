//! Roots and limits of one variable.

/// A root with what it cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Root {
    /// Best estimate.
    pub x: f64,
    /// Function value there.
    pub value: f64,
    /// Other end of the last bracket: the sign changes between it and `x`. Where the value at `x` is
    /// exactly zero the bracket may still be wide.
    pub other: f64,
    /// Function value at the other end.
    pub other_value: f64,
    /// Evaluations made by the search.
    pub evaluations: usize,
}

/// Why a search gave no root. `E` is the error of the function searched.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SearchError<E> {
    /// Both ends have the same sign.
    #[error("no sign change between {low} ({at_low:.4}) and {high} ({at_high:.4})")]
    NoSignChange {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
        /// Value at the lower end.
        at_low: f64,
        /// Value at the upper end.
        at_high: f64,
    },
    /// The function gave something that is not a number.
    #[error("the searched function is not finite at {at}")]
    NotFinite {
        /// Where.
        at: f64,
    },
    /// The bracket stayed wider than the tolerance.
    #[error("root search (Brent) stopped after {evaluations} evaluations between {low} and {high}")]
    NotConverged {
        /// Evaluations made.
        evaluations: usize,
        /// Lower end of the last bracket.
        low: f64,
        /// Upper end of the last bracket.
        high: f64,
    },
    /// The function itself failed.
    #[error(transparent)]
    Function(E),
}

/// Finds x with f(x) = 0 between two points whose values are known and differ in sign, until the
/// bracket is narrower than `tolerance`. Inverse quadratic interpolation, secant and bisection as
/// in R. P. Brent, "Algorithms for Minimization without Derivatives" (1973), chapter 4, procedure
/// zero. The bracket is always kept, so a function with kinks or a jump is found too.
///
/// # Errors
/// [`SearchError`]; 100 evaluations are the most it makes.
pub fn brent<E>(
    mut function: impl FnMut(f64) -> Result<f64, E>,
    first: (f64, f64),
    second: (f64, f64),
    tolerance: f64,
) -> Result<Root, SearchError<E>> {
    zero(|x| function(x).map_err(SearchError::Function), first, second, tolerance)
}

/// As [`brent`], for a function that fails with errors of a search.
pub(super) fn zero<E>(
    mut function: impl FnMut(f64) -> Result<f64, SearchError<E>>,
    first: (f64, f64),
    second: (f64, f64),
    tolerance: f64,
) -> Result<Root, SearchError<E>> {
    let ((mut a, mut fa), (mut b, mut fb)) = (first, second);
    for (x, f) in [first, second] {
        if !(x.is_finite() && f.is_finite()) {
            return Err(SearchError::NotFinite { at: x });
        }
    }
    if fa * fb > 0.0 {
        let (low, high) = if a <= b { (first, second) } else { (second, first) };
        return Err(SearchError::NoSignChange {
            low: low.0,
            high: high.0,
            at_low: low.1,
            at_high: high.1,
        });
    }
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut before = step;
    let mut evaluations = 0;
    loop {
        // Between b and c the sign changes; b is the better of the two, a the previous b.
        if (fb > 0.0) == (fc > 0.0) {
            (c, fc) = (a, fa);
            step = b - a;
            before = step;
        }
        if fc.abs() < fb.abs() {
            (a, fa) = (b, fb);
            (b, fb) = (c, fc);
            (c, fc) = (a, fa);
        }
        let least = 2.0 * f64::EPSILON * b.abs() + 0.5 * tolerance;
        let half = 0.5 * (c - b);
        if fb == 0.0 || half.abs() <= least {
            return Ok(Root {
                x: b,
                value: fb,
                other: c,
                other_value: fc,
                evaluations,
            });
        }
        if evaluations >= 100 {
            return Err(SearchError::NotConverged {
                evaluations,
                low: b.min(c),
                high: b.max(c),
            });
        }
        if before.abs() < least || fa.abs() <= fb.abs() {
            step = half;
            before = half;
        } else {
            let s = fb / fa;
            let (mut p, mut q) = if a == c {
                (2.0 * half * s, 1.0 - s)
            } else {
                let (q, r) = (fa / fc, fb / fc);
                (
                    s * (2.0 * half * q * (q - r) - (b - a) * (r - 1.0)),
                    (q - 1.0) * (r - 1.0) * (s - 1.0),
                )
            };
            if p > 0.0 {
                q = -q;
            } else {
                p = -p;
            }
            if 2.0 * p < (3.0 * half * q - (least * q).abs()).min((before * q).abs()) {
                before = step;
                step = p / q;
            } else {
                step = half;
                before = half;
            }
        }
        (a, fa) = (b, fb);
        b += if step.abs() > least { step } else { least.copysign(half) };
        fb = function(b)?;
        evaluations += 1;
        if !fb.is_finite() {
            return Err(SearchError::NotFinite { at: b });
        }
    }
}

/// Where a margin that is expected to fall with x runs out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LimitOutcome {
    /// It is negative already at the start.
    AlreadyBroken {
        /// Margin at the start.
        margin: f64,
    },
    /// It still holds at the end of the range searched.
    NeverBreaks {
        /// Margin at the end.
        margin: f64,
        /// End of the range.
        end: f64,
    },
    /// It runs out between two points no further apart than the tolerance.
    Limit {
        /// Last x that was seen to hold (the safe side).
        holds: f64,
        /// First x that was seen to break; equal to `holds` where the margin is exactly zero.
        breaks: f64,
        /// Interpolated crossing.
        x: f64,
        /// Evaluations made.
        evaluations: usize,
    },
}

/// Finds the largest x between `start` and `end` for which `margin(x) >= 0`, when the margin falls
/// with x: steps out from `start`, doubling from `first_step`, then [`brent`] to `tolerance`. For a
/// margin that is not monotone it finds the first loss of sign that the doubling steps see.
///
/// # Errors
/// [`SearchError`] from the function or from the root search.
pub fn falling_limit<E>(
    mut margin: impl FnMut(f64) -> Result<f64, E>,
    start: f64,
    first_step: f64,
    end: f64,
    tolerance: f64,
) -> Result<LimitOutcome, SearchError<E>> {
    let mut count = 0;
    let mut at = |x: f64| {
        count += 1;
        let value = margin(x).map_err(SearchError::Function)?;
        if value.is_nan() {
            return Err(SearchError::NotFinite { at: x });
        }
        // An infinite margin means "cannot break here"; the root search needs finite numbers.
        Ok(value.clamp(-1e9, 1e9))
    };
    let mut low = (start, at(start)?);
    if low.1 < 0.0 {
        return Ok(LimitOutcome::AlreadyBroken { margin: low.1 });
    }
    let mut step = first_step;
    let high = loop {
        let x = (low.0 + step).min(end);
        let value = at(x)?;
        if value < 0.0 {
            break (x, value);
        }
        if x >= end {
            return Ok(LimitOutcome::NeverBreaks { margin: value, end });
        }
        low = (x, value);
        step *= 2.0;
    };
    let root = zero(&mut at, low, high, tolerance)?;
    let (holds, breaks) = if root.value == 0.0 {
        (root.x, root.x)
    } else if root.value > 0.0 {
        (root.x, root.other)
    } else {
        (root.other, root.x)
    };
    Ok(LimitOutcome::Limit {
        holds,
        breaks,
        x: root.x,
        evaluations: count,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::convert::Infallible;

    fn solve(f: impl Fn(f64) -> f64, low: f64, high: f64) -> Result<Root, SearchError<Infallible>> {
        brent(|x| Ok(f(x)), (low, f(low)), (high, f(high)), 1e-12)
    }

    /// x = cos x at 0.739085133215161 (the Dottie number); x^3 - 2x - 5 at 2.094551481542327
    /// (Wallis 1685, the classic example); a jump is bracketed to the tolerance.
    #[test]
    fn brent_finds_known_roots() {
        let root = solve(|x| x.cos() - x, 0.0, 1.0).unwrap();
        assert!((root.x - 0.739_085_133_215_160_6).abs() < 1e-12);
        assert!(root.evaluations < 10);
        let root = solve(|x| x * x * x - 2.0 * x - 5.0, 2.0, 3.0).unwrap();
        assert!((root.x - 2.094_551_481_542_326_6).abs() < 1e-12);
        let jump = solve(|x| if x < 0.3 { 1.0 } else { -2.0 }, 0.0, 1.0).unwrap();
        assert!((jump.x - 0.3).abs() < 1e-11 && (jump.other - 0.3).abs() < 1e-11);
    }

    #[test]
    fn brent_refuses_equal_signs_and_nan() {
        assert!(matches!(
            solve(|x| x * x + 1.0, -1.0, 1.0),
            Err(SearchError::NoSignChange { .. })
        ));
        let nan = brent(|_| Ok::<_, Infallible>(f64::NAN), (0.0, 1.0), (1.0, -1.0), 1e-9);
        assert!(matches!(nan, Err(SearchError::NotFinite { .. })));
    }

    #[test]
    fn limit_outcomes_are_told_apart() {
        let search = |f: fn(f64) -> f64| falling_limit(|x| Ok::<_, Infallible>(f(x)), 0.0, 1.0, 60.0, 1e-6).unwrap();
        assert_eq!(search(|x| -1.0 - x), LimitOutcome::AlreadyBroken { margin: -1.0 });
        assert!(matches!(search(|x| 100.0 - x), LimitOutcome::NeverBreaks { .. }));
        let LimitOutcome::Limit { holds, breaks, .. } = search(|x| 7.9 - x) else {
            panic!("a limit exists");
        };
        assert!(holds <= 7.9 && breaks >= 7.9 && breaks - holds < 2e-6);
    }
}
