//! Errors of the planner's questions.

use super::PlanError;
use super::model::ModelError;
use super::schedule::ScheduleError;
use super::shards::ShardError;
use crate::line::RunError;
use crate::line::file::LineFileError;
use crate::numeric::root::SearchError;

/// Why a question to the planner has no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Failure {
    /// A number, distribution or correlation is wrong.
    #[error(transparent)]
    Number(#[from] PlanError),
    /// A run was refused or failed.
    #[error(transparent)]
    Run(#[from] ModelError),
    /// A search failed.
    #[error(transparent)]
    Search(#[from] SearchError<ModelError>),
    /// A cycle chart cannot be made.
    #[error(transparent)]
    Schedule(#[from] ScheduleError),
    /// Result files do not fit.
    #[error(transparent)]
    Files(#[from] ShardError),
    /// The line file is wrong.
    #[error(transparent)]
    File(#[from] LineFileError),
    /// The line file says nothing that the question could be about.
    #[error("{0}")]
    NothingToDo(String),
    /// A temperature that no exit gives.
    #[error(
        "{wanted_c} degC is not reachable between {low_c:.0} and {high_c:.0} degC at the exit: they give {:.0} and {:.0} degC there",
        given_c.0, given_c.1
    )]
    NotReachable {
        /// What was wanted, degC.
        wanted_c: f64,
        /// Coldest exit, degC.
        low_c: f64,
        /// Hottest exit, degC.
        high_c: f64,
        /// What they give, degC.
        given_c: (f64, f64),
    },
    /// Moves that the line plans faster than their drives are.
    #[error("faster than the drives: {0}")]
    TooFast(String),
    /// A run of the line itself failed.
    #[error("{0}")]
    Line(String),
    /// Every run of a study failed.
    #[error("all {runs} runs failed; the first with: {first}")]
    AllFailed {
        /// Runs made.
        runs: u64,
        /// What the first said.
        first: String,
    },
}

impl From<RunError> for Failure {
    fn from(error: RunError) -> Self {
        Self::Line(error.to_string())
    }
}

impl Failure {
    /// The nominal run says nothing of the heater exit.
    pub(crate) fn no_exit() -> Failure {
        Failure::NothingToDo(
            "the temperature at heater exit is not known: the nominal run of this line fails".to_owned(),
        )
    }

    /// Exit status of the command: 2 for wrong input, 3 for a failed computation.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Run(ModelError::Failed { .. }) | Self::Line(_) | Self::AllFailed { .. } => 3,
            Self::Search(
                SearchError::Function(ModelError::Failed { .. })
                | SearchError::NotFinite { .. }
                | SearchError::NotConverged { .. },
            ) => 3,
            Self::Number(PlanError::NotConverged { .. } | PlanError::NotFinite { .. }) => 3,
            _ => 2,
        }
    }
}
