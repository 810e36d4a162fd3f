//! Which instants and which material a limit covers, to find limits that exclude each other.

use crate::line::plan::{Moment, Stage, StageKind};

/// The instants of one stage that a limit covers.
#[derive(Clone, Copy, PartialEq)]
struct Cover {
    start: bool,
    end: bool,
    stroke: bool,
    blows: Option<(u32, u32)>,
}

/// Number of blows of a stage; zero for a stage without.
pub(crate) fn blows(stage: &Stage) -> u32 {
    match &stage.kind {
        StageKind::Forge(forge) => forge.blows,
        _ => 0,
    }
}

/// Why `stage` has no such moment, if it has none.
pub(crate) fn why_not(stage: &Stage, moment: Moment) -> Option<String> {
    let kind = stage.kind.word();
    let trim = matches!(stage.kind, StageKind::Trim(_));
    match moment {
        Moment::Start | Moment::End | Moment::Always => None,
        Moment::Exit => Some("only the heater has an exit".to_owned()),
        Moment::Stroke if trim => None,
        Moment::Stroke => Some(format!("a {kind} stage has no trimming stroke")),
        Moment::Blow(number) if number > blows(stage) && blows(stage) > 0 => {
            Some(format!("it has {} blows", blows(stage)))
        }
        _ if blows(stage) > 0 => None,
        _ if trim => Some("a trim stage has a `stroke`".to_owned()),
        _ => Some(format!("a {kind} stage has no blows")),
    }
}

fn cover(stage: &Stage, moment: Moment) -> Option<Cover> {
    if why_not(stage, moment).is_some() {
        return None;
    }
    let always = moment == Moment::Always;
    let count = blows(stage);
    Some(Cover {
        start: always || moment == Moment::Start,
        end: always || moment == Moment::End,
        stroke: always || moment == Moment::Stroke,
        blows: if always && count > 0 {
            Some((1, count))
        } else {
            moment.blow_range(count)
        },
    })
}

/// Where a limit applies: a stage by index or all of them.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Where {
    All,
    Heater,
    Stage(usize),
}

/// A limit's place in time.
#[derive(Clone, Copy)]
pub(crate) struct When {
    pub place: Where,
    pub moment: Moment,
}

impl When {
    fn at(&self, index: usize, stage: &Stage) -> Option<Cover> {
        match self.place {
            Where::All => cover(stage, self.moment),
            Where::Stage(own) if own == index => cover(stage, self.moment),
            _ => None,
        }
    }

    fn at_exit(&self, stages: &[Stage]) -> bool {
        let exit = matches!(self.moment, Moment::Exit | Moment::Always);
        let first = stages.first().and_then(|stage| self.at(0, stage));
        (exit && self.place != Where::Stage(0) && !matches!(self.place, Where::Stage(_)))
            || first.is_some_and(|cover| cover.start)
    }

    /// Whether some instant is covered by both.
    pub fn meets(&self, other: &When, stages: &[Stage]) -> bool {
        if self.at_exit(stages) && other.at_exit(stages) {
            return true;
        }
        let mut before: (bool, bool) = (false, false);
        for (index, stage) in stages.iter().enumerate() {
            let (a, b) = (self.at(index, stage), other.at(index, stage));
            let start = (
                a.is_some_and(|c| c.start) || before.0,
                b.is_some_and(|c| c.start) || before.1,
            );
            if start == (true, true) {
                return true;
            }
            before = (a.is_some_and(|c| c.end), b.is_some_and(|c| c.end));
            if before == (true, true) {
                return true;
            }
            if let (Some(a), Some(b)) = (a, b) {
                let blows = match (a.blows, b.blows) {
                    (Some(a), Some(b)) => a.0 <= b.1 && b.0 <= a.1,
                    _ => false,
                };
                if blows || (a.stroke && b.stroke && matches!(stage.kind, StageKind::Trim(_))) {
                    return true;
                }
            }
        }
        false
    }
}

/// Whether a minimum at `low` also binds what a maximum at `high` binds: the same node, or a
/// maximum of the hottest or a minimum of the coldest of material that the other node is part of.
pub(crate) fn same_material(low: &str, high: &str) -> bool {
    if low == high || high == "hottest" || low == "coldest" {
        return true;
    }
    let zone = |node: &str| node.rsplit_once('.').map(|(zone, _)| zone.to_owned());
    match (zone(low), zone(high)) {
        (Some(a), Some(b)) => a == b && (high.ends_with(".hottest") || low.ends_with(".coldest")),
        _ => false,
    }
}
