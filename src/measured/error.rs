//! Why measurements cannot be used.

use std::path::PathBuf;

use crate::ask::Failure;
use crate::line::file::LineFileError;

/// What stands in the way of a comparison or a fit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MeasuredError {
    /// A log that cannot be read.
    #[error("{}: {why}", path.display())]
    Log {
        /// The file.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// A column that is not there, or more than once.
    #[error(
        "{}: {} column `{column}`{}; here are {known}", path.display(),
        if *times == 0 { "no" } else { "more than one" },
        near.as_ref().map_or(String::new(), |near| format!(", perhaps `{near}`"))
    )]
    Column {
        /// The file.
        path: PathBuf,
        /// What was asked for.
        column: String,
        /// How often it is there.
        times: usize,
        /// A name like it.
        near: Option<String>,
        /// Names that are there.
        known: String,
    },
    /// The line file says something that cannot be.
    #[error("{0}")]
    Wrong(String),
    /// A fit is refused.
    #[error("the fit is refused: {0}")]
    Refused(String),
    /// The line file is wrong.
    #[error(transparent)]
    File(#[from] LineFileError),
    /// A run failed.
    #[error(transparent)]
    Run(#[from] Failure),
}

impl From<crate::ask::model::ModelError> for MeasuredError {
    fn from(error: crate::ask::model::ModelError) -> Self {
        MeasuredError::Run(error.into())
    }
}

impl MeasuredError {
    /// Exit status of the command: 2 for wrong input, 3 for a failed computation.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self {
            MeasuredError::Run(failure) => failure.exit_code(),
            _ => 2,
        }
    }
}
