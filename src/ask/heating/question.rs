//! What is asked of a row of coils.

use std::sync::Arc;

use crate::heater::energy::StopWay;
use crate::line::plan::Plan;

/// What is asked of a row of coils.
#[derive(Debug, Clone)]
pub struct CoilQuestion {
    /// Search the powers even where the file gives them.
    pub search: bool,
    /// A cold start: the heater full of cold billets, full power from the first takt.
    pub start_up: bool,
    /// An empty heater that fills.
    pub start_empty: bool,
    /// No more billets; the heater is emptied.
    pub run_out: bool,
    /// Lengths of the stops, s.
    pub stops_s: Vec<f64>,
    /// What the heater does in each stop.
    pub ways: Vec<StopWay>,
    /// Time between billets while the heater runs on, s; twice the takt when not given.
    pub run_on_takt_s: Option<f64>,
    /// Power while it runs on over the running one; in proportion to the throughput when not given.
    pub run_on_share: Option<f64>,
    /// Time over which start-up and stops are spread in the energy of good billets, s.
    pub shift_s: f64,
    /// A change of pace to this takt, s.
    pub takt_s: Option<f64>,
    /// The order that follows in the running heater: a line with the same heater.
    pub next: Option<Arc<Plan>>,
    /// Temperature of one warm billet among the others, degC.
    pub warm_c: Option<f64>,
}
