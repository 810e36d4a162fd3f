//! Trim stages.

use std::ops::Range;

use super::context::{Check, join};
use super::forge::{dies, lying_long, pose};
use super::forming::no_friction;
use super::part::Part;
use super::ring;
use super::tools::Tools;
use crate::body::mesh::is_zone;
use crate::line::file::tables::{RawDie, RawStage};
use crate::line::plan::{Shape, StageKind, Trim};
use crate::text::ProblemKind;

pub(crate) fn trim(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    place: Range<usize>,
    part: &mut Part,
    tools: &Tools,
) -> Option<StageKind> {
    let contact_ms = check.or_default_of("trim", base, &raw.contact_ms);
    let lying_before_s = check.or_default(base, &raw.lying_before_s);
    let (pose, share) = if part.is_long() {
        lying_long(check, base, raw)
    } else {
        pose(check, base, raw, part, &place)?
    };
    let mut dies = dies(check, base, raw, tools);
    let flash_given = raw.die.value().is_some_and(|die| die.flash_w_m2k.is_some());
    if let Some(dies) = &mut dies
        && !flash_given
    {
        dies.flash_w_m2k = dies.blow_w_m2k;
        let reason = "a trimming die has no flash land: equal to blow_w_m2k";
        let key = RawDie::default().flash_w_m2k.key;
        check.computed(&join(base, "die"), key, dies.blow_w_m2k, reason.into());
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
        let reached = ring::reached(&rings);
        let loose = reached.iter().position(|reached| !reached)?;
        Some(rings[loose].zone.clone())
    })
}

fn removes(check: &mut Check, base: &str, raw: &RawStage, part: &mut Part) -> Option<Vec<String>> {
    let Some(given) = raw.removes.as_ref() else {
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
            let kind = ProblemKind::rule("removed-twice", format!("zone \"{again}\" is removed twice"), "");
            check.problem(kind, zone.span());
        } else {
            removes.extend(meant.into_iter().cloned());
        }
    }
    let word = removes.join(", ");
    check.record_given(base, "removes", &word, given.span());
    shape.rings.retain(|ring| !removes.contains(&ring.zone));
    if shape.rings.is_empty() {
        let detail = format!("removing {word} would leave nothing of the part");
        check.problem(ProblemKind::rule("nothing-left", detail, ""), given.span());
        return None;
    }
    if let Some(loose) = loose_zone(shape) {
        let detail =
            format!("removing {word} would leave the part in pieces: zone `{loose}` touches nothing that is left");
        check.problem(ProblemKind::rule("falls-apart", detail, ""), given.span());
        return None;
    }
    part.length_m = Some(shape.height_m());
    Some(removes)
}
