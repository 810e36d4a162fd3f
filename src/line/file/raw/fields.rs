//! The fields of raw tables by key: which are given, and numbers to change.

use std::ops::Range;

use toml::Spanned;

use super::{
    At, RawBillet, RawConveyor, RawDie, RawFan, RawFile, RawGrip, RawHeater, RawLimit, RawPile, RawPoint, RawRing,
    RawScale, RawSection, RawShop, RawStage, RawStep, RawSupport, RawTarget, RawZone,
};

/// A raw table whose fields are found by key.
pub(crate) trait Fields {
    /// The keys that are given, each with the place of its value.
    fn given(&self) -> Vec<(&'static str, Range<usize>)>;

    /// The number of a key, to be changed.
    fn number(&mut self, key: &str) -> Option<&mut At<f64>>;
}

macro_rules! fields {
    ($table:ty, numbers: [$($number:ident),*], others: [$($other:ident),*]) => {
        impl Fields for $table {
            fn given(&self) -> Vec<(&'static str, Range<usize>)> {
                let mut given = Vec::new();
                $(if let Some(value) = &self.$other {
                    given.push((stringify!($other), value.span()));
                })*
                $(if let Some(value) = &self.$number {
                    given.push((stringify!($number), value.span()));
                })*
                given
            }

            fn number(&mut self, key: &str) -> Option<&mut At<f64>> {
                match key {
                    $(stringify!($number) => Some(&mut self.$number),)*
                    _ => None,
                }
            }
        }
    };
}

fields!(
    RawBillet,
    numbers: [diameter_mm, side_mm, width_mm, height_mm, thickness_mm, length_mm, emissivity, scale_loss_percent, cold_end_c],
    others: [steel, section]
);
fields!(
    RawShop,
    numbers: [ambient_c, surroundings_c, takt_s, air_speed_m_s, film_w_m2k, tool_film_w_m2k, view_factor],
    others: []
);
fields!(
    RawHeater,
    numbers: [
        temperature_c, surface_c, core_c, core_below_surface_k, seconds, minutes, start_c, emissivity, film_w_m2k,
        frequency_hz, bore_mm, length_mm, billets, lining_mm, lining_w_mk, lining_emissivity, copper_c, fill,
        supply_efficiency, highest_kw, exit_offset_k
    ],
    others: [kind, points, motion, zone, step, target]
);
fields!(
    RawZone,
    numbers: [
        length_mm, frequency_hz, power_kw, load_kw, field_a_m, highest_kw, bore_mm, lining_mm, lining_w_mk,
        temperature_c, seconds, minutes
    ],
    others: [kind, name]
);
fields!(RawStep, numbers: [seconds, power_kw, load_kw, field_a_m], others: []);
fields!(
    RawTarget,
    numbers: [
        temperature_c, after_s, difference_k, never_above_c, accept_below_k, accept_above_k
    ],
    others: [node, least]
);
fields!(
    RawScale,
    numbers: [at_exit_um, w_mk, growth, left_by_first_blow, left_by_descaling],
    others: []
);
fields!(RawPoint, numbers: [at, temperature_c], others: []);
fields!(
    RawDie,
    numbers: [
        bulk_c, upper_c, lower_c, depth_mm, resting_w_m2k, pressed_w_m2k, blow_w_m2k, flash_w_m2k, wall_w_m2k,
        gap_w_m2k, friction_factor, pressure_mpa, pressed_mpa, at_zero_w_m2k, plateau_w_m2k, pressure_scale_mpa, scale_um,
        scale_w_mk, film_um, film_w_mk, preheat_c, spray_s, spray_w_m2k, spray_water_c, blow_off_s, blow_off_w_m2k, tempering_c
    ],
    others: [steel, fixed]
);
fields!(
    RawStage,
    numbers: [
        seconds, ambient_c, surroundings_c, air_speed_m_s, film_w_m2k, view_factor, emissivity, w_m2k, water_c,
        contact_ms, interval_s, lying_before_s, lying_after_s, share, strain, strain_rate_1_s, ram_speed_m_s,
        flow_stress_mpa, blow_energy_kj, blow_efficiency, heat_share, rebound_s, pressed_s, stuck_s, knock_out_s, knock_out_outer_mm,
        knock_out_inner_mm, knock_out_w_m2k, stroke_mm,
        strokes_per_min, squeeze_mm, hold_ms, bar_share
    ],
    others: [
        kind, name, grip, support, conveyor, pile, fan, blows, blow_shares, fills_at_blow, machine, between, pose, shape, die,
        removes
    ]
);
fields!(
    RawGrip,
    numbers: [
        length_mm, late_s, opens_s, from_end_mm, cooling_s, cold_c, jaw_c, w_m2k, pressure_mpa, share, depth_mm
    ],
    others: [end, gripper, steel]
);
fields!(
    RawConveyor,
    numbers: [spacing_mm, row_spacing_mm, belt_c, side_view, end_view],
    others: [rows, row, pose]
);
fields!(
    RawPile,
    numbers: [fill, basket_length_mm, basket_width_mm, slope_deg, exposed_share],
    others: [parts]
);
fields!(RawFan, numbers: [air_speed_m_s, film_w_m2k, from_s, until_s], others: []);
fields!(RawSupport, numbers: [share, bulk_c, w_m2k, depth_mm], others: [pose, steel]);
fields!(
    RawRing,
    numbers: [outer_mm, inner_mm, left_mm, right_mm, height_mm, bottom_mm, top_mm],
    others: [section, zone, touch]
);
fields!(RawSection, numbers: [mass_percent, length_mm], others: [name, symmetric]);
fields!(RawLimit, numbers: [min_c, max_c, max_k], others: [stage, moment, node, difference_to, source]);

impl RawFile {
    /// Sets the number at a path whose stage is given by index: `stage.3.grip.length_mm`,
    /// `billet.diameter_mm`, `limit.1.min_c` (lists count from 1). Tables that are missing are made;
    /// items of lists are not.
    pub fn set(&mut self, path: &[&str], value: f64) -> Option<()> {
        match path {
            ["billet", key] => table(&mut self.billet).number(key).map(|at| put(at, value)),
            ["shop", key] => table(&mut self.shop).number(key).map(|at| put(at, value)),
            ["heater", "points", number, key] => {
                let points = self.heater.as_mut()?.get_mut().points.as_mut()?.get_mut();
                item(points, number)?.get_mut().number(key).map(|at| put(at, value))
            }
            ["heater", "zone", number, key] => {
                let zones = self.heater.as_mut()?.get_mut().zone.as_mut()?.get_mut();
                item(zones, number)?.get_mut().number(key).map(|at| put(at, value))
            }
            ["heater", "step", number, key] => {
                let steps = self.heater.as_mut()?.get_mut().step.as_mut()?.get_mut();
                item(steps, number)?.get_mut().number(key).map(|at| put(at, value))
            }
            ["heater", "target", key] => {
                let target = table(&mut table(&mut self.heater).target);
                target.number(key).map(|at| put(at, value))
            }
            ["heater", key] => table(&mut self.heater).number(key).map(|at| put(at, value)),
            ["scale", key] => table(&mut self.scale).number(key).map(|at| put(at, value)),
            ["die", key] => table(&mut self.die).number(key).map(|at| put(at, value)),
            ["grip", key] => table(&mut self.grip).number(key).map(|at| put(at, value)),
            ["support", key] => table(&mut self.support).number(key).map(|at| put(at, value)),
            ["limit", number, key] => item(&mut self.limit, number)?
                .get_mut()
                .number(key)
                .map(|at| put(at, value)),
            ["section", number, key] => item(&mut self.section, number)?
                .get_mut()
                .number(key)
                .map(|at| put(at, value)),
            ["stage", number, path @ ..] => item(&mut self.stage, number)?.get_mut().set(path, value),
            _ => None,
        }
    }
}

impl RawStage {
    fn set(&mut self, path: &[&str], value: f64) -> Option<()> {
        match path {
            ["blows"] => whole(&mut self.blows, value),
            ["fills_at_blow"] => whole(&mut self.fills_at_blow, value),
            ["conveyor", "rows"] => whole(&mut self.conveyor.as_mut()?.get_mut().rows, value),
            ["conveyor", "row"] => whole(&mut self.conveyor.as_mut()?.get_mut().row, value),
            ["pile", "parts"] => whole(&mut self.pile.as_mut()?.get_mut().parts, value),
            ["conveyor", key] => self.conveyor.as_mut()?.get_mut().number(key).map(|at| put(at, value)),
            ["pile", key] => self.pile.as_mut()?.get_mut().number(key).map(|at| put(at, value)),
            ["fan", key] => self.fan.as_mut()?.get_mut().number(key).map(|at| put(at, value)),
            ["die", key] => table(&mut self.die).number(key).map(|at| put(at, value)),
            ["support", key] => table(&mut self.support).number(key).map(|at| put(at, value)),
            ["grip", key] => {
                let grip = self.grip.as_mut()?.get_mut();
                let alone = (!grip.many).then(|| grip.items.first_mut())?;
                alone?.number(key).map(|at| put(at, value))
            }
            ["grip", number, key] => {
                let grip = self.grip.as_mut()?.get_mut();
                let items = grip.many.then_some(&mut grip.items)?;
                item(items, number)?.number(key).map(|at| put(at, value))
            }
            ["shape", number, key] => {
                let rings = self.shape.as_mut()?.get_mut();
                item(rings, number)?.get_mut().number(key).map(|at| put(at, value))
            }
            [key] => self.number(key).map(|at| put(at, value)),
            _ => None,
        }
    }
}

fn table<T: Default>(at: &mut At<T>) -> &mut T {
    at.get_or_insert_with(|| Spanned::new(0..0, T::default())).get_mut()
}

/// Whole numbers only; the range is checked with all others.
fn whole(at: &mut At<i64>, value: f64) -> Option<()> {
    (value.fract() == 0.0 && value.abs() < 1e9).then(|| put(at, value as i64))
}

fn item<'a, T>(items: &'a mut [T], number: &str) -> Option<&'a mut T> {
    items.get_mut(number.parse::<usize>().ok()?.checked_sub(1)?)
}

fn put<T>(at: &mut At<T>, value: T) {
    match at {
        Some(old) => *old.get_mut() = value,
        None => *at = Some(Spanned::new(0..0, value)),
    }
}
