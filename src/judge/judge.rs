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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::Owner;

    fn limit(moment: Moment, node: &str, bound: Bound) -> Limit {
        Limit {
            stage: None,
            moment,
            node: node.to_owned(),
            other: None,
            bound,
            owner: Owner::Given,
            source: String::new(),
        }
    }

    fn at_stage(name: &str, limit: Limit) -> Limit {
        Limit {
            stage: Some(name.to_owned()),
            ..limit
        }
    }

    /// Heater, a press with three blows, a trim tool with one stroke.
    fn stages() -> Vec<StageSpan> {
        let kinds = [("heater", Kind::Heater), ("press", Kind::Forge), ("trim", Kind::Trim)];
        let span = |(name, kind): (&str, Kind)| StageSpan {
            name: name.to_owned(),
            kind,
            start_s: 0.0,
            end_s: 0.0,
        };
        kinds.into_iter().map(span).collect()
    }

    const NODES: [&str; 2] = ["core", "surface"];

    /// Core and surface: the first blow is the hottest, the second the coldest; the trim tool's stroke is
    /// colder than all.
    fn readings() -> Vec<Reading> {
        let rows = [
            (0, Moment::Exit, 1200.0, 1210.0),
            (1, Moment::Start, 1190.0, 1170.0),
            (1, Moment::Blow(1), 1180.0, 1150.0),
            (1, Moment::Blow(2), 1170.0, 1050.0),
            (1, Moment::Blow(3), 1160.0, 1100.0),
            (1, Moment::End, 1155.0, 1090.0),
            (2, Moment::Blow(1), 900.0, 850.0),
        ];
        let reading = |(time, (stage, moment, core, surface)): (usize, (usize, Moment, f64, f64))| Reading {
            stage,
            moment,
            time_s: time as f64,
            temps_c: vec![Some(core), Some(surface)],
        };
        rows.into_iter().enumerate().map(reading).collect()
    }

    fn names(names: &[&str]) -> Vec<String> {
        names.iter().map(|&name| name.to_owned()).collect()
    }

    fn judged(limit: &Limit) -> Option<Verdict> {
        let limits = std::slice::from_ref(limit);
        judge(limits, &stages(), (&names(&NODES), &[]), &readings(), &[]).pop()
    }

    /// Value, stage and moment that decide.
    fn decides(limit: &Limit) -> Option<(f64, usize, Moment)> {
        judged(limit).map(|v| (v.value, v.stage, v.moment))
    }

    #[test]
    fn a_limit_is_judged_at_its_own_moment() {
        let min = |moment| decides(&limit(moment, "surface", Bound::MinC(1000.0)));
        assert_eq!(min(Moment::FirstBlow), Some((1150.0, 1, Moment::Blow(1))));
        assert_eq!(min(Moment::LastBlow), Some((1100.0, 1, Moment::Blow(3))));
        assert_eq!(min(Moment::Blow(2)), Some((1050.0, 1, Moment::Blow(2))));
        assert_eq!(min(Moment::Exit), Some((1210.0, 0, Moment::Exit)));
        assert_eq!(min(Moment::End), Some((1090.0, 1, Moment::End)));
        assert_eq!(min(Moment::Blow(4)), None, "a moment that never comes is not judged");
    }

    #[test]
    fn every_blow_is_as_bad_as_its_worst() {
        let every = |bound| decides(&limit(Moment::EveryBlow, "surface", bound));
        assert_eq!(every(Bound::MinC(1000.0)), Some((1050.0, 1, Moment::Blow(2))));
        assert_eq!(every(Bound::MaxC(1200.0)), Some((1150.0, 1, Moment::Blow(1))));
    }

    #[test]
    fn a_limit_is_judged_at_its_own_node() {
        let core = limit(Moment::EveryBlow, "core", Bound::MinC(1000.0));
        assert_eq!(decides(&core), Some((1160.0, 1, Moment::Blow(3))));
        let difference = Limit {
            other: Some("core".to_owned()),
            ..limit(Moment::EveryBlow, "surface", Bound::MaxDifferenceK(100.0))
        };
        let verdict = judged(&difference).unwrap();
        assert_eq!((verdict.value, verdict.margin_k), (120.0, -20.0));
        assert_eq!(verdict.cause, Some(Cause::TooUneven));
        let missing = limit(Moment::Exit, "flash", Bound::MinC(1000.0));
        assert_eq!(
            judged(&missing),
            None,
            "a node that the part does not have is not judged"
        );
    }

    #[test]
    fn blows_of_a_limit_without_a_stage_are_those_of_forging() {
        let any = limit(Moment::FirstBlow, "surface", Bound::MinC(1000.0));
        assert_eq!(decides(&any), Some((1150.0, 1, Moment::Blow(1))));
        let trim = at_stage("trim", any);
        assert_eq!(decides(&trim), Some((850.0, 2, Moment::Blow(1))));
        let press = at_stage("press", limit(Moment::Exit, "surface", Bound::MinC(1000.0)));
        assert_eq!(decides(&press), None, "the exit is not in the press");
    }

    #[test]
    fn a_bound_holds_up_to_itself() {
        for (bound, margin_k, cause) in [
            (Bound::MinC(1210.0), 0.0, None),
            (Bound::MinC(1211.0), -1.0, Some(Cause::TooCold)),
            (Bound::MaxC(1210.0), 0.0, None),
            (Bound::MaxC(1209.0), -1.0, Some(Cause::TooHot)),
        ] {
            let verdict = judged(&limit(Moment::Exit, "surface", bound)).unwrap();
            assert_eq!((verdict.margin_k, verdict.cause), (margin_k, cause), "{bound:?}");
            assert_eq!(verdict.holds, cause.is_none());
        }
    }

    #[test]
    fn a_long_part_is_judged_at_its_worst_section() {
        let nodes = names(&["mean", "web.surface", "boss.surface"]);
        let sections = names(&["web", "boss"]);
        let readings = [Reading {
            stage: 1,
            moment: Moment::End,
            time_s: 1.0,
            temps_c: vec![Some(1100.0), Some(1080.0), Some(1120.0)],
        }];
        let node = |node: &str, bound| {
            let limits = [limit(Moment::End, node, bound)];
            let verdicts = judge(&limits, &stages(), (&nodes, &sections), &readings, &[]);
            assert_eq!(verdicts.len(), 1);
            (verdicts[0].limit.node.clone(), verdicts[0].value)
        };
        assert_eq!(node("surface", Bound::MinC(1000.0)), ("web.surface".to_owned(), 1080.0));
        assert_eq!(
            node("surface", Bound::MaxC(1200.0)),
            ("boss.surface".to_owned(), 1120.0)
        );
        assert_eq!(node("mean", Bound::MinC(1000.0)), ("mean".to_owned(), 1100.0));
        assert_eq!(
            node("boss.surface", Bound::MinC(1000.0)),
            ("boss.surface".to_owned(), 1120.0)
        );
    }

    #[test]
    fn what_must_always_hold_is_judged_by_what_was_seen_on_the_way() {
        let limits = [
            limit(Moment::EveryBlow, "core", Bound::MinC(1000.0)),
            limit(Moment::Always, "surface", Bound::MinC(1000.0)),
        ];
        let nodes = names(&NODES);
        let verdict = |seen_c: f64, crossing_s| {
            let mut watched = Watch::of(&limits, &nodes, &[]);
            watched[0].note(&[1200.0, seen_c], 1, 3.5);
            watched[0].crossing_s = crossing_s;
            judge(&limits, &stages(), (&nodes, &[]), &readings(), &watched)
        };
        let verdicts = verdict(990.0, Some(3.2));
        assert_eq!(verdicts.len(), 2, "one verdict per limit, in their order");
        assert_eq!(verdicts[0].limit.node, "core");
        let always = &verdicts[1];
        assert_eq!((always.value, always.stage, always.time_s), (990.0, 1, 3.5));
        assert_eq!((always.moment, always.holds), (Moment::Always, false));
        assert_eq!(always.crossing_s, Some(3.2));
        assert_eq!(
            verdict(1010.0, Some(3.2))[1].crossing_s,
            None,
            "a limit that holds is not crossed"
        );
        let unseen = judge(
            &limits,
            &stages(),
            (&nodes, &[]),
            &readings(),
            &Watch::of(&limits, &nodes, &[]),
        );
        assert_eq!(unseen.len(), 1, "what was never seen is not judged");
    }
}
