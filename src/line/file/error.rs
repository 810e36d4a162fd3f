//! Why a line file was refused.

use crate::text::{FileError, Problems};

/// Why a line file was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LineFileError {
    /// The file gives no text.
    #[error(transparent)]
    File(#[from] FileError),
    /// The file was read, and this is wrong with it.
    #[error("{0}")]
    Wrong(Box<Problems>),
    /// An input was set by a path that the file does not have.
    #[error("no input `{path}`{}", help(nearest))]
    UnknownPath {
        /// The path.
        path: String,
        /// The closest path that exists.
        nearest: Option<String>,
    },
}

fn help(nearest: &Option<String>) -> String {
    match nearest {
        Some(nearest) => format!("; did you mean `{nearest}`?"),
        None => String::new(),
    }
}
