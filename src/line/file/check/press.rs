//! Contact time of a press stroke from how the ram moves.

use std::ops::Range;

use super::context::Check;
use crate::die::stroke::{Stroke, contact_s};
use crate::line::file::keys;
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::RawStage;
use crate::line::plan::Shape;
use crate::line::trace::Owner;

#[derive(Clone, Copy, PartialEq)]
enum Machine {
    Mechanical,
    Screw,
    Hydraulic,
}

const MACHINES: [(&str, Machine); 3] = [
    ("mechanical", Machine::Mechanical),
    ("screw", Machine::Screw),
    ("hydraulic", Machine::Hydraulic),
];

/// Contact time of one blow or stroke, s.
pub(crate) fn contact(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    (blows, place): (u32, &Range<usize>),
    shapes: (Option<&Shape>, Option<&Shape>),
) -> f64 {
    let Some(given) = &raw.machine else {
        for (key, at) in [
            ("stroke_mm", raw.stroke_mm.as_ref().map(|r| r.span())),
            ("strokes_per_min", raw.strokes_per_min.as_ref().map(|r| r.span())),
            ("squeeze_mm", raw.squeeze_mm.as_ref().map(|r| r.span())),
            ("hold_ms", raw.hold_ms.as_ref().map(|r| r.span())),
        ] {
            if let Some(at) = at {
                let kind = ProblemKind::NotHere {
                    key: key.to_owned(),
                    place: "without machine".to_owned(),
                    hint: "machine = \"mechanical\", \"screw\" or \"hydraulic\"".to_owned(),
                };
                check.problem(kind, at);
                break;
            }
        }
        return check.or_default(base, &keys::CONTACT_FORGE, &raw.contact_ms) * 1e-3;
    };
    if check.exclusive("machine", &raw.machine, "contact_ms", &raw.contact_ms) {
        return f64::NAN;
    }
    let Some(machine) = check.word(base, "machine", &raw.machine, &MACHINES) else {
        return f64::NAN;
    };
    if machine != Machine::Mechanical {
        let crank = [("stroke_mm", &raw.stroke_mm), ("strokes_per_min", &raw.strokes_per_min)];
        for (key, given) in crank {
            if let Some(given) = given {
                let kind = ProblemKind::NotHere {
                    key: key.to_owned(),
                    place: "for a press without a crank".to_owned(),
                    hint: "ram_speed_m_s = speed at first contact".to_owned(),
                };
                check.problem(kind, given.span());
                return f64::NAN;
            }
        }
    }
    let from_heights = match shapes {
        (Some(before), Some(after)) => {
            let loss = before.height_towards_m(after) - after.mean_height_m();
            1e3 * loss / f64::from(blows.max(1))
        }
        _ => f64::NAN,
    };
    let squeeze_mm = if raw.squeeze_mm.is_none() && (from_heights.is_nan() || from_heights <= 0.0) {
        let hint = "squeeze_mm = how far the ram moves with the part between the dies";
        check.missing(given.span(), "`squeeze_mm` where no shape loses height", hint);
        f64::NAN
    } else {
        check.or_follow(base, &keys::SQUEEZE, &raw.squeeze_mm, from_heights)
    };
    let stroke = match machine {
        Machine::Mechanical => {
            let hint = "stroke_mm = full stroke of the press";
            let stroke_mm = check.required(base, &keys::STROKE, &raw.stroke_mm, place.clone(), hint);
            let hint = "strokes_per_min = strokes per minute of the running press";
            let per_minute = check.required(base, &keys::STROKES, &raw.strokes_per_min, place.clone(), hint);
            Stroke::Mechanical {
                stroke_m: stroke_mm * 1e-3,
                per_minute,
            }
        }
        Machine::Screw | Machine::Hydraulic => {
            let Some(speed) = &raw.ram_speed_m_s else {
                let hint = "ram_speed_m_s = speed at first contact";
                check.missing(given.span(), "`ram_speed_m_s` of the press", hint);
                return f64::NAN;
            };
            let speed_m_s = *speed.get_ref();
            if !keys::RAM_SPEED.allowed.contains(speed_m_s) {
                // Told where the heat of forming reads it.
                return f64::NAN;
            }
            match machine {
                Machine::Screw => Stroke::Screw { speed_m_s },
                _ => Stroke::Hydraulic { speed_m_s },
            }
        }
    };
    let hold_ms = check.or_default(base, &keys::HOLD, &raw.hold_ms);
    match contact_s(&stroke, squeeze_mm * 1e-3) {
        Ok(seconds) => {
            let contact_ms = seconds * 1e3 + hold_ms;
            if contact_ms.is_finite() {
                let reason = "from the stroke of the machine, its squeeze and its hold";
                check.record(base, &keys::CONTACT_FORGE, contact_ms, Owner::Default, reason.into());
                check.follows();
            }
            contact_ms * 1e-3
        }
        Err(error) => {
            let kind = ProblemKind::Needs {
                what: format!("the stroke ({error})"),
                needs: "a stroke_mm longer than squeeze_mm",
            };
            check.problem(kind, given.span());
            f64::NAN
        }
    }
}
