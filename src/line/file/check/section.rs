//! The cross-sections of a long part: the `[[section]]` tables and shapes made of strips.

use toml::Spanned;

use super::context::{Check, join, round};
use super::part::Part;
use super::ring::{EMPTY, Shared, TOUCH_M, VOLUME_TOLERANCE_PERCENT, empty, heights, more_or_less, reached, zone};
use crate::body::Place;
use crate::line::file::tables::{RawRing, RawSection};
use crate::line::plan::{CrossSection, Piece, Ring, Section, Shape, Strip};
use crate::text::ProblemKind;

/// Most sections of a part.
const MOST_SECTIONS: usize = 20;

/// How far the shares of the mass may be from 100 together, percent.
const SHARES_PERCENT: f64 = 0.1;

/// Checks the `[[section]]` tables; `None` when one was refused, and nothing can be said of shapes.
pub(crate) fn sections(check: &mut Check, raw: &[Spanned<RawSection>], piece: &Piece) -> Option<Vec<CrossSection>> {
    let Some(first) = raw.first() else {
        return Some(Vec::new());
    };
    let place = first.span();
    if raw.len() > MOST_SECTIONS {
        let kind = ProblemKind::TooMany {
            what: "sections",
            count: raw.len(),
            most: MOST_SECTIONS,
        };
        check.problem(kind, raw[MOST_SECTIONS].span());
        return None;
    }
    if piece.length_m.is_none() || !matches!(piece.section, Section::Round { .. }) {
        let kind = ProblemKind::Needs {
            what: "a part with cross-sections".to_owned(),
            needs: "a round billet with a length: section = \"round\" and length_mm in [billet]",
        };
        check.problem(kind, place);
        return None;
    }
    let before = check.problems.len();
    let mut sections: Vec<CrossSection> = Vec::with_capacity(raw.len());
    let mut sum = 0.0;
    for (index, raw) in raw.iter().enumerate() {
        let base = join("section", &(index + 1).to_string());
        let place = raw.span();
        let raw = raw.get_ref();
        let name = zone(check, &raw.name);
        match raw.name.as_ref() {
            None => check.missing(place.clone(), "`name` of the section", "name = \"shank\", say"),
            Some(given) if sections.iter().any(|s| s.name == name) => {
                let kind = ProblemKind::rule("duplicate-section", format!("two sections are named \"{name}\""), "");
                check.problem(kind, given.span());
            }
            Some(given) if Place::of(&name).is_some() => {
                let detail = format!("section \"{name}\" has the name of a node of every part");
                let kind = ProblemKind::rule("name-taken", detail, "");
                check.problem(kind, given.span());
            }
            Some(_) => {}
        }
        let hint = "mass_percent = its share of the mass";
        let percent = check.required(&base, &raw.mass_percent, place.clone(), hint);
        let hint = "length_mm = the length of the forging that it stands for";
        let length_mm = check.required(&base, &raw.length_mm, place, hint);
        sum += percent;
        sections.push(CrossSection {
            name,
            share: percent * 1e-2,
            length_m: length_mm * 1e-3,
            symmetric: raw.symmetric.value().copied().unwrap_or(false),
        });
    }
    if (sum - 100.0).abs() > SHARES_PERCENT {
        let at = raw
            .last()
            .and_then(|r| r.get_ref().mass_percent.span())
            .unwrap_or(place);
        let detail = format!("the sections have {sum:.2} % of the mass together, not 100 %");
        check.problem(ProblemKind::rule("section-shares", detail, ""), at);
    }
    if check.problems.len() > before {
        return None;
    }
    // A tenth of a percent may be missing in the file; the mass is divided whole.
    for section in &mut sections {
        section.share *= 100.0 / sum;
    }
    check.warn(
        "sections-apart",
        "each cross-section is followed on its own: heat that flows along the bar from one to the next is left out"
            .to_owned(),
    );
    Some(sections)
}

/// A shape made of strips of the part's sections.
pub(crate) fn strips(
    check: &mut Check,
    base: &str,
    given: &Spanned<Vec<Spanned<RawRing>>>,
    part: &Part,
) -> Option<Shape> {
    let raw = given.get_ref();
    let problems = check.problems.len();
    let mut shape = Shape {
        rings: Vec::with_capacity(raw.len()),
        sections: part.sections.clone(),
    };
    for (index, raw) in raw.iter().enumerate() {
        let base = join(base, &format!("shape.{}", index + 1));
        match strip(check, &base, raw, &part.sections) {
            Some(strip) => shape.rings.extend(strip),
            None => break,
        }
    }
    if check.problems.len() > problems {
        return None;
    }
    for (index, section) in part.sections.iter().enumerate() {
        let own: Vec<usize> = (0..raw.len()).filter(|i| shape.rings[*i].is_in(index)).collect();
        if own.is_empty() {
            let hint = format!("{{ section = \"{}\", right_mm = .., height_mm = .. }}", section.name);
            check.missing(
                given.span(),
                &format!("a strip of section `{}` in the shape", section.name),
                &hint,
            );
            continue;
        }
        let lowest = own
            .iter()
            .map(|i| shape.rings[*i].bottom_m)
            .fold(f64::INFINITY, f64::min);
        for i in &own {
            shape.rings[*i].bottom_m -= lowest;
            shape.rings[*i].top_m -= lowest;
        }
        let before = check.problems.len();
        in_one_piece(check, &shape, &own, (raw, lowest));
        // What overlaps has no volume to speak of.
        if !part.lost && check.problems.len() == before {
            volume(check, &shape, index, &own, (raw, part));
        }
    }
    (check.problems.len() == problems).then_some(shape)
}

/// A strip, where it can be made one; `None` for what is no strip at all, so that its like is told once.
fn strip(check: &mut Check, base: &str, raw: &Spanned<RawRing>, sections: &[CrossSection]) -> Option<Option<Ring>> {
    let place = raw.span();
    let raw = raw.get_ref();
    let hint = "its section is named, and its sides are left_mm and right_mm";
    if check.stray(raw, "strip", "for a strip of a cross-section", hint) {
        return None;
    }
    let section = match (raw.section.as_ref(), sections) {
        (None, [_]) => 0,
        (None, _) => {
            let names: Vec<&str> = sections.iter().map(|s| s.name.as_str()).collect();
            let hint = format!("section = one of {}", names.join(", "));
            check.missing(place, "`section` of the strip", &hint);
            return Some(None);
        }
        (Some(given), _) => match sections.iter().position(|s| s.name == *given.get_ref()) {
            Some(index) => index,
            None => {
                let names = sections.iter().map(|s| s.name.as_str());
                check.unknown_word("section", given.get_ref(), given.span(), names);
                return Some(None);
            }
        },
    };
    let own = &sections[section];
    let right_mm = check.required(
        base,
        &raw.right_mm,
        place.clone(),
        "right_mm = its right side, from the middle of the section",
    );
    let left_mm = match (raw.left_mm.as_ref(), own.symmetric) {
        (Some(given), true) if *given.get_ref() < 0.0 => {
            check.not_here(
                "left_mm below 0",
                given.span(),
                "in a symmetric section, whose right half is given",
                "take symmetric = true out of the [[section]], or give the right half",
            );
            return Some(None);
        }
        (None, true) => 0.0,
        _ => {
            let hint = "left_mm = its left side, from the middle of the section";
            check.required(base, &raw.left_mm, place.clone(), hint)
        }
    };
    if left_mm >= right_mm {
        empty(check, (&raw.left_mm, left_mm), (&raw.right_mm, right_mm), &place);
    }
    let (bottom_mm, top_mm) = heights(check, base, raw, place);
    let zone = zone(check, &raw.zone);
    if let (Some(given), true) = (raw.zone.as_ref(), sections.iter().any(|s| s.name == zone)) {
        let detail = format!("zone \"{zone}\" has the name of a section");
        let kind = ProblemKind::rule("name-taken", detail, "");
        check.problem(kind, given.span());
    }
    Some(Some(Ring {
        inner_m: left_mm * 1e-3,
        outer_m: right_mm * 1e-3,
        bottom_m: bottom_mm * 1e-3,
        top_m: top_mm * 1e-3,
        zone: format!("{}.{zone}", own.name),
        strip: Some(Strip {
            section,
            depth_m: own.length_m * if own.symmetric { 2.0 } else { 1.0 },
        }),
    }))
}

/// Strips of a section must touch and not overlap; in a symmetric one some strip meets the middle.
fn in_one_piece(check: &mut Check, shape: &Shape, own: &[usize], (places, lowest): (&[Spanned<RawRing>], f64)) {
    let strips: Vec<&Ring> = own.iter().map(|i| &shape.rings[*i]).collect();
    let reached = reached(&strips);
    let name = strips[0].strip.map_or("", |s| shape.sections[s.section].name.as_str());
    let mm = |m: f64| round(m * 1e3);
    for second in 1..own.len() {
        let shared = |first: usize| Shared::of(strips[first], strips[second]);
        if let Some(first) = (0..second).find(|first| shared(*first).overlaps()) {
            let Shared { across_m, up_m } = shared(first);
            let detail = format!(
                "strips {} and {} of the shape overlap: in section `{name}` both take {} to {} mm across at heights {} to {} mm",
                own[first] + 1,
                own[second] + 1,
                mm(across_m.0),
                mm(across_m.1),
                mm(up_m.0 + lowest),
                mm(up_m.1 + lowest)
            );
            let kind = ProblemKind::rule("strips-overlap", detail, "");
            let (here, there) = (places[own[second]].span(), places[own[first]].span());
            check.conflict(kind, here, there, "the other strip");
        } else if !reached[second] {
            let detail = format!("strip {} touches no other strip of section `{name}`", own[second] + 1);
            check.problem(ProblemKind::rule("loose-strip", detail, ""), places[own[second]].span());
        }
    }
    let strip = shape.rings[own[0]].strip;
    let symmetric = strip.is_some_and(|s| shape.sections[s.section].symmetric);
    let middle = own
        .iter()
        .map(|i| shape.rings[*i].inner_m)
        .fold(f64::INFINITY, f64::min);
    if symmetric && middle > TOUCH_M {
        let left_mm = (middle * 1e6).round() * 1e-3;
        let detail = format!("the half of a symmetric section begins at left_mm = {left_mm}, not at its middle, 0");
        check.problem(ProblemKind::rule("off-the-middle", detail, ""), places[own[0]].span());
    }
}

/// A section has its share of the part before, or what trimming has left of it.
fn volume(
    check: &mut Check,
    shape: &Shape,
    section: usize,
    own: &[usize],
    (places, part): (&[Spanned<RawRing>], &Part),
) {
    let Some(before) = part.shape.as_ref() else { return };
    let own_section = &shape.sections[section];
    let whole = if before.is_long() {
        before.section_volume_m3(section)
    } else {
        own_section.share * before.volume_m3()
    };
    let old = whole * (1.0 - part.scale_loss);
    let new = shape.section_volume_m3(section);
    let off = (new / old - 1.0).abs() * 100.0;
    if off.is_nan() || off <= VOLUME_TOLERANCE_PERCENT {
        return;
    }
    // The strip that has most of the section can make the difference good with the least change.
    let largest = own
        .iter()
        .copied()
        .max_by(|a, b| shape.rings[*a].volume_m3().total_cmp(&shape.rings[*b].volume_m3()));
    let Some(largest) = largest else { return };
    let ring = &shape.rings[largest];
    let height =
        ring.height_m() + (old - new) / ((ring.outer_m - ring.inner_m) * ring.strip.map_or(1.0, |s| s.depth_m));
    let mut fit = if own.len() > 1 {
        format!("all heights of the section times {:.5} would fit", old / new)
    } else {
        String::new()
    };
    if height > EMPTY {
        let or = if fit.is_empty() { "" } else { ", or " };
        fit = format!(
            "{fit}{or}strip {} (its largest) {:.3} mm high instead of {:.3} mm",
            largest + 1,
            height * 1e3,
            ring.height_m() * 1e3
        );
    }
    let detail = format!(
        "section `{}` of the shape has {:.3} cm3, its share of the part is {:.3} cm3: {} (tolerance {} %)",
        own_section.name,
        new * 1e6,
        old * 1e6,
        more_or_less(new, old),
        VOLUME_TOLERANCE_PERCENT
    );
    check.problem(
        ProblemKind::rule("section-volume", detail, &fit),
        places[largest].span(),
    );
}
