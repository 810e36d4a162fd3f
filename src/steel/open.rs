//! The doors to a steel: from a text or a file of the user's own, or by the rules of the library.

use std::path::Path;

use super::curve::Provenance;
use super::error::{FileProblem, SteelError};
use super::grade::Steel;
use super::read::steel;

/// Most bytes a steel file may have.
pub const LARGEST_FILE: u64 = 1 << 20;

impl Steel {
    /// Reads a steel of the user's own: no sources needed, missing ones become "given".
    ///
    /// `origin` names the file or table in errors.
    pub fn from_toml_str(text: &str, origin: &str) -> Result<Steel, SteelError> {
        steel(text, origin, Provenance::Given)
    }

    /// Reads a steel by the rules of the library: a name, and a source for every value.
    pub fn from_library_str(text: &str, origin: &str) -> Result<Steel, SteelError> {
        steel(text, origin, Provenance::Library)
    }

    /// Reads a steel file of the user's own.
    pub fn from_file(path: &Path) -> Result<Steel, SteelError> {
        let origin = path.display().to_string();
        let fail = |problem| SteelError::Unreadable {
            origin: origin.clone(),
            problem,
        };
        let system = |e: std::io::Error| fail(FileProblem::System(e.to_string()));
        let bytes = std::fs::metadata(path).map_err(system)?.len();
        if bytes > LARGEST_FILE {
            return Err(fail(FileProblem::TooLarge {
                bytes,
                allowed: LARGEST_FILE,
            }));
        }
        let text = String::from_utf8(std::fs::read(path).map_err(system)?).map_err(|e| {
            fail(FileProblem::NotText {
                offset: e.utf8_error().valid_up_to(),
            })
        })?;
        Steel::from_toml_str(&text, &origin)
    }
}
