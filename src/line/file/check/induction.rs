//! Coil lines, static coils, furnace zones.

use std::ops::Range;

use toml::Spanned;

use super::billet::{Billet, Shop};
use super::context::{Check, join};
use crate::heater::HeaterError;
use crate::heater::coil::{Coil, Drive, copper_resistivity};
use crate::heater::field::skin_depth;
use crate::heater::fixed::{FixedCoil, PowerStep};
use crate::heater::line::{Criteria, HeaterLine, Motion, Target, Zone, ZoneKind};
use crate::heater::lining::Lining;
use crate::heater::search::{Goal, Least};
use crate::line::file::keys::Key;
use crate::line::file::keys::{START, induction as keys};
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::{At, RawHeater, RawTarget, RawZone};
use crate::line::plan::{CoilLine, FurnaceZone, Heater, Kept, Resolution, Section, StaticCoil};

/// Keys of a coil line.
pub(crate) const LINE_KEYS: [&str; 14] = [
    "kind",
    "motion",
    "start_c",
    "frequency_hz",
    "bore_mm",
    "lining_mm",
    "lining_w_mk",
    "lining_emissivity",
    "copper_c",
    "fill",
    "supply_efficiency",
    "highest_kw",
    "zone",
    "target",
];

/// Keys of a static coil.
pub(crate) const STATIC_KEYS: [&str; 14] = [
    "kind",
    "start_c",
    "frequency_hz",
    "bore_mm",
    "length_mm",
    "billets",
    "lining_mm",
    "lining_w_mk",
    "lining_emissivity",
    "copper_c",
    "fill",
    "supply_efficiency",
    "step",
    "target",
];

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
        lining_emissivity: check.or_default(base, &keys::LINING_EMISSIVITY, &raw.lining_emissivity),
        copper_c: check.or_default(base, &keys::COPPER, &raw.copper_c),
        fill: check.or_default(base, &keys::FILL, &raw.fill),
    }
}

fn refuse(check: &mut Check, detail: String, place: Range<usize>) {
    check.problem(ProblemKind::Heater { detail }, place);
}

/// Drive of a coil or step: one of three keys, or none.
fn drive(check: &mut Check, base: &str, keys: [&Key; 3], raw: [&At<f64>; 3]) -> Option<Drive> {
    check.exclusive("power_kw", raw[0], "load_kw", raw[1]);
    check.exclusive("power_kw", raw[0], "field_a_m", raw[2]);
    check.exclusive("load_kw", raw[1], "field_a_m", raw[2]);
    let terminals = check.number(base, keys[0], raw[0]);
    let load = check.number(base, keys[1], raw[1]);
    let field = check.number(base, keys[2], raw[2]);
    terminals
        .map(|kw| Drive::Terminals(kw * 1e3))
        .or(load.map(|kw| Drive::Load(kw * 1e3)))
        .or(field.map(Drive::Field))
}

pub(crate) fn coil_line(
    check: &mut Check,
    raw: &RawHeater,
    place: Range<usize>,
    billet: &Billet,
    shop: &Shop,
) -> Option<Heater> {
    let base = "heater";
    let motions = [("indexed", Motion::Indexed), ("steady", Motion::Continuous)];
    let why = "pushed on by one billet length each takt";
    let motion = check.word_or(base, "motion", &raw.motion, &motions, (Motion::Indexed, why));
    let start_c = check.or_default(base, &START, &raw.start_c);
    let shared = common(check, raw);
    let supply_efficiency = check.or_default(base, &keys::SUPPLY, &raw.supply_efficiency);
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
            billet_m: length,
            takt_s: shop.takt_s.unwrap_or(f64::NAN),
            motion,
            start_c,
            ambient_c: shop.air.ambient_c,
        },
        settings: Vec::new(),
        highest_w: Vec::new(),
        goal: None,
        criteria: None,
        supply_efficiency,
        emissivity: billet.emissivity,
        kept: Kept::default(),
    };
    let numbers = Numbers::of(check, raw);
    for (index, zone) in list.get_ref().iter().enumerate() {
        line_zone(check, index, zone, &numbers, &shared, &mut heater);
    }
    let before = check.problems.len();
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
    if check.problems.is_empty() {
        physical(check, billet, &heater, diameter, list.span());
    }
    Some(Heater::CoilLine(Box::new(heater)))
}

/// Numbers of the heater that its zones take over.
struct Numbers {
    bore: Option<f64>,
    frequency: Option<f64>,
    lining: f64,
    lining_w: f64,
    highest: f64,
}

impl Numbers {
    fn of(check: &mut Check, raw: &RawHeater) -> Numbers {
        let base = "heater";
        Numbers {
            bore: check.number(base, &keys::BORE, &raw.bore_mm),
            frequency: check.number(base, &keys::FREQUENCY, &raw.frequency_hz),
            lining: check.or_default(base, &keys::LINING, &raw.lining_mm),
            lining_w: check.or_default(base, &keys::LINING_W, &raw.lining_w_mk),
            highest: check.or_default(base, &keys::HIGHEST, &raw.highest_kw),
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
    let kinds = [("coil", "coil"), ("open", "open"), ("tunnel", "tunnel")];
    if raw.kind.is_none() {
        check.missing(place, "`kind` of the zone", "kind = \"coil\", \"open\" or \"tunnel\"");
        return;
    }
    let Some(kind) = check.word(&base, "kind", &raw.kind, &kinds) else {
        return;
    };
    let allowed: &[&str] = match kind {
        "coil" => &[
            "kind",
            "name",
            "length_mm",
            "frequency_hz",
            "power_kw",
            "load_kw",
            "field_a_m",
            "highest_kw",
            "bore_mm",
            "lining_mm",
            "lining_w_mk",
        ],
        "tunnel" => &["kind", "name", "length_mm", "bore_mm", "lining_mm", "lining_w_mk"],
        _ => &["kind", "name", "length_mm"],
    };
    let here = format!("for a zone of kind {kind}");
    check.only(raw, allowed, &here, |_| format!("its keys are {}", allowed.join(", ")));
    let name = match check.text("name", &raw.name, 200) {
        Some(name) => name,
        None => {
            let same = heater.line.zones.iter().filter(|z| z.name.starts_with(kind)).count();
            format!("{kind} {}", same + 1)
        }
    };
    let hint = "length_mm along the bar";
    let length_m = check.required(&base, &keys::ZONE_LENGTH, &raw.length_mm, place.clone(), hint) * 1e-3;
    let kind = match kind {
        "open" => ZoneKind::Open,
        kind => {
            let bore = follow(check, &base, &keys::ZONE_BORE, &raw.bore_mm, numbers.bore, &place);
            let lining_mm = check.or_follow(&base, &keys::ZONE_LINING, &raw.lining_mm, numbers.lining);
            let lining = Lining {
                inner_m: (bore - 2.0 * lining_mm) * 1e-3,
                outer_m: bore * 1e-3,
                conductivity: check.or_follow(&base, &keys::ZONE_LINING_W, &raw.lining_w_mk, numbers.lining_w),
                emissivity: shared.lining_emissivity,
                coil_c: shared.copper_c,
            };
            if kind == "tunnel" {
                ZoneKind::Tunnel { lining }
            } else {
                let frequency_hz = follow(
                    check,
                    &base,
                    &keys::ZONE_FREQUENCY,
                    &raw.frequency_hz,
                    numbers.frequency,
                    &place,
                );
                let highest = check.or_follow(&base, &keys::ZONE_HIGHEST, &raw.highest_kw, numbers.highest);
                heater.highest_w.push(highest * 1e3);
                let keys = [&keys::ZONE_POWER, &keys::ZONE_LOAD, &keys::ZONE_FIELD];
                let raw = [&raw.power_kw, &raw.load_kw, &raw.field_a_m];
                heater.settings.push(drive(check, &base, keys, raw));
                ZoneKind::Coil {
                    coil: Coil {
                        length_m,
                        bore_m: bore * 1e-3,
                        frequency_hz,
                        turns: 1.0,
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
fn follow(check: &mut Check, base: &str, key: &Key, raw: &At<f64>, heater: Option<f64>, place: &Range<usize>) -> f64 {
    match heater {
        Some(value) => check.or_follow(base, key, raw, value),
        None => {
            let hint = format!("{} here or in [heater]", key.name);
            check.required(base, key, raw, place.clone(), &hint)
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
    let nodes = [
        ("mean", Target::Mean),
        ("surface", Target::Surface),
        ("core", Target::Core),
    ];
    let why = "the heat content is what the line lives on";
    let target = check.word_or(base, "node", &raw.node, &nodes, (Target::Mean, why));
    let least = [("energy", Least::Energy), ("scaling", Least::Scaling)];
    let least = check.word_or(base, "least", &raw.least, &least, (Least::Energy, "the usual aim"));
    let hint = "temperature_c to be reached";
    let value_c = check.required(base, &keys::TARGET_C, &raw.temperature_c, place.clone(), hint);
    let never = billet.metal.limits.never_exceed_c.as_ref().map(|s| s.value);
    let never_above_c = match never {
        Some(value) => check.or_follow(base, &keys::TARGET_NEVER, &raw.never_above_c, value),
        None => {
            let hint = "never_above_c: the steel does not give one";
            check.required(base, &keys::TARGET_NEVER, &raw.never_above_c, place.clone(), hint)
        }
    };
    let goal = Goal {
        target,
        value_c,
        after_s: check.or_default(base, &keys::TARGET_AFTER, &raw.after_s),
        difference_k: Some(check.or_default(base, &keys::TARGET_DIFFERENCE, &raw.difference_k)),
        never_above_c,
        tolerance_k: 1.0,
        least,
    };
    let below = check.or_default(base, &keys::TARGET_BELOW, &raw.accept_below_k);
    let above = check.or_default(base, &keys::TARGET_ABOVE, &raw.accept_above_k);
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
        difference_k: None,
    });
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
        check.warn(
            "frequency",
            format!(
                "{name}: at {:.0} Hz the hot billet is only {ratio:.1} skin depths thick and heats poorly; 4 need {better:.0} Hz",
                coil.frequency_hz
            ),
        );
    }
    // By equal section where it is not round.
    let coupling = coil.bore_m / (2.0 * (billet.piece.section.area_m2() / std::f64::consts::PI).sqrt());
    if coupling > 2.5 {
        check.warn(
            "coupling",
            format!("{name}: the winding is {coupling:.1} times as wide as the billet; below 2 is usual"),
        );
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
    let start_c = check.or_default(base, &START, &raw.start_c);
    let shared = common(check, raw);
    let supply_efficiency = check.or_default(base, &keys::SUPPLY, &raw.supply_efficiency);
    let hint = "bore_mm of the winding, length_mm of the coil and frequency_hz";
    let bore = check.required(base, &keys::BORE, &raw.bore_mm, place.clone(), hint) * 1e-3;
    let length_m = check.required(base, &keys::COIL_LENGTH, &raw.length_mm, place.clone(), hint) * 1e-3;
    let frequency_hz = check.required(base, &keys::FREQUENCY, &raw.frequency_hz, place.clone(), hint);
    let lining_m = check.or_default(base, &keys::LINING, &raw.lining_mm) * 1e-3;
    let conductivity = check.or_default(base, &keys::LINING_W, &raw.lining_w_mk);
    let billets = check.or_default(base, &keys::CHARGE, &raw.billets);
    if let Some(given) = raw.billets.as_ref().filter(|_| billets.fract() != 0.0) {
        refuse(
            check,
            format!("billets = {billets}: a whole number is needed"),
            given.span(),
        );
    }
    let (diameter, billet_m) = bar_size(check, billet, &place)?;
    let mut steps = Vec::new();
    let list = raw.step.as_ref().map(|s| s.get_ref().as_slice()).unwrap_or_default();
    for (index, step) in list.iter().take(MOST).enumerate() {
        let base = join("heater.step", &(index + 1).to_string());
        let (place, raw) = (step.span(), step.get_ref());
        let seconds = check.required(&base, &keys::STEP_S, &raw.seconds, place.clone(), "seconds of the step");
        let keys = [&keys::STEP_POWER, &keys::STEP_LOAD, &keys::STEP_FIELD];
        let values = [&raw.power_kw, &raw.load_kw, &raw.field_a_m];
        match drive(check, &base, keys, values) {
            Some(drive) => steps.push(PowerStep { seconds, drive }),
            None => check.missing(
                place,
                "`power_kw` of the step",
                "power_kw, load_kw or field_a_m; 0 to wait",
            ),
        }
    }
    if list.is_empty() {
        let hint = "[[heater.step]] with seconds and power_kw";
        check.missing(place.clone(), "`step` of the heater", hint);
    }
    let (never_above_c, difference_k) = static_target(check, raw, billet);
    let heater = StaticCoil {
        set: FixedCoil {
            coil: Coil {
                length_m,
                bore_m: bore,
                frequency_hz,
                turns: 1.0,
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

/// What a static coil must keep: its programme is given, so nothing is searched.
fn static_target(check: &mut Check, raw: &RawHeater, billet: &Billet) -> (Option<f64>, Option<f64>) {
    let never = billet.metal.limits.never_exceed_c.as_ref().map(|s| s.value);
    let given = raw.target.as_ref().map(|t| t.get_ref());
    if let Some(target) = given {
        let allowed = ["never_above_c", "difference_k"];
        check.only(target, &allowed, "for the target of a static coil", |_| {
            format!("its programme is given, so its keys are {}", allowed.join(", "))
        });
    }
    let base = "heater.target";
    let key = &keys::TARGET_NEVER;
    let never = match (never, given) {
        (Some(value), Some(t)) => Some(check.or_follow(base, key, &t.never_above_c, value)),
        (Some(value), None) => Some(check.or_follow(base, key, &None, value)),
        (None, t) => t.and_then(|t| check.number(base, key, &t.never_above_c)),
    };
    let difference = given.and_then(|t| check.number(base, &keys::TARGET_DIFFERENCE, &t.difference_k));
    (never, difference)
}

pub(crate) fn furnace_zones(check: &mut Check, raw: &RawHeater) -> Vec<FurnaceZone> {
    let list = raw.zone.as_ref().map(|z| z.get_ref().as_slice()).unwrap_or_default();
    let mut zones = Vec::new();
    for (index, zone) in list.iter().take(MOST).enumerate() {
        let base = join("heater.zone", &(index + 1).to_string());
        let (place, raw) = (zone.span(), zone.get_ref());
        let kinds = [("furnace", ())];
        check.word_or(&base, "kind", &raw.kind, &kinds, ((), "a furnace has furnace zones"));
        let allowed = ["kind", "name", "temperature_c", "seconds", "minutes"];
        check.only(raw, &allowed, "for a zone of a furnace", |_| {
            format!("its keys are {}", allowed.join(", "))
        });
        check.text("name", &raw.name, 200);
        let hint = "temperature_c of the zone, and seconds or minutes in it";
        let furnace_c = check.required(&base, &keys::ZONE_C, &raw.temperature_c, place.clone(), hint);
        check.exclusive("seconds", &raw.seconds, "minutes", &raw.minutes);
        let seconds = match check.number(&base, &keys::ZONE_MIN, &raw.minutes) {
            Some(minutes) => 60.0 * minutes,
            None => check.required(&base, &keys::ZONE_S, &raw.seconds, place, hint),
        };
        zones.push(FurnaceZone { furnace_c, seconds });
    }
    zones
}
