//! Dies beyond temperature and contact: contact by place, preheat, spray, blow-off, tempering.

use super::context::Check;
use super::tools::{contact, own, warn_spread};
use crate::die::{BlowOff, Spray};
use crate::line::file::keys;
use crate::line::file::raw::RawDie;
use crate::line::plan::Metal;
use crate::line::trace::Owner;

/// What a pair of dies has beside its temperatures and main coefficients.
#[derive(Debug, Clone)]
pub(crate) struct MoreDie {
    pub preheat_c: Option<f64>,
    pub flash_w_m2k: f64,
    pub wall_w_m2k: Option<f64>,
    pub gap_w_m2k: f64,
    pub friction_factor: f64,
    pub spray: Option<Spray>,
    pub blow_off: Option<BlowOff>,
    pub tempering_c: f64,
}

pub(crate) fn defaults(check: &mut Check, base: &str, raw: &RawDie, metal: Option<&Metal>) -> MoreDie {
    MoreDie {
        preheat_c: check.number(base, &keys::DIE_PREHEAT, &raw.preheat_c),
        flash_w_m2k: contact(check, base, &keys::DIE_FLASH, &raw.flash_w_m2k),
        wall_w_m2k: wall(check, base, raw),
        gap_w_m2k: contact(check, base, &keys::DIE_GAP, &raw.gap_w_m2k),
        friction_factor: check.or_default(base, &keys::FRICTION, &raw.friction_factor),
        spray: spray(check, base, raw, None),
        blow_off: blow_off(check, base, raw, None),
        tempering_c: tempering(check, base, raw, metal),
    }
}

pub(crate) fn of_stage(check: &mut Check, base: &str, raw: &RawDie, all: &MoreDie, metal: Option<&Metal>) -> MoreDie {
    MoreDie {
        preheat_c: check.number(base, &keys::DIE_PREHEAT, &raw.preheat_c).or(all.preheat_c),
        flash_w_m2k: own(check, base, &keys::DIE_FLASH, &raw.flash_w_m2k, all.flash_w_m2k),
        wall_w_m2k: wall(check, base, raw).or(all.wall_w_m2k),
        gap_w_m2k: own(check, base, &keys::DIE_GAP, &raw.gap_w_m2k, all.gap_w_m2k),
        friction_factor: own(check, base, &keys::FRICTION, &raw.friction_factor, all.friction_factor),
        spray: spray(check, base, raw, all.spray.as_ref()),
        blow_off: blow_off(check, base, raw, all.blow_off.as_ref()),
        tempering_c: match (&raw.tempering_c, &raw.steel) {
            (None, None) => all.tempering_c,
            _ => tempering(check, base, raw, metal),
        },
    }
}

/// The tempering limit: given, or that of the steel, or the usual one.
fn tempering(check: &mut Check, base: &str, raw: &RawDie, metal: Option<&Metal>) -> f64 {
    let own = metal.and_then(|metal| metal.tempering_c.as_ref());
    match (&raw.tempering_c, own) {
        (None, Some(own)) => {
            check.record(
                base,
                &keys::TEMPERING,
                own.value,
                Owner::Library,
                own.source.clone().into(),
            );
            own.value
        }
        (given, _) => check.or_default(base, &keys::TEMPERING, given),
    }
}

fn wall(check: &mut Check, base: &str, raw: &RawDie) -> Option<f64> {
    let value = check.number(base, &keys::DIE_WALL, &raw.wall_w_m2k)?;
    warn_spread(check, base, &keys::DIE_WALL, value);
    Some(value)
}

/// The spray of a table, over that of all dies. Only what is used is recorded.
fn spray(check: &mut Check, base: &str, raw: &RawDie, all: Option<&Spray>) -> Option<Spray> {
    let given = [&raw.spray_s, &raw.spray_w_m2k, &raw.spray_water_c]
        .iter()
        .any(|r| r.is_some());
    if !given {
        return all.copied();
    }
    let seconds = match (&raw.spray_s, all) {
        (None, Some(all)) => all.seconds,
        _ => check.or_default(base, &keys::SPRAY_SECONDS, &raw.spray_s),
    };
    let film_w_m2k = check
        .number(base, &keys::SPRAY_W, &raw.spray_w_m2k)
        .or(all.and_then(|all| all.film_w_m2k));
    let water_c = match (&raw.spray_water_c, all) {
        (None, Some(all)) => all.water_c,
        _ => check.or_default(base, &keys::SPRAY_WATER, &raw.spray_water_c),
    };
    let spray = Spray {
        seconds,
        film_w_m2k,
        water_c,
    };
    // Of no length: no spray.
    (seconds != 0.0).then_some(spray)
}

fn blow_off(check: &mut Check, base: &str, raw: &RawDie, all: Option<&BlowOff>) -> Option<BlowOff> {
    if raw.blow_off_s.is_none() && raw.blow_off_w_m2k.is_none() {
        return all.copied();
    }
    let seconds = match (&raw.blow_off_s, all) {
        (None, Some(all)) => all.seconds,
        _ => check.or_default(base, &keys::BLOW_OFF_SECONDS, &raw.blow_off_s),
    };
    let film_w_m2k = match (&raw.blow_off_w_m2k, all) {
        (None, Some(all)) => all.film_w_m2k,
        _ => check.or_default(base, &keys::BLOW_OFF_W, &raw.blow_off_w_m2k),
    };
    (seconds != 0.0).then_some(BlowOff { seconds, film_w_m2k })
}
