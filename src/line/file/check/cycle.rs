//! The blow cycle beside contact and rhythm: rebound, pressing on, sticking, filling, gaps.

use toml::Spanned;

use super::context::Check;
use crate::line::file::keys;
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::{At, RawRing, RawStage};
use crate::line::plan::{Allowed, KnockOut, Pose, RingTouch, Shape};
use crate::line::trace::Owner;

const TOUCHES: [(&str, RingTouch); 4] = [
    ("both", RingTouch::Both),
    ("lower", RingTouch::Lower),
    ("upper", RingTouch::Upper),
    ("gap", RingTouch::Gap),
];

/// What happens after each blow.
pub(crate) struct Cycle {
    pub rebound_s: f64,
    pub pressed_s: f64,
    pub stuck_s: f64,
    pub fills_at_blow: Option<u32>,
}

pub(crate) fn cycle(check: &mut Check, base: &str, raw: &RawStage, blows: u32, free_s: f64, pose: Pose) -> Cycle {
    let rebound_s = within(check, base, &keys::REBOUND, &raw.rebound_s, free_s);
    // After a rebound that was refused nothing is known of the time left.
    let left_s = if rebound_s > free_s {
        f64::INFINITY
    } else {
        free_s - rebound_s
    };
    let pressed_s = within(check, base, &keys::PRESSED_ON, &raw.pressed_s, left_s);
    let stuck_s = match raw.stuck_s {
        Some(_) => check.or_default(base, &keys::STUCK, &raw.stuck_s),
        None => 0.0,
    };
    let fills_at_blow = raw.fills_at_blow.as_ref().map(|given| {
        let number = check.given(base, &keys::FILLS, *given.get_ref() as f64, given.span());
        if number > f64::from(blows) {
            out_of_range(check, &keys::FILLS, number, (1.0, f64::from(blows)), given.span());
        }
        if pose == Pose::Lying {
            let kind = ProblemKind::NotHere {
                key: "fills_at_blow".to_owned(),
                place: "for a part lying on its side".to_owned(),
                hint: "pose = \"standing\"".to_owned(),
            };
            check.problem(kind, given.span());
        }
        number as u32
    });
    Cycle {
        rebound_s,
        pressed_s,
        stuck_s,
        fills_at_blow,
    }
}

/// The knock-out, which touches a part that stands; `shape` is `None` where it has no round end face.
pub(crate) fn knock_out(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    place: &std::ops::Range<usize>,
    shape: Option<&Shape>,
) -> Option<KnockOut> {
    let Some(given) = &raw.knock_out_s else {
        for (key, at) in [
            ("knock_out_outer_mm", raw.knock_out_outer_mm.as_ref().map(|r| r.span())),
            ("knock_out_inner_mm", raw.knock_out_inner_mm.as_ref().map(|r| r.span())),
            ("knock_out_w_m2k", raw.knock_out_w_m2k.as_ref().map(|r| r.span())),
        ] {
            if let Some(at) = at {
                let kind = ProblemKind::NotHere {
                    key: key.to_owned(),
                    place: "without knock_out_s".to_owned(),
                    hint: "knock_out_s = how long it carries the part".to_owned(),
                };
                check.problem(kind, at);
            }
        }
        return None;
    };
    let Some(shape) = shape else {
        let kind = ProblemKind::Needs {
            what: "a knock-out".to_owned(),
            needs: "a round part with a length that stands in the die",
        };
        check.problem(kind, given.span());
        return None;
    };
    let seconds = check.number(base, &keys::KNOCK_OUT_S, &raw.knock_out_s)?;
    let hint = "knock_out_outer_mm = diameter of the pin, or outer diameter of the ring";
    let outer_mm = check.required(
        base,
        &keys::KNOCK_OUT_OUTER,
        &raw.knock_out_outer_mm,
        place.clone(),
        hint,
    );
    let inner_mm = check.or_default(base, &keys::KNOCK_OUT_INNER, &raw.knock_out_inner_mm);
    let most_mm = 2e3 * shape.outer_m();
    // In a bore there is nothing to push.
    let bore_mm = 2e3
        * shape
            .rings
            .iter()
            .map(|ring| ring.inner_m)
            .fold(f64::INFINITY, f64::min);
    let outside = outer_mm > most_mm * (1.0 + 1e-9) || (bore_mm > 0.0 && outer_mm <= bore_mm);
    if let (true, Some(at)) = (outside, &raw.knock_out_outer_mm) {
        let kind = ProblemKind::OutOfRange {
            key: keys::KNOCK_OUT_OUTER.name,
            value: outer_mm,
            unit: keys::KNOCK_OUT_OUTER.unit,
            allowed: Allowed {
                low: bore_mm,
                high: super::stage::round(most_mm),
                low_open: bore_mm > 0.0,
            },
        };
        check.problem(kind, at.span());
    }
    if inner_mm >= outer_mm {
        let kind = ProblemKind::EmptyRing {
            low_key: "knock_out_inner_mm",
            low_mm: inner_mm,
            high_key: "knock_out_outer_mm",
            high_mm: outer_mm,
        };
        check.problem(kind, raw.knock_out_inner_mm.as_ref().map_or(given.span(), |r| r.span()));
    }
    Some(KnockOut {
        seconds,
        inner_m: inner_mm * 0.5e-3,
        outer_m: outer_mm * 0.5e-3,
        contact_w_m2k: super::tools::contact(check, base, &keys::KNOCK_OUT_W, &raw.knock_out_w_m2k),
    })
}

/// A time that must fit into another.
pub(crate) fn within(check: &mut Check, base: &str, key: &keys::Key, raw: &At<f64>, free_s: f64) -> f64 {
    let Some(given) = raw else { return 0.0 };
    let seconds = check.or_default(base, key, raw);
    if seconds > free_s {
        out_of_range(check, key, seconds, (0.0, free_s.max(0.0)), given.span());
    }
    seconds
}

pub(crate) fn out_of_range(
    check: &mut Check,
    key: &keys::Key,
    value: f64,
    (low, high): (f64, f64),
    at: std::ops::Range<usize>,
) {
    let kind = ProblemKind::OutOfRange {
        key: key.name,
        value,
        unit: key.unit,
        allowed: Allowed {
            low,
            high,
            low_open: false,
        },
    };
    check.problem(kind, at);
}

/// Which dies each ring of a new shape touches; empty when all touch both.
pub(crate) fn ring_touch(check: &mut Check, base: &str, rings: &At<Vec<Spanned<RawRing>>>) -> Vec<RingTouch> {
    let Some(rings) = rings else { return Vec::new() };
    let mut touches = Vec::new();
    for (index, ring) in rings.get_ref().iter().enumerate() {
        let base = format!("{base}.shape.{}", index + 1);
        let raw = &ring.get_ref().touch;
        touches.push(check.word(&base, "touch", raw, &TOUCHES).unwrap_or_default());
    }
    if touches.iter().all(|touch| *touch == RingTouch::Both) {
        touches.clear();
    } else if let Some((_, die)) = [(false, "lower"), (true, "upper")]
        .into_iter()
        .find(|(upper, _)| !touches.iter().any(|touch| touch.meets(*upper)))
    {
        check.problem(ProblemKind::NoDie { die }, rings.span());
    }
    touches
}

/// Records a computed number that the file does not give.
pub(crate) fn record_flash(check: &mut Check, base: &str, value: f64) {
    let reason = "a trimming die has no flash land: equal to blow_w_m2k";
    check.record(base, &keys::DIE_FLASH, value, Owner::Default, reason.into());
    if let Some(input) = check.inputs.last_mut() {
        input.follows = true;
    }
}
