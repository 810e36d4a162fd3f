//! Guard bands along one variable.

use super::Guards;

/// Guard bands in K along one variable: straight between the places where they were found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GuardLine {
    /// Places in rising order with the guard band of every limit there.
    places: Vec<(f64, Vec<f64>)>,
}

impl GuardLine {
    /// The same bands everywhere; no values stand for no bands at all.
    #[must_use]
    pub fn flat(guard_k: Vec<f64>) -> Self {
        Self {
            places: vec![(0.0, guard_k)],
        }
    }

    /// The lines for the reject and for the alarm risk through guard bands found at some places.
    #[must_use]
    pub fn through(found: &[(f64, Guards)]) -> (Self, Self) {
        let line = |pick: fn(&Guards) -> &Vec<f64>| {
            let mut places: Vec<(f64, Vec<f64>)> = found.iter().map(|(x, g)| (*x, pick(g).clone())).collect();
            places.sort_by(|a, b| a.0.total_cmp(&b.0));
            places.dedup_by(|a, b| (a.0 - b.0).abs() < 1e-9);
            Self { places }
        };
        (line(|g| &g.reject), line(|g| &g.alarm))
    }

    /// The guard band of one limit at `x`. Beyond the last place a band that grows there goes on growing,
    /// one that shrinks stays as it is.
    #[must_use]
    pub fn at(&self, x: f64, limit: usize) -> f64 {
        let of = |k: usize| (self.places[k].0, self.places[k].1.get(limit).copied().unwrap_or(0.0));
        match self.places.len() {
            0 => 0.0,
            1 => of(0).1,
            count => {
                let k = self.places.partition_point(|(at, _)| *at <= x).clamp(1, count - 1);
                let ((a, low), (b, high)) = (of(k - 1), of(k));
                let share = (x - a) / (b - a);
                let found = low + share * (high - low);
                match share {
                    s if s < 0.0 => found.max(low),
                    s if s > 1.0 => found.max(high),
                    _ => found,
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_are_straight_between_and_never_shrink_beyond() {
        let guards = |x: f64| Guards {
            reject: vec![x, 10.0 - x],
            alarm: vec![2.0 * x, 0.0],
        };
        let (reject, alarm) = GuardLine::through(&[(6.0, guards(6.0)), (2.0, guards(2.0))]);
        assert_eq!(reject.at(4.0, 0), 4.0);
        assert_eq!(alarm.at(3.0, 0), 6.0);
        assert_eq!((reject.at(8.0, 0), reject.at(8.0, 1)), (8.0, 4.0));
        assert_eq!((reject.at(0.0, 0), reject.at(0.0, 1)), (2.0, 10.0));
        assert_eq!(GuardLine::flat(Vec::new()).at(3.0, 0), 0.0);
        assert_eq!(GuardLine::flat(vec![7.0]).at(3.0, 0), 7.0);
    }
}
