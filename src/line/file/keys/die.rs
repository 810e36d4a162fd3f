//! Numbers of dies between parts, of contact by place, and of the blow cycle.

use super::Without::{Default, Follows, Nothing, Required};
use super::scale::POROUS_SCALE;
use super::{COEFFICIENT, Key, SECONDS, SIZE_MM, TEMPERATURE, above, key};

/// In the flash land: descaled, dry, with large surface growth, W/m²K.
pub(crate) const FLASH_SPREAD: (f64, f64) = (10_000.0, 50_000.0);
/// Across a gap of 0.1 to 0.5 mm, W/m²K.
pub(crate) const GAP_SPREAD: (f64, f64) = (50.0, 800.0);

// [die] and stage.die
pub(crate) const DIE_PREHEAT: Key = key(
    "die",
    "preheat_c",
    "degC",
    TEMPERATURE,
    Follows("equal to the temperature in steady work"),
);
pub(crate) const DIE_FLASH: Key = key(
    "die",
    "flash_w_m2k",
    "W/m2K",
    COEFFICIENT,
    Default(
        25_000.0,
        "flash land, dry with large surface growth: typical 20000 to 30000, spread 10000 to 50000 W/m2K (Semiatin et al. 1987, Burte et al. 1990, from memory)",
    ),
);
pub(crate) const DIE_WALL: Key = key(
    "die",
    "wall_w_m2k",
    "W/m2K",
    COEFFICIENT,
    Follows("equal to blow_w_m2k"),
);
pub(crate) const DIE_GAP: Key = key(
    "die",
    "gap_w_m2k",
    "W/m2K",
    COEFFICIENT,
    Default(
        200.0,
        "0.1 to 0.5 mm of air and radiation: typical 100 to 400, spread 50 to 800 W/m2K (order of magnitude, from memory)",
    ),
);
pub(crate) const SPRAY_SECONDS: Key = key("die", "spray_s", "s", SECONDS, Default(0.0, "no spray"));
pub(crate) const SPRAY_W: Key = key("die", "spray_w_m2k", "W/m2K", COEFFICIENT, Nothing);
pub(crate) const SPRAY_WATER: Key = key(
    "die",
    "spray_water_c",
    "degC",
    (0.0, 100.0),
    Default(25.0, "works water"),
);
pub(crate) const BLOW_OFF_SECONDS: Key = key("die", "blow_off_s", "s", SECONDS, Default(0.0, "no blow-off"));
pub(crate) const BLOW_OFF_W: Key = key(
    "die",
    "blow_off_w_m2k",
    "W/m2K",
    COEFFICIENT,
    Default(100.0, "air blast on a die, 50 to 200 W/m2K (from memory)"),
);
pub(crate) const TEMPERING: Key = key(
    "die",
    "tempering_c",
    "degC",
    TEMPERATURE,
    Default(
        550.0,
        "last temper of hot-work dies, commonly 540 to 595 degC (trade practice)",
    ),
);

pub(crate) const PRESSURE: Key = key("die", "pressure_mpa", "MPa", (0.0, 500.0), Nothing);
pub(crate) const PRESSED_MPA: Key = key("die", "pressed_mpa", "MPa", (0.0, 500.0), Nothing);
pub(crate) const GRIP_PRESSURE: Key = key("grip", "pressure_mpa", "MPa", (0.0, 500.0), Nothing);
pub(crate) const AT_ZERO: Key = above(
    "die",
    "at_zero_w_m2k",
    "W/m2K",
    COEFFICIENT,
    Default(
        1000.0,
        "pressure law, without pressure: Semiatin et al. 1987 (from memory)",
    ),
);
pub(crate) const PLATEAU: Key = above(
    "die",
    "plateau_w_m2k",
    "W/m2K",
    COEFFICIENT,
    Default(
        7500.0,
        "pressure law, plateau above about 14 MPa, published 7500 to 12000 W/m2K: Semiatin et al. 1987, Burte et al. 1990 (from memory)",
    ),
);
pub(crate) const PRESSURE_SCALE: Key = key(
    "die",
    "pressure_scale_mpa",
    "MPa",
    (0.001, 1000.0),
    Default(
        5.0,
        "pressure law, pressure that closes 63 % of the way to the plateau: fit to the same values (from memory)",
    ),
);
pub(crate) const SCALE_UM: Key = key("die", "scale_um", "um", (0.0, 5000.0), Nothing);
pub(crate) const SCALE_W: Key = key("die", "scale_w_mk", "W/mK", (0.01, 100.0), POROUS_SCALE);
pub(crate) const FILM_UM: Key = key("die", "film_um", "um", (0.0, 5000.0), Nothing);
pub(crate) const FILM_W: Key = key("die", "film_w_mk", "W/mK", (0.01, 100.0), Required);
pub(crate) const FRICTION: Key = key(
    "die",
    "friction_factor",
    "",
    (0.0, 1.0),
    Default(
        0.0,
        "heat of friction left out; hot steel on dies lubricated with graphite 0.2 to 0.4, dry and scaled 0.6 to 0.9 (textbooks of forging, from memory)",
    ),
);

// [[stage]], forge
pub(crate) const REBOUND: Key = key(
    "stage",
    "rebound_s",
    "s",
    SECONDS,
    Default(0.0, "the part does not jump"),
);
pub(crate) const PRESSED_ON: Key = key(
    "stage",
    "pressed_s",
    "s",
    SECONDS,
    Default(0.0, "the gripper holds no pressure"),
);
pub(crate) const STUCK: Key = key("stage", "stuck_s", "s", SECONDS, Default(0.0, "the part comes free"));
pub(crate) const KNOCK_OUT_S: Key = key("stage", "knock_out_s", "s", SECONDS, Nothing);
pub(crate) const KNOCK_OUT_OUTER: Key = above("stage", "knock_out_outer_mm", "mm", SIZE_MM, Required);
pub(crate) const KNOCK_OUT_INNER: Key = key("stage", "knock_out_inner_mm", "mm", SIZE_MM, Default(0.0, "a pin"));
pub(crate) const KNOCK_OUT_W: Key = key("stage", "knock_out_w_m2k", "W/m2K", COEFFICIENT, super::CLAMPED);
pub(crate) const FILLS: Key = key("stage", "fills_at_blow", "", (1.0, 200.0), Nothing);
pub(crate) const STROKE: Key = above("stage", "stroke_mm", "mm", SIZE_MM, Nothing);
pub(crate) const STROKES: Key = above("stage", "strokes_per_min", "1/min", (0.0, 1000.0), Nothing);
pub(crate) const SQUEEZE: Key = above(
    "stage",
    "squeeze_mm",
    "mm",
    SIZE_MM,
    Follows("loss of mean height in one stroke"),
);
pub(crate) const HOLD: Key = key(
    "stage",
    "hold_ms",
    "ms",
    (0.0, 60_000.0),
    Default(0.0, "the ram turns at once"),
);

// stage.grip
pub(crate) const GRIP_LATE: Key = key(
    "grip",
    "late_s",
    "s",
    SECONDS,
    Default(0.0, "closes as the stage starts"),
);

pub(crate) const GRIP_OPENS: Key = above("grip", "opens_s", "s", SECONDS, Follows("open as the stage ends"));
pub(crate) const GRIP_FROM_END: Key = key(
    "grip",
    "from_end_mm",
    "mm",
    SIZE_MM,
    Default(0.0, "the jaws begin at the end of the bar"),
);
pub(crate) const GRIP_COOLING: Key = above(
    "grip",
    "cooling_s",
    "s",
    SECONDS,
    Default(300.0, "open jaws in air, some minutes, common practice"),
);
pub(crate) const GRIP_COLD: Key = key(
    "grip",
    "cold_c",
    "degC",
    TEMPERATURE,
    Follows("equal to ambient_c: jaws before a shift"),
);

/// All of the above.
pub(crate) const ALL: &[Key] = &[
    DIE_PREHEAT,
    DIE_FLASH,
    DIE_WALL,
    DIE_GAP,
    SPRAY_SECONDS,
    SPRAY_W,
    SPRAY_WATER,
    BLOW_OFF_SECONDS,
    BLOW_OFF_W,
    TEMPERING,
    FRICTION,
    PRESSURE,
    PRESSED_MPA,
    GRIP_PRESSURE,
    AT_ZERO,
    PLATEAU,
    PRESSURE_SCALE,
    SCALE_UM,
    SCALE_W,
    FILM_UM,
    FILM_W,
    REBOUND,
    PRESSED_ON,
    STUCK,
    KNOCK_OUT_S,
    KNOCK_OUT_OUTER,
    KNOCK_OUT_INNER,
    KNOCK_OUT_W,
    FILLS,
    STROKE,
    STROKES,
    SQUEEZE,
    HOLD,
    GRIP_LATE,
    GRIP_OPENS,
    GRIP_FROM_END,
    GRIP_COOLING,
    GRIP_COLD,
];
