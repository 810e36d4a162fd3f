//! What the temperature history did to the metal: scale, decarburisation, grain, cooling rate.
//!
//! Every function takes a history as `&[(time_s, temp_c)]`, the time not decreasing, the temperature
//! linear between the points. The kinetics behind them are uncertain, most by a factor of two;
//! each result says so.

pub mod carbon;
pub mod decarburisation;
mod error;
pub mod grain;
pub mod history;
pub mod part;
pub mod scale;

pub use decarburisation::{Decarburisation, decarburisation};
pub use error::ConditionError;
pub use grain::{GrainEstimate, GrainLaw};
pub use history::{cooling_rate, time_above};
pub use scale::{GrownScale, ScaleLaw, scale};
