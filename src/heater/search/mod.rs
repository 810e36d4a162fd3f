//! Set-points: the coil powers that hit a target, and what would help where none do.

mod goal;
mod programme;
mod remedy;
mod solve;
mod within;

pub use goal::{Goal, Least, Miss, Missed};
pub use programme::{Programme, find_programme};
pub use remedy::{Means, Remedy, remedies};
pub use solve::{SetPoints, Status, find_powers, find_powers_between, misses};
pub use within::find_powers_within;
