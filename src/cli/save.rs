//! Where a command writes its files: checked before anything is computed, written as a whole.

use std::path::{Path, PathBuf};

use super::exit::Exit;
use super::{Global, interrupt, message};
use crate::output::{OutFile, OutputError, refuse_inputs, refuse_target, write_file, write_set};

/// A folder for a set of files.
pub(super) struct Folder<'c> {
    path: &'c Path,
    inputs: Vec<PathBuf>,
    quiet: bool,
}

/// The folder of `--out`, if one was given; `inputs` are the files that the run reads.
pub(super) fn folder<'c>(
    path: Option<&'c Path>,
    inputs: Vec<PathBuf>,
    global: &Global,
) -> Result<Option<Folder<'c>>, Exit> {
    let Some(path) = path else { return Ok(None) };
    if path == Path::new("-") {
        message::error_line(
            "-: several files cannot go to standard output; name a folder, or use --json or --format csv",
        );
        return Err(Exit::WrongInput);
    }
    if path.exists() && !path.is_dir() {
        message::error_line(&format!("{}: is not a folder; nothing was changed", path.display()));
        return Err(Exit::Failed);
    }
    Ok(Some(Folder {
        path,
        inputs,
        quiet: global.quiet,
    }))
}

impl Folder<'_> {
    /// Writes a set of files and says so.
    pub fn write(&self, files: &[OutFile]) -> Result<(), Exit> {
        let targets: Vec<PathBuf> = files.iter().map(|file| self.path.join(&file.name)).collect();
        let written = refuse_inputs(targets.iter().map(PathBuf::as_path), &self.inputs).and_then(|()| {
            let name = self.path.display().to_string();
            interrupt::whole(&name, || write_set(self.path, files))
        });
        let paths = written.map_err(|error| unwritten(&error))?;
        if !self.quiet {
            message::remark(&format!("wrote {} files to {}", paths.len(), self.path.display()));
        }
        Ok(())
    }
}

/// Refuses a file that must not be written, before anything is computed for it; `-` is standard output.
pub(super) fn check_file(path: &Path, inputs: &[PathBuf]) -> Result<(), Exit> {
    if path == Path::new("-") {
        return Ok(());
    }
    refuse_inputs([path], inputs)
        .and_then(|()| refuse_target(path))
        .map_err(|error| unwritten(&error))
}

/// Refuses two targets that are one file.
pub(super) fn apart(targets: &[&Path]) -> Result<(), Exit> {
    let place = |path: &Path| -> PathBuf {
        let folder = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty())
            .unwrap_or(Path::new("."));
        let folder = folder.canonicalize().unwrap_or_else(|_| folder.to_owned());
        let whole = folder.join(path.file_name().unwrap_or_default());
        whole.canonicalize().unwrap_or(whole)
    };
    for (k, one) in targets.iter().enumerate() {
        if targets[..k].iter().any(|other| place(other) == place(one)) {
            message::error_line(&format!("{}: two results cannot go to one file", one.display()));
            return Err(Exit::WrongInput);
        }
    }
    Ok(())
}

/// Writes one file.
pub(super) fn file(path: &Path, content: &[u8], inputs: &[PathBuf]) -> Result<(), Exit> {
    refuse_inputs([path], inputs)
        .and_then(|()| interrupt::whole(&path.display().to_string(), || write_file(path, content)))
        .map_err(|error| unwritten(&error))
}

fn unwritten(error: &OutputError) -> Exit {
    message::error_line(&error.to_string());
    match error.is_input() {
        true => Exit::WrongInput,
        false => Exit::Failed,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_results_cannot_go_to_one_file() {
        let folder = tempfile::tempdir().unwrap();
        let (one, same) = (folder.path().join("a.csv"), folder.path().join(".").join("a.csv"));
        assert!(apart(&[&one, &same]).is_err());
        assert!(apart(&[&one, &folder.path().join("b.csv")]).is_ok());
    }
}
