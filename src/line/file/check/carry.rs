//! A part that is carried: its grips and grippers.

use std::ops::Range;

use super::context::{Check, join, round};
use super::cycle;
use super::part::Part;
use super::tools::{self, Tools};
use crate::line::file::tables::{Ends, RawGrip, RawStage};
use crate::line::plan::{Grip, GripEnd, Gripper, StageKind};
use crate::text::ProblemKind;

/// What holds the part while it is carried for a time, s.
pub(crate) fn carry(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    (seconds, part, ambient_c): (f64, &Part, f64),
    tools: &Tools,
) -> Option<StageKind> {
    let mut grips = Vec::new();
    if let Some(given) = raw.grip.as_ref() {
        let span = given.span();
        if part.is_long() {
            check.not_here(
                "grip",
                span,
                "for a part followed by its cross-sections",
                "jaws chill the ends only, which the sections do not show; leave it out",
            );
            return None;
        }
        let Some(length_m) = part.length_m else {
            let kind = ProblemKind::Needs {
                what: "a grip".to_owned(),
                needs: "the length of the billet: give length_mm in [billet]",
            };
            check.problem(kind, span);
            return None;
        };
        let many = given.get_ref().many;
        if given.get_ref().items.is_empty() {
            let hint = "grip = [ { end = .., length_mm = .. } ], or no grip at all";
            check.missing(span, "a grip of the list", hint);
            return None;
        }
        for (index, raw) in given.get_ref().items.iter().enumerate() {
            let mut base = join(base, "grip");
            if many {
                base = join(&base, &(index + 1).to_string());
            }
            let late_s = cycle::within(check, &base, &raw.late_s, seconds);
            if let Some(given) = raw.late_s.as_ref().filter(|_| late_s >= seconds) {
                let kind = ProblemKind::Needs {
                    what: format!("late_s = {late_s} s in a stage of {seconds} s"),
                    needs: "to be shorter than that, or the grip never closes",
                };
                check.problem(kind, given.span());
            }
            let opens_s = opens(check, &base, raw, (late_s, seconds));
            grips.extend(grip(check, &base, raw, &span, ((late_s, opens_s), ambient_c, tools))?);
        }
        if !part.lost {
            check_grips(check, &grips, length_m, span);
        }
    }
    Some(StageKind::Carry { seconds, grips })
}

/// When a grip opens, where that is not the end of the stage: after it closes and within the stage.
fn opens(check: &mut Check, base: &str, raw: &RawGrip, (late_s, seconds): (f64, f64)) -> Option<f64> {
    let given = raw.opens_s.as_ref()?;
    let opens_s = check.number(base, &raw.opens_s)?;
    if opens_s <= late_s || opens_s > seconds {
        check.out_of_range(&raw.opens_s, opens_s, (late_s, seconds), given.span());
    }
    Some(opens_s)
}

/// The gripper of a grip, if it has a name.
fn gripper(check: &mut Check, base: &str, raw: &RawGrip, ambient_c: f64) -> Option<Gripper> {
    let Some(given) = raw.gripper.as_ref() else {
        for given in [&raw.cooling_s, &raw.cold_c] {
            let hint = "gripper = the name of the gripper, shared by its grips";
            check.only_with(given, false, "gripper", hint);
        }
        return None;
    };
    let name = check.text(&raw.gripper)?;
    check.record_given(base, "gripper", &name, given.span());
    Some(Gripper {
        name,
        cooling_s: check.or_default(base, &raw.cooling_s),
        cold_c: check.or_follow(base, &raw.cold_c, ambient_c),
    })
}

fn grip(
    check: &mut Check,
    base: &str,
    raw: &RawGrip,
    place: &Range<usize>,
    ((late_s, opens_s), ambient_c, tools): ((f64, Option<f64>), f64, &Tools),
) -> Option<Vec<Grip>> {
    let grip_end: Ends = &[GripEnd::GripEnd];
    let ends = check.word_or(base, &raw.end, (grip_end, "the gripped end by name"));
    let values = tools::stage_grip(check, base, raw, &tools.grip);
    let Some(length_mm) = values.length_mm else {
        check.missing(
            place.clone(),
            "`length_mm` of the grip",
            "length_mm = the gripped length",
        );
        return None;
    };
    let from_end_mm = match raw.from_end_mm.is_some() {
        true => check.or_default(base, &raw.from_end_mm),
        false => 0.0,
    };
    let gripper = gripper(check, base, raw, ambient_c);
    let metal = values.metal?;
    let grips = ends.iter().map(|end| Grip {
        end: *end,
        length_m: length_mm * 1e-3,
        late_s,
        opens_s,
        from_end_m: from_end_mm * 1e-3,
        gripper: gripper.clone(),
        jaw_c: values.jaw_c,
        contact_w_m2k: values.w_m2k,
        share: values.share,
        metal: metal.clone(),
        depth_m: values.depth_mm * 1e-3,
        back: values.back.end(values.jaw_c),
    });
    Some(grips.collect())
}

fn check_grips(check: &mut Check, grips: &[Grip], length_m: f64, span: Range<usize>) {
    let together = |a: &Grip, b: &Grip| {
        let (a_opens, b_opens) = (a.opens_s.unwrap_or(f64::INFINITY), b.opens_s.unwrap_or(f64::INFINITY));
        a.late_s < b_opens && b.late_s < a_opens
    };
    let reach_m = |grip: &Grip| grip.from_end_m + grip.length_m;
    let mut gripped_m: f64 = 0.0;
    for (index, grip) in grips.iter().enumerate() {
        gripped_m = gripped_m.max(reach_m(grip));
        for other in grips[..index].iter().filter(|other| together(grip, other)) {
            if other.end == grip.end {
                let detail = "the same end is gripped twice at one time".to_owned();
                check.problem(ProblemKind::rule("gripped-twice", detail, ""), span);
                return;
            }
            gripped_m = gripped_m.max(reach_m(grip) + reach_m(other));
        }
    }
    if gripped_m > length_m {
        let (gripped_mm, length_mm) = (round(gripped_m * 1e3), round(length_m * 1e3));
        let detail = format!("grips take {gripped_mm} mm of a part {length_mm} mm long");
        check.problem(ProblemKind::rule("grip-too-long", detail, ""), span);
    }
}
