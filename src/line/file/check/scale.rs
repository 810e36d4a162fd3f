//! The `[scale]` table.

use super::billet::Billet;
use super::context::Check;
use crate::line::file::keys;
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::{RawDie, RawFile};
use crate::line::plan::{Heater, ScaleLayer};

/// The layer of scale, where the file has one.
pub(crate) fn scale(
    check: &mut Check,
    file: &RawFile,
    billet: Option<&Billet>,
    heater: Option<&Heater>,
) -> Option<ScaleLayer> {
    let raw = file.scale.as_ref()?;
    let place = raw.span();
    let raw = raw.get_ref();
    refuse_fixed(check, file);
    let base = "scale";
    let at_exit_um = match heater {
        Some(Heater::Measured(_)) => {
            let hint = "at_exit_um = thickness at heater exit, 0 for clean metal";
            Some(check.required(base, &keys::SCALE_AT_EXIT, &raw.at_exit_um, place, hint))
        }
        _ => check.number(base, &keys::SCALE_AT_EXIT, &raw.at_exit_um),
    };
    if let Some(billet) = billet {
        warn_metal(check, billet);
    }
    Some(ScaleLayer {
        at_exit_m: at_exit_um.map(|um| um * 1e-6),
        conductivity_w_mk: check.or_default(base, &keys::SCALE_CONDUCTS, &raw.w_mk),
        growth: check.or_default(base, &keys::SCALE_GROWTH, &raw.growth),
        left_by_first_blow: check.or_default(base, &keys::SCALE_AFTER_BLOW, &raw.left_by_first_blow),
        left_by_descaling: check.or_default(base, &keys::SCALE_AFTER_WATER, &raw.left_by_descaling),
    })
}

/// Share of the mass that turns into scale and comes off with the first new shape.
pub(crate) fn loss(check: &mut Check, file: &RawFile) -> f64 {
    let shaped = file.stage.iter().any(|stage| stage.get_ref().shape.is_some());
    let given = file
        .billet
        .as_ref()
        .and_then(|b| b.get_ref().scale_loss_percent.as_ref());
    match (given, shaped) {
        (Some(given), false) => {
            let kind = ProblemKind::NotHere {
                key: "scale_loss_percent".to_owned(),
                place: "where no stage has a shape".to_owned(),
                hint: "mass is taken off with the first new shape".to_owned(),
            };
            check.problem(kind, given.span());
            0.0
        }
        (None, false) => 0.0,
        (given, true) => 0.01 * check.or_default("billet", &keys::SCALE_LOSS, &given.cloned()),
    }
}

/// Scale of a fixed thickness in a `die` would be counted twice.
fn refuse_fixed(check: &mut Check, file: &RawFile) {
    let of_stages = file.stage.iter().filter_map(|stage| stage.get_ref().die.as_ref());
    let dies: Vec<&RawDie> = file.die.iter().chain(of_stages).map(|die| die.get_ref()).collect();
    for die in dies {
        if let Some(given) = &die.scale_um {
            let kind = ProblemKind::NotHere {
                key: "scale_um".to_owned(),
                place: "beside the table [scale], which follows the scale itself".to_owned(),
                hint: "take one of them out".to_owned(),
            };
            check.problem(kind, given.span());
        }
    }
}

/// The kinetics are those of iron and low-alloy steel.
fn warn_metal(check: &mut Check, billet: &Billet) {
    let scales = billet.metal.composition.as_ref().is_some_and(|c| c.scales_like_iron());
    if !scales {
        let message = format!(
            "[scale] grows as on iron and low-alloy steel, which `{}` is not known to be",
            billet.metal.name
        );
        check.warn("scale-law", message);
    }
}
