//! Writing results: a set of files as a whole, or nothing of it.
//!
//! Everything is first written into a hidden folder beside its place, then put there in one step. Where the system can
//! exchange two folders (Linux), a folder of results changes from old to new at one instant, even if the program is
//! killed; elsewhere a journal says what was meant, and the next run that writes there completes it first. Whatever a
//! killed run left is taken away by the next.
//!
//! Only regular files are replaced, with the mode, owner and hard links that they have. Pipes, devices, links, folders
//! and files without permission to write are refused before anything is touched.

mod error;
mod journal;
mod layer;
mod leftovers;
mod names;
mod staging;
mod swap;
mod target;
#[cfg(test)]
mod tests;
mod write;

use std::path::{Path, PathBuf};

pub use error::OutputError;
pub use target::{refuse_inputs, refuse_target};

/// One file to write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutFile {
    /// Plain file name inside the folder.
    pub name: String,
    /// Content.
    pub content: Vec<u8>,
}

impl OutFile {
    /// A file with text.
    pub fn text(name: impl Into<String>, content: impl Into<String>) -> Self {
        OutFile {
            name: name.into(),
            content: content.into().into_bytes(),
        }
    }
}

/// Writes all files into a folder, which is made when missing; gives their paths.
///
/// # Errors
/// A target that must not be replaced, and whatever the system refuses. The folder then holds what it held before.
pub fn write_set(folder: &Path, files: &[OutFile]) -> Result<Vec<PathBuf>, OutputError> {
    write::set(&layer::Disk, folder, files)
}

/// Writes one file whole or not at all.
///
/// # Errors
/// As [`write_set`].
pub fn write_file(path: &Path, content: &[u8]) -> Result<(), OutputError> {
    write::file(&layer::Disk, path, content)
}
