//! The place where a condition changes, to the last bit: the inverse of a cheap monotone function.

use std::convert::Infallible;

/// Halves the interval between a place where `condition` holds and one where it fails until no number
/// lies between them; returns the last place seen to hold and the first seen to fail. The ends are
/// believed and not evaluated. Some 60 evaluations, so for functions that cost next to nothing.
///
/// # Errors
/// Those of the condition.
pub(crate) fn try_boundary<E>(
    holds: f64,
    fails: f64,
    mut condition: impl FnMut(f64) -> Result<bool, E>,
) -> Result<(f64, f64), E> {
    let (mut holds, mut fails) = (holds, fails);
    loop {
        let middle = 0.5 * (holds + fails);
        // Written so that a middle that is not a number ends the search.
        let between = middle > holds.min(fails) && middle < holds.max(fails);
        if !between {
            return Ok((holds, fails));
        }
        if condition(middle)? {
            holds = middle;
        } else {
            fails = middle;
        }
    }
}

/// As [`try_boundary`] for a condition that cannot fail; the middle of the two places.
pub(crate) fn boundary(holds: f64, fails: f64, mut condition: impl FnMut(f64) -> bool) -> f64 {
    let Ok((holds, fails)) = try_boundary(holds, fails, |x| Ok::<_, Infallible>(condition(x)));
    0.5 * (holds + fails)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_root_to_the_last_bit() {
        let Ok((low, high)) = try_boundary(1.0, 2.0, |x| Ok::<_, Infallible>(x * x < 2.0));
        assert!(low * low < 2.0 && high * high >= 2.0 && high == low.next_up());
        assert!((boundary(2.0, 1.0, |x| x * x > 2.0) - std::f64::consts::SQRT_2).abs() <= f64::EPSILON);
    }

    #[test]
    fn ends_that_are_no_numbers_end_the_search() {
        assert!(boundary(f64::NAN, 1.0, |_| true).is_nan());
        assert_eq!(try_boundary(0.0, 1.0, |_| Err::<bool, _>("no")), Err("no"));
    }
}
