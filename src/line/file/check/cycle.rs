//! The blow cycle beside contact and rhythm: rebound, pressing on, sticking, filling, gaps.

use toml::Spanned;

use super::context::Check;
use crate::line::file::keys;
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::{At, RawRing, RawStage};
use crate::line::plan::{Allowed, Pose, RingTouch};
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
    let pressed_s = within(check, base, &keys::PRESSED_ON, &raw.pressed_s, free_s - rebound_s);
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

/// A time that must fit into another.
pub(crate) fn within(check: &mut Check, base: &str, key: &keys::Key, raw: &At<f64>, free_s: f64) -> f64 {
    let Some(given) = raw else { return 0.0 };
    let seconds = check.or_default(base, key, raw);
    if seconds > free_s {
        out_of_range(check, key, seconds, (0.0, free_s.max(0.0)), given.span());
    }
    seconds
}

fn out_of_range(check: &mut Check, key: &keys::Key, value: f64, (low, high): (f64, f64), at: std::ops::Range<usize>) {
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
