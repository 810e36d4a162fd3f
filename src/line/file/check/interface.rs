//! Contact under a blow and pressed on, and layers of scale and lubricant between part and dies.

use super::context::Check;
use super::pressure::Pressures;
use crate::line::file::tables::RawDie;
use crate::surface::Situation;
use crate::surface::contact::{Layer, through_layers};

/// The coefficient under a blow of a `[die]` or `die` table: given, by pressure, that of bare metal where layers
/// come on top, or `otherwise`. `scaled`: the file follows the scale as a layer.
pub(super) fn blow(
    check: &mut Check,
    base: &str,
    raw: &RawDie,
    pressures: &Pressures,
    otherwise: Option<f64>,
    scaled: bool,
) -> f64 {
    let given = &raw.blow_w_m2k;
    if let (Some(pressure_mpa), true, true) = (pressures.blow, pressures.told, given.is_none()) {
        return pressures.coefficient(check, base, given.key, pressure_mpa, raw);
    }
    match otherwise.filter(|_| given.is_none()) {
        Some(value) => value,
        None if given.is_none() && (scaled || raw.scale_um.is_some() || raw.film_um.is_some()) => {
            let bare = Situation::BlowClean.coefficient();
            let reason = format!(
                "on bare metal, since scale or film is a layer of its own: {}",
                bare.source
            );
            check.computed(base, given.key, bare.typical, reason.into());
            bare.typical
        }
        None => check.or_default(base, given),
    }
}

/// The coefficient while the part is pressed on: given, by pressure, or `otherwise`.
pub(super) fn pressed(
    check: &mut Check,
    base: &str,
    raw: &RawDie,
    pressures: &Pressures,
    otherwise: Option<f64>,
) -> f64 {
    let given = &raw.pressed_w_m2k;
    match (pressures.pressed, otherwise) {
        (Some(pressure_mpa), _) if pressures.told && given.is_none() => {
            pressures.coefficient(check, base, given.key, pressure_mpa, raw)
        }
        (_, Some(value)) if given.is_none() => value,
        _ => check.or_default(base, given),
    }
}

/// The layers of a table, or those of all dies.
pub(super) fn layers(check: &mut Check, base: &str, raw: &RawDie, all: &[Layer]) -> Vec<Layer> {
    check.only_with(&raw.scale_w_mk, raw.scale_um.is_some(), "scale_um", "");
    check.only_with(&raw.film_w_mk, raw.film_um.is_some(), "film_um", "");
    if raw.scale_um.is_none() && raw.film_um.is_none() {
        return all.to_vec();
    }
    let mut layers = Vec::new();
    if let Some(scale_um) = check.number(base, &raw.scale_um) {
        layers.push(Layer {
            thickness_m: scale_um * 1e-6,
            conductivity: check.or_default(base, &raw.scale_w_mk),
        });
    }
    if let Some(given) = raw.film_um.as_ref()
        && let Some(film_um) = check.number(base, &raw.film_um)
    {
        let hint = "film_w_mk = conductivity of the dry film";
        layers.push(Layer {
            thickness_m: film_um * 1e-6,
            conductivity: check.required(base, &raw.film_w_mk, given.span(), hint),
        });
    }
    layers
}

/// A bare coefficient with the layers in series; what cannot be computed stays as it is, for it was refused.
pub(super) fn through(bare_w_m2k: f64, layers: &[Layer]) -> f64 {
    if layers.is_empty() {
        return bare_w_m2k;
    }
    through_layers(bare_w_m2k, layers).unwrap_or(bare_w_m2k)
}
