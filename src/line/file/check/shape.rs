//! Shapes: rings with material in them, in one piece, of the part's volume.

use toml::Spanned;

use super::context::{Check, join, round};
use super::part::Part;
use super::ring::{EMPTY, Shared, VOLUME_TOLERANCE_PERCENT, empty, heights, more_or_less, reached, zone};
use crate::line::file::tables::RawRing;
use crate::line::plan::{Ring, Shape};
use crate::text::ProblemKind;

/// Most rings of a shape.
const MOST_RINGS: usize = 50;

pub(crate) fn shape(
    check: &mut Check,
    base: &str,
    given: &Spanned<Vec<Spanned<RawRing>>>,
    part: &Part,
) -> Option<Shape> {
    let place = given.span();
    if part.unread {
        return None;
    }
    if !part.sections.is_empty() && !given.get_ref().is_empty() && given.get_ref().len() <= MOST_RINGS {
        return super::section::strips(check, base, given, part);
    }
    let (what, example) = match part.sections.first() {
        None => ("ring", "shape = [ { outer_mm = .., height_mm = .. } ]"),
        Some(_) => (
            "strip",
            "shape = [ { section = .., left_mm = .., right_mm = .., height_mm = .. } ]",
        ),
    };
    let Some(before) = part.shape.as_ref() else {
        let kind = ProblemKind::Needs {
            what: "shape".to_owned(),
            needs: "a round billet with a length: section = \"round\" and length_mm in [billet]",
        };
        check.problem(kind, place);
        return None;
    };
    let rings = given.get_ref();
    if rings.is_empty() {
        check.missing(place, &format!("a {what} of the shape"), example);
        return None;
    }
    if rings.len() > MOST_RINGS {
        let kind = ProblemKind::TooMany {
            what: if what == "ring" { "rings" } else { "strips" },
            count: rings.len(),
            most: MOST_RINGS,
        };
        check.problem(kind, place);
        return None;
    }
    let problems = check.problems.len();
    let mut shape = Shape {
        rings: Vec::with_capacity(rings.len()),
        sections: Vec::new(),
    };
    for (index, raw) in rings.iter().enumerate() {
        let base = join(base, &format!("shape.{}", index + 1));
        let Some(ring) = ring(check, &base, raw) else { break };
        shape.rings.push(ring);
    }
    if check.problems.len() > problems {
        return None;
    }
    let lowest = shape.rings.iter().map(|r| r.bottom_m).fold(f64::INFINITY, f64::min);
    for ring in &mut shape.rings {
        ring.bottom_m -= lowest;
        ring.top_m -= lowest;
    }
    in_one_piece(check, &shape, rings, lowest);
    // What overlaps has no volume to speak of.
    if !part.lost && check.problems.len() == problems {
        volume(check, &shape, before.volume_m3() * (1.0 - part.scale_loss), given);
    }
    (check.problems.len() == problems).then_some(shape)
}

fn ring(check: &mut Check, base: &str, raw: &Spanned<RawRing>) -> Option<Ring> {
    let place = raw.span();
    let raw = raw.get_ref();
    let hint = "strips belong to a part with [[section]] tables";
    if check.stray(raw, "ring", "for a ring", hint) {
        return None;
    }
    let hint = "outer_mm = the outer diameter";
    let outer_mm = check.required(base, &raw.outer_mm, place.clone(), hint);
    let inner_mm = match raw.inner_mm.is_some() {
        true => check.or_default(base, &raw.inner_mm),
        false => 0.0,
    };
    if inner_mm >= outer_mm {
        empty(check, (&raw.inner_mm, inner_mm), (&raw.outer_mm, outer_mm), &place);
    }
    let (bottom_mm, top_mm) = heights(check, base, raw, place);
    Some(Ring {
        inner_m: inner_mm * 0.5e-3,
        outer_m: outer_mm * 0.5e-3,
        bottom_m: bottom_mm * 1e-3,
        top_m: top_mm * 1e-3,
        zone: zone(check, &raw.zone),
        strip: None,
    })
}

/// Rings must touch and not overlap; `lowest` is where their bottom was drawn, m.
fn in_one_piece(check: &mut Check, shape: &Shape, places: &[Spanned<RawRing>], lowest: f64) {
    let rings: Vec<&Ring> = shape.rings.iter().collect();
    let reached = reached(&rings);
    let mm = |m: f64| round(m * 1e3);
    for second in 1..rings.len() {
        let shared = |first: usize| Shared::of(rings[first], rings[second]);
        if let Some(first) = (0..second).find(|first| shared(*first).overlaps()) {
            let Shared { across_m, up_m } = shared(first);
            let detail = format!(
                "rings {} and {} of the shape overlap: both take diameters {} to {} mm at heights {} to {} mm",
                first + 1,
                second + 1,
                mm(2.0 * across_m.0),
                mm(2.0 * across_m.1),
                mm(up_m.0 + lowest),
                mm(up_m.1 + lowest)
            );
            let kind = ProblemKind::rule("rings-overlap", detail, "");
            let (here, there) = (places[second].span(), places[first].span());
            check.conflict(kind, here, there, "the other ring");
        } else if !reached[second] {
            let detail = format!("ring {} touches no other ring of the shape", second + 1);
            check.problem(ProblemKind::rule("loose-ring", detail, ""), places[second].span());
        }
    }
}

fn volume(check: &mut Check, shape: &Shape, old: f64, given: &Spanned<Vec<Spanned<RawRing>>>) {
    let new = shape.volume_m3();
    let off = (new / old - 1.0).abs() * 100.0;
    // Not a number when the billet's own size was refused: that is told already.
    if off.is_nan() || off <= VOLUME_TOLERANCE_PERCENT {
        return;
    }
    let fit = match shape.rings.as_slice() {
        [ring] => {
            let height = ring.height_m() * 1e3 * old / new;
            let outer = 2e3 * ring.outer_m * (old / new).sqrt();
            if ring.inner_m > 0.0 || !RawRing::default().outer_mm.key.allowed.contains(outer) {
                format!("height_mm = {height:.3} would fit")
            } else {
                format!("height_mm = {height:.3} would fit, or outer_mm = {outer:.3}")
            }
        }
        rings => {
            let mut fit = format!("all heights times {:.5} would fit", old / new);
            // The ring that has most of the shape can make the difference good with the least change.
            let mut numbered = rings.iter().enumerate();
            let first = numbered.next();
            let largest =
                first.map(|first| numbered.fold(first, |a, b| if b.1.volume_m3() > a.1.volume_m3() { b } else { a }));
            if let Some((index, ring)) = largest {
                let height = ring.height_m() * (1.0 + (old - new) / ring.volume_m3());
                if height > EMPTY {
                    let (height, now) = (height * 1e3, ring.height_m() * 1e3);
                    let number = index + 1;
                    fit = format!("{fit}, or ring {number} (its largest) {height:.3} mm high instead of {now:.3} mm");
                }
            }
            fit
        }
    };
    let detail = format!(
        "volume of the shape is {:.3} cm3, of the part before {:.3} cm3: {} (tolerance {} %)",
        new * 1e6,
        old * 1e6,
        more_or_less(new, old),
        VOLUME_TOLERANCE_PERCENT
    );
    check.problem(ProblemKind::rule("volume-mismatch", detail, &fit), given.span());
}
