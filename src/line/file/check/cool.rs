//! Cooling: neighbours on a conveyor, heaps, fans, what the part stands on.

use std::ops::Range;

use super::context::{Check, join, round};
use super::part::Part;
use super::rest::{pose_of, support};
use super::tools::Tools;
use crate::line::file::tables::{RawConveyor, RawPile, RawStage};
use crate::line::plan::{Company, Conveyor, Cool, Fan, Pose, Section, StageKind};
use crate::surface::SurfaceError;
use crate::surface::shading::{among_cylinders, box_m2, cone_m2, facing_discs, facing_rectangles};
use crate::text::{ProblemKind, Slot};

/// Neighbours that are looked at along and across the belt; those beyond are hidden by them but for
/// slits.
const NEAR: i64 = 2;

pub(crate) fn cool(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    part: &Part,
    (tools, seconds): (&Tools, f64),
) -> Option<StageKind> {
    let fan = fan(check, base, raw, seconds);
    let twice = refuse_pairs(check, raw);
    let stands = match raw.support.as_ref() {
        Some(given) => {
            let pose = raw.conveyor.value().and_then(|conveyor| conveyor.pose.value()?.parse());
            Some(support(check, base, raw, given.span(), (part, tools, pose))?)
        }
        None => None,
    };
    let company = if twice || part.lost {
        Company::Alone
    } else if let Some(given) = raw.conveyor.as_ref() {
        let on = stands.as_ref().map(|support| (support.pose, support.bulk_c));
        conveyor(check, &join(base, "conveyor"), given.get_ref(), given.span(), part, on)?
    } else if let Some(given) = raw.pile.as_ref() {
        let base = join(base, "pile");
        let exposed_share = pile(check, &base, given.get_ref(), given.span(), part)?;
        Company::Pile { exposed_share }
    } else {
        Company::Alone
    };
    Some(StageKind::Cool(Box::new(Cool {
        seconds,
        support: stands,
        company,
        fan,
    })))
}

/// Keys that say in two ways what a part sees; tells whether there were any.
fn refuse_pairs(check: &mut Check, raw: &RawStage) -> bool {
    let company = check.exclusive(&raw.conveyor, &raw.pile);
    let views = [
        check.exclusive(&raw.conveyor, &raw.view_factor),
        check.exclusive(&raw.pile, &raw.view_factor),
        // A heap lies on parts of its own kind.
        check.exclusive(&raw.pile, &raw.support),
    ];
    company || views.contains(&true)
}

fn fan(check: &mut Check, base: &str, raw: &RawStage, seconds: f64) -> Option<Fan> {
    let given = raw.fan.as_ref()?;
    let (base, fan) = (join(base, "fan"), given.get_ref());
    if check.exclusive(&fan.air_speed_m_s, &fan.film_w_m2k) {
        return None;
    }
    if fan.air_speed_m_s.is_none() && fan.film_w_m2k.is_none() {
        let hint = "air_speed_m_s = speed of the air past the part, or film_w_m2k";
        check.missing(given.span(), "`air_speed_m_s` of the fan", hint);
    }
    let from_s = check.or_default(&base, &fan.from_s);
    if let (true, Some(at)) = (from_s > seconds, fan.from_s.span()) {
        check.out_of_range(&fan.from_s, from_s, (0.0, seconds), at);
    }
    let until_s = check.number(&base, &fan.until_s);
    if let (Some(until_s), Some(at)) = (until_s, fan.until_s.span())
        && (until_s < from_s || until_s > seconds)
    {
        check.out_of_range(&fan.until_s, until_s, (from_s, seconds), at);
    }
    Some(Fan {
        air_speed_m_s: check.number(&base, &fan.air_speed_m_s),
        film_w_m2k: check.number(&base, &fan.film_w_m2k),
        from_s,
        until_s,
    })
}

/// Refuses some keys where they have no meaning.
fn not_here(check: &mut Check, slots: &[&dyn Slot], place: &str, hint: &str) {
    for slot in slots {
        if let Some(span) = slot.span() {
            check.not_here(slot.key().name, span, place, hint);
        }
    }
}

fn conveyor(
    check: &mut Check,
    base: &str,
    raw: &RawConveyor,
    place: Range<usize>,
    part: &Part,
    on: Option<(Pose, f64)>,
) -> Option<Company> {
    if matches!(part.section, Section::Plate { .. }) {
        let kind = ProblemKind::Needs {
            what: "a conveyor".to_owned(),
            needs: "a part with sides, which a wide plate has not: give view_factor instead",
        };
        check.problem(kind, place);
        return None;
    }
    if part.is_long() {
        let slots: [&dyn Slot; 5] = [&raw.pose, &raw.rows, &raw.row, &raw.row_spacing_mm, &raw.end_view];
        let hint = "it lies across the belt, and its sections show no ends; leave it out";
        not_here(check, &slots, "for a part followed by its cross-sections", hint);
    }
    let given = check.word(base, &raw.pose);
    let pose = match (given, on) {
        (Some(pose), Some((other, _))) if pose != other => {
            let at = raw.pose.span().unwrap_or(place);
            check.not_here(
                "pose",
                at,
                "here other than in the support of the stage",
                "take one of them out",
            );
            return None;
        }
        _ if part.is_long() => Pose::Lying,
        (None, Some((pose, _))) => pose,
        _ => pose_of(check, base, given, part, place.clone())?,
    };
    let hint = "spacing_mm = clear gap from a part to the next";
    let spacing_mm = check.required(base, &raw.spacing_mm, place, hint);
    let rows = match check.whole(base, &raw.rows) {
        Some(rows) => rows,
        None if part.is_long() => 1,
        None => check.whole_or_default(base, &raw.rows) as i64,
    };
    let (mut row, mut row_spacing_mm) = (1, spacing_mm);
    if rows > 1 {
        row_spacing_mm = check.or_follow(base, &raw.row_spacing_mm, spacing_mm);
        row = match check.whole(base, &raw.row) {
            Some(row) => row,
            None => check.follow(base, raw.row.key, ((rows + 1) / 2) as f64) as i64,
        };
        if let (true, Some(at)) = (row > rows, raw.row.span()) {
            check.out_of_range(&raw.row, row as f64, (1.0, rows as f64), at);
        }
    } else if !part.is_long() {
        let hint = "rows = how many lie side by side across the belt";
        not_here(check, &[&raw.row, &raw.row_spacing_mm], "with one row", hint);
    }
    let belt_c = match (check.number(base, &raw.belt_c), on) {
        (None, Some((_, bulk_c))) => Some(check.follow(base, raw.belt_c.key, bulk_c)),
        (belt_c, _) => belt_c,
    };
    let rows = Rows {
        spacing_m: spacing_mm * 1e-3,
        row_spacing_m: row_spacing_mm * 1e-3,
        rows,
        row,
    };
    let (side, end) = rows.views(part, pose).unwrap_or((f64::NAN, f64::NAN));
    let side_view = check.or_follow(base, &raw.side_view, round_view(side));
    let end_view = if pose == Pose::Lying && !part.is_long() && rows.rows > 1 && part.length_m.is_some() {
        check.or_follow(base, &raw.end_view, round_view(end))
    } else if part.is_long() {
        1.0
    } else {
        let (place, hint) = ("here", "it belongs to parts that lie end to end, in more than one row");
        not_here(check, &[&raw.end_view], place, hint);
        1.0
    };
    Some(Company::Conveyor(Conveyor {
        pose,
        side_view,
        end_view,
        belt_c,
    }))
}

/// To a millionth, which reads well in lists and moves no temperature.
fn round_view(view: f64) -> f64 {
    (view * 1e6).round() * 1e-6
}

/// How parts lie on a belt.
struct Rows {
    spacing_m: f64,
    row_spacing_m: f64,
    rows: i64,
    row: i64,
}

impl Rows {
    /// View factors of side and end faces past the neighbours, means over the area of each.
    fn views(&self, part: &Part, pose: Pose) -> Result<(f64, f64), SurfaceError> {
        if let Some(shape) = &part.shape {
            let steps = shape.steps();
            let widest_m = steps.iter().map(|s| s.width_m).fold(0.0, f64::max);
            let (mut taken, mut area) = (0.0, 0.0);
            for step in &steps {
                let (hidden, own) = if shape.is_long() {
                    let gap_m = self.spacing_m + widest_m - step.width_m;
                    let hidden = facing_rectangles(step.height_m, Some(step.length_m), gap_m)?;
                    (hidden, step.height_m * step.length_m)
                } else {
                    let others = self.others(pose, widest_m);
                    let hidden = among_cylinders(step.width_m, Some(step.height_m), &others)?;
                    (hidden, step.width_m * step.height_m)
                };
                taken += own * hidden;
                area += own;
            }
            let ends = facing_discs(widest_m, self.row_spacing_m)?;
            return Ok((1.0 - taken / area, 1.0 - self.ends() * ends));
        }
        let (width_m, height_m) = match part.section {
            Section::Round { radius_m } => {
                let side = among_cylinders(2.0 * radius_m, part.length_m, &self.others(pose, 2.0 * radius_m))?;
                return Ok((
                    1.0 - side,
                    1.0 - self.ends() * facing_discs(2.0 * radius_m, self.row_spacing_m)?,
                ));
            }
            Section::Square { side_m } => (side_m, side_m),
            Section::Rectangle { width_m, height_m } => (width_m, height_m),
            Section::Plate { .. } => return Ok((1.0, 1.0)),
        };
        let round_m = 2.0 * (width_m + height_m);
        Ok(match (pose, part.length_m) {
            // The bar axis is upright: two sides face along the belt, two across it.
            (Pose::Standing, Some(length_m)) => {
                let along = facing_rectangles(length_m, Some(width_m), self.spacing_m)?;
                let across = match self.rows {
                    1 => 0.0,
                    _ => 2.0 * self.ends() * facing_rectangles(length_m, Some(height_m), self.row_spacing_m)?,
                };
                (1.0 - (2.0 * width_m * along + height_m * across) / round_m, 1.0)
            }
            // Of the four sides of a lying bar two face the neighbours.
            (_, length_m) => {
                let along = facing_rectangles(height_m, length_m, self.spacing_m)?;
                let ends = facing_rectangles(height_m, Some(width_m), self.row_spacing_m)?;
                (1.0 - 2.0 * height_m * along / round_m, 1.0 - self.ends() * ends)
            }
        })
    }

    /// Neighbours across over two: the share of the faces across the belt that have one.
    fn ends(&self) -> f64 {
        0.5 * (i64::from(self.row > 1) + i64::from(self.row < self.rows)) as f64
    }

    /// Axes of the neighbours from that of the part: those of a lying part are in its own row only.
    fn others(&self, pose: Pose, widest_m: f64) -> Vec<(f64, f64)> {
        let (along, across) = (self.spacing_m + widest_m, self.row_spacing_m + widest_m);
        if pose == Pose::Lying {
            return vec![(along, 0.0), (-along, 0.0)];
        }
        let rows = (1 - self.row).max(-NEAR)..=(self.rows - self.row).min(NEAR);
        rows.flat_map(|j| (-NEAR..=NEAR).map(move |i| (i, j)))
            .filter(|at| *at != (0, 0))
            .map(|(i, j)| (i as f64 * along, j as f64 * across))
            .collect()
    }
}

/// Share of the surface of all parts of a heap that its outside makes up.
fn pile(check: &mut Check, base: &str, raw: &RawPile, place: Range<usize>, part: &Part) -> Option<f64> {
    let volume_and_area = part.volume_and_surface();
    let Some((volume_m3, area_m2)) = volume_and_area else {
        let kind = ProblemKind::Needs {
            what: "a pile".to_owned(),
            needs: "parts with a surface: a billet with length_mm, no plate",
        };
        check.problem(kind, place);
        return None;
    };
    let given = check.number(base, &raw.exposed_share);
    let parts = check.whole(base, &raw.parts);
    if parts.is_none() && raw.parts.is_none() && given.is_none() {
        let hint = "parts = how many lie in it, or exposed_share";
        check.missing(place, "`parts`", hint);
        return None;
    }
    if raw.parts.is_none() {
        let geometry: [&dyn Slot; 4] = [&raw.fill, &raw.basket_length_mm, &raw.basket_width_mm, &raw.slope_deg];
        let hint = "parts = how many lie in the basket or heap";
        not_here(check, &geometry, "without parts", hint);
        return given;
    }
    let fill = check.or_default(base, &raw.fill);
    let length_mm = check.number(base, &raw.basket_length_mm);
    let width_mm = check.number(base, &raw.basket_width_mm);
    let parts = parts? as f64;
    let heap_m3 = parts * volume_m3 / fill;
    let outside = match (length_mm, width_mm) {
        (Some(length_mm), Some(width_mm)) => {
            let hint = "a basket has none: take it out";
            not_here(check, &[&raw.slope_deg], "beside a basket", hint);
            box_m2(heap_m3, length_mm * 1e-3, width_mm * 1e-3)
        }
        (None, None) => {
            let slope_deg = check.or_default(base, &raw.slope_deg);
            cone_m2(heap_m3, slope_deg)
        }
        (length_mm, _) => {
            let (what, hint) = if length_mm.is_some() {
                ("`basket_width_mm`", "basket_width_mm = width of the basket inside")
            } else {
                ("`basket_length_mm`", "basket_length_mm = length of the basket inside")
            };
            check.missing(place, what, hint);
            return None;
        }
    };
    // Numbers out of their range were told already.
    let share = outside.unwrap_or(f64::NAN) / (parts * area_m2);
    if given.is_none() && share > 1.0 {
        let ratio = round(share);
        let detail = format!(
            "the outside of a heap of {parts} parts would be {ratio} times their surface; it is below 1 in a heap"
        );
        let help = "such parts lie apart: more parts, a smaller basket, a steeper heap, or exposed_share";
        let kind = ProblemKind::rule("loose-heap", detail, help);
        check.problem(kind, raw.parts.span().unwrap_or(place));
        return None;
    }
    match given {
        Some(share) => Some(share),
        None => {
            let reason = "outside of the heap over the surface of its parts";
            check.computed(base, raw.exposed_share.key, round_view(share), reason.into());
            Some(round_view(share))
        }
    }
}
