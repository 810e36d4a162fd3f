//! The `[billet]` and `[shop]` tables.

use std::ops::Range;

use super::context::Check;
use crate::line::file::either::SteelRef;
use crate::line::file::keys;
use crate::line::file::metals::INLINE;
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::{At, RawBillet, RawShop};
use crate::line::plan::{Metal, Piece, Section, Surroundings};
use crate::line::trace::Owner;
use crate::steel::{Provenance, SteelError};

/// The checked billet.
pub(crate) struct Billet {
    pub piece: Piece,
    pub metal: Metal,
    pub emissivity: Option<f64>,
    pub cold_end_c: Option<f64>,
}

/// The checked shop.
pub(crate) struct Shop {
    pub air: Surroundings,
    /// Whether `surroundings_c` was given and not taken from `ambient_c`.
    pub walls_given: bool,
    pub takt_s: Option<f64>,
    /// Film coefficient of the air at idle tool faces, W/m²K.
    pub tool_film_w_m2k: Option<f64>,
}

const SECTIONS: [(&str, &str); 4] = [
    ("round", "diameter_mm"),
    ("square", "side_mm"),
    ("rectangle", "width_mm and height_mm"),
    ("plate", "thickness_mm"),
];

pub(crate) fn billet(check: &mut Check, raw: &At<RawBillet>, gripped: bool) -> Option<Billet> {
    let Some(raw) = raw else {
        check.missing(
            0..0,
            "the table [billet]",
            "[billet] with steel, diameter_mm and length_mm",
        );
        return None;
    };
    let place = raw.span();
    let raw = raw.get_ref();
    let metal = match &raw.steel {
        Some(steel) => metal(check, "billet", steel.get_ref(), steel.span()),
        None => {
            check.missing(place.clone(), "`steel`", "steel = \"a grade of the library\"");
            None
        }
    };
    if let Some(metal) = &metal {
        record_properties(check, metal);
    }
    let words = SECTIONS.map(|(word, _)| (word, word));
    let before = check.problems.len();
    let word = check.word_or(
        "billet",
        "section",
        &raw.section,
        &words,
        ("round", "the usual forging stock"),
    );
    let section = if check.problems.len() == before {
        Some(section(check, word, raw, &place))
    } else {
        None
    };
    let length_mm = check.number("billet", &keys::LENGTH, &raw.length_mm);
    let emissivity = check.number("billet", &keys::EMISSIVITY, &raw.emissivity);
    if let (Some(Section::Plate { .. }), Some(length)) = (section, &raw.length_mm) {
        let kind = ProblemKind::NotHere {
            key: "length_mm".to_owned(),
            place: "for a plate, which is followed through its thickness only".to_owned(),
            hint: "use section = \"rectangle\" for a flat bar with ends".to_owned(),
        };
        check.problem(kind, length.span());
    }
    Some(Billet {
        piece: Piece {
            section: section?,
            length_m: length_mm.map(|mm| mm * 1e-3),
        },
        cold_end_c: cold_end(check, raw, metal.as_ref(), gripped && length_mm.is_some()),
        metal: metal?,
        emissivity,
    })
}

/// The temperature below which an end is too cold: given, or the forging minimum of the steel.
fn cold_end(check: &mut Check, raw: &RawBillet, metal: Option<&Metal>, gripped: bool) -> Option<f64> {
    let given = check.number("billet", &keys::COLD_END, &raw.cold_end_c);
    if given.is_some() || !gripped {
        return given;
    }
    let limit = metal?.limits.forging_min_c.as_ref()?;
    let source = format!("forging minimum of the steel: {}", limit.source);
    check.record("billet", &keys::COLD_END, limit.value, Owner::Library, source.into());
    Some(limit.value)
}

fn section(check: &mut Check, word: &str, raw: &RawBillet, place: &Range<usize>) -> Section {
    let sizes: &[&str] = match word {
        "square" => &["side_mm"],
        "rectangle" => &["width_mm", "height_mm"],
        "plate" => &["thickness_mm"],
        _ => &["diameter_mm"],
    };
    let mut allowed = vec![
        "steel",
        "section",
        "length_mm",
        "emissivity",
        "scale_loss_percent",
        "cold_end_c",
    ];
    allowed.extend(sizes);
    let here = format!("for section = \"{word}\"");
    let hint = format!("its size is {}", sizes.join(" and "));
    check.only(raw, &allowed, &here, |_| hint.clone());
    let mut size = |key: &keys::Key, raw: &At<f64>| {
        let hint = format!("a {word} billet needs {}", sizes.join(" and "));
        check.required("billet", key, raw, place.clone(), &hint) * 1e-3
    };
    match word {
        "square" => Section::Square {
            side_m: size(&keys::SIDE, &raw.side_mm),
        },
        "rectangle" => Section::Rectangle {
            width_m: size(&keys::WIDTH, &raw.width_mm),
            height_m: size(&keys::HEIGHT, &raw.height_mm),
        },
        "plate" => Section::Plate {
            thickness_m: size(&keys::THICKNESS, &raw.thickness_mm),
        },
        _ => Section::Round {
            radius_m: size(&keys::DIAMETER, &raw.diameter_mm) / 2.0,
        },
    }
}

/// Finds a metal and records it under `<base>.steel`.
pub(crate) fn metal(check: &mut Check, base: &str, reference: &SteelRef, span: Range<usize>) -> Option<Metal> {
    match check.metals.find(reference, check.text, span.clone()) {
        Ok(metal) => {
            let line = check.line(span.start);
            let source = format!("line {line}").into();
            check.record_word(base, "steel", &metal.name, Owner::Given, source);
            Some(metal)
        }
        Err(error) => {
            refused(check, error, span);
            None
        }
    }
}

/// Tells why a metal was refused: at the places of its faults when it stands in this file, at its
/// name otherwise.
pub(crate) fn refused(check: &mut Check, error: SteelError, span: Range<usize>) {
    match error {
        SteelError::UnknownGrade { name, near, known } => {
            let kind = ProblemKind::UnknownWord {
                what: "steel",
                word: name,
                allowed: known,
                nearest: near,
            };
            check.problem(kind, span);
        }
        SteelError::Invalid { origin, faults } if origin == INLINE => {
            for fault in faults {
                let message = fault.kind.to_string();
                check.problem(ProblemKind::Steel { message }, fault.span);
            }
        }
        error => {
            let message = error.to_string();
            check.problem(ProblemKind::Steel { message }, span);
        }
    }
}

/// Who owns a number of a steel.
pub(crate) fn owner(provenance: Provenance) -> Owner {
    match provenance {
        Provenance::Given => Owner::Given,
        Provenance::Library => Owner::Library,
        Provenance::Default => Owner::Default,
    }
}

/// Records where the properties of the billet's metal come from.
fn record_properties(check: &mut Check, metal: &Metal) {
    for property in metal.properties() {
        let range = format!("{} to {} degC", property.low_c, property.high_c);
        let owner = owner(property.provenance);
        check.record_word("billet.steel", property.name, &range, owner, property.source.into());
    }
}

pub(crate) fn shop(check: &mut Check, raw: &At<RawShop>, emissivity: Option<f64>, tools: bool) -> Shop {
    let empty = RawShop::default();
    let raw = raw.as_ref().map_or(&empty, |raw| raw.get_ref());
    let ambient_c = check.or_default("shop", &keys::AMBIENT, &raw.ambient_c);
    let air = Surroundings {
        ambient_c,
        surroundings_c: check.or_follow("shop", &keys::SURROUNDINGS, &raw.surroundings_c, ambient_c),
        air_speed_m_s: check.or_default("shop", &keys::AIR_SPEED, &raw.air_speed_m_s),
        film_w_m2k: check.number("shop", &keys::FILM, &raw.film_w_m2k),
        view_factor: check.or_default("shop", &keys::VIEW_FACTOR, &raw.view_factor),
        emissivity,
    };
    Shop {
        air,
        walls_given: raw.surroundings_c.is_some(),
        takt_s: check.number("shop", &keys::TAKT, &raw.takt_s),
        tool_film_w_m2k: match (&raw.tool_film_w_m2k, tools) {
            (None, false) => None,
            (given, _) => Some(check.or_default("shop", &keys::TOOL_FILM, given)),
        },
    }
}
