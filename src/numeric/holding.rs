//! Where a costly function of one variable is not negative: the ends of every such interval.

use super::root::{SearchError, zero};

/// One end of an interval in which the function holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct End {
    /// Outermost place seen to hold (the safe side).
    pub(crate) holds: f64,
    /// Innermost place seen to break, no further away than the tolerance, and equal to `holds` where the
    /// value is exactly zero; `None` where the range searched ends first.
    pub(crate) breaks: Option<f64>,
}

/// An interval in which the function holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Holding {
    /// Lower end.
    pub(crate) low: End,
    /// Upper end.
    pub(crate) high: End,
}

/// What [`holding`] found.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Holdings {
    /// Intervals in rising order; empty where nothing seen holds.
    pub(crate) intervals: Vec<Holding>,
    /// Place of the largest value seen.
    pub(crate) best: f64,
    /// The largest value seen.
    pub(crate) best_value: f64,
    /// Evaluations made.
    pub(crate) evaluations: usize,
}

/// Intervals between the first and the last of `places` (rising, at least one) in which `function` is
/// zero or more, their ends to `tolerance`.
///
/// The function is evaluated at every place; each change of sign between neighbours is narrowed by
/// Brent's method. Where no place holds, the interval around the best one is searched for its largest value
/// by the golden section (Kiefer, Proc. Amer. Math. Soc. 4 (1953) 502), so that a window narrower than
/// the spacing is found if the function has one top there, as the smallest of a rising and a falling
/// margin has. An infinite value means "cannot break here".
///
/// # Errors
/// [`SearchError`]: the function failed, gave no number, or there are no places.
pub(crate) fn holding<E>(
    mut function: impl FnMut(f64) -> Result<f64, E>,
    places: &[f64],
    tolerance: f64,
) -> Result<Holdings, SearchError<E>> {
    let mut evaluations = 0;
    let mut at = |x: f64| {
        evaluations += 1;
        let value = function(x).map_err(SearchError::Function)?;
        if value.is_nan() {
            return Err(SearchError::NotFinite { at: x });
        }
        // The root search needs finite numbers.
        Ok(value.clamp(-1e9, 1e9))
    };
    let mut seen = Vec::with_capacity(places.len() + 1);
    for &x in places {
        seen.push((x, at(x)?));
    }
    if seen.is_empty() {
        return Err(SearchError::NotFinite { at: f64::NAN });
    }
    if seen.iter().all(|(_, value)| *value < 0.0) {
        let top = top(&mut at, &seen, tolerance)?;
        let after = seen.partition_point(|(x, _)| *x < top.0);
        if seen.get(after).is_none_or(|(x, _)| *x != top.0) {
            seen.insert(after, top);
        }
    }
    let intervals = intervals(&mut at, &seen, tolerance)?;
    let (best, best_value) =
        seen.iter().copied().fold(
            (f64::NAN, f64::NEG_INFINITY),
            |best, next| if next.1 > best.1 { next } else { best },
        );
    Ok(Holdings {
        intervals,
        best,
        best_value,
        evaluations,
    })
}

/// The runs of places that hold, their ends narrowed.
fn intervals<E>(
    at: &mut impl FnMut(f64) -> Result<f64, SearchError<E>>,
    seen: &[(f64, f64)],
    tolerance: f64,
) -> Result<Vec<Holding>, SearchError<E>> {
    let mut found = Vec::new();
    let mut open: Option<End> = None;
    for (k, &(x, value)) in seen.iter().enumerate() {
        let before = k.checked_sub(1).map(|k| seen[k]);
        let crossing = before.filter(|b| (b.1 >= 0.0) != (value >= 0.0));
        let end = match crossing {
            Some(before) => narrow(at, before, (x, value), tolerance)?,
            None => End { holds: x, breaks: None },
        };
        if value >= 0.0 {
            open = open.or(Some(end));
        } else if let Some(low) = open.take() {
            found.push(Holding { low, high: end });
        }
    }
    if let (Some(low), Some(last)) = (open, seen.last()) {
        let high = End {
            holds: last.0,
            breaks: None,
        };
        found.push(Holding { low, high });
    }
    Ok(found)
}

/// The end between two neighbours of different sign.
fn narrow<E>(
    at: &mut impl FnMut(f64) -> Result<f64, SearchError<E>>,
    first: (f64, f64),
    second: (f64, f64),
    tolerance: f64,
) -> Result<End, SearchError<E>> {
    let root = zero(at, first, second, tolerance)?;
    Ok(End {
        holds: if root.value >= 0.0 { root.x } else { root.other },
        breaks: Some(if root.value > 0.0 { root.other } else { root.x }),
    })
}

/// The largest value around the best of the places; stops as soon as one holds.
fn top<E>(
    at: &mut impl FnMut(f64) -> Result<f64, SearchError<E>>,
    seen: &[(f64, f64)],
    tolerance: f64,
) -> Result<(f64, f64), SearchError<E>> {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let better = |a: (f64, f64), b: (f64, f64)| if b.1 > a.1 { b } else { a };
    let k = (0..seen.len()).fold(0, |best, k| if seen[k].1 > seen[best].1 { k } else { best });
    let mut best = seen[k];
    let (mut low, mut high) = (seen[k.saturating_sub(1)].0, seen[(k + 1).min(seen.len() - 1)].0);
    let place = |low: f64, high: f64, upper: bool| {
        if upper {
            low + GOLDEN * (high - low)
        } else {
            high - GOLDEN * (high - low)
        }
    };
    let mut left = (place(low, high, false), f64::NAN);
    let mut right = (place(low, high, true), f64::NAN);
    while high - low > tolerance && best.1 < 0.0 {
        for side in [&mut left, &mut right] {
            if side.1.is_nan() {
                side.1 = at(side.0)?;
                best = better(best, *side);
            }
        }
        if left.1 >= right.1 {
            (high, right) = (right.0, left);
            left = (place(low, high, false), f64::NAN);
        } else {
            (low, left) = (left.0, right);
            right = (place(low, high, true), f64::NAN);
        }
    }
    Ok(best)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::convert::Infallible;

    fn search(f: impl Fn(f64) -> f64, places: &[f64]) -> Holdings {
        holding(|x| Ok::<_, Infallible>(f(x)), places, 1e-6).unwrap()
    }

    /// x² - 4x + 3 is zero at 1 and 3.
    #[test]
    fn both_ends_of_a_window_on_their_safe_side() {
        let found = search(|x| -(x * x) + 4.0 * x - 3.0, &[0.0, 2.0, 4.0]);
        let [one] = found.intervals[..] else {
            panic!("{found:?}")
        };
        assert!(one.low.holds >= 1.0 && one.low.holds - 1.0 < 2e-6, "{one:?}");
        assert!(one.low.breaks.unwrap() <= 1.0 && one.low.holds - one.low.breaks.unwrap() < 2e-6);
        assert!(one.high.holds <= 3.0 && one.high.breaks.unwrap() >= 3.0);
        assert!(one.high.breaks.unwrap() - one.high.holds < 2e-6);
        assert_eq!((found.best, found.best_value), (2.0, 1.0));
    }

    #[test]
    fn several_windows_and_the_ends_of_the_range() {
        // Positive below 1, from 2 to 3 and from 4 on.
        let found = search(
            |x| -(x - 1.0) * (x - 2.0) * (x - 3.0) * (4.0 - x),
            &[0.0, 1.5, 2.5, 3.5, 6.0],
        );
        let ends: Vec<_> = found.intervals.iter().map(|i| (i.low.holds, i.high.holds)).collect();
        assert_eq!(ends.len(), 3, "{found:?}");
        for ((low, high), (a, b)) in ends.into_iter().zip([(0.0, 1.0), (2.0, 3.0), (4.0, 6.0)]) {
            assert!((low - a).abs() < 2e-6 && (high - b).abs() < 2e-6, "{found:?}");
        }
        assert_eq!(found.intervals[0].low.breaks, None);
        assert_eq!(found.intervals[2].high.breaks, None);
    }

    #[test]
    fn a_window_narrower_than_the_spacing_is_found() {
        let roof = |top: f64| move |x: f64| top - (x - 3.3).abs();
        let found = search(roof(0.05), &[0.0, 2.0, 4.0, 8.0]);
        let [one] = found.intervals[..] else {
            panic!("{found:?}")
        };
        assert!((one.low.holds - 3.25).abs() < 2e-6 && (one.high.holds - 3.35).abs() < 2e-6);
        // Nothing holds: the best place says by how much.
        let found = search(roof(-2.0), &[0.0, 2.0, 4.0, 8.0]);
        assert!(found.intervals.is_empty());
        assert!(
            (found.best - 3.3).abs() < 2e-6 && (found.best_value + 2.0).abs() < 2e-6,
            "{found:?}"
        );
    }

    #[test]
    fn exact_zeros_hold_and_numbers_that_are_none_are_refused() {
        let found = search(|x| x, &[-1.0, 0.0]);
        assert_eq!(found.intervals[0].low.holds, 0.0);
        let found = search(|x| if x < 1.0 { f64::INFINITY } else { -1.0 }, &[0.0, 2.0]);
        assert!((found.intervals[0].high.holds - 1.0).abs() < 2e-6);
        let nan = holding(|_| Ok::<_, Infallible>(f64::NAN), &[0.0, 1.0], 1e-6);
        assert!(matches!(nan, Err(SearchError::NotFinite { .. })));
        assert!(holding(|x| Ok::<_, Infallible>(x), &[], 1e-6).is_err());
    }
}
