//! Time of a move: travel from distance, speed, acceleration and jerk; then settling, grip,
//! release, waiting for signals and retries.

mod elements;
mod travel;

pub use elements::{MoveElements, MoveTiming, SignalWait};
pub use travel::{TravelLimits, acceleration_for, travel_time};
