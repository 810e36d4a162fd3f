//! The limits of the steel, which apply when the file has none of its own; in a computed heater its never-exceed
//! temperature applies besides them too.

use super::billet::{Billet, owner};
use super::context::Check;
use crate::body::mesh::is_zone;
use crate::body::{Place, Shape};
use crate::judge::{Bound, Datum, Limit, Moment};
use crate::line::plan::{Stage, StageKind};
use crate::steel::Sourced;

/// The never-exceed temperature of the steel, everywhere and always.
fn never_exceed(billet: &Billet) -> Option<Limit> {
    let never = billet.metal.limits.never_exceed_c.as_ref()?;
    Some(Limit {
        stage: None,
        moment: Moment::Always,
        node: Place::Hottest.word().to_owned(),
        other: None,
        bound: Bound::MaxC(never.value),
        owner: owner(never.provenance),
        source: format!("{}: {}", billet.metal.name, never.source),
    })
}

/// The same as long as the part is in the heater.
pub(crate) fn never_exceed_in_heater(billet: &Billet) -> Option<Limit> {
    never_exceed(billet).map(|limit| Limit {
        stage: Some("heater".to_owned()),
        ..limit
    })
}

/// Never-exceed everywhere always, start maximum at heater exit, forging minimum at every blow,
/// trim window at trimming.
pub(crate) fn limits(check: &mut Check, billet: &Billet, stages: &[Stage]) -> Vec<Limit> {
    let known = &billet.metal.limits;
    let mut limits: Vec<Limit> = never_exceed(billet).into_iter().collect();
    let mut push = |stage: Option<&str>, moment: Moment, node: &str, bound, from: &Sourced<f64>| {
        limits.push(Limit {
            stage: stage.map(str::to_owned),
            moment,
            node: node.to_owned(),
            other: None,
            bound,
            owner: owner(from.provenance),
            source: format!("{}: {}", billet.metal.name, from.source),
        });
    };
    if let Some(limit) = &known.start_max_c {
        push(Some("heater"), Moment::Exit, "hottest", Bound::MaxC(limit.value), limit);
    }
    let mut shape = billet.piece.shape();
    for stage in stages {
        let name = Some(stage.name.as_str());
        match &stage.kind {
            StageKind::Forge(forge) => {
                let after = forge.shape.clone().or_else(|| shape.clone());
                if let Some(limit) = &known.forging_min_c {
                    let (first, later) = (skin(&shape), skin(&after));
                    let bound = Bound::MinC(limit.value);
                    if first == later || forge.blows == 1 {
                        push(name, Moment::EveryBlow, &first, bound, limit);
                    } else {
                        // The zones come with the first blow, so the node changes after it.
                        push(name, Moment::FirstBlow, &first, bound, limit);
                        push(name, Moment::LastBlow, &later, bound, limit);
                    }
                }
                shape = after;
            }
            StageKind::Trim(trim) => {
                let node = sheared(&shape, &trim.removes);
                if let Some(limit) = &known.trim_min_c {
                    push(name, Moment::FirstBlow, &node, Bound::MinC(limit.value), limit);
                }
                if let Some(limit) = &known.trim_max_c {
                    push(name, Moment::FirstBlow, &node, Bound::MaxC(limit.value), limit);
                }
                if let Some(shape) = &mut shape {
                    shape.rings.retain(|ring| !trim.removes.contains(&ring.zone));
                }
            }
            _ => {}
        }
    }
    if known.known().is_empty() {
        let message = format!(
            "{} has no process limits and the line file has none: nothing is judged",
            billet.metal.name
        );
        let metal = Datum::Name(billet.metal.name.clone());
        check.warn("no-limits", message).tell("metal", metal);
    }
    limits
}

/// The skin that a blow works: the side of the part, or of its body where flash or web would hide it.
fn skin(shape: &Option<Shape>) -> String {
    match shape.as_ref().map(Shape::zones) {
        Some(zones) if zones.len() > 1 && zones.iter().any(|z| is_zone(z, "body")) => Place::Surface.in_zone("body"),
        // Of every section of a long part.
        Some(zones) if zones.iter().any(|z| z.contains('.')) => Place::Surface.word().to_owned(),
        Some(zones) if zones.len() > 1 => Place::Mean.word().to_owned(),
        _ => Place::Surface.word().to_owned(),
    }
}

/// What a trimming stroke shears: the first zone that it takes away, or the part.
fn sheared(shape: &Option<Shape>, removes: &[String]) -> String {
    let zones = shape.as_ref().map(Shape::zones).unwrap_or_default();
    let flash = ["flash"]
        .into_iter()
        .find(|flash| zones.iter().any(|z| is_zone(z, flash)));
    match flash.or(removes.first().map(String::as_str)) {
        Some(zone) if zones != ["body"] => Place::Mean.in_zone(zone),
        _ => Place::Mean.word().to_owned(),
    }
}
