//! Judging limits from the moments and watches of a run.

use super::limit::{Bound, Cause, Limit, Verdict};
use super::watch::Watch;
use super::{Kind, Moment, Reading, StageSpan};

impl Bound {
    /// Distance of a value to the bound in K, positive inside.
    pub fn margin(self, value: f64) -> f64 {
        match self {
            Bound::MinC(min) => value - min,
            Bound::MaxC(max) => max - value,
            Bound::MaxDifferenceK(max) => max - value,
        }
    }

    /// Why a broken bound is broken.
    pub fn cause(self) -> Cause {
        match self {
            Bound::MinC(_) => Cause::TooCold,
            Bound::MaxC(_) => Cause::TooHot,
            Bound::MaxDifferenceK(_) => Cause::TooUneven,
        }
    }
}

/// One verdict per limit that met at least one of its moments, in the order of the limits. The
/// margin in seconds is left open. On a long part the worst of its `sections` is judged.
pub fn judge(
    limits: &[Limit],
    stages: &[StageSpan],
    (nodes, sections): (&[String], &[String]),
    moments: &[Reading],
    watched: &[Watch],
) -> Vec<Verdict> {
    limits
        .iter()
        .enumerate()
        .filter_map(|(i, limit)| {
            let mine = || watched.iter().filter(|w| w.limit == i);
            let seen = if mine().next().is_some() {
                let worst = mine().filter_map(|w| w.worst.map(|worst| (w, worst)));
                let (watch, (value, stage, time)) =
                    worst.min_by(|a, b| limit.bound.margin(a.1.0).total_cmp(&limit.bound.margin(b.1.0)))?;
                (watch.columns(), value, stage, Moment::Always, time, watch.crossing_s)
            } else {
                limit
                    .columns(nodes, sections)
                    .into_iter()
                    .filter_map(|columns| worst_moment(limit, columns, stages, moments))
                    .min_by(|a, b| limit.bound.margin(a.1).total_cmp(&limit.bound.margin(b.1)))?
            };
            let ((node, other), value, stage, moment, time_s, crossing_s) = seen;
            let limit = &Limit {
                node: nodes[node].clone(),
                other: other.map(|o| nodes[o].clone()),
                ..limit.clone()
            };
            let margin_k = limit.bound.margin(value);
            let holds = margin_k >= 0.0;
            Some(Verdict {
                limit: limit.clone(),
                holds,
                stage,
                moment,
                time_s,
                value,
                margin_k,
                margin_s: None,
                margin_stage: None,
                earliest_s: None,
                latest_s: None,
                crossing_s: if holds { None } else { crossing_s },
                cause: (!holds).then(|| limit.bound.cause()),
            })
        })
        .collect()
}

/// Columns, value, stage, moment, time, crossing.
type Seen = ((usize, Option<usize>), f64, usize, Moment, f64, Option<f64>);

fn worst_moment(
    limit: &Limit,
    (node, other): (usize, Option<usize>),
    stages: &[StageSpan],
    moments: &[Reading],
) -> Option<Seen> {
    moments
        .iter()
        .filter(|m| counts(limit, m, stages, moments))
        .filter_map(|m| {
            let at = |c: usize| m.temps_c.get(c).copied().flatten();
            let value = match other {
                Some(o) => (at(node)? - at(o)?).abs(),
                None => at(node)?,
            };
            Some(((node, other), value, m.stage, m.moment, m.time_s, None))
        })
        .min_by(|a, b| limit.bound.margin(a.1).total_cmp(&limit.bound.margin(b.1)))
}

/// Whether a recorded moment is one that the limit speaks of. Without a stage, blows are those of forging.
fn counts(limit: &Limit, reading: &Reading, stages: &[StageSpan], readings: &[Reading]) -> bool {
    let Some(stage) = stages.get(reading.stage) else {
        return false;
    };
    match &limit.stage {
        Some(name) if *name != stage.name => return false,
        None if reading.moment.is_blow() && stage.kind != Kind::Forge => return false,
        _ => {}
    }
    let blows = readings
        .iter()
        .filter(|r| r.stage == reading.stage && r.moment.is_blow());
    limit.moment.covers(reading.moment, blows.count() as u32)
}
