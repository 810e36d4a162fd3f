//! The `[heater]` table.

use std::ops::Range;

use super::billet::{Billet, Shop};
use super::context::{Check, join};
use super::induction;
use crate::line::file::keys;
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::{At, RawHeater};
use crate::line::plan::{Heater, StartField};

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Measured,
    Furnace,
    CoilLine,
    StaticCoil,
}

pub(crate) fn heater(check: &mut Check, raw: &At<RawHeater>, billet: Option<&Billet>, shop: &Shop) -> Option<Heater> {
    let Some(raw) = raw else {
        let hint = "[heater] with kind = \"measured\" and temperature_c, or surface_c and core_c";
        check.missing(0..0, "the table [heater]", hint);
        return None;
    };
    let place = raw.span();
    let raw = raw.get_ref();
    let kinds = [
        ("measured", Kind::Measured),
        ("furnace", Kind::Furnace),
        ("coil_line", Kind::CoilLine),
        ("static_coil", Kind::StaticCoil),
    ];
    if raw.kind.is_none() {
        let hint = "kind = \"measured\", \"furnace\", \"coil_line\" or \"static_coil\"";
        check.missing(place, "`kind` of the heater", hint);
        return None;
    }
    let kind = check.word("heater", "kind", &raw.kind, &kinds)?;
    let (allowed, here): (&[&str], _) = match kind {
        Kind::Measured => (
            &[
                "kind",
                "temperature_c",
                "surface_c",
                "core_c",
                "core_below_surface_k",
                "points",
            ],
            "for a measured heater exit",
        ),
        Kind::Furnace => (
            &[
                "kind",
                "temperature_c",
                "seconds",
                "minutes",
                "start_c",
                "emissivity",
                "film_w_m2k",
                "zone",
            ],
            "for a furnace",
        ),
        Kind::CoilLine => (&induction::LINE_KEYS, "for a coil line"),
        Kind::StaticCoil => (&induction::STATIC_KEYS, "for a static coil"),
    };
    let allowed: Vec<&str> = allowed.iter().copied().chain(["exit_offset_k"]).collect();
    let allowed = allowed.as_slice();
    check.only(raw, allowed, here, |_| format!("its keys are {}", allowed.join(", ")));
    match kind {
        Kind::Measured => measured(check, raw, place).map(Heater::Measured),
        Kind::Furnace => furnace(check, raw, place),
        Kind::CoilLine => induction::coil_line(check, raw, place, billet?, shop),
        Kind::StaticCoil => induction::static_coil(check, raw, place, billet?, shop),
    }
}

/// What is added to the exit state of any heater, K.
pub(crate) fn exit_offset(check: &mut Check, raw: &At<RawHeater>) -> f64 {
    let given = raw.as_ref().map(|raw| &raw.get_ref().exit_offset_k);
    given.map_or(0.0, |value| check.or_default("heater", &keys::EXIT_OFFSET, value))
}

fn measured(check: &mut Check, raw: &RawHeater, place: Range<usize>) -> Option<StartField> {
    let base = "heater";
    let mut clash = check.exclusive("temperature_c", &raw.temperature_c, "surface_c", &raw.surface_c);
    clash |= check.exclusive("temperature_c", &raw.temperature_c, "points", &raw.points);
    clash |= check.exclusive("temperature_c", &raw.temperature_c, "core_c", &raw.core_c);
    clash |= check.exclusive("surface_c", &raw.surface_c, "points", &raw.points);
    clash |= check.exclusive("core_c", &raw.core_c, "core_below_surface_k", &raw.core_below_surface_k);
    if clash {
        return None;
    }
    if let Some(points) = &raw.points {
        return profile(check, points.get_ref(), points.span());
    }
    if let Some(temp_c) = check.number(base, &keys::EXIT_UNIFORM, &raw.temperature_c) {
        return Some(StartField::Uniform { temp_c });
    }
    let hint = "temperature_c for a uniform billet, surface_c with core_c or core_below_surface_k, or points";
    let surface_c = check.required(base, &keys::EXIT_SURFACE, &raw.surface_c, place.clone(), hint);
    let core_c = match &raw.core_below_surface_k {
        Some(_) => {
            let below = check.number(base, &keys::CORE_BELOW, &raw.core_below_surface_k);
            surface_c - below.unwrap_or(f64::NAN)
        }
        None => check.required(base, &keys::EXIT_CORE, &raw.core_c, place, hint),
    };
    Some(StartField::Parabolic { surface_c, core_c })
}

fn profile(
    check: &mut Check,
    points: &[toml::Spanned<crate::line::file::raw::RawPoint>],
    place: Range<usize>,
) -> Option<StartField> {
    let mut list = Vec::new();
    for (index, point) in points.iter().enumerate() {
        let base = join("heater.points", &(index + 1).to_string());
        let (span, raw) = (point.span(), point.get_ref());
        let at = check.required(&base, &keys::POINT_AT, &raw.at, span.clone(), "at = 0 to 1");
        let hint = "temperature_c = the temperature there";
        let temp_c = check.required(&base, &keys::POINT_C, &raw.temperature_c, span.clone(), hint);
        if let Some((before, _)) = list.last()
            && at <= *before
        {
            let detail = format!("{at} follows {before}");
            check.problem(ProblemKind::PointOrder { detail }, span);
        }
        list.push((at, temp_c));
    }
    let ends = (list.first().map(|p| p.0), list.last().map(|p| p.0));
    match ends {
        (Some(first), Some(last)) if first > 0.0 || last < 1.0 || list.len() < 2 => {
            let detail = format!("they go from {first} to {last}");
            check.problem(ProblemKind::PointOrder { detail }, place);
        }
        (None, _) => {
            let detail = "there are none".to_owned();
            check.problem(ProblemKind::PointOrder { detail }, place);
        }
        _ => {}
    }
    Some(StartField::Points(list))
}

fn furnace(check: &mut Check, raw: &RawHeater, place: Range<usize>) -> Option<Heater> {
    let base = "heater";
    let hint = "temperature_c of the furnace";
    let furnace_c = check.required(base, &keys::EXIT_UNIFORM, &raw.temperature_c, place.clone(), hint);
    if check.exclusive("seconds", &raw.seconds, "minutes", &raw.minutes) {
        return None;
    }
    let seconds = match check.number(base, &keys::FURNACE_MIN, &raw.minutes) {
        Some(minutes) => 60.0 * minutes,
        None => check.required(
            base,
            &keys::FURNACE_S,
            &raw.seconds,
            place,
            "seconds or minutes in the furnace",
        ),
    };
    Some(Heater::Furnace {
        furnace_c,
        seconds,
        start_c: check.or_default(base, &keys::START, &raw.start_c),
        emissivity: check.or_default(base, &keys::FURNACE_EMISSIVITY, &raw.emissivity),
        film_w_m2k: check.or_default(base, &keys::FURNACE_FILM, &raw.film_w_m2k),
        zones: induction::furnace_zones(check, raw),
    })
}

/// Warns of a part that would begin to melt: the run goes on, with solid properties.
pub(crate) fn warn_solidus(check: &mut Check, billet: &Billet, heater: &Heater) {
    let Some(solidus) = &billet.metal.solidus_c else {
        return;
    };
    let hottest = match heater {
        Heater::Measured(StartField::Uniform { temp_c }) => *temp_c,
        Heater::Measured(StartField::Parabolic { surface_c, core_c }) => surface_c.max(*core_c),
        Heater::Measured(StartField::Points(points)) => points.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max),
        _ => return,
    };
    if hottest > solidus.value {
        let message = format!(
            "the billet leaves the heater at {hottest} degC, above the solidus estimate of {} at {} degC ({})",
            billet.metal.name, solidus.value, solidus.source
        );
        check.warn("above-solidus", message);
    }
}
