//! What a stage of cooling has inside: conveyor, heap, fan.

use schemars::JsonSchema;
use serde::Deserialize;

use super::At;

/// Neighbours on a conveyor: equal parts, equally hot, that hide the hall from each other.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawConveyor {
    /// Clear gap from a part to the next along the belt.
    #[schemars(with = "Option<f64>")]
    pub spacing_mm: At<f64>,
    /// Rows of parts side by side across the belt.
    #[schemars(with = "Option<i64>")]
    pub rows: At<i64>,
    /// Clear gap from row to row.
    #[schemars(with = "Option<f64>")]
    pub row_spacing_mm: At<f64>,
    /// The row of the part that is followed, from 1 at the edge of the belt.
    #[schemars(with = "Option<i64>")]
    pub row: At<i64>,
    /// `standing` with the bar axis upright, or `lying` with the bar axis across the belt.
    #[schemars(with = "Option<String>", extend("enum" = ["standing", "lying"]))]
    pub pose: At<String>,
    /// Temperature of the belt, which faces that look down see.
    #[schemars(with = "Option<f64>")]
    pub belt_c: At<f64>,
    /// View factor of the side past the neighbours, in place of the computed one.
    #[schemars(with = "Option<f64>")]
    pub side_view: At<f64>,
    /// View factor of the end faces of a lying part past the neighbours, in place of the computed one.
    #[schemars(with = "Option<f64>")]
    pub end_view: At<f64>,
}

/// A basket or heap of equal parts, all alike: what leaves it leaves its outside.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawPile {
    /// Parts in the basket or heap.
    #[schemars(with = "Option<i64>")]
    pub parts: At<i64>,
    /// Share of the volume of the heap that is metal.
    #[schemars(with = "Option<f64>")]
    pub fill: At<f64>,
    /// Length of the basket inside. Without a basket the parts lie on the floor as a cone.
    #[schemars(with = "Option<f64>")]
    pub basket_length_mm: At<f64>,
    /// Width of the basket inside.
    #[schemars(with = "Option<f64>")]
    pub basket_width_mm: At<f64>,
    /// Slope of a heap on the floor.
    #[schemars(with = "Option<f64>")]
    pub slope_deg: At<f64>,
    /// Outside of the heap over the surface of all its parts, in place of the computed one.
    #[schemars(with = "Option<f64>")]
    pub exposed_share: At<f64>,
}

/// Forced air during a part of the stage.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawFan {
    /// Speed of the air past the part while the fan blows.
    #[schemars(with = "Option<f64>")]
    pub air_speed_m_s: At<f64>,
    /// Film coefficient while the fan blows, in place of the speed and its correlations.
    #[schemars(with = "Option<f64>")]
    pub film_w_m2k: At<f64>,
    /// When it starts, after the start of the stage.
    #[schemars(with = "Option<f64>")]
    pub from_s: At<f64>,
    /// When it stops, after the start of the stage. Default: at its end.
    #[schemars(with = "Option<f64>")]
    pub until_s: At<f64>,
}
