//! The shop's own measurements: logs read and joined, what instruments show, comparison with runs, fit of inputs,
//! limits for sorting out, charts of a shift.
//!
//! A *trial* is a set of measurements of the same parts. Each part has its own exit temperature (what a pyrometer at
//! the exit saw of it) and its own times; what the other instruments would show is computed from a run with these.

mod bench;
pub mod calibration;
pub mod charts;
mod clock;
mod compare;
mod equations;
mod error;
mod filling;
mod fit;
mod fitted;
mod gather;
mod given;
mod instrument;
mod join;
mod judging;
pub mod least;
mod own_table;
mod responses;
pub mod risk;
mod setup;
mod sheet;
mod shift;
mod sorting;
mod surface;
mod suspect;
mod tell;
#[cfg(test)]
pub(crate) mod testing;
mod unknown;

pub use bench::Bench;
pub use compare::{Comparison, Deviation, PlaceDeviation, compare};
pub use error::MeasuredError;
pub use fit::{FAR_SD, Fit, autocorrelation, fit};
pub use fitted::{Estimate, Outlier, PlaceResidual, Stretch, Told};
pub use gather::{BadRow, Datum, Join, JoinedBy, PartLog, Trial, gather};
pub use given::{At, Given, Measurement, Readings, Unit, Wanted, What};
pub use instrument::{Instrument, Principle};
pub use join::{Offset, find_offset, pairs};
pub use judging::{Judging, ShiftPart, State};
pub use responses::{Place, Responses};
pub use setup::{Part, Setup, Slot};
pub use sheet::{Reading, Sheet};
pub use shift::{Cause, Drift, Series, SeriesKind, Shift, shift};
pub use sorting::{Choice, Gate, SortOptions, Sorting, sort};
pub use tell::{Direction, Further, Held};
pub use unknown::{Of, Unknown, unknowns};
