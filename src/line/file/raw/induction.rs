//! The tables inside `[heater]` for coils and furnace zones.

use schemars::JsonSchema;
use serde::Deserialize;

use super::At;

/// A stretch of a coil line, or a zone of a furnace.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawZone {
    /// `coil`, `open` (a gap open to the shop) or `tunnel` (lined, without power) in a coil line;
    /// `furnace` in a furnace.
    #[schemars(with = "Option<String>", extend("enum" = ["coil", "open", "tunnel", "furnace"]))]
    pub kind: At<String>,
    /// Name for tables and pictures. Default: the kind with its number.
    #[schemars(with = "Option<String>")]
    pub name: At<String>,
    /// Length along the bar.
    #[schemars(with = "Option<f64>")]
    pub length_mm: At<f64>,
    /// Frequency of this coil, in place of the heater's.
    #[schemars(with = "Option<f64>")]
    pub frequency_hz: At<f64>,
    /// Power at the coil's terminals. Without any of the three the target decides.
    #[schemars(with = "Option<f64>")]
    pub power_kw: At<f64>,
    /// Power into the billets.
    #[schemars(with = "Option<f64>")]
    pub load_kw: At<f64>,
    /// Field strength (RMS) at the billets' surface.
    #[schemars(with = "Option<f64>")]
    pub field_a_m: At<f64>,
    /// Highest power of this coil, in place of the heater's.
    #[schemars(with = "Option<f64>")]
    pub highest_kw: At<f64>,
    /// Inner diameter of this winding, in place of the heater's.
    #[schemars(with = "Option<f64>")]
    pub bore_mm: At<f64>,
    /// Thickness of the lining here, in place of the heater's.
    #[schemars(with = "Option<f64>")]
    pub lining_mm: At<f64>,
    /// Conductivity of the lining here, in place of the heater's.
    #[schemars(with = "Option<f64>")]
    pub lining_w_mk: At<f64>,
    /// Temperature of a furnace zone.
    #[schemars(with = "Option<f64>")]
    pub temperature_c: At<f64>,
    /// Time in a furnace zone.
    #[schemars(with = "Option<f64>")]
    pub seconds: At<f64>,
    /// Time in a furnace zone.
    #[schemars(with = "Option<f64>")]
    pub minutes: At<f64>,
}

/// One step of a static coil's programme.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawStep {
    /// Length of the step.
    #[schemars(with = "Option<f64>")]
    pub seconds: At<f64>,
    /// Power at the coil's terminals; 0 to wait.
    #[schemars(with = "Option<f64>")]
    pub power_kw: At<f64>,
    /// Power into the billets.
    #[schemars(with = "Option<f64>")]
    pub load_kw: At<f64>,
    /// Field strength (RMS) at the billets' surface.
    #[schemars(with = "Option<f64>")]
    pub field_a_m: At<f64>,
}

/// What the coil powers are to reach.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawTarget {
    /// Node that is to reach the temperature.
    #[schemars(with = "Option<String>", extend("enum" = ["mean", "surface", "core"]))]
    pub node: At<String>,
    /// The temperature.
    #[schemars(with = "Option<f64>")]
    pub temperature_c: At<f64>,
    /// When it counts: this long after the exit, in still air (0: at the exit).
    #[schemars(with = "Option<f64>")]
    pub after_s: At<f64>,
    /// Largest difference between surface and core at that moment.
    #[schemars(with = "Option<f64>")]
    pub difference_k: At<f64>,
    /// Never to be exceeded anywhere inside.
    #[schemars(with = "Option<f64>")]
    pub never_above_c: At<f64>,
    /// What is to be small besides: `energy`, or `scaling` (time above 900 degC).
    #[schemars(with = "Option<String>", extend("enum" = ["energy", "scaling"]))]
    pub least: At<String>,
    /// How far below the target a billet is still good at the exit gate.
    #[schemars(with = "Option<f64>")]
    pub accept_below_k: At<f64>,
    /// How far above the target a billet is still good at the exit gate.
    #[schemars(with = "Option<f64>")]
    pub accept_above_k: At<f64>,
}
