//! What killed runs left: completed where it was begun, and taken away.

use std::path::Path;

use super::layer::{Kind, Layer, Look};
use super::names::{JOURNAL, PREFIX, SUFFIX};
use super::{journal, layer};

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
            let _ = layer.remove_file(&path.join(JOURNAL));
            let _ = layer.remove_folder(&path);
        }
    }
}
