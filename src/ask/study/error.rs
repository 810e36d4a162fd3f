//! What can be wrong with the `[study]` tables.

use std::path::PathBuf;

use crate::ask::PlanError;
use crate::ask::model::ModelError;

/// What is wrong with a `[study]` table.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}:{line}: {problem}", path.display())]
pub struct StudyError {
    /// The line file.
    pub path: PathBuf,
    /// Line from 1.
    pub line: usize,
    /// What is wrong.
    pub problem: StudyProblem,
}

/// The kinds of problems of a study.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StudyProblem {
    /// Not valid TOML, an unknown key or a wrong type.
    #[error("{0}")]
    Text(String),
    /// A key that this kind of distribution needs.
    #[error("`{key}` is missing (needed for kind = \"{kind}\")")]
    Missing {
        /// The key.
        key: &'static str,
        /// The kind of distribution.
        kind: String,
    },
    /// A key that this kind of distribution does not have.
    #[error("`{key}` has no meaning for kind = \"{kind}\"")]
    Unused {
        /// The key.
        key: &'static str,
        /// The kind of distribution.
        kind: String,
    },
    /// A word that is not one of the allowed ones.
    #[error("{what} `{word}` is not known; there are: {known}")]
    Word {
        /// What the word is.
        what: &'static str,
        /// The word.
        word: String,
        /// The allowed ones.
        known: String,
    },
    /// An input scattered twice.
    #[error("`{0}` is scattered twice")]
    Twice(String),
    /// A path that names no number.
    #[error(transparent)]
    Input(#[from] ModelError),
    /// A wrong number.
    #[error(transparent)]
    Number(#[from] PlanError),
}
