//! Working backwards from limits: delays, moves, exit bands, probability.
//!
//! The lower half is plain mathematics and knows nothing of forging: [`random`] streams and
//! samples, [`distribution`]s, [`statistics`], [`rare`] events, [`root`]s, [`kinematics`],
//! [`schedule`]s and [`shards`]. The upper half asks questions of a `Model`: something
//! that runs with some of its inputs changed and says how each limit fared.

pub mod answer;
pub mod band;
pub mod compare;
pub mod contact_spread;
mod curve;
pub mod decide;
pub mod delays;
pub mod distribution;
mod error;
pub mod estimate;
mod failure;
pub mod heating;
pub mod kinematics;
pub mod line_model;
pub mod model;
pub mod moves;
pub mod pocket;
pub mod random;
pub mod rare;
pub mod respond;
pub mod root;
pub mod scatter;
pub mod schedule;
pub mod sensitivity;
pub mod shards;
mod special;
pub mod statistics;
pub mod stoppage;
pub mod study;
pub mod uncertainty;

pub use error::PlanError;
pub use failure::Failure;
pub use special::{normal_cdf, normal_density, normal_quantile};
