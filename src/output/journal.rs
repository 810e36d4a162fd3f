//! Putting files in place one by one, with a journal of what is meant: a run that fails goes back, and what a killed
//! run had begun is completed by the next.

use std::path::Path;

use super::OutFile;
use super::error::{OutputError, fault};
use super::layer::{Kind, Layer};
use super::names::{JOURNAL, is_plain};
use super::staging::Staging;
use super::target::How;

/// First line of a journal.
const HEAD: &str = "billet journal 1";

/// Name of a new file in the hidden folder.
fn new_name(index: usize) -> String {
    format!("new-{index}")
}

/// Name of what was there before.
fn old_name(index: usize) -> String {
    format!("old-{index}")
}

/// Puts files into a folder that exists; `hows` has how each target is replaced, `None` where it is new.
pub(super) fn put(
    layer: &dyn Layer,
    folder: &Path,
    files: &[OutFile],
    hows: &[Option<How>],
) -> Result<(), OutputError> {
    let mut staging = Staging::new(layer, folder)?;
    let hows = stage(layer, &staging.path, folder, files, hows)?;
    if let ([file], [how]) = (files, hows.as_slice())
        && *how != Some(How::Over)
    {
        // One file takes its name in one step.
        let target = folder.join(&file.name);
        layer
            .rename(&staging.path.join(new_name(0)), &target)
            .map_err(fault("rename into place", &target))?;
        let _ = layer.sync_folder(folder);
        return Ok(());
    }
    save_old(layer, &staging.path, folder, files, &hows)?;
    let text = text(files, &hows);
    let draft = staging.path.join("draft");
    layer
        .write_new(&draft, text.as_bytes())
        .and_then(|()| layer.rename(&draft, &staging.path.join(JOURNAL)))
        .and_then(|()| layer.sync_folder(&staging.path))
        .map_err(fault("write the journal of", folder))?;
    for (done, (file, how)) in files.iter().zip(&hows).enumerate() {
        let target = folder.join(&file.name);
        if let Err(error) = step(layer, &staging.path.join(new_name(done)), &target, *how) {
            if back(layer, &staging.path, folder, &files[..=done], &hows).is_err() {
                staging.keep();
                return Err(OutputError::Half {
                    path: folder.to_owned(),
                    reason: error.to_string(),
                });
            }
            return Err(fault("put in place", &target)(error));
        }
    }
    let _ = layer.sync_folder(folder);
    Ok(())
}

/// Writes the new files into the hidden folder. What cannot be given to the owner of the old one is written over.
fn stage(
    layer: &dyn Layer,
    hidden: &Path,
    folder: &Path,
    files: &[OutFile],
    hows: &[Option<How>],
) -> Result<Vec<Option<How>>, OutputError> {
    let mut found = Vec::with_capacity(files.len());
    for (index, (file, how)) in files.iter().zip(hows).enumerate() {
        let (new, target) = (hidden.join(new_name(index)), folder.join(&file.name));
        layer.write_new(&new, &file.content).map_err(fault("write", &target))?;
        found.push(match how {
            Some(How::Rename) if layer.copy_access(&target, &new).is_err() => Some(How::Over),
            how => *how,
        });
    }
    Ok(found)
}

/// Keeps what is there: one name more for a file that a new one will replace, a copy of one that is written over.
fn save_old(
    layer: &dyn Layer,
    hidden: &Path,
    folder: &Path,
    files: &[OutFile],
    hows: &[Option<How>],
) -> Result<(), OutputError> {
    for (index, (file, how)) in files.iter().zip(hows).enumerate() {
        let (old, target) = (hidden.join(old_name(index)), folder.join(&file.name));
        let copy = || {
            let content = layer.read(&target)?;
            layer.write_new(&old, &content)
        };
        let saved = match how {
            None => Ok(()),
            Some(How::Over) => copy(),
            // Not every file system has hard links.
            Some(How::Rename) => layer.link(&target, &old).or_else(|_| {
                copy()?;
                layer.copy_access(&target, &old)
            }),
        };
        saved.map_err(fault("set aside", &target))?;
    }
    Ok(())
}

fn text(files: &[OutFile], hows: &[Option<How>]) -> String {
    let mut text = format!("{HEAD}\n");
    for (index, (file, how)) in files.iter().zip(hows).enumerate() {
        let word = if *how == Some(How::Over) { "over" } else { "rename" };
        text.push_str(&format!("{word} {index} {}\n", file.name));
    }
    text
}

/// One file into its place.
fn step(layer: &dyn Layer, new: &Path, target: &Path, how: Option<How>) -> std::io::Result<()> {
    match how {
        Some(How::Over) => layer.write_over(target, &layer.read(new)?),
        _ => layer.rename(new, target),
    }
}

/// Everything back to what it was.
fn back(
    layer: &dyn Layer,
    hidden: &Path,
    folder: &Path,
    done: &[OutFile],
    hows: &[Option<How>],
) -> std::io::Result<()> {
    for (index, (file, how)) in done.iter().zip(hows).enumerate() {
        let (old, target) = (hidden.join(old_name(index)), folder.join(&file.name));
        let replaced = layer.look(&hidden.join(new_name(index)))?.kind == Kind::Missing;
        match how {
            Some(How::Over) => layer.write_over(&target, &layer.read(&old)?)?,
            Some(How::Rename) if replaced => layer.rename(&old, &target)?,
            None if replaced => layer.remove_file(&target)?,
            _ => {}
        }
    }
    Ok(())
}

/// Completes what the journal of a killed run says; tells whether nothing of it is left to do.
pub(super) fn complete(layer: &dyn Layer, hidden: &Path, folder: &Path) -> bool {
    let Ok(bytes) = layer.read(&hidden.join(JOURNAL)) else {
        // No journal: its files were never meant to be in place yet.
        return matches!(layer.look(&hidden.join(JOURNAL)), Ok(look) if look.kind == Kind::Missing);
    };
    let text = String::from_utf8_lossy(&bytes);
    let mut lines = text.lines();
    if lines.next() != Some(HEAD) {
        return true;
    }
    lines.all(|line| {
        let mut words = line.splitn(3, ' ');
        let (Some(word), Some(index), Some(name)) = (words.next(), words.next(), words.next()) else {
            return true;
        };
        let (Ok(index), true) = (index.parse(), is_plain(name)) else {
            return true;
        };
        let (new, old) = (hidden.join(new_name(index)), hidden.join(old_name(index)));
        let target = folder.join(name);
        let over = (word == "over").then_some(How::Over);
        match layer.look(&new) {
            // Done before, or no longer to be done: somebody has put something else there.
            Ok(look) if look.kind != Kind::File => true,
            Ok(_) if over.is_none() && !as_it_was(layer, &old, &target) => true,
            Ok(_) if !is_regular_or_none(layer, &target) => true,
            Ok(_) => step(layer, &new, &target, over).is_ok(),
            Err(_) => false,
        }
    })
}

fn is_regular_or_none(layer: &dyn Layer, target: &Path) -> bool {
    layer
        .look(target)
        .is_ok_and(|look| matches!(look.kind, Kind::File | Kind::Missing))
}

/// Whether at a target there still is what was there before.
fn as_it_was(layer: &dyn Layer, old: &Path, target: &Path) -> bool {
    let (Ok(was), Ok(is)) = (layer.look(old), layer.look(target)) else {
        return false;
    };
    match (was.kind, is.kind) {
        (Kind::Missing, kind) => kind == Kind::Missing,
        (Kind::File, Kind::File) if was.identity == is.identity => true,
        (Kind::File, Kind::File) => layer
            .read(old)
            .is_ok_and(|before| layer.read(target).is_ok_and(|now| now == before)),
        _ => false,
    }
}
