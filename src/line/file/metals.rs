//! The metals that line files name, each read once.

use std::collections::HashMap;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use super::either::SteelRef;
use crate::line::plan::Metal;
use crate::steel::{Library, Provenance, Steel, SteelError, from_input};

/// What an inline steel is called where a file name would stand.
pub(crate) const INLINE: &str = "inline steel";

/// Most metals kept beside the library's; a search over inline properties makes a new one a step.
const MOST_KEPT: usize = 64;

/// Reads metals and keeps them, so that changing a number of the line does not read them again.
#[derive(Debug, Clone)]
pub(crate) struct Metals {
    /// Folder that paths of steel files are relative to.
    folder: PathBuf,
    /// Steel files by path and inline steels by content; shared by copies of a document.
    kept: Arc<Mutex<HashMap<String, Metal>>>,
}

impl Metals {
    pub fn beside(path: &Path) -> Metals {
        Metals {
            folder: path.parent().unwrap_or(Path::new("")).to_owned(),
            kept: Arc::default(),
        }
    }

    /// The metal of a reference. `text` is the line file and `at` the place of the reference in it.
    pub fn find(&self, reference: &SteelRef, text: &str, at: Range<usize>) -> Result<Metal, SteelError> {
        match reference {
            SteelRef::Named(name) if name.to_lowercase().ends_with(".toml") => {
                let path = self.folder.join(name);
                self.kept(path.display().to_string(), || Steel::from_file(&path))
            }
            SteelRef::Named(name) => Library::builtin()?.find(name),
            SteelRef::Inline(input) => {
                let make = || from_input(input, text, at, INLINE, Provenance::Given);
                match toml::to_string(input) {
                    Ok(content) => self.kept(content, make),
                    Err(_) => make().map(Arc::new),
                }
            }
        }
    }

    fn kept(&self, key: String, make: impl FnOnce() -> Result<Steel, SteelError>) -> Result<Metal, SteelError> {
        // A panic while the lock is held leaves a map that is whole, so a poisoned lock is as good.
        let lock = || self.kept.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        if let Some(metal) = lock().get(&key) {
            return Ok(Arc::clone(metal));
        }
        let metal = Arc::new(make()?);
        let mut kept = lock();
        if kept.len() >= MOST_KEPT {
            kept.clear();
        }
        kept.insert(key, Arc::clone(&metal));
        Ok(metal)
    }
}
