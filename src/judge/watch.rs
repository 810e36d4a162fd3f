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
