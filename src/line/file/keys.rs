//! Every number of the line file: its table, unit, range and default, in one place.
//!
//! The check, the JSON Schema, the error messages and the list of inputs all read these.

pub(crate) mod cool;
mod die;
mod scale;

pub(crate) use cool::{
    BASKET_LENGTH, BASKET_WIDTH, BELT, END_VIEW, EXPOSED, FAN_FILM, FAN_FROM, FAN_SPEED, FAN_UNTIL, FILL, PARTS, ROW,
    ROW_SPACING, ROWS, SIDE_VIEW, SLOPE, SPACING,
};
pub(crate) use die::{
    AT_ZERO, BLOW_OFF_SECONDS, BLOW_OFF_W, DIE_FLASH, DIE_GAP, DIE_PREHEAT, DIE_WALL, FILLS, FILM_UM, FILM_W,
    FLASH_SPREAD, FRICTION, GAP_SPREAD, GRIP_COLD, GRIP_COOLING, GRIP_FROM_END, GRIP_LATE, GRIP_OPENS, GRIP_PRESSURE,
    HOLD, KNOCK_OUT_INNER, KNOCK_OUT_OUTER, KNOCK_OUT_S, KNOCK_OUT_W, PLATEAU, PRESSED_MPA, PRESSED_ON, PRESSURE,
    PRESSURE_SCALE, REBOUND, SCALE_UM, SCALE_W, SPRAY_SECONDS, SPRAY_W, SPRAY_WATER, SQUEEZE, STROKE, STROKES, STUCK,
    TEMPERING,
};

pub(crate) use scale::{SCALE_AFTER_BLOW, SCALE_AFTER_WATER, SCALE_AT_EXIT, SCALE_CONDUCTS, SCALE_GROWTH};

use crate::line::plan::Allowed;

/// What happens when a number is not given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Without {
    /// It must be given (where its kind calls for it).
    Required,
    /// It is left out.
    Nothing,
    /// This value, for this reason.
    Default(f64, &'static str),
    /// It follows from others, as said.
    Follows(&'static str),
}

/// A number of the line file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Key {
    /// Table it stands in: `billet`, `shop`, `heater`, `point`, `die`, `stage`, `grip`, `support`, `conveyor`,
    /// `pile`, `fan`, `ring`, `section`, `limit`.
    pub table: &'static str,
    /// Name with its unit suffix.
    pub name: &'static str,
    /// Unit; empty for a plain number.
    pub unit: &'static str,
    /// Range.
    pub allowed: Allowed,
    /// What stands in for it.
    pub without: Without,
}

const fn key(
    table: &'static str,
    name: &'static str,
    unit: &'static str,
    (low, high): (f64, f64),
    without: Without,
) -> Key {
    let allowed = Allowed {
        low,
        high,
        low_open: false,
    };
    Key {
        table,
        name,
        unit,
        allowed,
        without,
    }
}

/// As `key`, with the lower bound itself refused.
const fn above(
    table: &'static str,
    name: &'static str,
    unit: &'static str,
    (low, high): (f64, f64),
    without: Without,
) -> Key {
    let allowed = Allowed {
        low,
        high,
        low_open: true,
    };
    Key {
        table,
        name,
        unit,
        allowed,
        without,
    }
}

use Without::{Default, Follows, Nothing, Required};

pub(crate) mod induction;

/// Temperatures that a part or tool may have: from a winter yard to above the melting point of iron.
const TEMPERATURE: (f64, f64) = (-50.0, 1600.0);
const SHARE: (f64, f64) = (0.0, 1.0);
const COEFFICIENT: (f64, f64) = (0.0, 1.0e6);
const SECONDS: (f64, f64) = (0.0, 1.0e6);
const SIZE_MM: (f64, f64) = (0.0, 5000.0);

/// Under own weight, scaled: low and high of the published spread, W/m²K.
pub(crate) const RESTING_SPREAD: (f64, f64) = (200.0, 2000.0);
/// Light clamping at 0.1 to 1 MPa.
pub(crate) const CLAMPED_SPREAD: (f64, f64) = (500.0, 4000.0);
/// Under a blow or stroke: from scaled and lubricated to descaled with large surface growth.
pub(crate) const BLOW_SPREAD: (f64, f64) = (4000.0, 50_000.0);

const RESTING: Without = Default(
    750.0,
    "resting under own weight, scaled: typical 500 to 1000, spread 200 to 2000 W/m2K (order of magnitude of Semiatin et al. 1987, from memory)",
);
const CLAMPED: Without = Default(
    1500.0,
    "light clamping at 0.1 to 1 MPa: typical 1000 to 2000, spread 500 to 4000 W/m2K (literature since Semiatin et al. 1987, from memory)",
);
const BLOW: Without = Default(
    10_000.0,
    "under a blow, scaled, graphite lubricated: typical 7000 to 12000, spread 4000 to 20000 W/m2K (Semiatin et al. 1987, Burte et al. 1990, from memory)",
);

// [billet]
pub(crate) const DIAMETER: Key = above("billet", "diameter_mm", "mm", SIZE_MM, Required);
pub(crate) const SIDE: Key = above("billet", "side_mm", "mm", SIZE_MM, Required);
pub(crate) const WIDTH: Key = above("billet", "width_mm", "mm", SIZE_MM, Required);
pub(crate) const HEIGHT: Key = above("billet", "height_mm", "mm", SIZE_MM, Required);
pub(crate) const THICKNESS: Key = above("billet", "thickness_mm", "mm", SIZE_MM, Required);
pub(crate) const LENGTH: Key = above("billet", "length_mm", "mm", (0.0, 20_000.0), Nothing);
pub(crate) const EMISSIVITY: Key = key("billet", "emissivity", "", SHARE, Follows("that of the steel"));
pub(crate) const SCALE_LOSS: Key = key(
    "billet",
    "scale_loss_percent",
    "%",
    (0.0, 10.0),
    Default(
        0.0,
        "nothing taken off; common practice: 0.5 to 1 % in induction heating, 2 to 3 % in a furnace",
    ),
);
pub(crate) const COLD_END: Key = key(
    "billet",
    "cold_end_c",
    "degC",
    TEMPERATURE,
    Follows("the forging minimum of the steel"),
);

// [shop]
pub(crate) const AMBIENT: Key = key(
    "shop",
    "ambient_c",
    "degC",
    TEMPERATURE,
    Default(25.0, "common practice: a forge at rest"),
);
pub(crate) const SURROUNDINGS: Key = key(
    "shop",
    "surroundings_c",
    "degC",
    TEMPERATURE,
    Follows("equal to ambient_c"),
);
pub(crate) const TAKT: Key = above("shop", "takt_s", "s", (0.0, 36_000.0), Nothing);
pub(crate) const AIR_SPEED: Key = key("shop", "air_speed_m_s", "m/s", (0.0, 100.0), Default(0.0, "still air"));
pub(crate) const FILM: Key = key("shop", "film_w_m2k", "W/m2K", COEFFICIENT, Nothing);
pub(crate) const TOOL_FILM: Key = key(
    "shop",
    "tool_film_w_m2k",
    "W/m2K",
    COEFFICIENT,
    Default(
        10.0,
        "a tool face in still air while no part touches it, common practice 5 to 15 W/m2K",
    ),
);
pub(crate) const VIEW_FACTOR: Key = key("shop", "view_factor", "", SHARE, Default(1.0, "nothing hot in sight"));

// [heater]
pub(crate) const EXIT_UNIFORM: Key = key("heater", "temperature_c", "degC", TEMPERATURE, Required);
pub(crate) const EXIT_SURFACE: Key = key("heater", "surface_c", "degC", TEMPERATURE, Required);
pub(crate) const EXIT_CORE: Key = key("heater", "core_c", "degC", TEMPERATURE, Required);
pub(crate) const CORE_BELOW: Key = key("heater", "core_below_surface_k", "K", (-600.0, 600.0), Required);
pub(crate) const POINT_AT: Key = key("point", "at", "", SHARE, Required);
pub(crate) const POINT_C: Key = key("point", "temperature_c", "degC", TEMPERATURE, Required);
pub(crate) const FURNACE_S: Key = above("heater", "seconds", "s", SECONDS, Required);
pub(crate) const FURNACE_MIN: Key = above("heater", "minutes", "min", (0.0, 16_000.0), Required);
pub(crate) const START: Key = key(
    "heater",
    "start_c",
    "degC",
    TEMPERATURE,
    Default(20.0, "a bar from the store"),
);
pub(crate) const EXIT_OFFSET: Key = key(
    "heater",
    "exit_offset_k",
    "K",
    (-400.0, 400.0),
    Default(0.0, "the exit as the heater gives it"),
);
pub(crate) const FURNACE_EMISSIVITY: Key = key(
    "heater",
    "emissivity",
    "",
    SHARE,
    Default(
        0.8,
        "scaled steel in a furnace large against it (oxidised steel 0.8 to 0.9, from memory)",
    ),
);
pub(crate) const FURNACE_FILM: Key = key(
    "heater",
    "film_w_m2k",
    "W/m2K",
    COEFFICIENT,
    Default(25.0, "hot gas at a steel face, EN 1991-1-2:2002 3.2.1(2), from memory"),
);

// [die] and stage.die
pub(crate) const DIE_BULK: Key = key(
    "die",
    "bulk_c",
    "degC",
    TEMPERATURE,
    Default(200.0, "preheated die, common practice 200 to 300 degC"),
);
pub(crate) const DIE_UPPER: Key = key("die", "upper_c", "degC", TEMPERATURE, Follows("equal to bulk_c"));
pub(crate) const DIE_LOWER: Key = key("die", "lower_c", "degC", TEMPERATURE, Follows("equal to bulk_c"));
pub(crate) const DIE_DEPTH: Key = above(
    "die",
    "depth_mm",
    "mm",
    (0.0, 1000.0),
    Default(60.0, "deeper than the heat of one part goes"),
);
pub(crate) const DIE_RESTING: Key = key("die", "resting_w_m2k", "W/m2K", COEFFICIENT, RESTING);
pub(crate) const DIE_PRESSED: Key = key("die", "pressed_w_m2k", "W/m2K", COEFFICIENT, CLAMPED);
pub(crate) const DIE_BLOW: Key = key("die", "blow_w_m2k", "W/m2K", COEFFICIENT, BLOW);

// [grip] and stage.grip
pub(crate) const GRIP_LENGTH: Key = above("grip", "length_mm", "mm", SIZE_MM, Required);
pub(crate) const GRIP_JAW: Key = key(
    "grip",
    "jaw_c",
    "degC",
    TEMPERATURE,
    Default(120.0, "jaws warm from the parts before, common practice"),
);
pub(crate) const GRIP_W: Key = key("grip", "w_m2k", "W/m2K", COEFFICIENT, CLAMPED);
pub(crate) const GRIP_SHARE: Key = key(
    "grip",
    "share",
    "",
    SHARE,
    Default(0.3, "V jaws touch about a third of the side face, common practice"),
);
pub(crate) const GRIP_DEPTH: Key = above(
    "grip",
    "depth_mm",
    "mm",
    (0.0, 1000.0),
    Default(20.0, "thickness of a jaw, common practice"),
);

// [support] and stage.support
pub(crate) const SUPPORT_SHARE: Key = key(
    "support",
    "share",
    "",
    SHARE,
    Follows("0.03 lying (two lines of contact 1 to 3 mm wide on a round of 60 mm), 1 standing"),
);
pub(crate) const SUPPORT_BULK: Key = key(
    "support",
    "bulk_c",
    "degC",
    TEMPERATURE,
    Default(100.0, "a rail or table beside the line, common practice"),
);
pub(crate) const SUPPORT_W: Key = key("support", "w_m2k", "W/m2K", COEFFICIENT, RESTING);
pub(crate) const SUPPORT_DEPTH: Key = above(
    "support",
    "depth_mm",
    "mm",
    (0.0, 1000.0),
    Default(30.0, "thickness of a rail or table plate, common practice"),
);

// [[stage]]
pub(crate) const SECONDS_KEY: Key = key("stage", "seconds", "s", SECONDS, Required);
pub(crate) const STAGE_AMBIENT: Key = key("stage", "ambient_c", "degC", TEMPERATURE, Follows("that of the shop"));
pub(crate) const STAGE_SURROUNDINGS: Key = key(
    "stage",
    "surroundings_c",
    "degC",
    TEMPERATURE,
    Follows("that of the shop; equal to the stage's ambient_c where only that is given"),
);
pub(crate) const STAGE_AIR_SPEED: Key = key(
    "stage",
    "air_speed_m_s",
    "m/s",
    (0.0, 100.0),
    Follows("that of the shop"),
);
pub(crate) const STAGE_FILM: Key = key("stage", "film_w_m2k", "W/m2K", COEFFICIENT, Follows("that of the shop"));
pub(crate) const STAGE_VIEW: Key = key("stage", "view_factor", "", SHARE, Follows("that of the shop"));
pub(crate) const STAGE_EMISSIVITY: Key = key("stage", "emissivity", "", SHARE, Follows("that of the billet"));
pub(crate) const SPRAY: Key = key(
    "stage",
    "w_m2k",
    "W/m2K",
    COEFFICIENT,
    Default(
        1200.0,
        "calculated from 20 K mean drop a second on a round of 60 mm, the middle of practice (10 to 30 K in 1 to 2 s, from memory)",
    ),
);
pub(crate) const WATER: Key = key("stage", "water_c", "degC", (0.0, 100.0), Default(20.0, "works water"));
pub(crate) const BLOWS: Key = key("stage", "blows", "", (1.0, 200.0), Default(1.0, "one blow or stroke"));
pub(crate) const BLOW_SHARE: Key = above("stage", "blow_shares", "", SHARE, Follows("the same for each blow"));
pub(crate) const CONTACT_FORGE: Key = above(
    "stage",
    "contact_ms",
    "ms",
    (0.0, 60_000.0),
    Default(
        5.0,
        "hammer blow, 1 to 10 ms, common practice (trim: 50 ms, press stroke)",
    ),
);
pub(crate) const CONTACT_TRIM: Key = above(
    "stage",
    "contact_ms",
    "ms",
    (0.0, 60_000.0),
    Default(50.0, "stroke of a mechanical press, 30 to 80 ms, common practice"),
);
pub(crate) const INTERVAL: Key = above(
    "stage",
    "interval_s",
    "s",
    (0.0, 3600.0),
    Default(0.8, "rhythm of a power hammer, 0.6 to 1.2 s, common practice"),
);
pub(crate) const LYING_BEFORE: Key = key(
    "stage",
    "lying_before_s",
    "s",
    SECONDS,
    Default(0.5, "rest in the die before the first blow, common practice 0.3 to 1 s"),
);
pub(crate) const LYING_AFTER: Key = key(
    "stage",
    "lying_after_s",
    "s",
    SECONDS,
    Default(
        0.5,
        "rest in the die before the grip closes, common practice 0.3 to 1 s",
    ),
);
pub(crate) const DIE_SHARE: Key = key(
    "stage",
    "share",
    "",
    SHARE,
    Follows("1 standing and on cross-sections, 0.1 lying (a flat along each side of a round bar)"),
);
pub(crate) const STRAIN: Key = key(
    "stage",
    "strain",
    "",
    (0.0, 10.0),
    Follows("volume mean of |ln(mean height before / height of the ring)|; 0 without a new shape"),
);
pub(crate) const STRAIN_RATE: Key = above(
    "stage",
    "strain_rate_1_s",
    "1/s",
    (0.0, 1.0e4),
    Follows("strain over the contact time of all blows"),
);
pub(crate) const RAM_SPEED: Key = above("stage", "ram_speed_m_s", "m/s", (0.0, 30.0), Nothing);
pub(crate) const FLOW_STRESS: Key = above(
    "stage",
    "flow_stress_mpa",
    "MPa",
    (0.0, 5000.0),
    Follows("that of the steel"),
);
pub(crate) const BLOW_ENERGY: Key = above("stage", "blow_energy_kj", "kJ", (0.0, 1.0e5), Nothing);
pub(crate) const BLOW_EFFICIENCY: Key = key(
    "stage",
    "blow_efficiency",
    "",
    SHARE,
    Default(
        0.8,
        "soft blow on an anvil hammer, 0.8 to 0.9; last blows 0.2 to 0.5 (Altan, from memory)",
    ),
);
pub(crate) const HEAT_SHARE: Key = key(
    "stage",
    "heat_share",
    "",
    SHARE,
    Default(0.9, "Taylor and Quinney 1934, from memory"),
);

// stage.shape
pub(crate) const RING_OUTER: Key = above("ring", "outer_mm", "mm", SIZE_MM, Required);
pub(crate) const RING_INNER: Key = key("ring", "inner_mm", "mm", SIZE_MM, Default(0.0, "a disc"));
pub(crate) const RING_HEIGHT: Key = above("ring", "height_mm", "mm", SIZE_MM, Required);
pub(crate) const RING_BOTTOM: Key = key("ring", "bottom_mm", "mm", SIZE_MM, Required);
pub(crate) const RING_TOP: Key = above("ring", "top_mm", "mm", SIZE_MM, Required);
pub(crate) const STRIP_LEFT: Key = key("ring", "left_mm", "mm", (-1e3, 1e3), Nothing);
pub(crate) const STRIP_RIGHT: Key = key("ring", "right_mm", "mm", (-1e3, 1e3), Nothing);

// [[section]]
pub(crate) const SECTION_MASS: Key = above("section", "mass_percent", "%", (0.0, 100.0), Required);
pub(crate) const SECTION_LENGTH: Key = above("section", "length_mm", "mm", (0.0, 5e3), Required);
pub(crate) const BAR_SHARE: Key = key(
    "stage",
    "bar_share",
    "",
    SHARE,
    Default(0.1, "a flat along the side of a round bar, common practice"),
);

// [[limit]]
pub(crate) const MIN_C: Key = key("limit", "min_c", "degC", TEMPERATURE, Nothing);
pub(crate) const MAX_C: Key = key("limit", "max_c", "degC", TEMPERATURE, Nothing);
pub(crate) const MAX_K: Key = key("limit", "max_k", "K", (0.0, 1600.0), Nothing);

/// All of them. Where two share a table and a name, the first is the one that the schema shows.
const MAIN: &[Key] = &[
    DIAMETER,
    SIDE,
    WIDTH,
    HEIGHT,
    THICKNESS,
    LENGTH,
    EMISSIVITY,
    SCALE_LOSS,
    COLD_END,
    AMBIENT,
    SURROUNDINGS,
    TAKT,
    AIR_SPEED,
    FILM,
    TOOL_FILM,
    VIEW_FACTOR,
    EXIT_UNIFORM,
    EXIT_SURFACE,
    EXIT_CORE,
    CORE_BELOW,
    POINT_AT,
    POINT_C,
    FURNACE_S,
    FURNACE_MIN,
    START,
    EXIT_OFFSET,
    FURNACE_EMISSIVITY,
    FURNACE_FILM,
    DIE_BULK,
    DIE_UPPER,
    DIE_LOWER,
    DIE_DEPTH,
    DIE_RESTING,
    DIE_PRESSED,
    DIE_BLOW,
    GRIP_LENGTH,
    GRIP_JAW,
    GRIP_W,
    GRIP_SHARE,
    GRIP_DEPTH,
    SUPPORT_SHARE,
    SUPPORT_BULK,
    SUPPORT_W,
    SUPPORT_DEPTH,
    SECONDS_KEY,
    STAGE_AMBIENT,
    STAGE_SURROUNDINGS,
    STAGE_AIR_SPEED,
    STAGE_FILM,
    STAGE_VIEW,
    STAGE_EMISSIVITY,
    SPRAY,
    WATER,
    BLOWS,
    CONTACT_FORGE,
    CONTACT_TRIM,
    INTERVAL,
    LYING_BEFORE,
    LYING_AFTER,
    DIE_SHARE,
    STRAIN,
    STRAIN_RATE,
    RAM_SPEED,
    FLOW_STRESS,
    BLOW_ENERGY,
    BLOW_EFFICIENCY,
    HEAT_SHARE,
    RING_OUTER,
    RING_INNER,
    RING_HEIGHT,
    RING_BOTTOM,
    RING_TOP,
    STRIP_LEFT,
    STRIP_RIGHT,
    SECTION_MASS,
    SECTION_LENGTH,
    BAR_SHARE,
    MIN_C,
    MAX_C,
    MAX_K,
];

impl Allowed {
    /// Whether `value` is inside; a value that is not a number never is.
    pub fn contains(&self, value: f64) -> bool {
        let low = if self.low_open {
            value > self.low
        } else {
            value >= self.low
        };
        low && value <= self.high
    }
}

impl std::fmt::Display for Allowed {
    fn fmt(&self, out: &mut std::fmt::Formatter) -> std::fmt::Result {
        if self.low_open {
            write!(out, "above {} to {}", self.low, self.high)
        } else {
            write!(out, "{} to {}", self.low, self.high)
        }
    }
}

/// Every number, for the schema and for tests.
pub(crate) fn every() -> impl Iterator<Item = &'static Key> {
    MAIN.iter()
        .chain(die::ALL)
        .chain(scale::ALL)
        .chain(cool::ALL)
        .chain(induction::ALL)
}
