//! Contact time of a press stroke from how the ram moves.

use std::ops::Range;

use super::context::{Check, round};
use crate::die::stroke::{Stroke, contact_s};
use crate::line::file::tables::{Machine, RawStage};
use crate::line::plan::Shape;
use crate::text::ProblemKind;

/// Contact time of one blow or stroke, s.
pub(crate) fn contact(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    (blows, place): (u32, &Range<usize>),
    shapes: (Option<&Shape>, Option<&Shape>),
) -> f64 {
    let Some(given) = raw.machine.as_ref() else {
        for given in [&raw.stroke_mm, &raw.strokes_per_min, &raw.squeeze_mm, &raw.hold_ms] {
            let hint = "machine = \"mechanical\", \"screw\" or \"hydraulic\"";
            check.only_with(given, false, "machine", hint);
            if given.is_some() {
                break;
            }
        }
        return check.or_default_of("forge", base, &raw.contact_ms) * 1e-3;
    };
    if check.exclusive(&raw.machine, &raw.contact_ms) {
        return f64::NAN;
    }
    let Some(machine) = check.word(base, &raw.machine) else {
        return f64::NAN;
    };
    let squeeze_mm = squeeze_mm(check, (base, raw), (blows, given.span()), shapes);
    let stroke = stroke(check, (base, raw), machine, (place, given.span()));
    let (Some(squeeze_mm), Some(stroke)) = (squeeze_mm, stroke) else {
        return f64::NAN;
    };
    let hold_ms = check.or_default(base, &raw.hold_ms);
    match contact_s(&stroke, squeeze_mm * 1e-3) {
        Ok(seconds) => {
            let contact_ms = seconds * 1e3 + hold_ms;
            let allowed = raw.contact_ms.key.allowed;
            if contact_ms.is_finite() && !allowed.contains(contact_ms) {
                let detail = format!("a stroke over {squeeze_mm} mm keeps the part in contact for {contact_ms:.3e} ms");
                let help = format!("contact may last {allowed} ms: check speed and squeeze_mm");
                let kind = ProblemKind::rule("stroke-time", detail, &help);
                check.problem(kind, raw.ram_speed_m_s.span().unwrap_or(given.span()));
                return f64::NAN;
            }
            if contact_ms.is_finite() {
                let reason = "from the stroke of the machine, its squeeze and its hold";
                check.computed(base, raw.contact_ms.key, contact_ms, reason.into());
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

/// How far the ram moves with the part between the dies, mm: given, or what the part loses of its height.
fn squeeze_mm(
    check: &mut Check,
    (base, raw): (&str, &RawStage),
    (blows, machine): (u32, Range<usize>),
    shapes: (Option<&Shape>, Option<&Shape>),
) -> Option<f64> {
    let from_heights = match shapes {
        (Some(before), Some(after)) => {
            let loss = before.height_towards_m(after) - after.mean_height_m();
            1e3 * loss / f64::from(blows.max(1))
        }
        _ => f64::NAN,
    };
    if raw.squeeze_mm.is_none() && (from_heights.is_nan() || from_heights <= 0.0) {
        let hint = "squeeze_mm = how far the ram moves with the part between the dies";
        check.missing(machine, "`squeeze_mm` where no shape loses height", hint);
        return None;
    }
    let squeeze_mm = check.or_follow(base, &raw.squeeze_mm, from_heights);
    if let (Some(span), Some(before)) = (raw.squeeze_mm.span(), shapes.0) {
        // A part on its side is squeezed across.
        let most_mm = 1e3 * before.height_m().max(2.0 * before.outer_m());
        if squeeze_mm >= most_mm {
            check.out_of_range(&raw.squeeze_mm, squeeze_mm, (0.0, round(most_mm)), span);
            return None;
        }
    }
    Some(squeeze_mm)
}

/// How the ram of a press moves.
fn stroke(
    check: &mut Check,
    (base, raw): (&str, &RawStage),
    machine: Machine,
    (place, given): (&Range<usize>, Range<usize>),
) -> Option<Stroke> {
    if machine == Machine::Mechanical {
        let hint = "stroke_mm = full stroke of the press";
        let stroke_mm = check.required(base, &raw.stroke_mm, place.clone(), hint);
        let hint = "strokes_per_min = strokes per minute of the running press";
        let per_minute = check.required(base, &raw.strokes_per_min, place.clone(), hint);
        return Some(Stroke::Mechanical {
            stroke_m: stroke_mm * 1e-3,
            per_minute,
        });
    }
    let crank = [&raw.stroke_mm, &raw.strokes_per_min]
        .into_iter()
        .find_map(|crank| Some((crank, crank.span()?)));
    if let Some((crank, span)) = crank {
        let hint = "ram_speed_m_s = speed at first contact";
        check.not_here(crank.key.name, span, "for a press without a crank", hint);
        return None;
    }
    let Some(speed) = raw.ram_speed_m_s.as_ref() else {
        let hint = "ram_speed_m_s = speed at first contact";
        check.missing(given, "`ram_speed_m_s` of the press", hint);
        return None;
    };
    let speed_m_s = *speed.get_ref();
    // One out of range is told where the heat of forming reads it.
    raw.ram_speed_m_s
        .key
        .allowed
        .contains(speed_m_s)
        .then_some(match machine {
            Machine::Screw => Stroke::Screw { speed_m_s },
            _ => Stroke::Hydraulic { speed_m_s },
        })
}
