//! The `[[limit]]` tables.

use std::ops::Range;

use toml::Spanned;

use super::context::{Check, join};
use super::moment::{When, Where, blows, same_material, somewhere, why_not};
use crate::body::Place;
use crate::judge::{Bound, Limit, Moment};
use crate::line::file::tables::RawLimit;
use crate::line::plan::{Piece, Shape, Stage, StageKind};
use crate::line::trace::Owner;
use crate::text::{Given, ProblemKind};

/// A checked bound with its place, for finding contradictions.
struct Placed {
    node: String,
    when: When,
    value: f64,
    span: Range<usize>,
}

/// Zones that the part has in each stage.
struct Zones {
    /// Those it comes with and those it leaves with.
    by_stage: Vec<(Vec<String>, Vec<String>)>,
    /// Blows of each stage.
    blows: Vec<u32>,
    /// First stage that the part enters as a long part.
    long_from: Option<usize>,
}

/// Names of the zones of a shape as nodes have them: a section's name before a dot is one too, and so is a zone's of
/// all sections. A part of plain body has no zone nodes: they would be the nodes of the whole.
fn zone_names(shape: &Option<Shape>) -> Vec<String> {
    let mut names: Vec<String> = match shape.as_ref().map(Shape::zones) {
        Some(zones) if zones != ["body"] => zones.iter().map(|z| (*z).to_owned()).collect(),
        _ => Vec::new(),
    };
    for zone in names.clone() {
        if let Some((section, bare)) = zone.split_once('.') {
            for name in [section, bare] {
                if !names.iter().any(|n| n == name) {
                    names.push(name.to_owned());
                }
            }
        }
    }
    names
}

impl Zones {
    fn along(piece: &Piece, stages: &[Stage]) -> Zones {
        let mut shape = piece.shape();
        let mut by_stage = Vec::with_capacity(stages.len());
        let mut long_from = None;
        for (index, stage) in stages.iter().enumerate() {
            if long_from.is_none() && shape.as_ref().is_some_and(Shape::is_long) {
                long_from = Some(index);
            }
            let before = zone_names(&shape);
            match &stage.kind {
                StageKind::Forge(forge) if forge.shape.is_some() => shape = forge.shape.clone(),
                StageKind::Trim(trim) => {
                    if let Some(shape) = &mut shape {
                        shape.rings.retain(|ring| !trim.removes.contains(&ring.zone));
                    }
                }
                _ => {}
            }
            by_stage.push((before, zone_names(&shape)));
        }
        Zones {
            by_stage,
            blows: stages.iter().map(blows).collect(),
            long_from,
        }
    }

    /// Zones at a place, at some moment; those of the first blow are there from the second one on.
    fn of(&self, place: Where, moment: Option<Moment>) -> Vec<String> {
        let both = |(before, after): &(Vec<String>, Vec<String>)| {
            let new = after.iter().filter(|zone| !before.contains(zone));
            before.iter().chain(new).cloned().collect::<Vec<_>>()
        };
        match place {
            Where::Stage(index) => {
                let Some(zones) = self.by_stage.get(index) else {
                    return Vec::new();
                };
                let first = match moment {
                    Some(Moment::Start | Moment::FirstBlow | Moment::Blow(1)) => true,
                    Some(Moment::LastBlow | Moment::EveryBlow) => self.blows[index] == 1,
                    _ => false,
                };
                match moment {
                    _ if first => zones.0.clone(),
                    Some(Moment::End) => zones.1.clone(),
                    _ => both(zones),
                }
            }
            Where::Heater => Vec::new(),
            Where::All => {
                let mut all: Vec<String> = Vec::new();
                for zone in self.by_stage.iter().flat_map(both) {
                    if !all.contains(&zone) {
                        all.push(zone);
                    }
                }
                all
            }
        }
    }
}

/// Checks the numbers of limits by themselves, where the stages that they speak of do not stand.
pub(crate) fn ranges(check: &mut Check, raw: &[Spanned<RawLimit>]) {
    for (index, limit) in raw.iter().enumerate() {
        let base = format!("limit.{}", index + 1);
        let raw = limit.get_ref();
        for given in [&raw.min_c, &raw.max_c, &raw.max_k] {
            check.number(&base, given);
        }
    }
}

/// Checks the limits of the file.
pub(crate) fn limits(check: &mut Check, raw: &[Spanned<RawLimit>], piece: &Piece, stages: &[Stage]) -> Vec<Limit> {
    let zones = Zones::along(piece, stages);
    let mut limits = Vec::new();
    let mut lows: Vec<Placed> = Vec::new();
    let mut highs: Vec<Placed> = Vec::new();
    for (index, raw) in raw.iter().enumerate() {
        let base = join("limit", &(index + 1).to_string());
        let place = raw.span();
        let raw = raw.get_ref();
        let when = when(check, raw, &place, stages);
        let node = node(check, &raw.node, piece, &zones, when);
        if raw.node.is_none() {
            check.missing(
                place.clone(),
                "`node` of the limit",
                "node = \"surface\", \"core\", \"mean\", ...",
            );
        }
        let other = node_of_difference(check, raw, piece, &zones, when);
        let min_c = check.number(&base, &raw.min_c);
        let max_c = check.number(&base, &raw.max_c);
        let max_k = check.number(&base, &raw.max_k);
        check.text(&raw.source);
        if min_c.is_none() && max_c.is_none() && max_k.is_none() && raw.difference_to.is_none() {
            let hint = "min_c, max_c, or max_k with difference_to";
            check.missing(place, "the bound of the limit", hint);
        }
        let (Some(when), Some(node)) = (when, node) else {
            continue;
        };
        let source = match raw.source.as_ref() {
            Some(source) => source.get_ref().clone(),
            None => "line file".to_owned(),
        };
        let mut push = |bound, other: Option<String>| {
            limits.push(Limit {
                stage: raw.stage.value().cloned(),
                moment: when.moment,
                node: node.clone(),
                other,
                bound,
                owner: Owner::Given,
                source: source.clone(),
            });
        };
        let placed = |value: f64, span: Range<usize>| Placed {
            node: node.clone(),
            when,
            value,
            span,
        };
        if let (Some(min_c), Some(at)) = (min_c, raw.min_c.as_ref()) {
            push(Bound::MinC(min_c), None);
            lows.push(placed(min_c, at.span()));
        }
        if let (Some(max_c), Some(at)) = (max_c, raw.max_c.as_ref()) {
            push(Bound::MaxC(max_c), None);
            highs.push(placed(max_c, at.span()));
        }
        if let (Some(max_k), Some(other)) = (max_k, other) {
            push(Bound::MaxDifferenceK(max_k), Some(other));
        }
    }
    contradictions(check, &lows, &highs, stages);
    limits
}

fn contradictions(check: &mut Check, lows: &[Placed], highs: &[Placed], stages: &[Stage]) {
    for low in lows {
        for high in highs {
            let clash =
                low.value > high.value && same_material(&low.node, &high.node) && low.when.meets(&high.when, stages);
            if clash {
                let detail = format!(
                    "limits exclude each other: at least {} degC but at most {} degC for node `{}`",
                    low.value, high.value, low.node
                );
                let kind = ProblemKind::rule("limits-exclude", detail, "");
                check.conflict(kind, low.span.clone(), high.span.clone(), "the maximum");
            }
        }
    }
}

fn when(check: &mut Check, raw: &RawLimit, place: &Range<usize>, stages: &[Stage]) -> Option<When> {
    let moment = match raw.moment.as_ref() {
        Some(given) => {
            let moment = Moment::parse(given.get_ref());
            if moment.is_none() {
                let words = Moment::WORDS.iter().map(|(word, _)| *word);
                check.unknown_word("moment", given.get_ref(), given.span(), words.chain(["blow N"]));
            }
            moment
        }
        None => {
            let words: Vec<&str> = Moment::WORDS.iter().map(|(word, _)| *word).collect();
            let hint = format!("moment = one of {}", words.join(", "));
            check.missing(place.clone(), "`moment` of the limit", &hint);
            None
        }
    };
    let stage = match raw.stage.as_ref() {
        None => Some(Where::All),
        Some(given) if given.get_ref() == "heater" => Some(Where::Heater),
        Some(given) => {
            let index = stages.iter().position(|stage| stage.name == *given.get_ref());
            if index.is_none() {
                let names = stages.iter().map(|stage| stage.name.as_str());
                check.unknown_word("stage", given.get_ref(), given.span(), names.chain(["heater"]));
            }
            index.map(Where::Stage)
        }
    };
    let (moment, stage) = (moment?, stage?);
    let why = match stage {
        Where::Heater if matches!(moment, Moment::Exit | Moment::Always) => None,
        Where::Heater => Some("the heater has `exit` and `always`".to_owned()),
        Where::Stage(index) => why_not(&stages[index], moment),
        Where::All if somewhere(stages, moment) => None,
        Where::All => Some("no stage of this line has it".to_owned()),
    };
    if let (Some(why), Some(at)) = (why, raw.moment.as_ref()) {
        let stage = raw.stage.value().map_or("(any)", |stage| stage);
        let detail = format!("stage \"{stage}\" has no moment \"{moment}\": {why}");
        check.problem(ProblemKind::rule("no-such-moment", detail, ""), at.span());
        return None;
    }
    Some(When { place: stage, moment })
}

fn node(check: &mut Check, raw: &Given<String>, piece: &Piece, zones: &Zones, when: Option<When>) -> Option<String> {
    let raw = raw.as_ref()?;
    let node = raw.get_ref();
    let place = when.map(|w| w.place);
    let here = zones.of(place.unwrap_or(Where::All), when.map(|w| w.moment));
    let long = matches!((place, zones.long_from), (Some(Where::Stage(at)), Some(from)) if at >= from);
    let plain = Place::ALL
        .into_iter()
        .filter(|place| (piece.length_m.is_some() && !long) || !place.is_of_ends());
    let mut names: Vec<String> = plain.map(|place| place.word().to_owned()).collect();
    for zone in &here {
        names.extend(Place::OF_ZONE.map(|place| place.in_zone(zone)));
    }
    if names.contains(node) {
        return Some(node.clone());
    }
    let mut none = |place: &str| {
        let detail = format!("node `{node}` does not exist {place}");
        let help = format!("allowed: {}", names.join(", "));
        check.problem(ProblemKind::rule("no-such-node", detail, &help), raw.span());
    };
    if matches!(Place::of(node), Some((None, place)) if place.is_of_ends()) {
        match long {
            true => none("on a part followed by its cross-sections"),
            false => none("on a bar without ends: give length_mm in [billet]"),
        }
        return None;
    }
    let elsewhere = zones.of(Where::All, None);
    match Place::of(node) {
        Some((Some(zone), _)) if elsewhere.iter().any(|z| z == zone) => {
            none(
                "at this moment: the part has no such zone then (what a blow makes is there from its end on, what a trim \
                 removes up to its blow)",
            );
        }
        _ => check.unknown_word("node", node, raw.span(), names.iter().map(String::as_str)),
    }
    None
}

fn node_of_difference(
    check: &mut Check,
    raw: &RawLimit,
    piece: &Piece,
    zones: &Zones,
    when: Option<When>,
) -> Option<String> {
    match (raw.difference_to.as_ref(), raw.max_k.as_ref()) {
        (Some(given), None) => {
            let kind = ProblemKind::Missing {
                what: "`max_k` beside difference_to".to_owned(),
                hint: "max_k = the largest difference".to_owned(),
            };
            check.problem(kind, given.span());
        }
        (None, Some(given)) => {
            let kind = ProblemKind::Missing {
                what: "`difference_to` beside max_k".to_owned(),
                hint: "difference_to = the second node".to_owned(),
            };
            check.problem(kind, given.span());
        }
        _ => {}
    }
    node(check, &raw.difference_to, piece, zones, when)
}
