//! Numbers of coils, linings, programmes and targets.

use super::Without::{Default, Follows, Nothing, Required};
use super::{COEFFICIENT, Key, SECONDS, SHARE, SIZE_MM, TEMPERATURE, above, key};

const POWER_KW: (f64, f64) = (0.0, 100_000.0);
const FIELD: (f64, f64) = (0.0, 1.0e7);
const HZ: (f64, f64) = (0.0, 1.0e6);
const LENGTH_MM: (f64, f64) = (0.0, 100_000.0);

// [heater], kinds coil_line and static_coil
pub(crate) const BORE: Key = above("heater", "bore_mm", "mm", SIZE_MM, Required);
pub(crate) const FREQUENCY: Key = above("heater", "frequency_hz", "Hz", HZ, Required);
pub(crate) const COIL_LENGTH: Key = above("heater", "length_mm", "mm", LENGTH_MM, Required);
pub(crate) const LINING: Key = above(
    "heater",
    "lining_mm",
    "mm",
    SIZE_MM,
    Default(10.0, "refractory tube with an insulating sleeve (common practice)"),
);
pub(crate) const LINING_W: Key = above(
    "heater",
    "lining_w_mk",
    "W/mK",
    COEFFICIENT,
    Default(
        0.5,
        "between a dense refractory, about 1, and an insulating blanket, 0.2 to 0.3 (from memory)",
    ),
);
pub(crate) const LINING_EMISSIVITY: Key = above(
    "heater",
    "lining_emissivity",
    "",
    SHARE,
    Default(0.8, "refractory, from memory"),
);
pub(crate) const COPPER: Key = key(
    "heater",
    "copper_c",
    "degC",
    (0.0, 150.0),
    Default(50.0, "water-cooled copper at work (common practice)"),
);
pub(crate) const FILL: Key = above(
    "heater",
    "fill",
    "",
    SHARE,
    Default(0.85, "winding space factor, practice 0.7 to 0.9 (from memory)"),
);
pub(crate) const SUPPLY: Key = above(
    "heater",
    "supply_efficiency",
    "",
    SHARE,
    Default(
        0.93,
        "transformer, inverter, capacitors and busbars together (from memory)",
    ),
);
pub(crate) const HIGHEST: Key = above(
    "heater",
    "highest_kw",
    "kW",
    POWER_KW,
    Default(1000.0, "no limit worth the name: give the converter's rating"),
);
pub(crate) const CHARGE: Key = above(
    "heater",
    "billets",
    "",
    (0.0, 1000.0),
    Default(1.0, "one billet at a time"),
);

// [[heater.zone]]
pub(crate) const ZONE_LENGTH: Key = above("zone", "length_mm", "mm", LENGTH_MM, Required);
pub(crate) const ZONE_BORE: Key = above("zone", "bore_mm", "mm", SIZE_MM, Follows("that of the heater"));
pub(crate) const ZONE_FREQUENCY: Key = above("zone", "frequency_hz", "Hz", HZ, Follows("that of the heater"));
pub(crate) const ZONE_LINING: Key = above("zone", "lining_mm", "mm", SIZE_MM, Follows("that of the heater"));
pub(crate) const ZONE_LINING_W: Key = above(
    "zone",
    "lining_w_mk",
    "W/mK",
    COEFFICIENT,
    Follows("that of the heater"),
);
pub(crate) const ZONE_HIGHEST: Key = above("zone", "highest_kw", "kW", POWER_KW, Follows("that of the heater"));
pub(crate) const ZONE_POWER: Key = key("zone", "power_kw", "kW", POWER_KW, Nothing);
pub(crate) const ZONE_LOAD: Key = key("zone", "load_kw", "kW", POWER_KW, Nothing);
pub(crate) const ZONE_FIELD: Key = key("zone", "field_a_m", "A/m", FIELD, Nothing);
pub(crate) const ZONE_C: Key = key("zone", "temperature_c", "degC", TEMPERATURE, Required);
pub(crate) const ZONE_S: Key = above("zone", "seconds", "s", SECONDS, Required);
pub(crate) const ZONE_MIN: Key = above("zone", "minutes", "min", (0.0, 16_000.0), Required);

// [[heater.step]]
pub(crate) const STEP_S: Key = key("step", "seconds", "s", SECONDS, Required);
pub(crate) const STEP_POWER: Key = key("step", "power_kw", "kW", POWER_KW, Nothing);
pub(crate) const STEP_LOAD: Key = key("step", "load_kw", "kW", POWER_KW, Nothing);
pub(crate) const STEP_FIELD: Key = key("step", "field_a_m", "A/m", FIELD, Nothing);

// [heater.target]
pub(crate) const TARGET_C: Key = key("target", "temperature_c", "degC", TEMPERATURE, Required);
pub(crate) const TARGET_AFTER: Key = key("target", "after_s", "s", (0.0, 3600.0), Default(0.0, "at the exit"));
pub(crate) const TARGET_DIFFERENCE: Key = above(
    "target",
    "difference_k",
    "K",
    (0.0, 1000.0),
    Default(50.0, "typical of forging: 25 to 50 K at the exit (from memory)"),
);
pub(crate) const TARGET_NEVER: Key = key(
    "target",
    "never_above_c",
    "degC",
    TEMPERATURE,
    Follows("the never-exceed temperature of the steel"),
);
pub(crate) const TARGET_BELOW: Key = key(
    "target",
    "accept_below_k",
    "K",
    (0.0, 1000.0),
    Default(30.0, "exit gate, common practice 20 to 40 K"),
);
pub(crate) const TARGET_ABOVE: Key = key(
    "target",
    "accept_above_k",
    "K",
    (0.0, 1000.0),
    Default(30.0, "exit gate, common practice 20 to 40 K"),
);

pub(crate) const ALL: &[Key] = &[
    BORE,
    FREQUENCY,
    COIL_LENGTH,
    LINING,
    LINING_W,
    LINING_EMISSIVITY,
    COPPER,
    FILL,
    SUPPLY,
    HIGHEST,
    CHARGE,
    ZONE_LENGTH,
    ZONE_BORE,
    ZONE_FREQUENCY,
    ZONE_LINING,
    ZONE_LINING_W,
    ZONE_HIGHEST,
    ZONE_POWER,
    ZONE_LOAD,
    ZONE_FIELD,
    ZONE_C,
    ZONE_S,
    ZONE_MIN,
    STEP_S,
    STEP_POWER,
    STEP_LOAD,
    STEP_FIELD,
    TARGET_C,
    TARGET_AFTER,
    TARGET_DIFFERENCE,
    TARGET_NEVER,
    TARGET_BELOW,
    TARGET_ABOVE,
];
