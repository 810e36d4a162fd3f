//! Coil lines, static coils, furnace zones.

use std::ops::Range;

use toml::Spanned;

use super::billet::{Billet, Shop};
use super::context::{Check, join};
use super::converter::{UNKNOWN_TURNS, converters, rated, refuse};
use crate::heater::HeaterError;
use crate::heater::coil::{Coil, Drive, copper_resistivity};
use crate::heater::field::skin_depth;
use crate::heater::fixed::{FixedCoil, PowerStep};
use crate::heater::line::{Criteria, HeaterLine, Motion, Target, Zone, ZoneKind};
use crate::heater::lining::Lining;
use crate::heater::ratings::{Limits, Ratings};
use crate::heater::search::{Goal, Least};
use crate::judge::Datum;
use crate::line::file::tables::{RawHeater, RawTarget, RawZone};
use crate::line::plan::{CoilLine, FurnaceZone, Heater, Resolution, Section, StaticCoil};
use crate::text::{Given, ProblemKind, keys_of};

/// Most zones or steps.
const MOST: usize = 200;

/// What all coils of a heater share where they do not say otherwise.
struct Common {
    lining_emissivity: f64,
    copper_c: f64,
    fill: f64,
}

fn common(check: &mut Check, raw: &RawHeater) -> Common {
    let base = "heater";
    Common {
        lining_emissivity: check.or_default(base, &raw.lining_emissivity),
        copper_c: check.or_default(base, &raw.copper_c),
        fill: check.or_default(base, &raw.fill),
    }
}

/// Drive of a coil or step: one of three keys, or none.
fn drive(check: &mut Check, base: &str, [power, load, field]: [&Given<f64>; 3]) -> Option<Drive> {
    check.exclusive(power, load);
    check.exclusive(power, field);
    check.exclusive(load, field);
    let terminals = check.number(base, power).map(|kw| Drive::Terminals(kw * 1e3));
    let load = check.number(base, load).map(|kw| Drive::Load(kw * 1e3));
    let field = check.number(base, field).map(Drive::Field);
    terminals.or(load).or(field)
}

/// Refuses a power above the highest that the file gives its coil, kW.
fn within(check: &mut Check, given: &Given<f64>, drive: Option<Drive>, most_kw: Option<f64>) {
    if let (Some(Drive::Terminals(watts)), Some(most)) = (drive, most_kw)
        && watts > 1e3 * most * (1.0 + 1e-9)
    {
        let detail = format!("power_kw = {} is above highest_kw = {most}", 1e-3 * watts);
        refuse(check, detail, given.span().unwrap_or_default());
    }
}

pub(crate) fn coil_line(
    check: &mut Check,
    raw: &RawHeater,
    place: Range<usize>,
    billet: &Billet,
    shop: &Shop,
) -> Option<Heater> {
    let base = "heater";
    let why = "pushed on by one billet length each takt";
    let motion = check.word_or(base, &raw.motion, (Motion::Indexed, why));
    let start_c = check.or_default(base, &raw.start_c);
    let shared = common(check, raw);
    let supply_efficiency = check.or_default(base, &raw.supply_efficiency);
    let (diameter, length) = bar_size(check, billet, &place)?;
    if shop.takt_s.is_none() {
        let hint = "takt_s in [shop]: the time from billet to billet";
        check.missing(place.clone(), "`takt_s`", hint);
    }
    let Some(list) = raw.zone.as_ref().filter(|z| !z.get_ref().is_empty()) else {
        let hint = "[[heater.zone]] with kind = \"coil\" and length_mm, from the cold end on";
        check.missing(place, "`zone` of the heater", hint);
        return None;
    };
    if list.get_ref().len() > MOST {
        let kind = ProblemKind::TooMany {
            what: "zones",
            count: list.get_ref().len(),
            most: MOST,
        };
        check.problem(kind, list.span());
        return None;
    }
    let mut heater = CoilLine {
        line: HeaterLine {
            zones: Vec::new(),
            converters: Vec::new(),
            billet_m: length,
            takt_s: shop.takt_s.unwrap_or(f64::NAN),
            motion,
            start_c,
            ambient_c: shop.air.ambient_c,
        },
        settings: Vec::new(),
        highest_w: Vec::new(),
        ratings: Ratings::default(),
        gives_hz: Vec::new(),
        water_rise_k: check.or_default(base, &raw.water_rise_k),
        goal: None,
        exit_offset_k: 0.0,
        criteria: None,
        supply_efficiency,
        emissivity: billet.emissivity,
    };
    let numbers = Numbers::of(check, raw);
    for (index, zone) in list.get_ref().iter().enumerate() {
        line_zone(check, index, zone, &numbers, &shared, &mut heater);
    }
    let before = check.problems.len();
    converters(check, raw, &mut heater);
    heater.goal = raw
        .target
        .as_ref()
        .and_then(|t| target(check, t, billet, start_c, &mut heater.criteria));
    if heater.settings.is_empty() && check.problems.len() == before {
        refuse(
            check,
            "a coil line needs at least one zone of kind \"coil\"".to_owned(),
            list.span(),
        );
    }
    if heater.goal.is_none() && heater.settings.iter().any(Option::is_none) && check.problems.len() == before {
        let hint = "power_kw for every coil, or [heater.target] with temperature_c to find them";
        check.missing(list.span(), "`power_kw` of a coil", hint);
    }
    partly_set(check, &heater, list.span());
    if check.problems.is_empty() {
        physical(check, billet, &heater, diameter, list.span());
    }
    Some(Heater::CoilLine(Box::new(heater)))
}

/// Says which powers are searched where others are given, and refuses given ones that a search cannot hold.
fn partly_set(check: &mut Check, heater: &CoilLine, place: Range<usize>) {
    if heater.goal.is_none() || !heater.is_partly_set() {
        return;
    }
    let (mut without, mut otherwise) = (Vec::new(), Vec::new());
    for (channel, setting) in heater.line.channels().into_iter().zip(&heater.settings) {
        match setting {
            None => without.push(channel.name),
            Some(Drive::Terminals(_)) => {}
            Some(_) => otherwise.push(channel.name),
        }
    }
    if otherwise.is_empty() {
        let message = format!(
            "no power is given for {}: it is found for the target, and the powers given stay",
            without.join(", ")
        );
        check
            .warn("power", message)
            .tell("coils", Datum::Name(without.join(", ")));
    } else {
        let detail = format!(
            "no power is given for {}, so it is found for the target, for which {} must be given as power_kw",
            without.join(", "),
            otherwise.join(", ")
        );
        refuse(check, detail, place);
    }
}

/// Numbers of the heater that its zones take over.
struct Numbers {
    bore: Option<f64>,
    frequency: Option<f64>,
    lining: f64,
    lining_w: f64,
    highest: f64,
    highest_given: bool,
    turns: Option<f64>,
    /// Voltage, V, current, A, and reactive power, kvar.
    rated: [Option<f64>; 3],
}

impl Numbers {
    fn of(check: &mut Check, raw: &RawHeater) -> Numbers {
        let base = "heater";
        Numbers {
            bore: check.number(base, &raw.bore_mm),
            frequency: check.number(base, &raw.frequency_hz),
            lining: check.or_default(base, &raw.lining_mm),
            lining_w: check.or_default(base, &raw.lining_w_mk),
            highest: check.or_default(base, &raw.highest_kw),
            highest_given: raw.highest_kw.is_some(),
            turns: check.number(base, &raw.turns),
            rated: [&raw.highest_v, &raw.highest_a, &raw.highest_kvar].map(|key| check.number(base, key)),
        }
    }
}

fn line_zone(
    check: &mut Check,
    index: usize,
    zone: &Spanned<RawZone>,
    numbers: &Numbers,
    shared: &Common,
    heater: &mut CoilLine,
) {
    let base = join("heater.zone", &(index + 1).to_string());
    let (place, raw) = (zone.span(), zone.get_ref());
    if raw.kind.is_none() {
        check.missing(place, "`kind` of the zone", "kind = \"coil\", \"open\" or \"tunnel\"");
        return;
    }
    let kind = match check.one_of(&base, &raw.kind) {
        Some(kind) if kind != "furnace" => kind,
        Some(word) => {
            let names = raw.kind.key.words.iter().copied().filter(|name| *name != word);
            check.unknown_word("kind", word, raw.kind.span().unwrap_or(place), names);
            return;
        }
        None => return,
    };
    check.only(raw, kind, &format!("for a zone of kind {kind}"), |_| {
        format!("its keys are {}", keys_of::<RawZone>(kind))
    });
    let name = match check.text(&raw.name) {
        Some(name) => name,
        None => {
            let same = heater.line.zones.iter().filter(|z| z.name.starts_with(kind)).count();
            format!("{kind} {}", same + 1)
        }
    };
    let mut before = heater.line.zones.iter();
    if let (Some(span), true) = (raw.name.span(), before.any(|zone| zone.name == name)) {
        refuse(check, format!("two zones are named \"{name}\""), span);
    }
    let hint = "length_mm along the bar";
    let length_m = check.required(&base, &raw.length_mm, place.clone(), hint) * 1e-3;
    let kind = match kind {
        "open" => ZoneKind::Open,
        kind => {
            let bore = follow(check, &base, &raw.bore_mm, numbers.bore, &place);
            let lining_mm = check.or_follow(&base, &raw.lining_mm, numbers.lining);
            let lining = Lining {
                inner_m: (bore - 2.0 * lining_mm) * 1e-3,
                outer_m: bore * 1e-3,
                conductivity: check.or_follow(&base, &raw.lining_w_mk, numbers.lining_w),
                emissivity: shared.lining_emissivity,
                coil_c: shared.copper_c,
            };
            if kind == "tunnel" {
                ZoneKind::Tunnel { lining }
            } else {
                let frequency_hz = follow(check, &base, &raw.frequency_hz, numbers.frequency, &place);
                let highest = check.or_follow(&base, &raw.highest_kw, numbers.highest);
                heater.highest_w.push(highest * 1e3);
                let own = check.number(&base, &raw.turns);
                let turns = own.or(numbers.turns).unwrap_or(UNKNOWN_TURNS);
                let [volts, amperes, kvar] = rated(check, &base, raw, numbers.rated, turns > UNKNOWN_TURNS);
                heater.ratings.coils.push(Limits {
                    power_w: Some(highest * 1e3),
                    volts,
                    amperes,
                    reactive_var: kvar.map(|kvar| kvar * 1e3),
                });
                let drives = [&raw.power_kw, &raw.load_kw, &raw.field_a_m];
                let most = (raw.highest_kw.is_some() || numbers.highest_given).then_some(highest);
                let drive = drive(check, &base, drives);
                within(check, &raw.power_kw, drive, most);
                heater.settings.push(drive);
                ZoneKind::Coil {
                    coil: Coil {
                        length_m,
                        bore_m: bore * 1e-3,
                        frequency_hz,
                        turns,
                        fill: shared.fill,
                        copper_resistivity: copper_resistivity(shared.copper_c),
                    },
                    lining,
                }
            }
        }
    };
    heater.line.zones.push(Zone { name, length_m, kind });
}

/// A number of a zone, or the heater's, of which one must be given.
fn follow(check: &mut Check, base: &str, given: &Given<f64>, heater: Option<f64>, place: &Range<usize>) -> f64 {
    match heater {
        Some(value) => check.or_follow(base, given, value),
        None => {
            let hint = format!("{} here or in [heater]", given.key.name);
            check.required(base, given, place.clone(), &hint)
        }
    }
}

/// Smallest width across (the diameter, or the short side) and length in m of the bar that coils need.
fn bar_size(check: &mut Check, billet: &Billet, place: &Range<usize>) -> Option<(f64, f64)> {
    let across_m = match billet.piece.section {
        Section::Round { radius_m } => 2.0 * radius_m,
        Section::Square { side_m } => side_m,
        Section::Rectangle { width_m, height_m } => width_m.min(height_m),
        Section::Plate { .. } => {
            refuse(check, HeaterError::Plate.to_string(), place.clone());
            return None;
        }
    };
    let Some(length_m) = billet.piece.length_m else {
        let hint = "length_mm in [billet]: billets are counted through the heater";
        check.missing(place.clone(), "`length_mm` of the billet", hint);
        return None;
    };
    if billet.metal.resistivity_ohm_m.is_none() {
        let detail = format!(
            "steel {} has no electrical resistivity; an induction heater needs it",
            billet.metal.name
        );
        refuse(check, detail, place.clone());
        return None;
    }
    Some((across_m, length_m))
}

fn target(
    check: &mut Check,
    raw: &Spanned<RawTarget>,
    billet: &Billet,
    start_c: f64,
    criteria: &mut Option<Criteria>,
) -> Option<Goal> {
    let base = "heater.target";
    let (place, raw) = (raw.span(), raw.get_ref());
    let why = "the heat content is what the line lives on";
    let target = check.word_or(base, &raw.node, (Target::Mean, why));
    let least = check.word_or(base, &raw.least, (Least::Energy, "the usual aim"));
    let hint = "temperature_c to be reached";
    let value_c = check.required(base, &raw.temperature_c, place.clone(), hint);
    let never = billet.metal.limits.never_exceed_c.as_ref().map(|s| s.value);
    let never_above_c = match never {
        Some(value) => check.or_follow(base, &raw.never_above_c, value),
        None => {
            let hint = "never_above_c: the steel does not give one";
            check.required(base, &raw.never_above_c, place.clone(), hint)
        }
    };
    let goal = Goal {
        target,
        value_c,
        after_s: check.or_default(base, &raw.after_s),
        difference_k: Some(check.or_default(base, &raw.difference_k)),
        never_above_c,
        tolerance_k: 1.0,
        least,
    };
    let below = check.or_default(base, &raw.accept_below_k);
    let above = check.or_default(base, &raw.accept_above_k);
    if value_c >= never_above_c {
        let detail = format!("target {value_c} degC is not below the never-exceed limit {never_above_c} degC");
        refuse(check, detail, place);
        return None;
    }
    if value_c <= start_c {
        let detail = format!("target {value_c} degC is not above start_c, {start_c} degC");
        refuse(check, detail, place);
        return None;
    }
    *criteria = Some(Criteria {
        at_least: (target, value_c - below),
        at_most_c: Some(value_c + above),
        never_above_c,
        // What must be even later need not be at the exit.
        difference_k: goal.difference_k.filter(|_| goal.after_s == 0.0),
    });
    if below.min(above) < goal.tolerance_k {
        let message = format!(
            "the exit gate, {below} K below to {above} K above the target, is narrower than what the search holds, {} K",
            goal.tolerance_k
        );
        check
            .warn("narrow-gate", message)
            .tell("below", Datum::Plain(below))
            .tell("above", Datum::Plain(above))
            .tell("tolerance", Datum::Plain(goal.tolerance_k));
    }
    Some(goal)
}

/// Size against bore, and warnings on frequencies and couplings that heat badly.
fn physical(check: &mut Check, billet: &Billet, heater: &CoilLine, diameter: f64, place: Range<usize>) {
    match heater.bar(&billet.piece, &billet.metal, Resolution::Quick) {
        Ok(bar) => {
            if let Err(error) = heater.line.check(&bar) {
                refuse(check, error.to_string(), place);
                return;
            }
        }
        Err(error) => {
            refuse(check, error.to_string(), place);
            return;
        }
    }
    for (zone, coil) in heater.line.coils() {
        let name = heater.line.zones[zone].name.clone();
        coupling(check, billet, coil, &name, diameter);
    }
}

/// Warns of a frequency too low for the hot section, and of a coil much larger than the billet.
fn coupling(check: &mut Check, billet: &Billet, coil: &Coil, name: &str, diameter: f64) {
    let Some(curve) = &billet.metal.resistivity_ohm_m else {
        return;
    };
    let skin = skin_depth(curve.at(1200.0), 1.0, coil.frequency_hz);
    let ratio = diameter / skin;
    if ratio < 3.0 {
        let better = coil.frequency_hz * (4.0 / ratio).powi(2);
        let message = format!(
            "{name}: at {:.0} Hz the hot billet is only {ratio:.1} skin depths thick and heats poorly; 4 need {better:.0} Hz",
            coil.frequency_hz
        );
        check
            .warn("frequency", message)
            .tell("coil", Datum::Name(name.to_owned()))
            .tell("frequency", Datum::Hertz(coil.frequency_hz))
            .tell("depths", Datum::Times(ratio))
            .tell("better", Datum::Hertz(better));
    }
    // By equal section where it is not round.
    let coupling = coil.bore_m / (2.0 * (billet.piece.section.area_m2() / std::f64::consts::PI).sqrt());
    if coupling > 2.5 {
        let message = format!("{name}: the winding is {coupling:.1} times as wide as the billet; below 2 is usual");
        check
            .warn("coupling", message)
            .tell("coil", Datum::Name(name.to_owned()))
            .tell("times", Datum::Times(coupling));
    }
}

pub(crate) fn static_coil(
    check: &mut Check,
    raw: &RawHeater,
    place: Range<usize>,
    billet: &Billet,
    shop: &Shop,
) -> Option<Heater> {
    let base = "heater";
    let start_c = check.or_default(base, &raw.start_c);
    let shared = common(check, raw);
    let supply_efficiency = check.or_default(base, &raw.supply_efficiency);
    let hint = "bore_mm of the winding, length_mm of the coil and frequency_hz";
    let bore = check.required(base, &raw.bore_mm, place.clone(), hint) * 1e-3;
    let length_m = check.required(base, &raw.length_mm, place.clone(), hint) * 1e-3;
    let frequency_hz = check.required(base, &raw.frequency_hz, place.clone(), hint);
    let lining_m = check.or_default(base, &raw.lining_mm) * 1e-3;
    let conductivity = check.or_default(base, &raw.lining_w_mk);
    let billets = check.or_default(base, &raw.billets);
    let turns = check.number(base, &raw.turns).unwrap_or(UNKNOWN_TURNS);
    if let Some(given) = raw.billets.as_ref().filter(|_| billets.fract() != 0.0) {
        refuse(
            check,
            format!("billets = {billets}: a whole number is needed"),
            given.span(),
        );
    }
    let (diameter, billet_m) = bar_size(check, billet, &place)?;
    let highest_kw = check.or_default(base, &raw.highest_kw);
    let most_kw = raw.highest_kw.is_some().then_some(highest_kw);
    let mut steps = Vec::new();
    let list = raw.step.items();
    for (index, step) in list.iter().take(MOST).enumerate() {
        let base = join("heater.step", &(index + 1).to_string());
        let (place, raw) = (step.span(), step.get_ref());
        let seconds = check.required(&base, &raw.seconds, place.clone(), "seconds of the step");
        let drives = [&raw.power_kw, &raw.load_kw, &raw.field_a_m];
        let drive = drive(check, &base, drives);
        within(check, &raw.power_kw, drive, most_kw);
        match drive {
            Some(drive) => steps.push(PowerStep { seconds, drive }),
            None => check.missing(
                place,
                "`power_kw` of the step",
                "power_kw, load_kw or field_a_m; 0 to wait",
            ),
        }
    }
    let (never_above_c, difference_k, goal) = static_target(check, raw, billet, start_c);
    if list.is_empty() && goal.is_none() {
        let hint = "[[heater.step]] with seconds and power_kw, or [heater.target] with temperature_c to find them";
        check.missing(place.clone(), "`step` of the heater", hint);
    }
    let heater = StaticCoil {
        set: FixedCoil {
            coil: Coil {
                length_m,
                bore_m: bore,
                frequency_hz,
                turns,
                fill: shared.fill,
                copper_resistivity: copper_resistivity(shared.copper_c),
            },
            lining: Lining {
                inner_m: bore - 2.0 * lining_m,
                outer_m: bore,
                conductivity,
                emissivity: shared.lining_emissivity,
                coil_c: shared.copper_c,
            },
            billet_m,
            billets: billets as usize,
            start_c,
            ambient_c: shop.air.ambient_c,
            steps,
        },
        supply_efficiency,
        emissivity: billet.emissivity,
        never_above_c,
        difference_k,
        goal,
        exit_offset_k: 0.0,
        highest_w: 1e3 * highest_kw,
    };
    if check.problems.is_empty() {
        let checked = heater
            .bar(&billet.piece, &billet.metal, Resolution::Quick)
            .and_then(|bar| heater.set.check(&bar));
        match checked {
            Ok(()) => coupling(check, billet, &heater.set.coil, "the coil", diameter),
            Err(error) => refuse(check, error.to_string(), place),
        }
    }
    Some(Heater::StaticCoil(Box::new(heater)))
}

/// What a static coil must keep, and the target for which its programme is found where none is given.
fn static_target(
    check: &mut Check,
    raw: &RawHeater,
    billet: &Billet,
    start_c: f64,
) -> (Option<f64>, Option<f64>, Option<Goal>) {
    let steel = billet.metal.limits.never_exceed_c.as_ref().map(|s| s.value);
    let blank = RawTarget::default();
    let target = raw.target.value().unwrap_or(&blank);
    check.only(target, "static_coil", "for the target of a static coil", |_| {
        format!("its keys are {}", keys_of::<RawTarget>("static_coil"))
    });
    let base = "heater.target";
    let never = match steel {
        Some(value) => Some(check.or_follow(base, &target.never_above_c, value)),
        None => check.number(base, &target.never_above_c),
    };
    let difference_k = check.number(base, &target.difference_k);
    let Some(value_c) = check.number(base, &target.temperature_c) else {
        return (never, difference_k, None);
    };
    let why = "the heat content is what the line lives on";
    let node = check.word_or(base, &target.node, (Target::Mean, why));
    let never_above_c = never.unwrap_or(f64::INFINITY);
    if value_c >= never_above_c || value_c <= start_c {
        let detail = format!(
            "target {value_c} degC is not between start_c, {start_c} degC, and the never-exceed limit {never_above_c} degC"
        );
        refuse(check, detail, raw.target.span().unwrap_or(0..0));
        return (never, difference_k, None);
    }
    let goal = Goal {
        target: node,
        value_c,
        after_s: 0.0,
        difference_k,
        never_above_c,
        tolerance_k: GATE_K,
        least: Least::Energy,
    };
    (never, difference_k, Some(goal))
}

/// How far from its target a charge of a static coil may end, K: powers and times are set in whole steps.
const GATE_K: f64 = 5.0;

pub(crate) fn furnace_zones(check: &mut Check, raw: &RawHeater) -> Vec<FurnaceZone> {
    let list = raw.zone.items();
    let mut zones = Vec::new();
    for (index, zone) in list.iter().take(MOST).enumerate() {
        let base = join("heater.zone", &(index + 1).to_string());
        let (place, raw) = (zone.span(), zone.get_ref());
        let kind = check.one_of_or(&base, &raw.kind, ("furnace", "a furnace has furnace zones"));
        if let (Some(span), true) = (raw.kind.span(), kind != "furnace") {
            check.unknown_word("kind", kind, span, ["furnace"].into_iter());
        }
        check.only(raw, "furnace", "for a zone of a furnace", |_| {
            format!("its keys are {}", keys_of::<RawZone>("furnace"))
        });
        check.text(&raw.name);
        let hint = "temperature_c of the zone, and seconds or minutes in it";
        let furnace_c = check.required(&base, &raw.temperature_c, place.clone(), hint);
        check.exclusive(&raw.seconds, &raw.minutes);
        let seconds = match check.number(&base, &raw.minutes) {
            Some(minutes) => 60.0 * minutes,
            None => check.required(&base, &raw.seconds, place, hint),
        };
        zones.push(FurnaceZone { furnace_c, seconds });
    }
    zones
}
