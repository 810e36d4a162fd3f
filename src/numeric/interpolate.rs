//! Straight lines between places.

/// Where a value lies among rising places: between two of them, or held at the first or the last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Between {
    /// Index of the place below.
    pub(crate) left: usize,
    /// Index of the place above; equal to `left` where a value outside is held.
    pub(crate) right: usize,
    /// Share of the way from `left` to `right`, 0 to 1.
    pub(crate) share: f64,
}

impl Between {
    /// Value on the straight line between those of the two places.
    #[inline]
    pub(crate) fn of(&self, value: impl Fn(usize) -> f64) -> f64 {
        if self.left == self.right {
            return value(self.left);
        }
        let (a, b) = (value(self.left), value(self.right));
        a + self.share * (b - a)
    }
}

/// Finds `x` among `list`, whose places `at` rise. Of places that are equal the last counts. `None`
/// for an empty list.
pub(crate) fn locate<T>(list: &[T], at: impl Fn(&T) -> f64, x: f64) -> Option<Between> {
    let right = list.partition_point(|item| at(item) <= x);
    let held = |index| Between {
        left: index,
        right: index,
        share: 0.0,
    };
    if right == 0 {
        return (!list.is_empty()).then(|| held(0));
    }
    let left = right - 1;
    let Some(above) = list.get(right) else {
        return Some(held(left));
    };
    let (a, b) = (at(&list[left]), at(above));
    Some(Between {
        left,
        right,
        share: (x - a) / (b - a),
    })
}

/// Straight lines between points (place, value) of rising place; end values are held. `None` without
/// points.
pub(crate) fn linear(points: &[(f64, f64)], x: f64) -> Option<f64> {
    locate(points, |p| p.0, x).map(|between| between.of(|k| points[k].1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_between_and_level_outside() {
        let points = [(0.0, 50.0), (100.0, 40.0), (100.0, 20.0), (300.0, 0.0)];
        let at = |x| linear(&points, x).unwrap();
        assert_eq!([at(-5.0), at(0.0), at(25.0)], [50.0, 50.0, 47.5]);
        // A jump takes the value after it.
        assert_eq!([at(100.0), at(200.0), at(300.0), at(900.0)], [20.0, 10.0, 0.0, 0.0]);
    }

    #[test]
    fn one_point_and_none() {
        assert_eq!(linear(&[(3.0, 7.0)], 2.0), Some(7.0));
        assert_eq!(linear(&[(3.0, 7.0)], 3.0), Some(7.0));
        assert_eq!(linear(&[], 3.0), None);
    }
}
