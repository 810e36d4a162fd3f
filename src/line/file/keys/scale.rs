//! Numbers of the table `[scale]`.

use super::Without::{Default, Follows};
use super::{Key, SHARE, Without, key};
use crate::surface::contact::SCALE_CONDUCTIVITY;

/// Conductivity of scale, here and between part and dies.
pub(super) const POROUS_SCALE: Without = Default(
    SCALE_CONDUCTIVITY,
    "porous scale: dense scale 3 to 6 W/mK less 15 to 35 % for pores (Beygelzimer and Beygelzimer, doi 10.48550/arXiv.2110.11632)",
);

pub(crate) const SCALE_AT_EXIT: Key = key(
    "scale",
    "at_exit_um",
    "um",
    (0.0, 5000.0),
    Follows("grown on the way through a computed heater; a measured exit needs it"),
);
pub(crate) const SCALE_CONDUCTS: Key = key("scale", "w_mk", "W/mK", (0.01, 100.0), POROUS_SCALE);
pub(crate) const SCALE_GROWTH: Key = key(
    "scale",
    "growth",
    "",
    (0.0, 10.0),
    Default(
        1.0,
        "x2 = kp t, kp = 6.1 exp(-169452/RT) cm2/s in air (Paidassi 1958, from memory); kinetics differ by a factor of two",
    ),
);
pub(crate) const SCALE_AFTER_BLOW: Key = key(
    "scale",
    "left_by_first_blow",
    "",
    SHARE,
    Default(0.0, "common practice: the first blow breaks the scale off"),
);
pub(crate) const SCALE_AFTER_WATER: Key = key(
    "scale",
    "left_by_descaling",
    "",
    SHARE,
    Default(0.0, "common practice: water at high pressure takes the scale off"),
);

pub(super) const ALL: &[Key] = &[
    SCALE_AT_EXIT,
    SCALE_CONDUCTS,
    SCALE_GROWTH,
    SCALE_AFTER_BLOW,
    SCALE_AFTER_WATER,
];
