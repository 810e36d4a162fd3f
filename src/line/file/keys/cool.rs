//! Numbers of `conveyor`, `pile` and `fan` in a stage of cooling.

use super::Without::{Default, Follows, Nothing, Required};
use super::{COEFFICIENT, Key, SECONDS, SHARE, SIZE_MM, TEMPERATURE, above, key};

pub(crate) const SPACING: Key = key("conveyor", "spacing_mm", "mm", SIZE_MM, Required);
pub(crate) const ROWS: Key = key(
    "conveyor",
    "rows",
    "",
    (1.0, 50.0),
    Default(1.0, "one part after the other"),
);
pub(crate) const ROW_SPACING: Key = key(
    "conveyor",
    "row_spacing_mm",
    "mm",
    SIZE_MM,
    Follows("equal to spacing_mm"),
);
pub(crate) const ROW: Key = key(
    "conveyor",
    "row",
    "",
    (1.0, 50.0),
    Follows("the middle row, which cools slowest"),
);
pub(crate) const BELT: Key = key(
    "conveyor",
    "belt_c",
    "degC",
    TEMPERATURE,
    Follows("that of the support where there is one, else that of the surroundings"),
);
pub(crate) const SIDE_VIEW: Key = key(
    "conveyor",
    "side_view",
    "",
    SHARE,
    Follows("1 less the view factors of the neighbours, by size, spacing, rows and pose"),
);
pub(crate) const END_VIEW: Key = key(
    "conveyor",
    "end_view",
    "",
    SHARE,
    Follows("1 less the mean view factor of the neighbours end to end, by diameter or section and row_spacing_mm"),
);
pub(crate) const PARTS: Key = key("pile", "parts", "", (2.0, 1e6), Required);
pub(crate) const FILL: Key = key(
    "pile",
    "fill",
    "",
    (0.05, 0.95),
    Default(0.5, "forgings tipped in at random, common practice 0.3 to 0.6"),
);
pub(crate) const BASKET_LENGTH: Key = above("pile", "basket_length_mm", "mm", SIZE_MM, Nothing);
pub(crate) const BASKET_WIDTH: Key = above("pile", "basket_width_mm", "mm", SIZE_MM, Nothing);
pub(crate) const SLOPE: Key = key(
    "pile",
    "slope_deg",
    "deg",
    (5.0, 60.0),
    Default(35.0, "angle of repose of rough pieces, common practice 30 to 40"),
);
pub(crate) const EXPOSED: Key = above(
    "pile",
    "exposed_share",
    "",
    (0.0, 1.0),
    Follows("outside of the heap over the surface of its parts, by parts, fill and outline"),
);
pub(crate) const FAN_SPEED: Key = key("fan", "air_speed_m_s", "m/s", (0.0, 100.0), Nothing);
pub(crate) const FAN_FILM: Key = key("fan", "film_w_m2k", "W/m2K", COEFFICIENT, Nothing);
pub(crate) const FAN_FROM: Key = key(
    "fan",
    "from_s",
    "s",
    SECONDS,
    Default(0.0, "from the start of the stage"),
);
pub(crate) const FAN_UNTIL: Key = key("fan", "until_s", "s", SECONDS, Nothing);

/// All of them.
pub(super) const ALL: &[Key] = &[
    SPACING,
    ROWS,
    ROW_SPACING,
    ROW,
    BELT,
    SIDE_VIEW,
    END_VIEW,
    PARTS,
    FILL,
    BASKET_LENGTH,
    BASKET_WIDTH,
    SLOPE,
    EXPOSED,
    FAN_SPEED,
    FAN_FILM,
    FAN_FROM,
    FAN_UNTIL,
];
