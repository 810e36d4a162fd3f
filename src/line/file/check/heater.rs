//! The `[heater]` table.

use std::ops::Range;

use super::billet::{Billet, Shop};
use super::context::{Check, join};
use super::induction;
use crate::line::file::tables::{HeaterKind, RawHeater};
use crate::line::plan::{Heater, StartField, above_solidus};
use crate::text::{Given, ProblemKind, keys_of};

pub(crate) fn heater(
    check: &mut Check,
    raw: &Given<RawHeater>,
    billet: Option<&Billet>,
    shop: &Shop,
) -> Option<Heater> {
    let Some(raw) = raw.as_ref() else {
        let hint = "[heater] with kind = \"measured\" and temperature_c, or surface_c and core_c";
        check.missing(0..0, "the table [heater]", hint);
        return None;
    };
    let place = raw.span();
    let raw = raw.get_ref();
    if raw.kind.is_none() {
        let hint = "kind = \"measured\", \"furnace\", \"coil_line\" or \"static_coil\"";
        check.missing(place, "`kind` of the heater", hint);
        return None;
    }
    let kind = check.word("heater", &raw.kind)?;
    let (word, here) = match kind {
        HeaterKind::Measured => ("measured", "for a measured heater exit"),
        HeaterKind::Furnace => ("furnace", "for a furnace"),
        HeaterKind::CoilLine => ("coil_line", "for a coil line"),
        HeaterKind::StaticCoil => ("static_coil", "for a static coil"),
    };
    check.only(raw, word, here, |_| {
        format!("its keys are {}", keys_of::<RawHeater>(word))
    });
    match kind {
        HeaterKind::Measured => measured(check, raw, place).map(Heater::Measured),
        HeaterKind::Furnace => furnace(check, raw, place),
        HeaterKind::CoilLine => induction::coil_line(check, raw, place, billet?, shop),
        HeaterKind::StaticCoil => induction::static_coil(check, raw, place, billet?, shop),
    }
}

/// What is added to the exit state of any heater, K.
pub(crate) fn exit_offset(check: &mut Check, raw: &Given<RawHeater>) -> f64 {
    raw.value()
        .map_or(0.0, |raw| check.or_default("heater", &raw.exit_offset_k))
}

fn measured(check: &mut Check, raw: &RawHeater, place: Range<usize>) -> Option<StartField> {
    let base = "heater";
    let mut clash = check.exclusive(&raw.temperature_c, &raw.surface_c);
    clash |= check.exclusive(&raw.temperature_c, &raw.points);
    clash |= check.exclusive(&raw.temperature_c, &raw.core_c);
    clash |= check.exclusive(&raw.surface_c, &raw.points);
    for other in [&raw.temperature_c, &raw.surface_c] {
        clash |= check.exclusive(&raw.pyrometer_c, other);
    }
    clash |= check.exclusive(&raw.pyrometer_c, &raw.points);
    clash |= check.exclusive(&raw.core_c, &raw.core_below_surface_k);
    if clash {
        return None;
    }
    if let Some(points) = raw.points.as_ref() {
        return profile(check, points.get_ref(), points.span());
    }
    if let Some(temp_c) = check.number(base, &raw.temperature_c) {
        return Some(StartField::Uniform { temp_c });
    }
    let hint = "temperature_c for a uniform billet, surface_c with core_c or core_below_surface_k, or points";
    let surface_c = match check.number(base, &raw.pyrometer_c) {
        Some(shown) => shown,
        None => check.required(base, &raw.surface_c, place.clone(), hint),
    };
    let core_c = match raw.core_below_surface_k.as_ref() {
        Some(_) => {
            let below = check.number(base, &raw.core_below_surface_k);
            surface_c - below.unwrap_or(f64::NAN)
        }
        None => check.required(base, &raw.core_c, place, hint),
    };
    Some(StartField::Parabolic { surface_c, core_c })
}

/// Points that are not in rising order from 0 to 1.
fn order(detail: &str) -> ProblemKind {
    let detail = format!("points must rise from at = 0 (core) to at = 1 (surface): {detail}");
    ProblemKind::rule("point-order", detail, "")
}

fn profile(
    check: &mut Check,
    points: &[toml::Spanned<crate::line::file::tables::RawPoint>],
    place: Range<usize>,
) -> Option<StartField> {
    let mut list = Vec::new();
    for (index, point) in points.iter().enumerate() {
        let base = join("heater.points", &(index + 1).to_string());
        let (span, raw) = (point.span(), point.get_ref());
        let at = check.required(&base, &raw.at, span.clone(), "at = 0 to 1");
        let hint = "temperature_c = the temperature there";
        let temp_c = check.required(&base, &raw.temperature_c, span.clone(), hint);
        if let Some((before, _)) = list.last()
            && at <= *before
        {
            let detail = format!("{at} follows {before}");
            check.problem(order(&detail), span);
        }
        list.push((at, temp_c));
    }
    let ends = (list.first().map(|p| p.0), list.last().map(|p| p.0));
    match ends {
        (Some(first), Some(last)) if first > 0.0 || last < 1.0 || list.len() < 2 => {
            let detail = format!("they go from {first} to {last}");
            check.problem(order(&detail), place);
        }
        (None, _) => {
            let detail = "there are none".to_owned();
            check.problem(order(&detail), place);
        }
        _ => {}
    }
    Some(StartField::Points(list))
}

fn furnace(check: &mut Check, raw: &RawHeater, place: Range<usize>) -> Option<Heater> {
    let base = "heater";
    let hint = "temperature_c of the furnace";
    let furnace_c = check.required(base, &raw.temperature_c, place.clone(), hint);
    if check.exclusive(&raw.seconds, &raw.minutes) {
        return None;
    }
    let seconds = match check.number(base, &raw.minutes) {
        Some(minutes) => 60.0 * minutes,
        None => check.required(base, &raw.seconds, place, "seconds or minutes in the furnace"),
    };
    Some(Heater::Furnace {
        furnace_c,
        seconds,
        start_c: check.or_default(base, &raw.start_c),
        emissivity: check.or_default(base, &raw.emissivity),
        film_w_m2k: check.or_default(base, &raw.film_w_m2k),
        zones: induction::furnace_zones(check, raw),
    })
}

/// Warns of a part that would begin to melt: the run goes on, with solid properties.
pub(crate) fn warn_solidus(check: &mut Check, billet: &Billet, heater: &Heater) {
    let hottest = match heater {
        Heater::Measured(StartField::Uniform { temp_c }) => *temp_c,
        Heater::Measured(StartField::Parabolic { surface_c, core_c }) => surface_c.max(*core_c),
        Heater::Measured(StartField::Points(points)) => points.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max),
        _ => return,
    };
    check.warnings.extend(above_solidus(&billet.metal, hottest));
}
