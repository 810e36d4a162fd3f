//! Limits that must hold all the time, followed while a run goes on.

use super::Moment;
use super::limit::{Bound, Limit};

/// One limit with moment `always` and what was seen of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Watch {
    /// Index into the limits of the plan.
    pub limit: usize,
    stage_name: Option<String>,
    node: usize,
    other: Option<usize>,
    bound: Bound,
    /// Worst value with its trace stage and time, once seen.
    pub worst: Option<(f64, usize, f64)>,
    /// First crossing in s after heater exit.
    pub crossing_s: Option<f64>,
}

impl Watch {
    /// The watches of a set of limits over the given node columns; on a long part one for each of
    /// its `sections` where the limit speaks of them all.
    pub fn of(limits: &[Limit], nodes: &[String], sections: &[String]) -> Vec<Watch> {
        let always = limits.iter().enumerate().filter(|(_, l)| l.moment == Moment::Always);
        always
            .flat_map(|(i, l)| {
                l.columns(nodes, sections).into_iter().map(move |(node, other)| Watch {
                    limit: i,
                    stage_name: l.stage.clone(),
                    node,
                    other,
                    bound: l.bound,
                    worst: None,
                    crossing_s: None,
                })
            })
            .collect()
    }

    /// Columns of the limited node and of the second node of a difference.
    pub fn columns(&self) -> (usize, Option<usize>) {
        (self.node, self.other)
    }

    /// Whether the limit counts in a stage.
    pub fn in_stage(&self, name: &str) -> bool {
        self.stage_name.as_deref().is_none_or(|n| n == name)
    }

    /// Whether the limited value is taken from a node column.
    pub fn needs(&self, column: usize) -> bool {
        self.node == column || self.other == Some(column)
    }

    /// The limited value of a row of node temperatures: degC, or K for a difference.
    pub fn value(&self, row: &[f64]) -> Option<f64> {
        let value = match self.other {
            Some(other) => (row[self.node] - row[other]).abs(),
            None => row[self.node],
        };
        value.is_finite().then_some(value)
    }

    /// How far the value is beyond its limit, K; negative inside.
    pub fn excess(&self, row: &[f64]) -> Option<f64> {
        self.value(row).map(|v| -self.bound.margin(v))
    }

    /// Keeps the value when it is the worst so far.
    pub fn note(&mut self, row: &[f64], stage: usize, time_s: f64) {
        let Some(value) = self.value(row) else { return };
        if self
            .worst
            .is_none_or(|(w, _, _)| self.bound.margin(value) < self.bound.margin(w))
        {
            self.worst = Some((value, stage, time_s));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::Owner;

    fn limit(moment: Moment, stage: Option<&str>, bound: Bound) -> Limit {
        Limit {
            stage: stage.map(str::to_owned),
            moment,
            node: "surface".to_owned(),
            other: None,
            bound,
            owner: Owner::Given,
            source: String::new(),
        }
    }

    fn names(names: &[&str]) -> Vec<String> {
        names.iter().map(|&name| name.to_owned()).collect()
    }

    fn watch(bound: Bound) -> Watch {
        let limits = [limit(Moment::Always, None, bound)];
        Watch::of(&limits, &names(&["core", "surface"]), &[]).remove(0)
    }

    /// A value that is as bad as an earlier one does not take its place: told is when it was first that bad.
    #[test]
    fn the_first_of_equal_values_is_kept() {
        let mut low = watch(Bound::MinC(1000.0));
        low.note(&[1100.0, 980.0], 1, 2.0);
        low.note(&[1090.0, 980.0], 2, 7.0);
        assert_eq!(low.worst, Some((980.0, 1, 2.0)));
    }

    #[test]
    fn the_worst_value_is_kept_with_its_place_and_time() {
        let mut low = watch(Bound::MinC(1000.0));
        let mut high = watch(Bound::MaxC(1250.0));
        for (time_s, surface) in [(0.0, 1200.0), (1.0, 1050.0), (2.0, 1220.0), (3.0, 1100.0)] {
            low.note(&[1300.0, surface], 4, time_s);
            high.note(&[1300.0, surface], 4, time_s);
        }
        assert_eq!(low.worst, Some((1050.0, 4, 1.0)));
        assert_eq!(high.worst, Some((1220.0, 4, 2.0)));
        low.note(&[1300.0, f64::NAN], 5, 4.0);
        assert_eq!(low.worst, Some((1050.0, 4, 1.0)), "a node without a value says nothing");
    }

    #[test]
    fn excess_is_positive_beyond_the_bound() {
        assert_eq!(watch(Bound::MinC(1000.0)).excess(&[0.0, 990.0]), Some(10.0));
        assert_eq!(watch(Bound::MaxC(1000.0)).excess(&[0.0, 990.0]), Some(-10.0));
        let mut limit = limit(Moment::Always, None, Bound::MaxDifferenceK(50.0));
        limit.other = Some("core".to_owned());
        let uneven = Watch::of(&[limit], &names(&["core", "surface"]), &[]).remove(0);
        assert_eq!(uneven.columns(), (1, Some(0)));
        assert!(uneven.needs(0) && uneven.needs(1) && !uneven.needs(2));
        for row in [[1100.0, 1040.0], [1040.0, 1100.0]] {
            assert_eq!(
                uneven.excess(&row),
                Some(10.0),
                "which of the two is hotter does not matter"
            );
        }
    }

    #[test]
    fn only_limits_that_always_hold_are_followed_in_their_stage() {
        let bound = Bound::MinC(1000.0);
        let limits = [
            limit(Moment::End, None, bound),
            limit(Moment::Always, Some("press"), bound),
            limit(Moment::Always, None, bound),
        ];
        let watched = Watch::of(&limits, &names(&["surface"]), &[]);
        assert_eq!(watched.iter().map(|w| w.limit).collect::<Vec<_>>(), [1, 2]);
        assert!(watched[0].in_stage("press") && !watched[0].in_stage("trim"));
        assert!(watched[1].in_stage("press") && watched[1].in_stage("trim"));
    }

    #[test]
    fn each_section_of_a_long_part_is_followed() {
        let limits = [limit(Moment::Always, None, Bound::MinC(1000.0))];
        let nodes = names(&["mean", "web.surface", "boss.surface"]);
        let watched = Watch::of(&limits, &nodes, &names(&["web", "boss"]));
        assert_eq!(watched.iter().map(|w| w.columns().0).collect::<Vec<_>>(), [1, 2]);
    }
}
