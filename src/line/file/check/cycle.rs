//! The blow cycle beside contact and rhythm: rebound, pressing on, sticking, filling, gaps.

use toml::Spanned;

use super::context::Check;
use crate::line::file::tables::{RawRing, RawStage};
use crate::line::plan::{KnockOut, Pose, RingTouch, Shape};
use crate::text::Given;
use crate::text::ProblemKind;

/// What happens after each blow.
pub(crate) struct Cycle {
    pub rebound_s: f64,
    pub pressed_s: f64,
    pub stuck_s: f64,
    pub fills_at_blow: Option<u32>,
}

pub(crate) fn cycle(check: &mut Check, base: &str, raw: &RawStage, blows: u32, free_s: f64, pose: Pose) -> Cycle {
    let rebound_s = within(check, base, &raw.rebound_s, free_s);
    // After a rebound that was refused nothing is known of the time left.
    let left_s = if rebound_s > free_s {
        f64::INFINITY
    } else {
        free_s - rebound_s
    };
    let pressed_s = within(check, base, &raw.pressed_s, left_s);
    let stuck_s = match raw.stuck_s.is_some() {
        true => check.or_default(base, &raw.stuck_s),
        false => 0.0,
    };
    let fills_at_blow = raw.fills_at_blow.as_ref().map(|given| {
        let number = check.whole_or_default(base, &raw.fills_at_blow);
        if number > f64::from(blows) {
            check.out_of_range(&raw.fills_at_blow, number, (1.0, f64::from(blows)), given.span());
        }
        if pose == Pose::Lying {
            check.not_here(
                "fills_at_blow",
                given.span(),
                "for a part lying on its side",
                "pose = \"standing\"",
            );
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
    let Some(given) = raw.knock_out_s.as_ref() else {
        for given in [&raw.knock_out_outer_mm, &raw.knock_out_inner_mm, &raw.knock_out_w_m2k] {
            let hint = "knock_out_s = how long it carries the part";
            check.only_with(given, false, "knock_out_s", hint);
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
    let seconds = check.number(base, &raw.knock_out_s)?;
    let hint = "knock_out_outer_mm = diameter of the pin, or outer diameter of the ring";
    let outer_mm = check.required(base, &raw.knock_out_outer_mm, place.clone(), hint);
    let inner_mm = check.or_default(base, &raw.knock_out_inner_mm);
    let most_mm = 2e3 * shape.outer_m();
    // In a bore there is nothing to push.
    let bore_mm = 2e3
        * shape
            .rings
            .iter()
            .map(|ring| ring.inner_m)
            .fold(f64::INFINITY, f64::min);
    let outside = outer_mm > most_mm * (1.0 + 1e-9) || (bore_mm > 0.0 && outer_mm <= bore_mm);
    if let (true, Some(at)) = (outside, raw.knock_out_outer_mm.span()) {
        let range = (bore_mm, super::context::round(most_mm));
        check.out_of_range(&raw.knock_out_outer_mm, outer_mm, range, at);
    }
    if inner_mm >= outer_mm {
        super::ring::empty(
            check,
            (&raw.knock_out_inner_mm, inner_mm),
            (&raw.knock_out_outer_mm, outer_mm),
            place,
        );
    }
    Some(KnockOut {
        seconds,
        inner_m: inner_mm * 0.5e-3,
        outer_m: outer_mm * 0.5e-3,
        contact_w_m2k: check.or_default(base, &raw.knock_out_w_m2k),
    })
}

/// A time that must fit into another.
pub(crate) fn within(check: &mut Check, base: &str, given: &Given<f64>, free_s: f64) -> f64 {
    let Some(span) = given.span() else { return 0.0 };
    let seconds = check.or_default(base, given);
    if seconds > free_s {
        check.out_of_range(given, seconds, (0.0, free_s.max(0.0)), span);
    }
    seconds
}

/// Which dies each ring of a new shape touches; empty when all touch both.
pub(crate) fn ring_touch(check: &mut Check, base: &str, rings: &Given<Vec<Spanned<RawRing>>>) -> Vec<RingTouch> {
    let Some(rings) = rings.as_ref() else { return Vec::new() };
    let mut touches = Vec::new();
    for (index, ring) in rings.get_ref().iter().enumerate() {
        let base = format!("{base}.shape.{}", index + 1);
        touches.push(check.word(&base, &ring.get_ref().touch).unwrap_or_default());
    }
    if touches.iter().all(|touch| *touch == RingTouch::Both) {
        touches.clear();
    } else if let Some((_, die)) = [(false, "lower"), (true, "upper")]
        .into_iter()
        .find(|(upper, _)| !touches.iter().any(|touch| touch.meets(*upper)))
    {
        let detail = format!("nothing of the shape touches the {die} die, so the blow strikes nothing");
        let help = format!("touch = \"both\" or \"{die}\" where it strikes");
        check.problem(ProblemKind::rule("no-die", detail, &help), rings.span());
    }
    touches
}
