//! The line file: reading, checking, changing.
//!
//! Text becomes raw tables (`raw`), which are checked into a [`Plan`](crate::line::Plan) (`check`).
//! Every problem has its place in the text. A [`Document`] keeps text and plan together and is the
//! way to change a number.

mod check;
mod document;
mod edit;
mod either;
mod follow_on;
mod keys;
mod metals;
mod problem;
mod raw;
mod read;
mod schema;
mod words;

pub use check::VOLUME_TOLERANCE_PERCENT;
pub use document::Document;
pub use problem::{LineFileError, Problem, ProblemKind, Problems, SIZE_LIMIT};
pub use schema::schema;
