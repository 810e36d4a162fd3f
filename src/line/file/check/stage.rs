//! The `[[stage]]` tables.

use std::ops::Range;

use toml::Spanned;

use super::billet::{Billet, Shop};
use super::context::{Check, join};
use super::part::Part;
use super::tools::Tools;
use super::{carry, cool, forge, rest, trim};
use crate::line::file::tables::RawStage;
use crate::line::plan::{CrossSection, Stage, StageKind, Surroundings};
use crate::text::ProblemKind;

/// All stages in order; shorter than the list given when one was refused.
pub(crate) fn stages(
    check: &mut Check,
    (raw, sections): (&[Spanned<RawStage>], Option<Vec<CrossSection>>),
    (billet, scale_loss): (&Billet, f64),
    shop: &Shop,
    tools: &Tools,
) -> Vec<Stage> {
    let names = names(check, raw);
    let mut part = Part {
        section: billet.piece.section,
        length_m: billet.piece.length_m,
        shape: billet.piece.shape(),
        scale_loss,
        forged: false,
        lost: false,
        unread: sections.is_none(),
        sections: sections.unwrap_or_default(),
    };
    let mut stages = Vec::with_capacity(raw.len());
    for (stage, name) in raw.iter().zip(names) {
        let base = join("stage", &name);
        let place = stage.span();
        let raw = stage.get_ref();
        let line = match raw.name.as_ref() {
            Some(given) => check.line(given.span().start),
            None => check.line(place.start),
        };
        let surroundings = surroundings(check, &base, raw, shop);
        let Some(kind) = kind_word(check, &base, raw, &place) else {
            continue;
        };
        let kind = match kind {
            "carry" => {
                let seconds = seconds(check, &base, raw, place);
                carry::carry(check, &base, raw, (seconds, &part, surroundings.ambient_c), tools)
            }
            "wait" => Some(StageKind::Wait {
                seconds: seconds(check, &base, raw, place),
            }),
            "rest" => {
                let seconds = seconds(check, &base, raw, place.clone());
                let support = rest::support(check, &base, raw, place, (&part, tools, None));
                support.map(|support| StageKind::Rest { seconds, support })
            }
            "descale" => Some(StageKind::Descale {
                seconds: seconds(check, &base, raw, place),
                film_w_m2k: check.or_default(&base, &raw.w_m2k),
                water_c: check.or_default(&base, &raw.water_c),
            }),
            "forge" => forge::forge(check, &base, raw, place, &mut part, tools),
            "trim" => trim::trim(check, &base, raw, place, &mut part, tools),
            _ => {
                let seconds = seconds(check, &base, raw, place);
                cool::cool(check, &base, raw, &part, (tools, seconds))
            }
        };
        if let Some(kind) = kind {
            stages.push(Stage {
                name,
                kind,
                surroundings,
                line,
            });
        }
    }
    stages
}

/// Names, given or made from the kind; distinct.
fn names(check: &mut Check, raw: &[Spanned<RawStage>]) -> Vec<String> {
    for (index, stage) in raw.iter().enumerate() {
        let name = check.text(&stage.get_ref().name);
        let (Some(name), Some(given)) = (name, stage.get_ref().name.as_ref()) else {
            continue;
        };
        if name == "heater" {
            let detail = format!("a stage cannot be named \"{name}\"");
            let kind = ProblemKind::rule("reserved-name", detail, "the name stands for the heater in limits");
            check.problem(kind, given.span());
            continue;
        }
        let mut before = raw[..index].iter().filter_map(|s| s.get_ref().name.as_ref());
        let same = before.find(|other| *other.get_ref() == name);
        if let Some(first) = same {
            let kind = ProblemKind::rule("duplicate-stage", format!("two stages are named \"{name}\""), "");
            check.conflict(kind, given.span(), first.span(), "first used here");
        }
    }
    let mut names: Vec<String> = Vec::with_capacity(raw.len());
    for stage in raw {
        let stage = stage.get_ref();
        let name = match (stage.name.as_ref(), stage.kind.as_ref()) {
            (Some(name), _) => name.get_ref().clone(),
            (None, kind) => {
                let kind = kind.map_or("stage", |kind| kind.get_ref());
                let taken = |name: &str| {
                    let given = raw.iter().filter_map(|s| s.get_ref().name.as_ref());
                    names.iter().any(|n| n == name) || given.into_iter().any(|n| n.get_ref() == name)
                };
                let mut name = kind.to_owned();
                let mut number = 2;
                while taken(&name) {
                    name = format!("{kind} {number}");
                    number += 1;
                }
                name
            }
        };
        names.push(name);
    }
    names
}

fn kind_word(check: &mut Check, base: &str, raw: &RawStage, place: &Range<usize>) -> Option<&'static str> {
    if raw.kind.is_none() {
        let hint = format!("kind = one of {}", raw.kind.key.words.join(", "));
        check.missing(place.clone(), "`kind` of the stage", &hint);
        return None;
    }
    let kind = check.one_of(base, &raw.kind)?;
    check.only(raw, kind, &format!("for a {kind} stage"), |key| {
        format!("it belongs to {}", key.kinds.join(", "))
    });
    Some(kind)
}

fn surroundings(check: &mut Check, base: &str, raw: &RawStage, shop: &Shop) -> Surroundings {
    let air = &shop.air;
    let ambient = check.number(base, &raw.ambient_c);
    let walls = check.number(base, &raw.surroundings_c);
    let walls_otherwise = match ambient {
        Some(ambient_c) if !shop.walls_given => ambient_c,
        _ => air.surroundings_c,
    };
    Surroundings {
        ambient_c: ambient.unwrap_or(air.ambient_c),
        surroundings_c: walls.unwrap_or(walls_otherwise),
        air_speed_m_s: check.number(base, &raw.air_speed_m_s).unwrap_or(air.air_speed_m_s),
        film_w_m2k: check.number(base, &raw.film_w_m2k).or(air.film_w_m2k),
        view_factor: check.number(base, &raw.view_factor).unwrap_or(air.view_factor),
        emissivity: check.number(base, &raw.emissivity).or(air.emissivity),
    }
}

fn seconds(check: &mut Check, base: &str, raw: &RawStage, place: Range<usize>) -> f64 {
    let hint = "seconds = how long the stage lasts";
    check.required(base, &raw.seconds, place, hint)
}
