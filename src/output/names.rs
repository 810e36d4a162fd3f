//! Names that the writer gives and takes.

use std::path::{Path, PathBuf};

/// Start of the name of a hidden folder.
pub(super) const PREFIX: &str = ".billet-";
/// End of the name of a hidden folder.
pub(super) const SUFFIX: &str = ".part";
/// Name of the journal in the hidden folder.
pub(super) const JOURNAL: &str = "journal";

/// Whether a text is the plain name of a file.
pub(super) fn is_plain(name: &str) -> bool {
    Path::new(name).file_name().is_some_and(|n| n == name)
}

/// The folder that a path is in.
pub(super) fn parent_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => PathBuf::from("."),
    }
}
