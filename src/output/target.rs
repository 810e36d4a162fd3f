//! What may be replaced, and what must not.

use std::path::{Path, PathBuf};

use super::error::{OutputError, fault};
use super::layer::{Disk, Kind, Layer};

/// How a target is given its new content.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum How {
    /// A new file takes its name.
    Rename,
    /// It is written over in its place: other names or an owner would be lost otherwise.
    Over,
}

/// Whether a file may be replaced, and how; `None` where there is none yet.
pub(super) fn how(layer: &dyn Layer, target: &Path) -> Result<Option<How>, OutputError> {
    let look = layer.look(target).map_err(fault("look at", target))?;
    match look.kind {
        Kind::Missing => return Ok(None),
        Kind::Folder => return Err(OutputError::refused(target, "a folder has this name")),
        Kind::Link => {
            let why = "is a symbolic link, and only regular files are replaced; name the file that it points to";
            return Err(OutputError::refused(target, why));
        }
        Kind::Other => {
            let why = "is a pipe, socket or device, and only regular files are replaced";
            return Err(OutputError::refused(target, why));
        }
        Kind::File => {}
    }
    if look.read_only {
        return Err(OutputError::refused(target, "is write-protected"));
    }
    layer.try_open(target).map_err(fault("write", target))?;
    Ok(Some(if look.other_names { How::Over } else { How::Rename }))
}

/// Refuses a target that is no regular file or is write-protected, before anything is computed for it.
///
/// # Errors
/// [`OutputError`].
pub fn refuse_target(path: &Path) -> Result<(), OutputError> {
    how(&Disk, path).map(|_| ())
}

/// Whether two paths lead to one file; what is not there is no file. Nothing is opened: a pipe would wait.
fn is_same(one: &Path, other: &Path) -> bool {
    let (Ok(one), Ok(other)) = (Disk.real(one), Disk.real(other)) else {
        return false;
    };
    let identity = |path: &Path| Disk.look(path).map(|look| look.identity).unwrap_or_default();
    one == other || (identity(&one) != (0, 0) && identity(&one) == identity(&other))
}

/// Refuses targets that are inputs of the same run, by whatever name.
///
/// # Errors
/// [`OutputError::Input`].
pub fn refuse_inputs<'p>(targets: impl IntoIterator<Item = &'p Path>, inputs: &[PathBuf]) -> Result<(), OutputError> {
    for target in targets {
        let same = |input: &&PathBuf| is_same(target, input);
        if let Some(input) = inputs.iter().find(same) {
            return Err(OutputError::Input {
                path: target.to_owned(),
                input: input.clone(),
            });
        }
    }
    Ok(())
}
