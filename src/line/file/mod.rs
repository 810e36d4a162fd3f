//! The line file: reading, checking, changing.

mod check;
mod either;
mod keys;
mod metals;
mod problem;
mod raw;
mod read;

pub use problem::{LineFileError, Problem, ProblemKind, Problems, SIZE_LIMIT};

/// A line file in memory.
#[derive(Debug, Clone)]
pub struct Document {}
