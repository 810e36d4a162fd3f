//! Shapes: rings with material in them, in one piece, of the part's volume.

use toml::Spanned;

use super::context::{Check, join};
use super::stage::Part;
use crate::line::file::keys;
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::{At, RawRing};
use crate::line::plan::{Ring, Shape};

/// How far the volume of a shape may be from that of the part before, percent.
///
/// Shapes are written to a tenth of a millimetre; on a forging some tens of millimetres high that
/// is a few tenths of a percent.
pub const VOLUME_TOLERANCE_PERCENT: f64 = 0.5;

/// Most rings of a shape.
const MOST_RINGS: usize = 50;

/// Height below which a ring is none, m.
pub(super) const EMPTY: f64 = 1e-6;

/// Faces closer than this count as touching, m.
const TOUCH_M: f64 = 1e-9;

pub(crate) fn shape(
    check: &mut Check,
    base: &str,
    given: &Spanned<Vec<Spanned<RawRing>>>,
    part: &Part,
) -> Option<Shape> {
    let place = given.span();
    if !part.sections.is_empty() && !given.get_ref().is_empty() && given.get_ref().len() <= MOST_RINGS {
        return super::section::strips(check, base, given, part);
    }
    let Some(before) = &part.shape else {
        let kind = ProblemKind::Needs {
            what: "shape".to_owned(),
            needs: "a round billet with a length: section = \"round\" and length_mm in [billet]",
        };
        check.problem(kind, place);
        return None;
    };
    let rings = given.get_ref();
    if rings.is_empty() {
        check.missing(
            place,
            "a ring of the shape",
            "shape = [ { outer_mm = .., height_mm = .. } ]",
        );
        return None;
    }
    if rings.len() > MOST_RINGS {
        let kind = ProblemKind::TooMany {
            what: "rings",
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
        shape.rings.push(ring(check, &base, raw));
    }
    if check.problems.len() > problems {
        return None;
    }
    let lowest = shape.rings.iter().map(|r| r.bottom_m).fold(f64::INFINITY, f64::min);
    for ring in &mut shape.rings {
        ring.bottom_m -= lowest;
        ring.top_m -= lowest;
    }
    in_one_piece(check, &shape, rings);
    if !part.lost {
        volume(check, &shape, before.volume_m3() * (1.0 - part.scale_loss), given);
    }
    (check.problems.len() == problems).then_some(shape)
}

fn ring(check: &mut Check, base: &str, raw: &Spanned<RawRing>) -> Ring {
    let place = raw.span();
    let raw = raw.get_ref();
    let keys = [
        "outer_mm",
        "inner_mm",
        "height_mm",
        "bottom_mm",
        "top_mm",
        "zone",
        "touch",
    ];
    check.only(raw, &keys, "for a ring", |_| {
        "strips belong to a part with [[section]] tables".to_owned()
    });
    let hint = "outer_mm = the outer diameter";
    let outer_mm = check.required(base, &keys::RING_OUTER, &raw.outer_mm, place.clone(), hint);
    let inner_mm = match raw.inner_mm {
        Some(_) => check.or_default(base, &keys::RING_INNER, &raw.inner_mm),
        None => 0.0,
    };
    if inner_mm >= outer_mm {
        let kind = ProblemKind::EmptyRing {
            low_key: "inner_mm",
            low_mm: inner_mm,
            high_key: "outer_mm",
            high_mm: outer_mm,
        };
        conflict(check, kind, &raw.inner_mm, &raw.outer_mm, &place);
    }
    let (bottom_mm, top_mm) = heights(check, base, raw, place);
    Ring {
        inner_m: inner_mm * 0.5e-3,
        outer_m: outer_mm * 0.5e-3,
        bottom_m: bottom_mm * 1e-3,
        top_m: top_mm * 1e-3,
        zone: zone(check, &raw.zone),
        strip: None,
    }
}

/// Bottom and top of a ring or strip, mm.
pub(super) fn heights(check: &mut Check, base: &str, raw: &RawRing, place: std::ops::Range<usize>) -> (f64, f64) {
    let clash = check.exclusive("height_mm", &raw.height_mm, "bottom_mm", &raw.bottom_mm)
        | check.exclusive("height_mm", &raw.height_mm, "top_mm", &raw.top_mm);
    if clash {
        (f64::NAN, f64::NAN)
    } else if raw.bottom_mm.is_some() || raw.top_mm.is_some() {
        let hint = "bottom_mm and top_mm, or height_mm alone for a ring from the bottom up";
        let bottom = check.required(base, &keys::RING_BOTTOM, &raw.bottom_mm, place.clone(), hint);
        let top = check.required(base, &keys::RING_TOP, &raw.top_mm, place.clone(), hint);
        if bottom >= top {
            let kind = ProblemKind::EmptyRing {
                low_key: "bottom_mm",
                low_mm: bottom,
                high_key: "top_mm",
                high_mm: top,
            };
            conflict(check, kind, &raw.bottom_mm, &raw.top_mm, &place);
        }
        (bottom, top)
    } else {
        let hint = "height_mm, or bottom_mm and top_mm";
        let height = check.required(base, &keys::RING_HEIGHT, &raw.height_mm, place, hint);
        (0.0, height)
    }
}

pub(super) fn conflict(
    check: &mut Check,
    kind: ProblemKind,
    low: &At<f64>,
    high: &At<f64>,
    place: &std::ops::Range<usize>,
) {
    match (low, high) {
        (Some(low), Some(high)) => check.conflict(kind, low.span(), high.span(), "the larger"),
        _ => check.problem(kind, place.clone()),
    }
}

/// A zone name: it stands before a dot in node names, so it has none itself.
pub(super) fn zone(check: &mut Check, raw: &At<String>) -> String {
    let Some(given) = raw else {
        return "body".to_owned();
    };
    let name = given.get_ref();
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    if name.is_empty() || name.len() > 40 || !name.chars().all(plain) {
        let zone = name.clone();
        check.problem(ProblemKind::BadZone { zone }, given.span());
    }
    name.clone()
}

fn in_one_piece(check: &mut Check, shape: &Shape, places: &[Spanned<RawRing>]) {
    let rings = &shape.rings;
    let overlap = |low: (f64, f64), high: (f64, f64)| low.1.min(high.1) - low.0.max(high.0);
    let radial = |a: &Ring, b: &Ring| overlap((a.inner_m, a.outer_m), (b.inner_m, b.outer_m));
    let axial = |a: &Ring, b: &Ring| overlap((a.bottom_m, a.top_m), (b.bottom_m, b.top_m));
    let mut reached = vec![false; rings.len()];
    reached[0] = true;
    for _ in 0..rings.len() {
        for a in 0..rings.len() {
            for b in 0..rings.len() {
                let (r, z) = (radial(&rings[a], &rings[b]), axial(&rings[a], &rings[b]));
                let touch = (r > TOUCH_M && z > -TOUCH_M) || (z > TOUCH_M && r > -TOUCH_M);
                if reached[a] && touch {
                    reached[b] = true;
                }
            }
        }
    }
    for second in 1..rings.len() {
        let clash = (0..second).find(|first| {
            radial(&rings[*first], &rings[second]) > TOUCH_M && axial(&rings[*first], &rings[second]) > TOUCH_M
        });
        if let Some(first) = clash {
            let kind = ProblemKind::RingsOverlap {
                first: first + 1,
                second: second + 1,
            };
            let (here, there) = (places[second].span(), places[first].span());
            check.conflict(kind, here, there, "the other ring");
        } else if !reached[second] {
            let kind = ProblemKind::LooseRing { ring: second + 1 };
            check.problem(kind, places[second].span());
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
            if ring.inner_m > 0.0 {
                format!("height_mm = {height:.3} would fit")
            } else {
                format!("height_mm = {height:.3} would fit, or outer_mm = {outer:.3}")
            }
        }
        _ => format!("all heights times {:.5} would fit", old / new),
    };
    let kind = ProblemKind::VolumeMismatch {
        shape_cm3: new * 1e6,
        part_cm3: old * 1e6,
        tolerance_percent: VOLUME_TOLERANCE_PERCENT,
        fit,
    };
    check.problem(kind, given.span());
}
