//! Why results could not be written.

use std::io;
use std::path::{Path, PathBuf};

/// Why results could not be written.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum OutputError {
    /// A file name with a folder in it, or none.
    #[error("\"{name}\" is not a plain file name")]
    FileName {
        /// What was given.
        name: String,
    },
    /// The target must not be replaced.
    #[error("{}: {why}; nothing was changed", path.display())]
    Refused {
        /// The target.
        path: PathBuf,
        /// Why not.
        why: &'static str,
    },
    /// The target is a file that this run reads, perhaps by another name.
    #[error("{}: is {}, which this run reads; nothing was changed", path.display(), input.display())]
    Input {
        /// The target.
        path: PathBuf,
        /// The input.
        input: PathBuf,
    },
    /// The operating system refused; older results are untouched.
    #[error("cannot {action} {}: {reason}; nothing was changed", path.display())]
    Write {
        /// What was tried.
        action: &'static str,
        /// Where.
        path: PathBuf,
        /// The system's words.
        reason: String,
    },
    /// The operating system refused in the middle, and then refused to go back.
    #[error("{}: the system refused ({reason}); its files are partly new, the next run that writes there completes them", path.display())]
    Half {
        /// The folder.
        path: PathBuf,
        /// The system's words.
        reason: String,
    },
}

impl OutputError {
    /// Whether the command line is wrong, as against a place where nothing can be written.
    pub fn is_input(&self) -> bool {
        matches!(self, OutputError::FileName { .. } | OutputError::Input { .. })
    }

    pub(super) fn refused(path: &Path, why: &'static str) -> OutputError {
        OutputError::Refused {
            path: path.to_owned(),
            why,
        }
    }
}

/// Makes an error of the system one that says what was tried, and where.
pub(super) fn fault(action: &'static str, path: &Path) -> impl FnOnce(io::Error) -> OutputError {
    move |error| OutputError::Write {
        action,
        path: path.to_owned(),
        reason: error.to_string(),
    }
}
