//! The hidden folder in which results wait until all of them are written, and what killed runs left of theirs.

use std::path::{Path, PathBuf};

use super::error::{OutputError, fault};
use super::layer::{Kind, Layer, Lock, Look};
use super::{journal, layer};

/// Start of the name of a hidden folder.
pub(super) const PREFIX: &str = ".billet-";
/// End of the name of a hidden folder.
pub(super) const SUFFIX: &str = ".part";

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
            let _ = self.layer.remove_file(&self.path.join(journal::NAME));
            // What stays is taken away by the next run.
            let _ = self.layer.remove_folder(&self.path);
        }
    }
}

/// Takes away what killed runs left in a folder, completing what they had begun to put in place. Best effort: what
/// cannot be removed stays, and does no harm.
pub(super) fn clear(layer: &dyn Layer, folder: &Path) {
    let Ok(names) = layer.names(folder) else { return };
    for name in names {
        let text = name.to_string_lossy();
        if !(text.starts_with(PREFIX) && text.ends_with(SUFFIX)) {
            continue;
        }
        let path = folder.join(&name);
        // Only what runs of ours left: a journal of somebody else could make us write where he may not.
        let ours = |look: &Look| look.kind == Kind::Folder && look.owner.0 == layer::user();
        if !layer.look(&path).as_ref().is_ok_and(ours) {
            continue;
        }
        // Locked: its run is alive.
        let Ok(Some(_lock)) = layer.lock(&path) else { continue };
        if journal::complete(layer, &path, folder) {
            let _ = layer.remove_file(&path.join(journal::NAME));
            let _ = layer.remove_folder(&path);
        }
    }
}
