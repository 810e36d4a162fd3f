//! What rings and strips of a shape have in common.

use super::context::Check;
use crate::line::file::tables::RawRing;
use crate::line::plan::Ring;
use crate::text::{Given, ProblemKind};

/// How far the volume of a shape may be from that of the part before, percent.
///
/// Shapes are written to a tenth of a millimetre; on a forging some tens of millimetres high that
/// is a few tenths of a percent.
pub const VOLUME_TOLERANCE_PERCENT: f64 = 0.5;

/// Height below which a ring is none, m.
pub(super) const EMPTY: f64 = 1e-6;

/// Faces closer than this count as touching, m.
pub(super) const TOUCH_M: f64 = 1e-9;

/// Bottom and top of a ring or strip, mm.
pub(super) fn heights(check: &mut Check, base: &str, raw: &RawRing, place: std::ops::Range<usize>) -> (f64, f64) {
    let clash = check.exclusive(&raw.height_mm, &raw.bottom_mm) | check.exclusive(&raw.height_mm, &raw.top_mm);
    if clash {
        (f64::NAN, f64::NAN)
    } else if raw.bottom_mm.is_some() || raw.top_mm.is_some() {
        let hint = "bottom_mm and top_mm, or height_mm alone for a ring from the bottom up";
        let bottom = check.required(base, &raw.bottom_mm, place.clone(), hint);
        let top = check.required(base, &raw.top_mm, place.clone(), hint);
        if bottom >= top {
            empty(check, (&raw.bottom_mm, bottom), (&raw.top_mm, top), &place);
        }
        (bottom, top)
    } else {
        let hint = "height_mm, or bottom_mm and top_mm";
        let height = check.required(base, &raw.height_mm, place, hint);
        (0.0, height)
    }
}

/// Refuses two sides in the wrong order, so that no material is between them.
pub(super) fn empty(
    check: &mut Check,
    (low, low_mm): (&Given<f64>, f64),
    (high, high_mm): (&Given<f64>, f64),
    place: &std::ops::Range<usize>,
) {
    let (low_key, high_key) = (low.key.name, high.key.name);
    let detail = format!("{low_key} = {low_mm} mm is not below {high_key} = {high_mm} mm");
    let kind = ProblemKind::rule("empty-ring", detail, "");
    match (low.span(), high.span()) {
        (Some(low), Some(high)) => check.conflict(kind, low, high, "the larger"),
        _ => check.problem(kind, place.clone()),
    }
}

/// A zone name: it stands before a dot in node names, so it has none itself.
pub(super) fn zone(check: &mut Check, raw: &Given<String>) -> String {
    let Some(given) = raw.as_ref() else {
        return "body".to_owned();
    };
    let name = given.get_ref();
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    if name.is_empty() || name.len() > 40 || !name.chars().all(plain) {
        let detail = format!("\"{name}\" is no zone name: 1 to 40 letters, digits, `_` or `-`");
        check.problem(ProblemKind::rule("bad-zone", detail, ""), given.span());
    }
    name.clone()
}

/// What two rings or strips both take: from where to where across (radii of rings) and up, m. Below zero
/// where they are apart.
pub(super) struct Shared {
    pub across_m: (f64, f64),
    pub up_m: (f64, f64),
}

impl Shared {
    pub fn of(a: &Ring, b: &Ring) -> Shared {
        Shared {
            across_m: (a.inner_m.max(b.inner_m), a.outer_m.min(b.outer_m)),
            up_m: (a.bottom_m.max(b.bottom_m), a.top_m.min(b.top_m)),
        }
    }

    fn extent(&self) -> (f64, f64) {
        (self.across_m.1 - self.across_m.0, self.up_m.1 - self.up_m.0)
    }

    /// Whether material would lie in one place twice.
    pub fn overlaps(&self) -> bool {
        let (x, z) = self.extent();
        x > TOUCH_M && z > TOUCH_M
    }

    /// Whether they share a face or more.
    pub fn touches(&self) -> bool {
        let (x, z) = self.extent();
        (x > TOUCH_M && z > -TOUCH_M) || (z > TOUCH_M && x > -TOUCH_M)
    }
}

/// Which of some rings hang together with the first.
pub(super) fn reached(rings: &[&Ring]) -> Vec<bool> {
    let mut reached = vec![false; rings.len()];
    if let Some(first) = reached.first_mut() {
        *first = true;
    }
    for _ in 0..rings.len() {
        for a in 0..rings.len() {
            for b in 0..rings.len() {
                if reached[a] && Shared::of(rings[a], rings[b]).touches() {
                    reached[b] = true;
                }
            }
        }
    }
    reached
}

/// How far a volume is off, in words.
pub(super) fn more_or_less(shape: f64, part: f64) -> String {
    let percent = 100.0 * (shape / part - 1.0);
    let word = if percent >= 0.0 { "much" } else { "little" };
    format!("{:.2} % too {word}", percent.abs())
}
