//! What a part stands or lies on.

use std::ops::Range;

use super::context::{Check, join};
use super::part::Part;
use super::tools::{self, Tools};
use crate::line::file::tables::{RawStage, RawSupport};
use crate::line::plan::{Pose, Section, Support};
use crate::text::ProblemKind;

/// What a stage stands on; its pose is its own, that of `[support]`, or `pose`.
pub(crate) fn support(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    place: Range<usize>,
    (part, tools, pose): (&Part, &Tools, Option<Pose>),
) -> Option<Support> {
    let base = join(base, "support");
    let values = tools::stage_support(check, &base, &raw.support, &tools.support);
    let at = raw.support.span().unwrap_or(place);
    let own = raw.support.value().is_some_and(|s| s.pose.is_some());
    let given = if own { values.pose } else { pose.or(values.pose) };
    let pose = pose_of(check, &base, given, part, at)?;
    let share = match values.share {
        Some(share) => share,
        None => {
            let share = if pose == Pose::Lying { 0.03 } else { 1.0 };
            check.follow(&base, RawSupport::default().share.key, share)
        }
    };
    Some(Support {
        pose,
        share,
        lowest: pose == Pose::Standing && values.share.is_none(),
        bulk_c: values.bulk_c,
        contact_w_m2k: values.w_m2k,
        metal: values.metal?,
        depth_m: values.depth_mm * 1e-3,
        back: values.back.end(values.bulk_c),
    })
}

/// The pose given, or the one that a part takes by itself; refused where it cannot stand so.
pub(crate) fn pose_of(
    check: &mut Check,
    base: &str,
    given: Option<Pose>,
    part: &Part,
    place: Range<usize>,
) -> Option<Pose> {
    let pose = match given {
        Some(pose) => pose,
        None => {
            // A bar rolls onto its side; a forged disc lies on its flat face.
            let (pose, word) = if part.forged || matches!(part.section, Section::Plate { .. }) {
                (Pose::Standing, "standing")
            } else {
                (Pose::Lying, "lying")
            };
            let reason = "a bar lies on its side, a forged part on its end face";
            check.record_word(base, "pose", word, crate::line::trace::Owner::Default, reason.into());
            pose
        }
    };
    (pose == Pose::Lying || can_stand(check, part, place)).then_some(pose)
}

/// Refuses a long bar that is to stand: it has no end face. A plate stands on its lower face.
pub(crate) fn can_stand(check: &mut Check, part: &Part, place: Range<usize>) -> bool {
    let can = part.length_m.is_some() || matches!(part.section, Section::Plate { .. });
    if !can {
        let kind = ProblemKind::Needs {
            what: "pose = \"standing\"".to_owned(),
            needs: "the length of the billet: give length_mm in [billet], or pose = \"lying\"",
        };
        check.problem(kind, place);
    }
    can
}
