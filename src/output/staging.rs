//! The hidden folder in which results wait until all of them are written.

use std::path::{Path, PathBuf};

use super::error::{OutputError, fault};
use super::layer::{Layer, Lock};
use super::names::JOURNAL;

/// A hidden folder; it goes, with all in it, when this does.
pub(super) struct Staging<'l> {
    layer: &'l dyn Layer,
    /// Its path.
    pub path: PathBuf,
    /// Whether it stays for the next run to complete.
    kept: bool,
    /// Says to others that its run is alive.
    _lock: Option<Lock>,
}

impl<'l> Staging<'l> {
    /// Makes one in a folder.
    pub fn new(layer: &'l dyn Layer, parent: &Path) -> Result<Self, OutputError> {
        let path = layer
            .hidden_folder(parent)
            .map_err(fault("make a hidden folder in", parent))?;
        let mut staging = Staging {
            layer,
            path,
            kept: false,
            _lock: None,
        };
        staging._lock = layer
            .lock(&staging.path)
            .map_err(fault("lock the hidden folder in", parent))?;
        Ok(staging)
    }

    /// Leaves it for the next run.
    pub fn keep(&mut self) {
        self.kept = true;
    }
}

impl Drop for Staging<'_> {
    fn drop(&mut self) {
        if !self.kept {
            // The journal first: without it nobody takes the rest for something to complete.
            let _ = self.layer.remove_file(&self.path.join(JOURNAL));
            // What stays is taken away by the next run.
            let _ = self.layer.remove_folder(&self.path);
        }
    }
}
