//! A billet as it is told.

use serde::Serialize;

/// A billet in the column or one that has left it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Gone {
    /// Number: billets in the heater at the start count from 1 at the hot end.
    pub number: usize,
    /// Number of the order that it belongs to.
    pub order: usize,
    /// Place of its middle at the start of the study, in billets from the cold end; `None` for one
    /// that came in later.
    pub position: Option<usize>,
    /// Time at which it left (or now), s.
    pub time_s: f64,
    /// Time it spent in the heater, s.
    pub inside_s: f64,
    /// Surface at mid-length, degC.
    pub surface_c: f64,
    /// Core at mid-length, degC.
    pub core_c: f64,
    /// Temperature of the mean enthalpy, degC.
    pub mean_c: f64,
    /// Highest anywhere in the billet, degC.
    pub hottest_c: f64,
    /// Highest anywhere in the billet at any time, degC.
    pub peak_c: f64,
    /// When that was, s.
    pub peak_s: f64,
    /// Time with a surface above 900 degC, s.
    pub scaling_s: f64,
    /// Heat that each coil put into it in each phase, J: phase by phase, coil by coil.
    #[serde(skip)]
    pub received_j: Vec<f64>,
}
