//! A stretch of time with one way of running.

use serde::Serialize;

use crate::heater::coil::Drive;

/// A stretch of time with one way of running.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Phase {
    /// How long, s.
    pub seconds: f64,
    /// Time between billets, s; `None` while the column stands still.
    pub takt_s: Option<f64>,
    /// One drive per coil.
    pub drives: Vec<Drive>,
    /// What comes in each takt.
    pub feed: Feed,
}

/// What comes into the heater each takt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Feed {
    /// Nothing: the column runs empty.
    Nothing,
    /// Billets of the order of this number: 0 for that of the line, from 1 on those of [`Column::expect`].
    Order(usize),
}

impl Feed {
    /// Billets of the line's own order.
    pub const USUAL: Feed = Feed::Order(0);
}
