//! The line file: reading, checking, changing.
//!
//! Text becomes typed tables (`tables`, where every key is declared), which are checked into a
//! [`Plan`](crate::line::Plan) (`check`). Every problem has its place in the text. A [`Document`] keeps text and plan
//! together and is the way to change a number.

mod calibration;
mod check;
mod document;
mod edit;
mod error;
mod metals;
mod schema;
pub(crate) mod tables;

pub use crate::text::{FileError, Problem, ProblemKind, Problems, SIZE_LIMIT};
pub(crate) use calibration::INSTRUMENT;
pub use check::VOLUME_TOLERANCE_PERCENT;
pub use document::Document;
pub(crate) use document::{read_study, read_tables};
pub use error::LineFileError;
pub use schema::{key_reference, schema};
