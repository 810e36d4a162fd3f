//! Which instants and which material a limit covers, to find limits that exclude each other.

use crate::body::Place;
use crate::judge::Moment;
use crate::line::plan::{Stage, StageKind};

/// Where a limit applies.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Where {
    /// Every stage that has the moment.
    All,
    /// The heater.
    Heater,
    /// A stage by index.
    Stage(usize),
}

/// Number of blows of a stage for a limit that names it: a trimming stroke is one blow.
pub(crate) fn blows(stage: &Stage) -> u32 {
    match &stage.kind {
        StageKind::Forge(forge) => forge.blows,
        StageKind::Trim(_) => 1,
        _ => 0,
    }
}

/// Why `stage`, named by a limit, has no such moment, if it has none.
pub(crate) fn why_not(stage: &Stage, moment: Moment) -> Option<String> {
    let (kind, count) = (stage.kind.kind(), blows(stage));
    match moment {
        Moment::Start | Moment::End | Moment::Always => None,
        Moment::Exit => Some("only the heater has an exit".to_owned()),
        _ if count == 0 => Some(format!("a {kind} stage has no blows")),
        Moment::Blow(number) if number > count => {
            let plural = if count == 1 { "" } else { "s" };
            Some(format!("it has {count} blow{plural}"))
        }
        _ => None,
    }
}

/// The same for a limit that names no stage: its blows are those of forging.
pub(crate) fn somewhere(stages: &[Stage], moment: Moment) -> bool {
    moment == Moment::Exit || stages.iter().any(|stage| cover(stage, moment, false).is_some())
}

/// The instants of one stage that a limit covers.
#[derive(Clone, Copy, PartialEq)]
struct Cover {
    start: bool,
    end: bool,
    blows: Option<(u32, u32)>,
}

fn cover(stage: &Stage, moment: Moment, named: bool) -> Option<Cover> {
    let always = moment == Moment::Always;
    let trim = matches!(stage.kind, StageKind::Trim(_));
    let count = blows(stage);
    let range = match moment {
        Moment::Always if count > 0 => Some((1, count)),
        _ if trim && !named => None,
        _ => moment.blow_range(count),
    };
    let cover = Cover {
        start: always || moment == Moment::Start,
        end: always || moment == Moment::End,
        blows: range,
    };
    (cover.start || cover.end || range.is_some()).then_some(cover)
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
            Where::All => cover(stage, self.moment, false),
            Where::Stage(own) if own == index => cover(stage, self.moment, true),
            _ => None,
        }
    }

    fn at_exit(&self) -> bool {
        let exit = matches!(self.moment, Moment::Exit | Moment::Always);
        exit && !matches!(self.place, Where::Stage(_))
    }

    /// Whether some instant is covered by both. The end of a stage is the start of the next, and
    /// the heater exit is the start of the first.
    pub fn meets(&self, other: &When, stages: &[Stage]) -> bool {
        let mut ended = (self.at_exit(), other.at_exit());
        if ended == (true, true) {
            return true;
        }
        for (index, stage) in stages.iter().enumerate() {
            let (a, b) = (self.at(index, stage), other.at(index, stage));
            let begun = (
                ended.0 || a.is_some_and(|cover| cover.start),
                ended.1 || b.is_some_and(|cover| cover.start),
            );
            ended = (a.is_some_and(|cover| cover.end), b.is_some_and(|cover| cover.end));
            let blows = match (a.and_then(|c| c.blows), b.and_then(|c| c.blows)) {
                (Some(a), Some(b)) => a.0 <= b.1 && b.0 <= a.1,
                _ => false,
            };
            if begun == (true, true) || ended == (true, true) || blows {
                return true;
            }
        }
        false
    }
}

/// Whether a minimum at `low` also binds what a maximum at `high` binds: the same node, or a
/// maximum of the hottest or a minimum of the coldest of material that the other node is part of.
pub(crate) fn same_material(low: &str, high: &str) -> bool {
    let (Some((inner, low_at)), Some((outer, high_at))) = (Place::of(low), Place::of(high)) else {
        return low == high;
    };
    let widest = |zone: Option<&str>, other| zone.is_none() || zone == other;
    low == high
        || (high_at == Place::Hottest && widest(outer, inner))
        || (low_at == Place::Coldest && widest(inner, outer))
}
