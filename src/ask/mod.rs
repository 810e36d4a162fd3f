//! Working backwards from limits: delays, moves, exit bands, probability.
//!
//! The lower half is plain mathematics and knows nothing of forging: [`random`] streams and
//! samples, [`distribution`]s, [`statistics`], [`rare`] events, [`kinematics`],
//! [`schedule`]s and [`shards`]. The upper half asks questions of a `Model`: something
//! that runs with some of its inputs changed and says how each limit fared.

pub mod answer;
pub mod band;
pub mod band_by_core;
pub mod certainty;
pub mod compare;
pub mod contact_spread;
mod curve;
pub mod decide;
pub mod distribution;
pub mod enquiry;
mod error;
pub mod estimate;
pub mod explore;
mod failure;
pub mod family;
pub mod hand_overs;
pub mod heating;
pub mod kinematics;
pub mod line_model;
pub mod margins;
pub mod model;
pub mod moves;
pub mod pocket;
pub mod random;
pub mod rare;
pub mod reheat;
pub mod respond;
pub mod risk;
pub mod scatter;
pub mod schedule;
pub mod sensitivity;
pub mod shards;
pub mod statistics;
pub mod stoppage;
pub mod study;
#[cfg(test)]
pub(crate) mod testing;
pub mod times;
pub mod uncertainty;

// The searches along one variable call it by this name.
pub use crate::numeric::root::SearchError;
pub use error::PlanError;
pub use failure::Failure;
