//! Contact coefficients by the pressure law: under a blow, pressed on, in jaws.

use super::context::Check;
use crate::line::file::tables::{RawDie, RawFile, RawGrip};
use crate::surface::contact::{PressureLaw, with_pressure};
use crate::text::ProblemKind;
use crate::text::{Given, Key};

/// Pressures on the dies and the law that makes coefficients of them.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Pressures {
    law: PressureLaw,
    /// Under a blow, MPa.
    pub blow: Option<f64>,
    /// Pressed on between blows or sticking, MPa.
    pub pressed: Option<f64>,
    /// Whether the table itself says something of this.
    pub told: bool,
}

/// Whether the dies of some stage have a pressure.
fn somewhere(file: &RawFile) -> bool {
    let of_stages = file
        .stage
        .items()
        .iter()
        .filter_map(|stage| stage.get_ref().die.value());
    let mut dies = file.die.value().into_iter().chain(of_stages);
    dies.any(|die| die.pressure_mpa.is_some() || die.pressed_mpa.is_some())
}

/// What the `[die]` table says.
pub(super) fn defaults(check: &mut Check, base: &str, raw: &RawDie, file: &RawFile) -> Pressures {
    exclusive(check, raw);
    let used = somewhere(file);
    for given in constants(raw) {
        check.only_with(given, used, "pressure_mpa or pressed_mpa", "");
    }
    if !used {
        return Pressures::default();
    }
    Pressures {
        law: PressureLaw {
            at_zero: check.or_default(base, &raw.at_zero_w_m2k),
            plateau: check.or_default(base, &raw.plateau_w_m2k),
            pressure_mpa: check.or_default(base, &raw.pressure_scale_mpa),
        },
        blow: check.number(base, &raw.pressure_mpa),
        pressed: check.number(base, &raw.pressed_mpa),
        told: true,
    }
}

/// What the `die` table of a stage says, over what holds for all.
pub(super) fn of_stage(check: &mut Check, base: &str, raw: &RawDie, all: &Pressures) -> Pressures {
    exclusive(check, raw);
    let blow = check.number(base, &raw.pressure_mpa).or(all.blow);
    let pressed = check.number(base, &raw.pressed_mpa).or(all.pressed);
    let used = blow.is_some() || pressed.is_some();
    for given in constants(raw) {
        check.only_with(given, used, "pressure_mpa or pressed_mpa", "");
    }
    let mut number = |given, otherwise| check.number(base, given).unwrap_or(otherwise);
    Pressures {
        law: PressureLaw {
            at_zero: number(&raw.at_zero_w_m2k, all.law.at_zero),
            plateau: number(&raw.plateau_w_m2k, all.law.plateau),
            pressure_mpa: number(&raw.pressure_scale_mpa, all.law.pressure_mpa),
        },
        blow,
        pressed,
        told: raw.pressure_mpa.is_some()
            || raw.pressed_mpa.is_some()
            || constants(raw).iter().any(|given| given.is_some()),
    }
}

fn constants(raw: &RawDie) -> [&Given<f64>; 3] {
    [&raw.at_zero_w_m2k, &raw.plateau_w_m2k, &raw.pressure_scale_mpa]
}

fn exclusive(check: &mut Check, raw: &RawDie) {
    check.exclusive(&raw.blow_w_m2k, &raw.pressure_mpa);
    check.exclusive(&raw.pressed_w_m2k, &raw.pressed_mpa);
}

impl Pressures {
    /// The coefficient at a pressure, recorded under its key, W/m²K.
    pub fn coefficient(&self, check: &mut Check, base: &str, key: &Key, pressure_mpa: f64, raw: &RawDie) -> f64 {
        let own = [&raw.pressure_mpa, &raw.pressed_mpa];
        let place = constants(raw)
            .into_iter()
            .chain(own)
            .find_map(Given::span)
            .unwrap_or(0..0);
        by_law(check, base, key, &self.law, pressure_mpa, place)
    }
}

/// The coefficient of jaws of a `[grip]` or `grip` table: given, by pressure, or `otherwise`.
pub(super) fn jaws(check: &mut Check, base: &str, raw: &RawGrip, otherwise: Option<f64>) -> f64 {
    check.exclusive(&raw.w_m2k, &raw.pressure_mpa);
    match (check.number(base, &raw.pressure_mpa), otherwise) {
        (Some(pressure_mpa), _) => by_law(check, base, raw.w_m2k.key, &PressureLaw::default(), pressure_mpa, 0..0),
        (None, Some(value)) if raw.w_m2k.is_none() => value,
        _ => check.or_default(base, &raw.w_m2k),
    }
}

fn by_law(
    check: &mut Check,
    base: &str,
    key: &Key,
    law: &PressureLaw,
    pressure_mpa: f64,
    place: std::ops::Range<usize>,
) -> f64 {
    let known = [pressure_mpa, law.at_zero, law.plateau, law.pressure_mpa];
    if known.iter().any(|value| value.is_nan()) {
        return f64::NAN;
    }
    match with_pressure(law, pressure_mpa) {
        Ok(value) => {
            let PressureLaw {
                at_zero,
                plateau,
                pressure_mpa: scale,
            } = law;
            let reason = format!(
                "by the pressure law h0 + (h1 - h0)(1 - exp(-p/p0)), h0 = {at_zero}, h1 = {plateau} W/m2K, p0 = {scale} MPa"
            );
            check.computed(base, key, value, reason.into());
            check.warn_unusual(base, key, value);
            value
        }
        Err(error) => {
            let kind = ProblemKind::Needs {
                what: format!("the pressure law ({error})"),
                needs: "a plateau_w_m2k above at_zero_w_m2k",
            };
            check.problem(kind, place);
            f64::NAN
        }
    }
}
