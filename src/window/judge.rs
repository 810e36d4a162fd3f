//! Judging limits from the moments and watches of a run.

use super::limit::{Bound, Cause, Limit, Verdict};
use super::watch::Watch;
use crate::line::trace::{Moment, StageSpan};

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
/// margin in seconds is left open.
pub fn judge(
    limits: &[Limit],
    stages: &[StageSpan],
    nodes: &[String],
    moments: &[Moment],
    watched: &[Watch],
) -> Vec<Verdict> {
    limits
        .iter()
        .enumerate()
        .filter_map(|(i, limit)| {
            let (value, stage, moment, time_s, crossing_s) = match watched.iter().find(|w| w.limit == i) {
                Some(watch) => {
                    let (value, stage, time) = watch.worst?;
                    (value, stage, "always".to_owned(), time, watch.crossing_s)
                }
                None => worst_moment(limit, stages, nodes, moments)?,
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
                crossing_s: if holds { None } else { crossing_s },
                cause: (!holds).then(|| limit.bound.cause()),
            })
        })
        .collect()
}

type Seen = (f64, usize, String, f64, Option<f64>);

fn worst_moment(limit: &Limit, stages: &[StageSpan], nodes: &[String], moments: &[Moment]) -> Option<Seen> {
    let column = |name: &str| nodes.iter().position(|n| n == name);
    let node = column(&limit.node)?;
    let other = match &limit.other {
        Some(name) => Some(column(name)?),
        None => None,
    };
    moments
        .iter()
        .filter(|m| counts(limit, m, stages, moments))
        .filter_map(|m| {
            let at = |c: usize| m.temps_c.get(c).copied().flatten();
            let value = match other {
                Some(o) => (at(node)? - at(o)?).abs(),
                None => at(node)?,
            };
            Some((value, m.stage, m.label.clone(), m.time_s, None))
        })
        .min_by(|a, b| limit.bound.margin(a.0).total_cmp(&limit.bound.margin(b.0)))
}

/// Whether a moment is one that the limit speaks of. Without a stage, blows are those of forging.
fn counts(limit: &Limit, moment: &Moment, stages: &[StageSpan], moments: &[Moment]) -> bool {
    let Some(stage) = stages.get(moment.stage) else {
        return false;
    };
    match &limit.stage {
        Some(name) if *name != stage.name => return false,
        None if moment.label.starts_with("blow") && stage.kind != "forge" => return false,
        _ => {}
    }
    match limit.moment.as_str() {
        "first blow" => moment.label == "blow 1",
        "every blow" => moment.label.starts_with("blow "),
        "last blow" => {
            let last = moments
                .iter()
                .rfind(|m| m.stage == moment.stage && m.label.starts_with("blow "))
                .map(|m| m.label.as_str());
            last == Some(moment.label.as_str())
        }
        other => moment.label == other,
    }
}
