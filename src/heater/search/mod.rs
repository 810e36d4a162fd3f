//! Set-points: the coil powers that hit a target, and what would help where none do.

mod goal;
mod remedy;
mod solve;

pub use goal::{Goal, Least, Miss, Missed};
pub use remedy::{Remedy, remedies};
pub use solve::{SetPoints, Status, find_powers};
