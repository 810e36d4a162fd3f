//! Contact under a blow by a pressure law, and layers of scale and lubricant between part and dies.

use super::context::Check;
use super::tools::warn_spread;
use crate::line::file::keys;
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::{At, RawDie};
use crate::line::trace::Owner;
use crate::surface::contact::{Layer, PressureLaw, through_layers, with_pressure};
use crate::surface::{Situation, SurfaceError};

/// The coefficient under a blow of a `[die]` or `die` table: given, by pressure, that of bare metal where layers
/// come on top, or `otherwise`. `scaled`: the file follows the scale as a layer.
pub(super) fn blow(check: &mut Check, base: &str, raw: &RawDie, otherwise: Option<f64>, scaled: bool) -> f64 {
    check.exclusive("blow_w_m2k", &raw.blow_w_m2k, "pressure_mpa", &raw.pressure_mpa);
    for (key, stray) in [
        ("at_zero_w_m2k", &raw.at_zero_w_m2k),
        ("plateau_w_m2k", &raw.plateau_w_m2k),
        ("pressure_scale_mpa", &raw.pressure_scale_mpa),
    ] {
        only_with(check, key, stray, "pressure_mpa", raw.pressure_mpa.is_some());
    }
    if let Some(given) = &raw.pressure_mpa {
        let Some(pressure_mpa) = check.number(base, &keys::PRESSURE, &raw.pressure_mpa) else {
            return f64::NAN;
        };
        let law = PressureLaw {
            at_zero: check.or_default(base, &keys::AT_ZERO, &raw.at_zero_w_m2k),
            plateau: check.or_default(base, &keys::PLATEAU, &raw.plateau_w_m2k),
            pressure_mpa: check.or_default(base, &keys::PRESSURE_SCALE, &raw.pressure_scale_mpa),
        };
        let known = [pressure_mpa, law.at_zero, law.plateau, law.pressure_mpa];
        if known.iter().any(|value| value.is_nan()) {
            return f64::NAN;
        }
        return match with_pressure(&law, pressure_mpa) {
            Ok(value) => {
                let reason = "by the pressure law h0 + (h1 - h0)(1 - exp(-p/p0))";
                computed(check, base, value, reason);
                warn_spread(check, base, &keys::DIE_BLOW, value);
                value
            }
            Err(error) => {
                refused(check, &error, given.span());
                f64::NAN
            }
        };
    }
    match (&raw.blow_w_m2k, otherwise) {
        (Some(_), _) => super::tools::contact(check, base, &keys::DIE_BLOW, &raw.blow_w_m2k),
        (None, Some(value)) => value,
        (None, None) if scaled || raw.scale_um.is_some() || raw.film_um.is_some() => {
            let value = Situation::BlowClean.coefficient().typical;
            let reason = "under a blow on bare metal, since scale or film is a layer of its own: typical 20000 to 30000, \
                          spread 10000 to 50000 W/m2K (Semiatin et al. 1987, Burte et al. 1990, from memory)";
            computed(check, base, value, reason);
            value
        }
        (None, None) => super::tools::contact(check, base, &keys::DIE_BLOW, &None),
    }
}

fn computed(check: &mut Check, base: &str, value: f64, reason: &'static str) {
    check.record(base, &keys::DIE_BLOW, value, Owner::Default, reason.into());
    check.follows();
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

fn only_with(check: &mut Check, key: &'static str, raw: &At<f64>, other: &'static str, there: bool) {
    if let (Some(given), false) = (raw, there) {
        let kind = ProblemKind::NotHere {
            key: key.to_owned(),
            place: format!("without {other}"),
            hint: String::new(),
        };
        check.problem(kind, given.span());
    }
}

fn refused(check: &mut Check, error: &SurfaceError, at: std::ops::Range<usize>) {
    let kind = ProblemKind::Needs {
        what: format!("the pressure law ({error})"),
        needs: "a plateau_w_m2k above at_zero_w_m2k",
    };
    check.problem(kind, at);
}
