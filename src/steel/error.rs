//! Why a steel could not be had.

use crate::text::{FileError, Problems};

/// Why a steel could not be had.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SteelError {
    /// The file cannot be read as text.
    #[error(transparent)]
    File(#[from] FileError),
    /// The text is not a valid steel. All problems that were found, in the order of the text.
    #[error("{0}")]
    Wrong(Box<Problems>),
    /// The library has no such grade.
    #[error("no steel is called `{name}`{}", near.as_ref().map(|n| format!("; did you mean `{n}`?")).unwrap_or_default())]
    UnknownGrade {
        /// The name asked for.
        name: String,
        /// The grade with the most similar name.
        near: Option<String>,
        /// All grade names.
        known: Vec<String>,
    },
}
