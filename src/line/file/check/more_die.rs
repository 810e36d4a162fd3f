//! Dies beyond temperature and contact: contact by place, preheat, spray, blow-off, tempering.

use super::context::{Check, own};
use super::die_block::{self, BlockValues};
use crate::die::{BlowOff, Spray};
use crate::line::file::tables::RawDie;
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
    pub block: BlockValues,
}

pub(crate) fn defaults(check: &mut Check, base: &str, raw: &RawDie, metal: Option<&Metal>) -> MoreDie {
    MoreDie {
        preheat_c: check.number(base, &raw.preheat_c),
        flash_w_m2k: check.or_default(base, &raw.flash_w_m2k),
        wall_w_m2k: check.number(base, &raw.wall_w_m2k),
        gap_w_m2k: check.or_default(base, &raw.gap_w_m2k),
        friction_factor: check.or_default(base, &raw.friction_factor),
        spray: spray(check, base, raw, None),
        blow_off: blow_off(check, base, raw, None),
        tempering_c: tempering(check, base, raw, metal),
        block: die_block::of(check, base, raw, &BlockValues::default()),
    }
}

pub(crate) fn of_stage(check: &mut Check, base: &str, raw: &RawDie, all: &MoreDie, metal: Option<&Metal>) -> MoreDie {
    MoreDie {
        preheat_c: check.number(base, &raw.preheat_c).or(all.preheat_c),
        flash_w_m2k: own(check, base, &raw.flash_w_m2k, all.flash_w_m2k),
        wall_w_m2k: check.number(base, &raw.wall_w_m2k).or(all.wall_w_m2k),
        gap_w_m2k: own(check, base, &raw.gap_w_m2k, all.gap_w_m2k),
        friction_factor: own(check, base, &raw.friction_factor, all.friction_factor),
        spray: spray(check, base, raw, all.spray.as_ref()),
        blow_off: blow_off(check, base, raw, all.blow_off.as_ref()),
        tempering_c: match raw.tempering_c.is_some() || raw.steel.is_some() {
            true => tempering(check, base, raw, metal),
            false => all.tempering_c,
        },
        block: die_block::of(check, base, raw, &all.block),
    }
}

/// The tempering limit: given, or that of the steel, or the usual one.
fn tempering(check: &mut Check, base: &str, raw: &RawDie, metal: Option<&Metal>) -> f64 {
    match metal.and_then(|metal| metal.tempering_c.as_ref()) {
        Some(own) if raw.tempering_c.is_none() => {
            let source = own.source.clone().into();
            check.record(base, raw.tempering_c.key, own.value, Owner::Library, source);
            own.value
        }
        _ => check.or_default(base, &raw.tempering_c),
    }
}

/// The spray of a table, over that of all dies. Only what is used is recorded.
fn spray(check: &mut Check, base: &str, raw: &RawDie, all: Option<&Spray>) -> Option<Spray> {
    let given = [&raw.spray_s, &raw.spray_w_m2k, &raw.spray_water_c];
    if given.iter().all(|r| r.is_none()) {
        return all.copied();
    }
    let seconds = match all {
        Some(all) if raw.spray_s.is_none() => all.seconds,
        _ => check.or_default(base, &raw.spray_s),
    };
    let film_w_m2k = check
        .number(base, &raw.spray_w_m2k)
        .or(all.and_then(|all| all.film_w_m2k));
    let water_c = match all {
        Some(all) if raw.spray_water_c.is_none() => all.water_c,
        _ => check.or_default(base, &raw.spray_water_c),
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
    let seconds = match all {
        Some(all) if raw.blow_off_s.is_none() => all.seconds,
        _ => check.or_default(base, &raw.blow_off_s),
    };
    let film_w_m2k = match all {
        Some(all) if raw.blow_off_w_m2k.is_none() => all.film_w_m2k,
        _ => check.or_default(base, &raw.blow_off_w_m2k),
    };
    (seconds != 0.0).then_some(BlowOff { seconds, film_w_m2k })
}
