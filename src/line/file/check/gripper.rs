//! Grippers that hold the part more than once: their jaws are one body.

use std::ops::Range;

use super::context::Check;
use crate::line::file::keys::{self, Key, Without};
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::{At, RawFile, RawGrip};

/// Keys that describe the jaws themselves and not how they hold.
const OF_JAWS: [&Key; 4] = [
    &keys::GRIP_COOLING,
    &keys::GRIP_COLD,
    &keys::GRIP_JAW,
    &keys::GRIP_DEPTH,
];

/// A number of a grip as it counts: its own, that of all grips, or the default; `None` where it follows from
/// the stage.
fn counts(grip: &RawGrip, all: Option<&RawGrip>, key: &Key) -> Option<(f64, Option<Range<usize>>)> {
    let of = |grip: &RawGrip| -> At<f64> {
        match key.name {
            "cooling_s" => grip.cooling_s.clone(),
            "cold_c" => grip.cold_c.clone(),
            "jaw_c" => grip.jaw_c.clone(),
            _ => grip.depth_mm.clone(),
        }
    };
    let given = of(grip).map(|own| (*own.get_ref(), Some(own.span())));
    let shared = || all.and_then(of).map(|value| (*value.get_ref(), None));
    given.or_else(shared).or(match key.without {
        Without::Default(value, _) => Some((value, None)),
        _ => None,
    })
}

/// Refuses a gripper whose jaws are described in two ways.
pub(crate) fn one_body(check: &mut Check, file: &RawFile) {
    let all = file.grip.as_ref().map(|grip| grip.get_ref());
    let mut first: Vec<(&str, &RawGrip, Range<usize>)> = Vec::new();
    for stage in &file.stage {
        let Some(grips) = &stage.get_ref().grip else { continue };
        for grip in &grips.get_ref().items {
            let Some(given) = &grip.gripper else { continue };
            let name = given.get_ref().as_str();
            let Some((_, before, there)) = first.iter().find(|f| f.0 == name) else {
                first.push((name, grip, given.span()));
                continue;
            };
            for key in OF_JAWS {
                let (Some((here, at)), Some((earlier, _))) = (counts(grip, all, key), counts(before, all, key)) else {
                    continue;
                };
                // What is out of range is told where it stands.
                if here != earlier && here.is_finite() && earlier.is_finite() {
                    let kind = ProblemKind::GripperDiffers {
                        gripper: name.to_owned(),
                        key: key.name,
                        here,
                        there: earlier,
                        unit: key.unit,
                    };
                    check.conflict(kind, at.unwrap_or(given.span()), there.clone(), "the earlier grip");
                }
            }
        }
    }
}
