//! Contact under a blow and pressed on, and layers of scale and lubricant between part and dies.

use super::context::Check;
use super::pressure::Pressures;
use crate::line::file::keys;
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::{At, RawDie};
use crate::line::trace::Owner;
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
    if let (Some(pressure_mpa), true, None) = (pressures.blow, pressures.told, &raw.blow_w_m2k) {
        return pressures.coefficient(check, base, &keys::DIE_BLOW, pressure_mpa, raw);
    }
    match (&raw.blow_w_m2k, otherwise) {
        (Some(_), _) => super::tools::contact(check, base, &keys::DIE_BLOW, &raw.blow_w_m2k),
        (None, Some(value)) => value,
        (None, None) if scaled || raw.scale_um.is_some() || raw.film_um.is_some() => {
            let value = Situation::BlowClean.coefficient().typical;
            let reason = "under a blow on bare metal, since scale or film is a layer of its own: typical 20000 to 30000, \
                          spread 10000 to 50000 W/m2K (Semiatin et al. 1987, Burte et al. 1990, from memory)";
            check.record(base, &keys::DIE_BLOW, value, Owner::Default, reason.into());
            check.follows();
            value
        }
        (None, None) => super::tools::contact(check, base, &keys::DIE_BLOW, &None),
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
    match (pressures.pressed, &raw.pressed_w_m2k, otherwise) {
        (Some(pressure_mpa), None, _) if pressures.told => {
            pressures.coefficient(check, base, &keys::DIE_PRESSED, pressure_mpa, raw)
        }
        (_, None, Some(value)) => value,
        _ => super::tools::contact(check, base, &keys::DIE_PRESSED, &raw.pressed_w_m2k),
    }
}

/// The layers of a table, or those of all dies.
pub(super) fn layers(check: &mut Check, base: &str, raw: &RawDie, all: &[Layer]) -> Vec<Layer> {
    only_with(check, "scale_w_mk", &raw.scale_w_mk, "scale_um", raw.scale_um.is_some());
    only_with(check, "film_w_mk", &raw.film_w_mk, "film_um", raw.film_um.is_some());
    if raw.scale_um.is_none() && raw.film_um.is_none() {
        return all.to_vec();
    }
    let mut layers = Vec::new();
    if let Some(scale_um) = check.number(base, &keys::SCALE_UM, &raw.scale_um) {
        layers.push(Layer {
            thickness_m: scale_um * 1e-6,
            conductivity: check.or_default(base, &keys::SCALE_W, &raw.scale_w_mk),
        });
    }
    if let Some(given) = &raw.film_um
        && let Some(film_um) = check.number(base, &keys::FILM_UM, &raw.film_um)
    {
        let hint = "film_w_mk = conductivity of the dry film";
        layers.push(Layer {
            thickness_m: film_um * 1e-6,
            conductivity: check.required(base, &keys::FILM_W, &raw.film_w_mk, given.span(), hint),
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

/// Refuses a key that means something only beside another.
pub(super) fn only_with(check: &mut Check, key: &'static str, raw: &At<f64>, other: &'static str, there: bool) {
    if let (Some(given), false) = (raw, there) {
        let kind = ProblemKind::NotHere {
            key: key.to_owned(),
            place: format!("without {other}"),
            hint: String::new(),
        };
        check.problem(kind, given.span());
    }
}
