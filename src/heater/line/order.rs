//! Another order for the running heater.

use super::criteria::Criteria;
use super::layout::HeaterLine;
use crate::heater::bar::Bar;

/// Other billets for the running heater.
#[derive(Debug, Clone, Copy)]
pub struct NextOrder<'a> {
    /// The heater with these billets, at their pace.
    pub line: &'a HeaterLine,
    /// Their bar.
    pub bar: &'a Bar,
    /// When one is good.
    pub criteria: &'a Criteria,
}
