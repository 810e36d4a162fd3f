//! Probabilities too small to count: importance sampling and subset simulation.
//!
//! Both work in independent standard normal coordinates; a margin below zero is the event. Use
//! [`importance`] when one limit with a nearly plane border decides, [`subset`] when several limits
//! or a bent border do.

mod event;
mod importance;
mod subset;

pub use event::{RareError, RareEvent};
pub use importance::{ImportanceOptions, importance};
pub use subset::{SubsetOptions, subset};
