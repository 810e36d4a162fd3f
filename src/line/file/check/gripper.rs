//! Grippers that hold the part more than once: their jaws are one body.

use std::ops::Range;

use super::context::Check;
use crate::line::file::tables::{RawFile, RawGrip};
use crate::text::Given;
use crate::text::ProblemKind;

/// Keys that describe the jaws themselves and not how they hold.
const OF_JAWS: [fn(&RawGrip) -> &Given<f64>; 4] = [
    |grip| &grip.cooling_s,
    |grip| &grip.cold_c,
    |grip| &grip.jaw_c,
    |grip| &grip.depth_mm,
];

/// A number of a grip as it counts: its own, that of all grips, or the default; `None` where it follows from
/// the stage.
fn counts(own: &Given<f64>, all: Option<&Given<f64>>) -> Option<(f64, Option<Range<usize>>)> {
    let given = own.as_ref().map(|at| (*at.get_ref(), Some(at.span())));
    let shared = all.and_then(Given::value).map(|value| (*value, None));
    given
        .or(shared)
        .or(own.key.default_for("").map(|default| (default.0, None)))
}

/// Refuses a gripper whose jaws are described in two ways.
pub(crate) fn one_body(check: &mut Check, file: &RawFile) {
    let all = file.grip.value();
    let mut first: Vec<(&str, &RawGrip, Range<usize>)> = Vec::new();
    for stage in file.stage.items() {
        let Some(grips) = stage.get_ref().grip.value() else {
            continue;
        };
        for grip in &grips.items {
            let Some(given) = grip.gripper.as_ref() else { continue };
            let name = given.get_ref().as_str();
            let Some((_, before, there)) = first.iter().find(|f| f.0 == name) else {
                first.push((name, grip, given.span()));
                continue;
            };
            for of in OF_JAWS {
                let key = of(grip).key;
                let (Some((here, at)), Some((earlier, _))) =
                    (counts(of(grip), all.map(of)), counts(of(before), all.map(of)))
                else {
                    continue;
                };
                // What is out of range is told where it stands.
                if here != earlier && here.is_finite() && earlier.is_finite() {
                    let (key, unit) = (key.name, key.unit);
                    let detail = format!(
                        "gripper `{name}` has {key} = {here} {unit} here and {earlier} {unit} in an earlier grip"
                    );
                    let help = "its jaws are one body: the same values in all its grips";
                    let kind = ProblemKind::rule("gripper-differs", detail, help);
                    check.conflict(kind, at.unwrap_or(given.span()), there.clone(), "the earlier grip");
                }
            }
        }
    }
}
