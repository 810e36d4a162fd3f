//! What is judged: the stages of a run and the temperatures at their moments.

use serde::Serialize;

use super::{Kind, Moment};

/// A stage with its place on the time axis. Time zero is the heater exit; heating has negative time.
#[derive(Debug, Clone, Serialize)]
pub struct StageSpan {
    /// Name from the line file (or the kind where none is given).
    pub name: String,
    /// Kind.
    pub kind: Kind,
    /// Start in s after heater exit.
    pub start_s: f64,
    /// End in s after heater exit.
    pub end_s: f64,
}

/// Node temperatures at a moment of a stage.
#[derive(Debug, Clone, Serialize)]
pub struct Reading {
    /// Index of the stage, 0 for the heater.
    pub stage: usize,
    /// `Start`, `End`, `Exit` or a blow by number.
    #[serde(rename = "label")]
    pub moment: Moment,
    /// Time in s after heater exit.
    pub time_s: f64,
    /// One temperature in degC per node; `None` where the shape of the moment has no such node.
    pub temps_c: Vec<Option<f64>>,
}
