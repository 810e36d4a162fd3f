//! Forge and trim stages.

use std::ops::Range;

use toml::Spanned;

use super::context::{Check, join};
use super::shape;
use super::stage::{Part, can_stand};
use super::tools::{self, POSES, Tools};
use super::{cycle, press};
use crate::body::mesh::is_zone;
use crate::line::file::keys;
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::RawStage;
use crate::line::plan::{Between, DeformationHeat, Dies, Forge, Friction, Pose, Section, Shape, StageKind, Trim};
use crate::line::trace::Owner;

const BETWEEN: [(&str, Between); 3] = [
    ("lying", Between::Lying),
    ("lifted", Between::Lifted),
    ("pressed", Between::Pressed),
];

pub(crate) fn forge(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    place: Range<usize>,
    part: &mut Part,
    tools: &Tools,
) -> Option<StageKind> {
    let (blows, blow_shares) = blows(check, base, raw);
    let new = match &raw.shape {
        Some(given) => {
            let new = shape::shape(check, base, given, part);
            // What follows cannot be judged against a shape that was refused.
            part.lost |= new.is_none();
            if new.is_none() {
                ranges(check, base, raw);
                dies(check, base, raw, tools);
            }
            Some(new?)
        }
        None => None,
    };
    let ring_touch = cycle::ring_touch(check, base, &raw.shape);
    let contact_s = press::contact(check, base, raw, (blows, &place), (part.shape.as_ref(), new.as_ref()));
    let interval_s = interval(check, base, raw, blows, contact_s, &place);
    let between = if blows > 1 || raw.between.is_some() {
        let default = (Between::Lying, "left on the lower die, common practice");
        check.word_or(base, "between", &raw.between, &BETWEEN, default)
    } else {
        Between::Lying
    };
    let lying_before_s = check.or_default(base, &keys::LYING_BEFORE, &raw.lying_before_s);
    let lying_after_s = check.or_default(base, &keys::LYING_AFTER, &raw.lying_after_s);
    let opens = new.as_ref().is_some_and(Shape::is_long) && !part.is_long();
    let (pose, share) = if opens || part.is_long() {
        lying_long(check, base, raw)
    } else {
        pose(check, base, raw, part, &place)?
    };
    let bar_share = bar_share(check, base, raw, opens);
    let dies = dies(check, base, raw, tools);
    let cycle = cycle::cycle(check, base, raw, blows, interval_s - contact_s, pose);
    let lifted = new.as_ref().or(part.shape.as_ref());
    let round = |shape: &&Shape| pose == Pose::Standing && shape.rings.iter().all(|ring| ring.strip.is_none());
    let knock_out = cycle::knock_out(check, base, raw, &place, lifted.filter(round));
    let heat = heat(check, base, raw, part, new.as_ref(), (blows, contact_s));
    let friction = match (&dies, pose) {
        (Some(dies), Pose::Standing) => friction(dies, part, new.as_ref(), &heat, f64::from(blows) * contact_s),
        _ => None,
    };
    if let (Some(dies), None) = (&dies, &friction) {
        let long = opens || part.is_long();
        let place = match (long, pose) {
            (true, _) => "for a part followed by its cross-sections: how they slide is not known",
            (_, Pose::Lying) => "for a part lying on its side: how it slides is not known",
            _ => "without a new shape: nothing slides",
        };
        no_friction(check, base, raw, (dies.friction_factor, new.is_some()), place);
    }
    if let Some(new) = &new {
        part.length_m = Some(new.height_m());
        part.shape = Some(new.clone());
        part.scale_loss = 0.0;
    }
    part.forged = true;
    Some(StageKind::Forge(Box::new(Forge {
        blows,
        blow_shares,
        rate_follows: raw.strain_rate_1_s.is_none() && raw.ram_speed_m_s.is_none(),
        contact_s,
        interval_s,
        between,
        lying_before_s,
        rebound_s: cycle.rebound_s,
        pressed_s: cycle.pressed_s,
        lying_after_s,
        stuck_s: cycle.stuck_s,
        knock_out,
        fills_at_blow: cycle.fills_at_blow,
        ring_touch,
        pose,
        share,
        bar_share,
        shape: new,
        heat,
        friction: friction.map(Box::new),
        dies: dies?,
    })))
}

/// Checks the numbers of a stage by themselves, where nothing else can be said of it.
fn ranges(check: &mut Check, base: &str, raw: &RawStage) {
    for (key, given) in [
        (&keys::CONTACT_FORGE, &raw.contact_ms),
        (&keys::INTERVAL, &raw.interval_s),
        (&keys::LYING_BEFORE, &raw.lying_before_s),
        (&keys::LYING_AFTER, &raw.lying_after_s),
        (&keys::REBOUND, &raw.rebound_s),
        (&keys::PRESSED_ON, &raw.pressed_s),
        (&keys::STUCK, &raw.stuck_s),
        (&keys::STROKE, &raw.stroke_mm),
        (&keys::STROKES, &raw.strokes_per_min),
        (&keys::SQUEEZE, &raw.squeeze_mm),
        (&keys::HOLD, &raw.hold_ms),
        (&keys::DIE_SHARE, &raw.share),
        (&keys::STRAIN, &raw.strain),
        (&keys::STRAIN_RATE, &raw.strain_rate_1_s),
        (&keys::RAM_SPEED, &raw.ram_speed_m_s),
        (&keys::FLOW_STRESS, &raw.flow_stress_mpa),
        (&keys::BLOW_ENERGY, &raw.blow_energy_kj),
        (&keys::BLOW_EFFICIENCY, &raw.blow_efficiency),
        (&keys::HEAT_SHARE, &raw.heat_share),
    ] {
        check.number(base, key, given);
    }
}

/// Number of blows, and the share of the change of shape that each makes where those are given.
fn blows(check: &mut Check, base: &str, raw: &RawStage) -> (u32, Vec<f64>) {
    check.exclusive("blows", &raw.blows, "blow_shares", &raw.blow_shares);
    if let Some(given) = &raw.blow_shares {
        let shares = blow_shares(check, base, raw, given);
        check.or_follow(base, &keys::BLOWS, &None, shares.len() as f64);
        return (shares.len() as u32, shares);
    }
    let value = match &raw.blows {
        Some(given) => {
            let count = *given.get_ref() as f64;
            check.given(base, &keys::BLOWS, count, given.span());
            // A refused count goes on inside the range, so that no limit misses its blow too.
            count.clamp(keys::BLOWS.allowed.low, keys::BLOWS.allowed.high)
        }
        None => check.or_default(base, &keys::BLOWS, &None),
    };
    (value as u32, Vec::new())
}

/// Shares of the change of shape, which must sum to one within a hundredth (and are made to).
fn blow_shares(check: &mut Check, base: &str, raw: &RawStage, given: &Spanned<Vec<Spanned<f64>>>) -> Vec<f64> {
    let place = given.span();
    if raw.shape.is_none() {
        let kind = ProblemKind::NotHere {
            key: "blow_shares".to_owned(),
            place: "without shape".to_owned(),
            hint: "blows = how many".to_owned(),
        };
        check.problem(kind, place.clone());
    }
    let items = given.get_ref();
    let most = keys::BLOWS.allowed.high as usize;
    if items.is_empty() {
        check.missing(
            place,
            "a share for each blow in blow_shares",
            "blow_shares = [0.5, 0.3, 0.2]",
        );
        return vec![1.0];
    }
    if items.len() > most {
        let kind = ProblemKind::TooMany {
            what: "blows",
            count: items.len(),
            most,
        };
        check.problem(kind, items[most].span());
        return vec![1.0];
    }
    let mut refused = false;
    for item in items {
        let value = *item.get_ref();
        if !keys::BLOW_SHARE.allowed.contains(value) {
            refused = true;
            let kind = ProblemKind::OutOfRange {
                key: keys::BLOW_SHARE.name,
                value,
                unit: "",
                allowed: keys::BLOW_SHARE.allowed,
            };
            check.problem(kind, item.span());
        }
    }
    let shares: Vec<f64> = items.iter().map(|item| *item.get_ref()).collect();
    let sum: f64 = shares.iter().sum();
    if !refused && (sum - 1.0).abs() > 0.01 {
        let kind = ProblemKind::SharesSum { sum };
        check.problem(kind, place.clone());
    }
    let words: Vec<String> = shares.iter().map(f64::to_string).collect();
    let line = check.line(place.start);
    let source = format!("line {line}").into();
    check.record_word(base, "blow_shares", &words.join(", "), Owner::Given, source);
    shares.iter().map(|share| share / sum).collect()
}

fn interval(check: &mut Check, base: &str, raw: &RawStage, blows: u32, contact_s: f64, place: &Range<usize>) -> f64 {
    if raw.interval_s.is_none() && blows <= 1 {
        return contact_s;
    }
    let interval_s = check.or_default(base, &keys::INTERVAL, &raw.interval_s);
    if contact_s > interval_s {
        let kind = ProblemKind::BlowTooLong { contact_s, interval_s };
        match (&raw.contact_ms, &raw.interval_s) {
            (Some(contact), Some(interval)) => {
                let (contact, interval) = (contact.span(), interval.span());
                check.conflict(kind, contact, interval, "the interval");
            }
            (Some(only), None) | (None, Some(only)) => check.problem(kind, only.span()),
            (None, None) => check.problem(kind, place.clone()),
        }
    }
    interval_s
}

fn pose(check: &mut Check, base: &str, raw: &RawStage, part: &Part, place: &Range<usize>) -> Option<(Pose, f64)> {
    let plate = matches!(part.section, Section::Plate { .. });
    let default = if part.length_m.is_some() || plate {
        (Pose::Standing, "upset on end, common practice")
    } else {
        (Pose::Lying, "a long bar has no end face to stand on")
    };
    let pose = check.word_or(base, "pose", &raw.pose, &POSES, default);
    let at = raw.pose.as_ref().map_or(place.clone(), |pose| pose.span());
    if pose == Pose::Standing && !can_stand(check, part, at) {
        return None;
    }
    let share = if pose == Pose::Lying { 0.1 } else { 1.0 };
    Some((pose, check.or_follow(base, &keys::DIE_SHARE, &raw.share, share)))
}

/// A long part lies in the dies, which meet its cross-sections from below and above.
fn lying_long(check: &mut Check, base: &str, raw: &RawStage) -> (Pose, f64) {
    if let Some(given) = &raw.pose {
        let kind = ProblemKind::NotHere {
            key: "pose".to_owned(),
            place: "for a part with cross-sections".to_owned(),
            hint: "it lies, and the dies meet its sections from below and above".to_owned(),
        };
        check.problem(kind, given.span());
    }
    (Pose::Standing, check.or_follow(base, &keys::DIE_SHARE, &raw.share, 1.0))
}

/// Share of a round bar that lies on the die before it is struck to cross-sections.
fn bar_share(check: &mut Check, base: &str, raw: &RawStage, opens: bool) -> f64 {
    if opens {
        return check.or_default(base, &keys::BAR_SHARE, &raw.bar_share);
    }
    if let Some(given) = &raw.bar_share {
        let kind = ProblemKind::NotHere {
            key: "bar_share".to_owned(),
            place: "but in the first stage that shapes the cross-sections".to_owned(),
            hint: "share is that of the touched faces".to_owned(),
        };
        check.problem(kind, given.span());
    }
    0.0
}

fn dies(check: &mut Check, base: &str, raw: &RawStage, tools: &Tools) -> Option<Dies> {
    let base = join(base, "die");
    tools::stage_dies(check, &base, &raw.die, &tools.die).dies()
}

/// Where the heat of forming comes from; `(blows, contact)` spread the strain over time.
fn heat(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    part: &Part,
    new: Option<&Shape>,
    (blows, contact_s): (u32, f64),
) -> DeformationHeat {
    let mut clash = check.exclusive("strain", &raw.strain, "blow_energy_kj", &raw.blow_energy_kj);
    clash |= check.exclusive(
        "flow_stress_mpa",
        &raw.flow_stress_mpa,
        "blow_energy_kj",
        &raw.blow_energy_kj,
    );
    clash |= check.exclusive(
        "strain_rate_1_s",
        &raw.strain_rate_1_s,
        "ram_speed_m_s",
        &raw.ram_speed_m_s,
    );
    if clash {
        return DeformationHeat::None;
    }
    let energy_kj = check.number(base, &keys::BLOW_ENERGY, &raw.blow_energy_kj);
    if let Some(energy_kj) = energy_kj {
        return DeformationHeat::BlowEnergy {
            energy_j: energy_kj * 1e3,
            efficiency: check.or_default(base, &keys::BLOW_EFFICIENCY, &raw.blow_efficiency),
            heat_share: check.or_default(base, &keys::HEAT_SHARE, &raw.heat_share),
        };
    }
    if let Some(stray) = &raw.blow_efficiency {
        let kind = ProblemKind::NotHere {
            key: "blow_efficiency".to_owned(),
            place: "without blow_energy_kj".to_owned(),
            hint: String::new(),
        };
        check.problem(kind, stray.span());
    }
    let from_heights = from_heights(part.shape.as_ref(), new);
    let strain = check.or_follow(base, &keys::STRAIN, &raw.strain, from_heights.mean);
    // A given strain keeps the pattern of the heights, scaled to the mean that was asked for.
    let scale = if from_heights.mean > 0.0 {
        strain / from_heights.mean
    } else {
        1.0
    };
    let ring_strain: Vec<f64> = from_heights.rings.iter().map(|s| s * scale).collect();
    if strain == 0.0 {
        for (key, span) in [
            ("strain_rate_1_s", raw.strain_rate_1_s.as_ref().map(|r| r.span())),
            ("ram_speed_m_s", raw.ram_speed_m_s.as_ref().map(|r| r.span())),
            ("flow_stress_mpa", raw.flow_stress_mpa.as_ref().map(|r| r.span())),
        ] {
            if let (Some(span), None) = (span, &raw.strain) {
                let kind = ProblemKind::NotHere {
                    key: key.to_owned(),
                    place: "where nothing is strained".to_owned(),
                    hint: "give shape or strain".to_owned(),
                };
                check.problem(kind, span);
            }
        }
        return DeformationHeat::None;
    }
    let speed = check.number(base, &keys::RAM_SPEED, &raw.ram_speed_m_s);
    let rate = match (speed, part.shape.as_ref(), new) {
        (Some(speed), Some(before), Some(after)) => {
            2.0 * speed / (before.height_towards_m(after) + after.mean_height_m())
        }
        (Some(_), ..) => {
            if let Some(given) = &raw.ram_speed_m_s {
                let kind = ProblemKind::Needs {
                    what: "ram_speed_m_s".to_owned(),
                    needs: "a shape, for the height it acts on; give strain_rate_1_s without one",
                };
                check.problem(kind, given.span());
            }
            f64::NAN
        }
        _ => strain / (contact_s * f64::from(blows)),
    };
    DeformationHeat::FlowStress {
        strain,
        ring_strain,
        strain_rate_1_s: check.or_follow(base, &keys::STRAIN_RATE, &raw.strain_rate_1_s, rate),
        flow_stress_pa: check
            .number(base, &keys::FLOW_STRESS, &raw.flow_stress_mpa)
            .map(|mpa| mpa * 1e6),
        heat_share: check.or_default(base, &keys::HEAT_SHARE, &raw.heat_share),
    }
}

/// Friction where a new shape makes the part slide; the flow stress is that of the heat of forming.
fn friction(dies: &Dies, part: &Part, new: Option<&Shape>, heat: &DeformationHeat, contact_s: f64) -> Option<Friction> {
    let factor = dies.friction_factor;
    // Sliding is known for round parts; the sections of a long part take no friction heat.
    new.filter(|shape| factor > 0.0 && shape.rings.iter().all(|ring| ring.strip.is_none()))?;
    let from_heights = from_heights(part.shape.as_ref(), new);
    Some(match heat {
        DeformationHeat::FlowStress {
            strain,
            ring_strain,
            strain_rate_1_s,
            flow_stress_pa,
            ..
        } => Friction {
            factor,
            strain: *strain,
            ring_strain: ring_strain.clone(),
            strain_rate_1_s: *strain_rate_1_s,
            flow_stress_pa: *flow_stress_pa,
        },
        _ => Friction {
            factor,
            strain: from_heights.mean,
            strain_rate_1_s: from_heights.mean / contact_s,
            ring_strain: from_heights.rings,
            flow_stress_pa: None,
        },
    })
}

/// Refuses friction that a stage asks for and cannot have; warns where that of all dies is left out of a shape.
fn no_friction(check: &mut Check, base: &str, raw: &RawStage, (factor, shaped): (f64, bool), place: &str) {
    let own = raw.die.as_ref().and_then(|die| die.get_ref().friction_factor.as_ref());
    match own {
        Some(given) if factor > 0.0 => {
            let kind = ProblemKind::NotHere {
                key: "friction_factor".to_owned(),
                place: place.to_owned(),
                hint: "take it out of this stage".to_owned(),
            };
            check.problem(kind, given.span());
        }
        None if factor > 0.0 && shaped => {
            let message = format!("{base}: friction_factor = {factor} has no meaning {place}; it is left out");
            check.warn("friction-left-out", message);
        }
        _ => {}
    }
}

struct Strains {
    mean: f64,
    rings: Vec<f64>,
}

/// Strain of each ring, |ln(mean height before / its height)|, and their volume mean. For one ring
/// upset into one ring this is the homogeneous strain ln(h0/h1).
fn from_heights(before: Option<&Shape>, after: Option<&Shape>) -> Strains {
    let (Some(before), Some(after)) = (before, after) else {
        return Strains {
            mean: 0.0,
            rings: Vec::new(),
        };
    };
    let rings: Vec<f64> = after
        .rings
        .iter()
        .map(|ring| {
            let height = match ring.strip {
                Some(strip) => before.section_height_m(strip.section),
                None => before.mean_height_m(),
            };
            (height / ring.height_m()).ln().abs()
        })
        .collect();
    let weighted = after.rings.iter().zip(&rings);
    let sum: f64 = weighted.map(|(ring, strain)| ring.volume_m3() * strain).sum();
    Strains {
        mean: sum / after.volume_m3(),
        rings,
    }
}

pub(crate) fn trim(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    place: Range<usize>,
    part: &mut Part,
    tools: &Tools,
) -> Option<StageKind> {
    let contact_ms = check.or_default(base, &keys::CONTACT_TRIM, &raw.contact_ms);
    let lying_before_s = check.or_default(base, &keys::LYING_BEFORE, &raw.lying_before_s);
    let (pose, share) = if part.is_long() {
        lying_long(check, base, raw)
    } else {
        pose(check, base, raw, part, &place)?
    };
    let mut dies = dies(check, base, raw, tools);
    let flash_given = raw.die.as_ref().is_some_and(|die| die.get_ref().flash_w_m2k.is_some());
    if let Some(dies) = &mut dies
        && !flash_given
    {
        dies.flash_w_m2k = dies.blow_w_m2k;
        cycle::record_flash(check, &join(base, "die"), dies.blow_w_m2k);
    }
    if let Some(dies) = &dies {
        no_friction(check, base, raw, (dies.friction_factor, false), "for a trim stage");
    }
    let removes = removes(check, base, raw, part)?;
    part.forged = true;
    Some(StageKind::Trim(Trim {
        lying_before_s,
        contact_s: contact_ms * 1e-3,
        pose,
        share,
        removes,
        dies: dies?,
    }))
}

/// A zone that no longer hangs together with the rest, in any section of a long part.
fn loose_zone(shape: &Shape) -> Option<String> {
    let sections = shape.sections.len().max(1);
    (0..sections).find_map(|section| {
        let own = |ring: &&crate::line::plan::Ring| ring.strip.is_none() || ring.is_in(section);
        let rings: Vec<_> = shape.rings.iter().filter(own).collect();
        let reached = shape::reached(&rings);
        let loose = reached.iter().position(|reached| !reached)?;
        Some(rings[loose].zone.clone())
    })
}

fn removes(check: &mut Check, base: &str, raw: &RawStage, part: &mut Part) -> Option<Vec<String>> {
    let Some(given) = &raw.removes else {
        return Some(Vec::new());
    };
    if part.lost {
        return None;
    }
    let Some(shape) = &mut part.shape else {
        let kind = ProblemKind::Needs {
            what: "removes".to_owned(),
            needs: "a shape with zones: a round billet with length_mm and a forge stage with shape",
        };
        check.problem(kind, given.span());
        return None;
    };
    let zones: Vec<String> = shape.zones().iter().map(|zone| (*zone).to_owned()).collect();
    let mut removes = Vec::new();
    for zone in given.get_ref() {
        // In a long part a zone's bare name stands for that zone of all its sections.
        let meant: Vec<&String> = zones.iter().filter(|z| is_zone(z, zone.get_ref())).collect();
        if meant.is_empty() {
            let names = zones.iter().map(String::as_str);
            check.unknown_word("zone", zone.get_ref(), zone.span(), names);
        } else if let Some(again) = meant.iter().find(|z| removes.contains(**z)) {
            let kind = ProblemKind::RemovedTwice { zone: (*again).clone() };
            check.problem(kind, zone.span());
        } else {
            removes.extend(meant.into_iter().cloned());
        }
    }
    let line = check.line(given.span().start);
    let word = removes.join(", ");
    check.record_word(base, "removes", &word, Owner::Given, format!("line {line}").into());
    shape.rings.retain(|ring| !removes.contains(&ring.zone));
    if shape.rings.is_empty() {
        check.problem(ProblemKind::NothingLeft { zones: word }, given.span());
        return None;
    }
    if let Some(loose) = loose_zone(shape) {
        check.problem(ProblemKind::FallsApart { zones: word, loose }, given.span());
        return None;
    }
    part.length_m = Some(shape.height_m());
    Some(removes)
}
