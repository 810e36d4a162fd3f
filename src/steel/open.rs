//! The doors to a steel: from a text or a file of the user's own, or by the rules of the library.

use std::path::Path;

use super::curve::Provenance;
use super::error::SteelError;
use super::grade::Steel;
use super::read;

impl Steel {
    /// Reads a steel of the user's own: no sources needed, missing ones become "given".
    ///
    /// `origin` names the file or table in errors.
    pub fn from_toml_str(text: &str, origin: &str) -> Result<Steel, SteelError> {
        read::steel(text, origin, Provenance::Given)
    }

    /// Reads a steel by the rules of the library: a name, and a source for every value.
    pub fn from_library_str(text: &str, origin: &str) -> Result<Steel, SteelError> {
        read::steel(text, origin, Provenance::Library)
    }

    /// Reads a steel file of the user's own.
    pub fn from_file(path: &Path) -> Result<Steel, SteelError> {
        read::file(path)
    }
}
