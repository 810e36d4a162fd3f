//! The `[billet]` and `[shop]` tables.

use std::ops::Range;

use toml::Spanned;

use super::context::Check;
use crate::line::file::metals::{Refused, SteelRef};
use crate::line::file::tables::{RawBillet, RawShop};
use crate::line::plan::{Metal, Piece, Section, Surroundings};
use crate::line::trace::Owner;
use crate::steel::{Provenance, SteelError};
use crate::text::Given;
use crate::text::ProblemKind;

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

pub(crate) fn billet(check: &mut Check, raw: &Given<RawBillet>, gripped: bool) -> Option<Billet> {
    let Some(raw) = raw.as_ref() else {
        check.missing(
            0..0,
            "the table [billet]",
            "[billet] with steel, diameter_mm and length_mm",
        );
        return None;
    };
    let place = raw.span();
    let raw = raw.get_ref();
    let metal = match raw.steel.as_ref() {
        Some(steel) => metal(check, "billet", steel.get_ref(), steel.span()),
        None => {
            check.missing(place.clone(), "`steel`", "steel = \"a grade of the library\"");
            None
        }
    };
    if let Some(metal) = &metal {
        record_properties(check, metal);
    }
    let before = check.problems.len();
    let word = check.one_of_or("billet", &raw.section, ("round", "the usual forging stock"));
    let section = if check.problems.len() == before {
        Some(section(check, word, raw, &place))
    } else {
        None
    };
    let length_mm = check.number("billet", &raw.length_mm);
    if let (Some(section), Some(length)) = (&section, raw.length_mm.as_ref()) {
        slender(check, section, length);
    }
    let emissivity = check.number("billet", &raw.emissivity);
    if let (Some(Section::Plate { .. }), Some(span)) = (section, raw.length_mm.span()) {
        let place = "for a plate, which is followed through its thickness only";
        let hint = "use section = \"rectangle\" for a flat bar with ends";
        check.not_here("length_mm", span, place, hint);
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

/// How many times longer than wide, or wider than long, a billet may be: a bar of 6 m by 10 mm has 600.
const SLENDEREST: f64 = 1000.0;

/// Refuses a thread or a foil, for which no mesh would be small enough.
fn slender(check: &mut Check, section: &Section, length: &Spanned<f64>) {
    let across_m = section.area_m2().sqrt();
    let ratio = *length.get_ref() * 1e-3 / across_m;
    if ratio.is_finite() && !(1.0 / SLENDEREST..=SLENDEREST).contains(&ratio) {
        let detail =
            format!("the billet is {ratio:.3e} times as long as it is wide; allowed: a thousandth to a thousand");
        let kind = ProblemKind::rule("slender", detail, "");
        check.problem(kind, length.span());
    }
}

/// The temperature below which an end is too cold: given, or the forging minimum of the steel.
fn cold_end(check: &mut Check, raw: &RawBillet, metal: Option<&Metal>, gripped: bool) -> Option<f64> {
    let given = check.number("billet", &raw.cold_end_c);
    if given.is_some() || !gripped {
        return given;
    }
    let limit = metal?.limits.forging_min_c.as_ref()?;
    let source = format!("forging minimum of the steel: {}", limit.source);
    check.record("billet", raw.cold_end_c.key, limit.value, Owner::Library, source.into());
    Some(limit.value)
}

fn section(check: &mut Check, word: &str, raw: &RawBillet, place: &Range<usize>) -> Section {
    let sizes = match word {
        "square" => "side_mm",
        "rectangle" => "width_mm and height_mm",
        "plate" => "thickness_mm",
        _ => "diameter_mm",
    };
    check.only(raw, word, &format!("for section = \"{word}\""), |_| {
        format!("its size is {sizes}")
    });
    let mut size = |given: &Given<f64>| {
        let hint = format!("a {word} billet needs {sizes}");
        check.required("billet", given, place.clone(), &hint) * 1e-3
    };
    match word {
        "square" => Section::Square {
            side_m: size(&raw.side_mm),
        },
        "rectangle" => Section::Rectangle {
            width_m: size(&raw.width_mm),
            height_m: size(&raw.height_mm),
        },
        "plate" => Section::Plate {
            thickness_m: size(&raw.thickness_mm),
        },
        _ => Section::Round {
            radius_m: size(&raw.diameter_mm) / 2.0,
        },
    }
}

/// Finds a metal and records it under `<base>.steel`.
pub(crate) fn metal(check: &mut Check, base: &str, reference: &SteelRef, span: Range<usize>) -> Option<Metal> {
    match check.metals.find(reference, check.source, span.clone()) {
        Ok(metal) => {
            check.record_given(base, "steel", &metal.name, span);
            Some(metal)
        }
        Err(error) => {
            refused(check, error, span);
            None
        }
    }
}

/// Tells why a metal was refused: at the places of its problems when it stands in this file, at its
/// name otherwise.
pub(crate) fn refused(check: &mut Check, error: Refused, span: Range<usize>) {
    match error {
        Refused::Elsewhere(SteelError::UnknownGrade { name, near, known }) => {
            let kind = ProblemKind::UnknownWord {
                what: "steel",
                word: name,
                allowed: known,
                nearest: near,
            };
            check.problem(kind, span);
        }
        Refused::Here(problems) => {
            for problem in problems {
                let help = problem.kind.help().unwrap_or_default();
                let kind = ProblemKind::rule("steel", format!("steel: {}", problem.kind), &help);
                check.problem(kind, problem.span);
            }
        }
        Refused::Elsewhere(error) => {
            check.problem(ProblemKind::rule("steel", format!("steel: {error}"), ""), span);
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

pub(crate) fn shop(check: &mut Check, raw: &Given<RawShop>, emissivity: Option<f64>, tools: bool) -> Shop {
    let empty = RawShop::default();
    let raw = raw.value().unwrap_or(&empty);
    let ambient_c = check.or_default("shop", &raw.ambient_c);
    let air = Surroundings {
        ambient_c,
        surroundings_c: check.or_follow("shop", &raw.surroundings_c, ambient_c),
        air_speed_m_s: check.or_default("shop", &raw.air_speed_m_s),
        film_w_m2k: check.number("shop", &raw.film_w_m2k),
        view_factor: check.or_default("shop", &raw.view_factor),
        emissivity,
    };
    Shop {
        air,
        walls_given: raw.surroundings_c.is_some(),
        takt_s: check.number("shop", &raw.takt_s),
        tool_film_w_m2k: match raw.tool_film_w_m2k.is_some() || tools {
            false => None,
            true => Some(check.or_default("shop", &raw.tool_film_w_m2k)),
        },
    }
}
