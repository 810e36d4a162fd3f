//! From a set of files to the way in which they are put in place.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::OutFile;
use super::error::{OutputError, fault};
use super::layer::{Kind, Layer, Lock};
use super::names::{is_plain, parent_of};
use super::target::how;
use super::{journal, leftovers, swap};

/// Longest wait for another run that writes at the same place.
const PATIENCE: Duration = Duration::from_secs(20);

/// Writes one file.
pub(super) fn file(layer: &dyn Layer, path: &Path, content: &[u8]) -> Result<(), OutputError> {
    let name = path.file_name().and_then(|name| name.to_str());
    // `file_name` passes over a separator or a dot at the end, which mean a folder.
    let Some(name) = name.filter(|name| path.to_string_lossy().ends_with(*name)) else {
        return Err(OutputError::FileName {
            name: path.display().to_string(),
        });
    };
    let file = OutFile {
        name: name.to_owned(),
        content: content.to_vec(),
    };
    let folder = parent_of(path);
    with_folders(layer, &folder, || {
        let folder = layer.real(&folder).map_err(fault("find the folder", &folder))?;
        let _lock = lock(layer, &folder)?;
        leftovers::clear(layer, &folder);
        let how = how(layer, &folder.join(&file.name))?;
        journal::put(layer, &folder, std::slice::from_ref(&file), &[how])
    })
}

/// Writes a set of files into a folder.
pub(super) fn set(layer: &dyn Layer, folder: &Path, files: &[OutFile]) -> Result<Vec<PathBuf>, OutputError> {
    if let Some(file) = files.iter().find(|file| !is_plain(&file.name)) {
        return Err(OutputError::FileName {
            name: file.name.clone(),
        });
    }
    if !made(layer, folder, files)? {
        replace(layer, folder, files)?;
    }
    Ok(files.iter().map(|file| folder.join(&file.name)).collect())
}

/// Makes the folder with the files in it, if it is not there; tells whether it did.
fn made(layer: &dyn Layer, folder: &Path, files: &[OutFile]) -> Result<bool, OutputError> {
    if !is_missing(layer, folder)? {
        return Ok(false);
    }
    let parent = parent_of(folder);
    with_folders(layer, &parent, || {
        let _lock = lock(layer, &parent)?;
        leftovers::clear(layer, &parent);
        // Another run may have made it while this one waited.
        let still = is_missing(layer, folder)?;
        if still {
            swap::make(layer, folder, files)?;
        }
        Ok(still)
    })
}

fn is_missing(layer: &dyn Layer, path: &Path) -> Result<bool, OutputError> {
    let look = layer.look(path).map_err(fault("look at", path))?;
    Ok(look.kind == Kind::Missing)
}

/// Does something in a folder, which is made with those above it where they are missing; they go again if it fails.
fn with_folders<T>(
    layer: &dyn Layer,
    folder: &Path,
    act: impl FnOnce() -> Result<T, OutputError>,
) -> Result<T, OutputError> {
    let mut missing = Vec::new();
    let mut above = folder.to_owned();
    while is_missing(layer, &above)? {
        missing.push(above.clone());
        above = parent_of(&above);
    }
    let make = || {
        let fault = |path| fault("make the folder", path);
        missing
            .iter()
            .rev()
            .try_for_each(|path| layer.make_folder(path).map_err(fault(path)))
    };
    let result = make().and_then(|()| act());
    if result.is_err() {
        // Only what is empty goes, so nothing of others does; the last may not have been made.
        missing
            .iter()
            .skip_while(|path| is_missing(layer, path).unwrap_or(true))
            .take_while(|path| layer.remove_empty(path).is_ok())
            .for_each(drop);
    }
    result
}

/// Puts the files into a folder that is there.
fn replace(layer: &dyn Layer, folder: &Path, files: &[OutFile]) -> Result<(), OutputError> {
    let real = layer.real(folder).map_err(fault("find the folder", folder))?;
    if layer.look(&real).map_err(fault("look at", folder))?.kind != Kind::Folder {
        return Err(OutputError::refused(folder, "is not a folder"));
    }
    let parent = real.parent().unwrap_or(&real);
    let _above = lock(layer, parent)?;
    let _lock = (parent != real).then(|| lock(layer, &real)).transpose()?;
    leftovers::clear(layer, parent);
    leftovers::clear(layer, &real);
    let hows = files
        .iter()
        .map(|file| how(layer, &real.join(&file.name)))
        .collect::<Result<Vec<_>, _>>()?;
    if !swap::exchange(layer, &real, files, &hows)? {
        journal::put(layer, &real, files, &hows)?;
    }
    Ok(())
}

/// Keeps other runs from writing in a folder; waits for one that is at it.
fn lock(layer: &dyn Layer, folder: &Path) -> Result<Option<Lock>, OutputError> {
    let begin = Instant::now();
    loop {
        match layer.lock(folder) {
            Ok(Some(lock)) => return Ok(Some(lock)),
            // A folder that may be written to but not read: runs there are not kept apart.
            Err(_) => return Ok(None),
            Ok(None) if begin.elapsed() > PATIENCE => {
                return Err(OutputError::Write {
                    action: "write in",
                    path: folder.to_owned(),
                    reason: "another run has been writing there for 20 s".to_owned(),
                });
            }
            Ok(None) => std::thread::sleep(Duration::from_millis(10)),
        }
    }
}
