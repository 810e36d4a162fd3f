//! Forge stages.

use std::ops::Range;

use super::blows::{blows, interval};
use super::context::{Check, join};
use super::forming::{friction, heat, no_friction};
use super::part::Part;
use super::rest::can_stand;
use super::shape;
use super::tools::{self, Tools};
use super::{cycle, press};
use crate::line::file::tables::RawStage;
use crate::line::plan::{Between, Dies, Forge, Pose, Section, Shape, StageKind};

pub(crate) fn forge(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    place: Range<usize>,
    part: &mut Part,
    tools: &Tools,
) -> Option<StageKind> {
    let (blows, blow_shares) = blows(check, base, raw);
    let new = match raw.shape.as_ref() {
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
        check.word_or(base, &raw.between, default)
    } else {
        Between::Lying
    };
    let lying_before_s = check.or_default(base, &raw.lying_before_s);
    let lying_after_s = check.or_default(base, &raw.lying_after_s);
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
    for given in [
        &raw.contact_ms,
        &raw.interval_s,
        &raw.lying_before_s,
        &raw.lying_after_s,
        &raw.rebound_s,
        &raw.pressed_s,
        &raw.stuck_s,
        &raw.stroke_mm,
        &raw.strokes_per_min,
        &raw.squeeze_mm,
        &raw.hold_ms,
        &raw.share,
        &raw.strain,
        &raw.strain_rate_1_s,
        &raw.ram_speed_m_s,
        &raw.flow_stress_mpa,
        &raw.blow_energy_kj,
        &raw.blow_efficiency,
        &raw.heat_share,
    ] {
        check.number(base, given);
    }
}

pub(super) fn pose(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    part: &Part,
    place: &Range<usize>,
) -> Option<(Pose, f64)> {
    let plate = matches!(part.section, Section::Plate { .. });
    let default = if part.length_m.is_some() || plate {
        (Pose::Standing, "upset on end, common practice")
    } else {
        (Pose::Lying, "a long bar has no end face to stand on")
    };
    let pose = check.word_or(base, &raw.pose, default);
    let at = raw.pose.span().unwrap_or(place.clone());
    if pose == Pose::Standing && !can_stand(check, part, at) {
        return None;
    }
    let share = if pose == Pose::Lying { 0.1 } else { 1.0 };
    Some((pose, check.or_follow(base, &raw.share, share)))
}

/// A long part lies in the dies, which meet its cross-sections from below and above.
pub(super) fn lying_long(check: &mut Check, base: &str, raw: &RawStage) -> (Pose, f64) {
    if let Some(given) = raw.pose.as_ref() {
        check.not_here(
            "pose",
            given.span(),
            "for a part with cross-sections",
            "it lies, and the dies meet its sections from below and above",
        );
    }
    (Pose::Standing, check.or_follow(base, &raw.share, 1.0))
}

/// Share of a round bar that lies on the die before it is struck to cross-sections.
fn bar_share(check: &mut Check, base: &str, raw: &RawStage, opens: bool) -> f64 {
    if opens {
        return check.or_default(base, &raw.bar_share);
    }
    if let Some(given) = raw.bar_share.as_ref() {
        check.not_here(
            "bar_share",
            given.span(),
            "but in the first stage that shapes the cross-sections",
            "share is that of the touched faces",
        );
    }
    0.0
}

pub(super) fn dies(check: &mut Check, base: &str, raw: &RawStage, tools: &Tools) -> Option<Dies> {
    let base = join(base, "die");
    tools::stage_dies(check, &base, &raw.die, &tools.die).dies()
}
