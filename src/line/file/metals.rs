//! The metals that line files name, each read once.

use std::path::{Path, PathBuf};

use super::either::SteelRef;
use crate::line::plan::Metal;

/// Reads metals and keeps them, so that changing a number of the line does not read them again.
#[derive(Debug, Clone)]
pub(crate) struct Metals {
    /// Folder that paths of steel files are relative to.
    folder: PathBuf,
}

impl Metals {
    pub fn beside(path: &Path) -> Metals {
        Metals {
            folder: path.parent().unwrap_or(Path::new("")).to_owned(),
        }
    }

    pub fn find(&self, reference: &SteelRef) -> Result<Metal, String> {
        match reference {
            SteelRef::Named(name) => crate::steel::Library::builtin()
                .and_then(|l| l.find(name))
                .map_err(|e| e.to_string()),
            SteelRef::Inline(_) => Err("todo".to_owned()),
        }
    }
}
