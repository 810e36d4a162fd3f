//! Converters that feed several coils, and what coils and converters may carry.

use std::ops::Range;

use toml::Spanned;

use super::context::{Check, join};
use crate::heater::coil::Drive;
use crate::heater::line::{Converter, Division};
use crate::heater::ratings::Limits;
use crate::line::file::tables::{RawConverter, RawHeater, RawZone, Share};
use crate::line::plan::CoilLine;
use crate::text::{Given, ProblemKind};

/// Turns where they are not given: they set volts and amperes, which are then not told.
pub(super) const UNKNOWN_TURNS: f64 = 1.0;

/// Refuses an induction heater for what it says.
pub(super) fn refuse(check: &mut Check, detail: String, place: Range<usize>) {
    check.problem(ProblemKind::rule("heater", detail, ""), place);
}

/// Highest voltage, V, current, A, and reactive power, kvar, of a coil: its own, or the heater's.
pub(super) fn rated(
    check: &mut Check,
    base: &str,
    raw: &RawZone,
    heater: [Option<f64>; 3],
    turns: bool,
) -> [Option<f64>; 3] {
    let own = [&raw.highest_v, &raw.highest_a, &raw.highest_kvar];
    let [volts, amperes, kvar] = own.map(|key| check.number(base, key));
    for key in [&raw.highest_v, &raw.highest_a] {
        if let (Some(span), false) = (key.span(), turns) {
            let detail = format!(
                "{} needs turns: without them neither voltage nor current is known",
                key.key.name
            );
            refuse(check, detail, span);
        }
    }
    let known = |value: Option<f64>| value.filter(|_| turns);
    [
        volts.or(known(heater[0])),
        amperes.or(known(heater[1])),
        kvar.or(heater[2]),
    ]
}

/// A coil of the line as its converter needs it.
struct Wired<'a> {
    name: String,
    zone: &'a RawZone,
    frequency_hz: f64,
    turns: f64,
}

/// Reads the converters, and turns what is set by coil into what is set by channel.
pub(super) fn converters(check: &mut Check, raw: &RawHeater, heater: &mut CoilLine) {
    let zones = raw.zone.items();
    let line = &heater.line;
    let whole = zones.len() == line.zones.len();
    for (key, of) in [(&raw.highest_v, "voltage"), (&raw.highest_a, "current")] {
        let unknown = line.coils().any(|(_, c)| c.turns <= UNKNOWN_TURNS);
        if let (Some(span), true) = (key.span(), unknown) {
            refuse(
                check,
                format!("{} needs turns: without them no {of} is known", key.key.name),
                span,
            );
        }
    }
    // A zone that was refused leaves nothing to count coils by.
    if raw.converter.is_none() || !whole {
        return;
    }
    let coils: Vec<Wired> = line
        .coils()
        .map(|(z, coil)| Wired {
            name: line.zones[z].name.clone(),
            zone: zones[z].get_ref(),
            frequency_hz: coil.frequency_hz,
            turns: coil.turns,
        })
        .collect();
    let mut powers = Vec::new();
    for (index, one) in raw.converter.items().iter().enumerate() {
        let base = join("heater.converter", &(index + 1).to_string());
        let Some((converter, limits, power)) = converter(check, (&base, index), one, &coils, heater) else {
            continue;
        };
        let hz = |key: &Given<f64>, otherwise: f64| key.value().copied().unwrap_or(otherwise);
        let raw = one.get_ref();
        heater
            .gives_hz
            .push((hz(&raw.lowest_hz, 0.0), hz(&raw.highest_hz, f64::INFINITY)));
        heater.line.converters.push(converter);
        heater.ratings.converters.push(limits);
        powers.push(power);
    }
    by_channel(heater, &powers);
}

/// What is set, and the highest power, of each channel instead of each coil.
fn by_channel(heater: &mut CoilLine, powers: &[Option<f64>]) {
    let of_coils = &heater.ratings.coils;
    let highest = |coil: usize| of_coils.get(coil).and_then(|l| l.power_w).unwrap_or(f64::NAN);
    let mut settings = Vec::new();
    let mut most = Vec::new();
    for channel in heater.line.channels() {
        let Some(n) = channel.converter else {
            settings.push(heater.settings[channel.coils[0]]);
            most.push(highest(channel.coils[0]));
            continue;
        };
        settings.push(powers[n].map(Drive::Terminals));
        let coils = channel.coils.iter();
        let of_coils = match &heater.line.converters[n].division {
            Division::Voltage => coils.map(|c| highest(*c)).sum(),
            Division::Power(parts) => {
                let all: f64 = parts.iter().sum();
                let whole = coils.zip(parts).map(|(c, part)| highest(*c) * all / part);
                whole.fold(f64::INFINITY, f64::min)
            }
        };
        let own = heater.ratings.converters[n].power_w.unwrap_or(f64::INFINITY);
        most.push(own.min(of_coils));
    }
    heater.settings = settings;
    heater.highest_w = most;
}

/// One converter with its limits and its power in W, where it is set.
fn converter(
    check: &mut Check,
    (base, index): (&str, usize),
    one: &Spanned<RawConverter>,
    coils: &[Wired],
    heater: &CoilLine,
) -> Option<(Converter, Limits, Option<f64>)> {
    let (place, raw) = (one.span(), one.get_ref());
    let name = check
        .text(&raw.name)
        .unwrap_or_else(|| format!("converter {}", index + 1));
    let others = &heater.line.converters;
    let taken = coils.iter().any(|c| c.name == name) || others.iter().any(|c| c.name == name);
    if let (Some(span), true) = (raw.name.span(), taken) {
        refuse(check, format!("two coils or converters are named \"{name}\""), span);
    }
    let share = check.word_or(
        base,
        &raw.share,
        (Share::Voltage, "windings in parallel, as is usual (common practice)"),
    );
    let members = members(check, raw, &name, &place, coils, others)?;
    let of: Vec<&Wired> = members.iter().map(|(c, _)| &coils[*c]).collect();
    let before = check.problems.len();
    one_frequency(check, raw, base, &name, &members, coils);
    let power_kw = check.number(base, &raw.power_kw);
    let (division, power_kw) = match share {
        Share::Voltage => (parallel(check, raw, &name, &members, coils), power_kw),
        Share::Power => by_parts(check, raw, &name, &of, power_kw),
    };
    let highest_kw = check.number(base, &raw.highest_kw);
    let limits = Limits {
        power_w: highest_kw.map(|kw| kw * 1e3),
        volts: check.number(base, &raw.highest_v),
        amperes: check.number(base, &raw.highest_a),
        reactive_var: check.number(base, &raw.highest_kvar).map(|kvar| kvar * 1e3),
    };
    let converter = Converter {
        name,
        coils: members.iter().map(|m| m.0).collect(),
        division,
    };
    (check.problems.len() == before).then_some((converter, limits, power_kw.map(|kw| kw * 1e3)))
}

/// The coils that a converter names, each with its place in the file.
fn members(
    check: &mut Check,
    raw: &RawConverter,
    name: &str,
    place: &Range<usize>,
    coils: &[Wired],
    others: &[Converter],
) -> Option<Vec<(usize, Range<usize>)>> {
    let names = raw.coils.items();
    if names.is_empty() {
        let hint = "coils = [\"...\", \"...\"]: names of zones of kind coil";
        check.missing(
            raw.coils.span().unwrap_or(place.clone()),
            "`coils` of the converter",
            hint,
        );
        return None;
    }
    let mut members: Vec<(usize, Range<usize>)> = Vec::new();
    let before = check.problems.len();
    for given in names {
        let (span, word) = (given.span(), given.get_ref());
        let Some(index) = coils.iter().position(|c| c.name == *word) else {
            let known = coils.iter().map(|c| c.name.as_str());
            check.unknown_word("coil", word, span, known);
            continue;
        };
        if members.iter().any(|m| m.0 == index) {
            refuse(check, format!("coil \"{word}\" is named twice"), span);
        } else if let Some(other) = others.iter().find(|c| c.coils.contains(&index)) {
            let detail = format!(
                "coil \"{word}\" hangs on \"{}\" already, so it cannot hang on \"{name}\"",
                other.name
            );
            refuse(check, detail, span);
        } else {
            members.push((index, span));
        }
    }
    (check.problems.len() == before).then_some(members)
}

/// Coils of one converter have one frequency, which it can give.
fn one_frequency(
    check: &mut Check,
    raw: &RawConverter,
    base: &str,
    name: &str,
    members: &[(usize, Range<usize>)],
    coils: &[Wired],
) {
    let Some(((first, _), rest)) = members.split_first() else {
        return;
    };
    let first = &coils[*first];
    for (other, span) in rest {
        let other = &coils[*other];
        if (other.frequency_hz / first.frequency_hz - 1.0).abs() > 1e-9 {
            let detail = format!(
                "coils of one converter have one frequency: {} has {} Hz, {} has {} Hz",
                first.name, first.frequency_hz, other.name, other.frequency_hz
            );
            refuse(check, detail, span.clone());
        }
    }
    let lowest = check.number(base, &raw.lowest_hz);
    let highest = check.number(base, &raw.highest_hz);
    let hz = first.frequency_hz;
    for (key, outside, word) in [
        (&raw.lowest_hz, lowest.is_some_and(|low| hz < low), "below"),
        (&raw.highest_hz, highest.is_some_and(|high| hz > high), "above"),
    ] {
        if let (Some(span), true) = (key.span(), outside) {
            refuse(
                check,
                format!("the coils of {name} have {hz} Hz, {word} what it gives"),
                span,
            );
        }
    }
}

/// Refuses what coils on one voltage cannot have.
fn parallel(
    check: &mut Check,
    raw: &RawConverter,
    name: &str,
    members: &[(usize, Range<usize>)],
    coils: &[Wired],
) -> Division {
    for (index, span) in members {
        let coil = &coils[*index];
        if coil.turns <= UNKNOWN_TURNS {
            let detail = format!(
                "coil \"{}\" has no turns: on one voltage its power follows from its impedance, which goes with their square",
                coil.name
            );
            check.problem(
                ProblemKind::rule("heater", detail, "turns of the coil, or of the heater"),
                span.clone(),
            );
        }
        for span in driven(coil.zone) {
            let detail = format!(
                "the powers of the coils of {name} follow from its one voltage: power_kw of the converter gives them"
            );
            refuse(check, detail, span);
        }
    }
    if let Some(span) = raw.parts.span() {
        let detail = "on one voltage each coil takes what its impedance lets it; parts are for share = \"power\"";
        refuse(check, detail.to_owned(), span);
    }
    Division::Voltage
}

/// Places where a coil has a power of its own.
fn driven(zone: &RawZone) -> Vec<Range<usize>> {
    let keys: [&Given<f64>; 3] = [&zone.power_kw, &zone.load_kw, &zone.field_a_m];
    keys.into_iter().filter_map(Given::span).collect()
}

/// The parts of coils that share a power, and that power in kW.
fn by_parts(
    check: &mut Check,
    raw: &RawConverter,
    name: &str,
    coils: &[&Wired],
    power_kw: Option<f64>,
) -> (Division, Option<f64>) {
    for key in [&raw.highest_v, &raw.highest_a] {
        if let Some(span) = key.span() {
            let detail = format!(
                "coils that share a power have no common voltage: give {} in the zones of {name}",
                key.key.name
            );
            refuse(check, detail, span);
        }
    }
    for coil in coils {
        for key in [&coil.zone.load_kw, &coil.zone.field_a_m] {
            if let Some(span) = key.span() {
                let detail = format!("a coil of the converter {name} is set by power_kw, here or at the converter");
                refuse(check, detail, span);
            }
        }
    }
    let own: Vec<Option<f64>> = coils.iter().map(|c| c.zone.power_kw.value().copied()).collect();
    let first = coils.iter().find_map(|c| c.zone.power_kw.span());
    let Some(first) = first else {
        let parts: Vec<f64> = raw
            .parts
            .items()
            .iter()
            .map(|p| check.in_range(&raw.parts, *p.get_ref(), p.span()))
            .collect();
        if let (Some(span), true) = (raw.parts.span(), parts.len() != coils.len()) {
            refuse(check, format!("{} parts for {} coils", parts.len(), coils.len()), span);
        }
        return match parts.is_empty() {
            true => (Division::Power(vec![1.0; coils.len()]), power_kw),
            false => (Division::Power(parts), power_kw),
        };
    };
    for other in [raw.power_kw.span(), raw.parts.span()].into_iter().flatten() {
        let detail = format!("power_kw is given at coils of {name} already, which says what each gets");
        check.conflict(
            ProblemKind::rule("heater", detail, ""),
            other,
            first.clone(),
            "given here",
        );
    }
    let given: Option<Vec<f64>> = own.into_iter().collect();
    match given {
        Some(all) if all.iter().all(|kw| *kw > 0.0) => {
            let sum = all.iter().sum();
            (Division::Power(all), Some(sum))
        }
        _ => {
            let detail = format!("power_kw above 0 for every coil of {name}, or one at the converter");
            refuse(check, detail, first);
            (Division::Power(vec![1.0; coils.len()]), None)
        }
    }
}
