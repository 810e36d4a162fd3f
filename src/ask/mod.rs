//! Working backwards from limits: delays, moves, exit bands, probability.
//!
//! The lower half is plain mathematics and knows nothing of forging: [`random`] streams and
//! samples, [`distribution`]s, [`statistics`], [`rare`] events, [`kinematics`],
//! [`schedule`]s and [`shards`]. The upper half asks questions of a `Model`: something
//! that runs with some of its inputs changed and says how each limit fared.

pub mod band;
pub mod compare;
pub mod contact_spread;
mod curve;
pub mod decide;
pub mod delays;
pub mod distribution;
mod error;
mod failure;
pub mod kinematics;
pub mod line_model;
pub mod model;
pub mod moves;
pub mod random;
pub mod rare;
pub mod respond;
pub mod scatter;
pub mod schedule;
pub mod sensitivity;
pub mod shards;
pub mod statistics;
pub mod stoppage;
pub mod study;
pub mod uncertainty;

// The searches along one variable call it by this name.
use crate::numeric::root;
pub use crate::numeric::root::SearchError;
pub use error::PlanError;
pub use failure::Failure;
