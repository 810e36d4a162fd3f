//! Writing a set of result files: all of them, or none.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use super::ReportError;

/// One file to write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutFile {
    /// Plain file name inside the folder.
    pub name: String,
    /// Content.
    pub content: Vec<u8>,
}

impl OutFile {
    /// A file with text.
    pub fn text(name: impl Into<String>, content: impl Into<String>) -> Self {
        OutFile {
            name: name.into(),
            content: content.into().into_bytes(),
        }
    }
}

/// Writes all files into a folder, which is made when missing.
///
/// Every file is first written beside its place under a temporary name; only when all have been
/// written are they renamed. If anything fails before that, the temporary files are removed and
/// whatever the folder held stays as it was. If a rename fails, files already replaced are put back.
pub fn write_set(folder: &Path, files: &[OutFile]) -> Result<Vec<PathBuf>, ReportError> {
    for file in files {
        let plain = Path::new(&file.name)
            .file_name()
            .is_some_and(|n| n == file.name.as_str());
        if !plain {
            return Err(ReportError::FileName {
                name: file.name.clone(),
            });
        }
    }
    fs::create_dir_all(folder).map_err(|e| fault("make the folder", folder, &e))?;
    let mut guard = Guard::default();
    for file in files {
        let target = folder.join(&file.name);
        if target.is_dir() {
            return Err(ReportError::Write {
                action: "replace".to_owned(),
                path: target,
                reason: "a folder has this name".to_owned(),
            });
        }
        let temp = hidden(folder, &file.name, "new");
        guard.temps.push(temp.clone());
        put(&temp, &file.content).map_err(|e| fault("write", &temp, &e))?;
    }
    for file in files {
        let target = folder.join(&file.name);
        let temp = hidden(folder, &file.name, "new");
        let saved = hidden(folder, &file.name, "old");
        if target.exists() {
            fs::rename(&target, &saved).map_err(|e| fault("set aside", &target, &e))?;
            guard.replaced.push((target.clone(), Some(saved)));
        } else {
            guard.replaced.push((target.clone(), None));
        }
        fs::rename(&temp, &target).map_err(|e| fault("rename into place", &target, &e))?;
    }
    Ok(guard.keep())
}

/// Writes one file whole or not at all.
pub fn write_file(path: &Path, content: &[u8]) -> Result<(), ReportError> {
    let (Some(name), folder) = (path.file_name(), path.parent()) else {
        return Err(ReportError::FileName {
            name: path.display().to_string(),
        });
    };
    let folder = match folder {
        Some(f) if !f.as_os_str().is_empty() => f,
        _ => Path::new("."),
    };
    let file = OutFile {
        name: name.to_string_lossy().into_owned(),
        content: content.to_vec(),
    };
    write_set(folder, &[file]).map(|_| ())
}

/// Puts everything back unless told to keep it.
#[derive(Default)]
struct Guard {
    temps: Vec<PathBuf>,
    replaced: Vec<(PathBuf, Option<PathBuf>)>,
}

impl Guard {
    fn keep(mut self) -> Vec<PathBuf> {
        self.temps.clear();
        let done = std::mem::take(&mut self.replaced);
        done.into_iter()
            .map(|(target, saved)| {
                if let Some(saved) = saved {
                    // the new file is in place; an old copy left behind harms nobody
                    let _ = fs::remove_file(saved);
                }
                target
            })
            .collect()
    }
}

impl Drop for Guard {
    fn drop(&mut self) {
        for (target, saved) in self.replaced.drain(..) {
            match saved {
                Some(saved) => {
                    let _ = fs::rename(saved, target);
                }
                None => {
                    let _ = fs::remove_file(target);
                }
            }
        }
        for temp in self.temps.drain(..) {
            let _ = fs::remove_file(temp);
        }
    }
}

/// Name of a temporary file in the same folder; the process number keeps two runs apart.
fn hidden(folder: &Path, name: &str, kind: &str) -> PathBuf {
    folder.join(format!(".{name}.{}.{kind}", std::process::id()))
}

fn put(path: &Path, content: &[u8]) -> std::io::Result<()> {
    let mut file = fs::File::create(path)?;
    file.write_all(content)?;
    file.sync_all()
}

fn fault(action: &str, path: &Path, error: &std::io::Error) -> ReportError {
    ReportError::Write {
        action: action.to_owned(),
        path: path.to_owned(),
        reason: error.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_set_replaces_what_was_there() {
        let folder = tempfile::tempdir().unwrap();
        let files = [OutFile::text("a.csv", "1"), OutFile::text("b.csv", "2")];
        write_set(folder.path(), &files).unwrap();
        write_set(
            folder.path(),
            &[OutFile::text("a.csv", "3"), OutFile::text("b.csv", "4")],
        )
        .unwrap();
        assert_eq!(names(folder.path()), ["a.csv", "b.csv"]);
        assert_eq!(fs::read_to_string(folder.path().join("a.csv")).unwrap(), "3");
    }

    #[test]
    fn a_fault_leaves_the_old_files() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.csv"), "old").unwrap();
        fs::create_dir(folder.path().join("b.csv")).unwrap();
        let files = [OutFile::text("a.csv", "new"), OutFile::text("b.csv", "new")];
        let error = write_set(folder.path(), &files).unwrap_err();
        assert!(error.to_string().contains("b.csv"), "{error}");
        assert_eq!(fs::read_to_string(folder.path().join("a.csv")).unwrap(), "old");
        assert_eq!(names(folder.path()), ["a.csv", "b.csv"]);
    }

    #[test]
    fn paths_that_leave_the_folder_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["../a", "x/y", "", "..", "."] {
            let error = write_set(folder.path(), &[OutFile::text(name, "x")]).unwrap_err();
            assert!(matches!(error, ReportError::FileName { .. }), "{name}");
        }
    }

    #[test]
    fn a_file_in_the_way_of_the_folder_is_said() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        fs::write(&path, "x").unwrap();
        let error = write_set(&path.join("out"), &[OutFile::text("a", "x")]).unwrap_err();
        assert!(matches!(error, ReportError::Write { .. }));
        assert_eq!(fs::read_to_string(&path).unwrap(), "x");
    }
}
