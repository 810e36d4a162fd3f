//! A whole folder in one step: the new one is made beside the old one, and the two change places.

use std::path::{Path, PathBuf};

use super::OutFile;
use super::error::{OutputError, fault};
use super::layer::{Kind, Layer, Look};
use super::names::parent_of;
use super::staging::Staging;
use super::target::How;

/// Most files of others in a folder that is exchanged; each costs a link.
const MOST_OTHERS: usize = 1000;

/// Makes a folder that is not there, with the files in it.
pub(super) fn make(layer: &dyn Layer, folder: &Path, files: &[OutFile]) -> Result<(), OutputError> {
    let parent = parent_of(folder);
    let staging = Staging::new(layer, &parent)?;
    let new = staging.path.join("set");
    layer.make_folder(&new).map_err(fault("make the folder", folder))?;
    fill(layer, &new, folder, files)?;
    layer.rename(&new, folder).map_err(fault("make the folder", folder))?;
    let _ = layer.sync_folder(&parent);
    Ok(())
}

/// Exchanges a folder for one with the new files, where that can be done without a trace: plain files only, all of
/// them ours to give, nothing mounted on it, and we do not stand in it. Tells whether it did.
pub(super) fn exchange(
    layer: &dyn Layer,
    folder: &Path,
    files: &[OutFile],
    hows: &[Option<How>],
) -> Result<bool, OutputError> {
    let (Some(parent), false) = (folder.parent(), hows.contains(&Some(How::Over))) else {
        return Ok(false);
    };
    let standing = std::env::current_dir().is_ok_and(|here| here.starts_with(folder));
    let Some(others) = (!standing).then(|| others(layer, parent, folder, files)).flatten() else {
        return Ok(false);
    };
    let Ok(staging) = Staging::new(layer, parent) else {
        // Nothing may be made beside it.
        return Ok(false);
    };
    let new = staging.path.join("set");
    layer.make_folder(&new).map_err(fault("make the folder", &new))?;
    fill(layer, &new, folder, files)?;
    let access = files
        .iter()
        .zip(hows)
        .filter(|(_, how)| how.is_some())
        .try_for_each(|(file, _)| layer.copy_access(&folder.join(&file.name), &new.join(&file.name)));
    let linked = access
        .and_then(|()| {
            others
                .iter()
                .try_for_each(|(name, _)| layer.link(&folder.join(name), &new.join(name)))
        })
        .and_then(|()| layer.copy_access(folder, &new))
        .and_then(|()| layer.exchange(&new, folder));
    if linked.is_err() {
        return Ok(false);
    }
    let _ = layer.sync_folder(parent);
    rescue(layer, &new, folder, files, &others);
    Ok(true)
}

/// The files of others in a folder, if there are only plain files.
fn others(layer: &dyn Layer, parent: &Path, folder: &Path, files: &[OutFile]) -> Option<Vec<(PathBuf, Look)>> {
    let (above, here) = (layer.look(parent).ok()?, layer.look(folder).ok()?);
    if above.identity.0 != here.identity.0 || here.read_only {
        return None;
    }
    let names = layer.names(folder).ok()?;
    if names.len() > files.len() + MOST_OTHERS {
        return None;
    }
    let is_new = |name: &std::ffi::OsString| files.iter().any(|file| name == file.name.as_str());
    let mut others = Vec::new();
    for name in names.into_iter().filter(|name| !is_new(name)) {
        let look = layer.look(&folder.join(&name)).ok()?;
        if look.kind != Kind::File {
            return None;
        }
        others.push((PathBuf::from(name), look));
    }
    Some(others)
}

/// Writes the files into a folder that waits to take the place of another.
fn fill(layer: &dyn Layer, waiting: &Path, folder: &Path, files: &[OutFile]) -> Result<(), OutputError> {
    for file in files {
        layer
            .write_new(&waiting.join(&file.name), &file.content)
            .map_err(fault("write", &folder.join(&file.name)))?;
    }
    layer.sync_folder(waiting).map_err(fault("write", folder))
}

/// Brings over what somebody put into the old folder in the moment before the exchange.
fn rescue(layer: &dyn Layer, old: &Path, folder: &Path, files: &[OutFile], others: &[(PathBuf, Look)]) {
    for name in layer.names(old).unwrap_or_default() {
        let ours = files.iter().any(|file| name == file.name.as_str());
        let known = others.iter().find(|(other, _)| other.as_os_str() == name);
        let same =
            known.is_some_and(|(_, was)| layer.look(&old.join(&name)).is_ok_and(|is| is.identity == was.identity));
        if !ours && !same {
            let _ = layer.rename(&old.join(&name), &folder.join(&name));
        }
    }
}
