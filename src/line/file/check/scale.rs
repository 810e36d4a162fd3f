//! The `[scale]` table.

use super::billet::Billet;
use super::context::Check;
use crate::judge::Datum;
use crate::line::file::tables::RawFile;
use crate::line::plan::{Heater, ScaleLayer};
use crate::text::Given;

/// The layer of scale, where the file has one.
pub(crate) fn scale(
    check: &mut Check,
    file: &RawFile,
    billet: Option<&Billet>,
    heater: Option<&Heater>,
) -> Option<ScaleLayer> {
    let at = file.scale.as_ref()?;
    let (place, raw) = (at.span(), at.get_ref());
    refuse_fixed(check, file);
    let base = "scale";
    let at_exit_um = match heater {
        Some(Heater::Measured(_)) => {
            let hint = "at_exit_um = thickness at heater exit, 0 for clean metal";
            Some(check.required(base, &raw.at_exit_um, place, hint))
        }
        _ => check.number(base, &raw.at_exit_um),
    };
    if let Some(billet) = billet {
        warn_metal(check, billet);
    }
    Some(ScaleLayer {
        at_exit_m: at_exit_um.map(|um| um * 1e-6),
        conductivity_w_mk: check.or_default(base, &raw.w_mk),
        growth: check.or_default(base, &raw.growth),
        left_by_first_blow: check.or_default(base, &raw.left_by_first_blow),
        left_by_descaling: check.or_default(base, &raw.left_by_descaling),
    })
}

/// Share of the mass that turns into scale and comes off with the first new shape.
pub(crate) fn loss(check: &mut Check, file: &RawFile) -> f64 {
    let shaped = file.stage.items().iter().any(|stage| stage.get_ref().shape.is_some());
    let billet = file.billet.value();
    match billet.map(|billet| &billet.scale_loss_percent) {
        Some(given) if shaped => 0.01 * check.or_default("billet", given),
        given => {
            if let Some(span) = given.and_then(Given::span) {
                let hint = "mass is taken off with the first new shape";
                check.not_here("scale_loss_percent", span, "where no stage has a shape", hint);
            }
            0.0
        }
    }
}

/// Scale of a fixed thickness in a `die` would be counted twice.
fn refuse_fixed(check: &mut Check, file: &RawFile) {
    let of_stages = file
        .stage
        .items()
        .iter()
        .filter_map(|stage| stage.get_ref().die.value());
    for die in file.die.value().into_iter().chain(of_stages) {
        if let Some(given) = die.scale_um.as_ref() {
            check.not_here(
                "scale_um",
                given.span(),
                "beside the table [scale], which follows the scale itself",
                "take one of them out",
            );
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
        let metal = Datum::Name(billet.metal.name.clone());
        check.warn("scale-law", message).tell("metal", metal);
    }
}
