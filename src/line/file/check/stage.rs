//! The `[[stage]]` tables.

use std::ops::Range;

use toml::Spanned;

use super::billet::{Billet, Shop};
use super::context::{Check, join};
use super::tools::{self, Tools};
use super::{cool, cycle, forge, trim};
use crate::line::file::tables::{Ends, RawGrip, RawStage, RawSupport};
use crate::line::plan::{
    CrossSection, Grip, GripEnd, Gripper, Pose, Section, Shape, Stage, StageKind, Support, Surroundings,
};
use crate::text::ProblemKind;

/// The part as a stage meets it.
pub(crate) struct Part {
    /// The billet's section.
    pub section: Section,
    /// Extent along the bar axis, m; `None` for a long bar.
    pub length_m: Option<f64>,
    /// Rings; `None` unless round and with a length.
    pub shape: Option<Shape>,
    /// Share of the volume that comes off with the next new shape.
    pub scale_loss: f64,
    /// Whether it has been forged already.
    pub forged: bool,
    /// Whether a shape on the way was refused, so that nothing is known of the later ones.
    pub lost: bool,
    /// Cross-sections of a long part; empty for a part made of rings.
    pub sections: Vec<CrossSection>,
    /// Whether cross-sections were refused, so that no shape can be read.
    pub unread: bool,
}

impl Part {
    /// Whether it is followed by its cross-sections now.
    pub fn is_long(&self) -> bool {
        self.shape.as_ref().is_some_and(Shape::is_long)
    }

    /// Volume in m³ and surface in m²; `None` for a bar without a length and for a plate.
    pub fn volume_and_surface(&self) -> Option<(f64, f64)> {
        if let Some(shape) = &self.shape {
            return Some((shape.volume_m3(), shape.surface_m2()));
        }
        let (length_m, area_m2) = (self.length_m?, self.section.area_m2());
        let round_m = match self.section {
            Section::Round { radius_m } => 2.0 * std::f64::consts::PI * radius_m,
            Section::Square { side_m } => 4.0 * side_m,
            Section::Rectangle { width_m, height_m } => 2.0 * (width_m + height_m),
            Section::Plate { .. } => return None,
        };
        Some((area_m2 * length_m, 2.0 * area_m2 + round_m * length_m))
    }
}

/// All stages in order; shorter than the list given when one was refused.
pub(crate) fn stages(
    check: &mut Check,
    (raw, sections): (&[Spanned<RawStage>], Option<Vec<CrossSection>>),
    (billet, scale_loss): (&Billet, f64),
    shop: &Shop,
    tools: &Tools,
) -> Vec<Stage> {
    let names = names(check, raw);
    let mut part = Part {
        section: billet.piece.section,
        length_m: billet.piece.length_m,
        shape: billet.piece.shape(),
        scale_loss,
        forged: false,
        lost: false,
        unread: sections.is_none(),
        sections: sections.unwrap_or_default(),
    };
    let mut stages = Vec::with_capacity(raw.len());
    for (stage, name) in raw.iter().zip(names) {
        let base = join("stage", &name);
        let place = stage.span();
        let raw = stage.get_ref();
        let line = match raw.name.as_ref() {
            Some(given) => check.line(given.span().start),
            None => check.line(place.start),
        };
        let surroundings = surroundings(check, &base, raw, shop);
        let Some(kind) = kind_word(check, &base, raw, &place) else {
            continue;
        };
        let kind = match kind {
            "carry" => carry(check, &base, raw, place, &part, (tools, surroundings.ambient_c)),
            "wait" => Some(StageKind::Wait {
                seconds: seconds(check, &base, raw, place),
            }),
            "rest" => rest(check, &base, raw, place, &part, tools),
            "descale" => Some(StageKind::Descale {
                seconds: seconds(check, &base, raw, place),
                film_w_m2k: check.or_default(&base, &raw.w_m2k),
                water_c: check.or_default(&base, &raw.water_c),
            }),
            "forge" => forge::forge(check, &base, raw, place, &mut part, tools),
            "trim" => trim::trim(check, &base, raw, place, &mut part, tools),
            _ => {
                let seconds = seconds(check, &base, raw, place);
                cool::cool(check, &base, raw, &part, (tools, seconds))
            }
        };
        if let Some(kind) = kind {
            stages.push(Stage {
                name,
                kind,
                surroundings,
                line,
            });
        }
    }
    stages
}

/// Names, given or made from the kind; distinct.
fn names(check: &mut Check, raw: &[Spanned<RawStage>]) -> Vec<String> {
    for (index, stage) in raw.iter().enumerate() {
        let name = check.text(&stage.get_ref().name);
        let (Some(name), Some(given)) = (name, stage.get_ref().name.as_ref()) else {
            continue;
        };
        if name == "heater" {
            let detail = format!("a stage cannot be named \"{name}\"");
            let kind = ProblemKind::rule("reserved-name", detail, "the name stands for the heater in limits");
            check.problem(kind, given.span());
            continue;
        }
        let mut before = raw[..index].iter().filter_map(|s| s.get_ref().name.as_ref());
        let same = before.find(|other| *other.get_ref() == name);
        if let Some(first) = same {
            let kind = ProblemKind::rule("duplicate-stage", format!("two stages are named \"{name}\""), "");
            check.conflict(kind, given.span(), first.span(), "first used here");
        }
    }
    let mut names: Vec<String> = Vec::with_capacity(raw.len());
    for stage in raw {
        let stage = stage.get_ref();
        let name = match (stage.name.as_ref(), stage.kind.as_ref()) {
            (Some(name), _) => name.get_ref().clone(),
            (None, kind) => {
                let kind = kind.map_or("stage", |kind| kind.get_ref());
                let taken = |name: &str| {
                    let given = raw.iter().filter_map(|s| s.get_ref().name.as_ref());
                    names.iter().any(|n| n == name) || given.into_iter().any(|n| n.get_ref() == name)
                };
                let mut name = kind.to_owned();
                let mut number = 2;
                while taken(&name) {
                    name = format!("{kind} {number}");
                    number += 1;
                }
                name
            }
        };
        names.push(name);
    }
    names
}

fn kind_word(check: &mut Check, base: &str, raw: &RawStage, place: &Range<usize>) -> Option<&'static str> {
    if raw.kind.is_none() {
        let hint = format!("kind = one of {}", raw.kind.key.words.join(", "));
        check.missing(place.clone(), "`kind` of the stage", &hint);
        return None;
    }
    let kind = check.one_of(base, &raw.kind)?;
    check.only(raw, kind, &format!("for a {kind} stage"), |key| {
        format!("it belongs to {}", key.kinds.join(", "))
    });
    Some(kind)
}

fn surroundings(check: &mut Check, base: &str, raw: &RawStage, shop: &Shop) -> Surroundings {
    let air = &shop.air;
    let ambient = check.number(base, &raw.ambient_c);
    let walls = check.number(base, &raw.surroundings_c);
    let walls_otherwise = match ambient {
        Some(ambient_c) if !shop.walls_given => ambient_c,
        _ => air.surroundings_c,
    };
    Surroundings {
        ambient_c: ambient.unwrap_or(air.ambient_c),
        surroundings_c: walls.unwrap_or(walls_otherwise),
        air_speed_m_s: check.number(base, &raw.air_speed_m_s).unwrap_or(air.air_speed_m_s),
        film_w_m2k: check.number(base, &raw.film_w_m2k).or(air.film_w_m2k),
        view_factor: check.number(base, &raw.view_factor).unwrap_or(air.view_factor),
        emissivity: check.number(base, &raw.emissivity).or(air.emissivity),
    }
}

fn seconds(check: &mut Check, base: &str, raw: &RawStage, place: Range<usize>) -> f64 {
    let hint = "seconds = how long the stage lasts";
    check.required(base, &raw.seconds, place, hint)
}

fn carry(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    place: Range<usize>,
    part: &Part,
    (tools, ambient_c): (&Tools, f64),
) -> Option<StageKind> {
    let seconds = seconds(check, base, raw, place);
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

fn rest(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    place: Range<usize>,
    part: &Part,
    tools: &Tools,
) -> Option<StageKind> {
    let seconds = seconds(check, base, raw, place.clone());
    let support = support(check, base, raw, place, (part, tools, None))?;
    Some(StageKind::Rest { seconds, support })
}

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

/// To a thousandth, for messages.
pub(crate) fn round(value: f64) -> f64 {
    (value * 1e3).round() / 1e3
}
