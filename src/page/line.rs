//! The line file that a server has: as it was read, and how it is written back.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use sha2::{Digest, Sha256};

use super::kept::Kept;
use crate::ask::Failure;
use crate::ask::enquiry::{Enquiry, Judged};
use crate::ask::hand_overs::HandOverTimes;
use crate::ask::model::Outcome;
use crate::line::Trace;
use crate::line::file::{Document, LineFileError};
use crate::line::plan::{Plan, Resolution};
use crate::line::run::{Budget, RunOptions, run_with};
use crate::output::OutputError;
use crate::text::load_bytes;

/// Numbers changed on the page, by path.
pub(super) type Changes = Vec<(String, f64)>;

/// The file of a server.
pub struct Line {
    path: PathBuf,
    budget: Budget,
    write: fn(&Path, &[u8]) -> Result<(), OutputError>,
    now: Mutex<Arc<Loaded>>,
}

/// The file as it was read or last saved.
pub(super) struct Loaded {
    /// The document.
    pub document: Document,
    /// Digest of the bytes on disk.
    digest: [u8; 32],
    /// Lines with changes that were looked at last.
    settled: Kept<Arc<Settled>>,
    quick: Kept<Arc<(Plan, Trace)>>,
}

/// A line with changes at its own resolution: what is asked of it, its planned run, and the times of its hand-overs.
pub(super) struct Settled {
    pub enquiry: Enquiry,
    pub trace: Trace,
    pub times: Vec<HandOverTimes>,
}

impl Settled {
    fn of(document: Document) -> Result<Settled, Failure> {
        let enquiry = Enquiry::new(document, None)?;
        let mut settled = Settled {
            trace: enquiry.trace()?,
            enquiry,
            times: Vec::new(),
        };
        if !settled.trace.verdicts.is_empty() {
            settled.times = settled.judged()?.times()?;
        }
        Ok(settled)
    }

    /// The planned run judged.
    ///
    /// # Errors
    /// As [`Enquiry::judged_as`].
    pub fn judged(&self) -> Result<Judged<'_>, Failure> {
        self.enquiry.judged_as(Outcome {
            verdicts: self.trace.verdicts.clone(),
            stages: self.trace.stages.clone(),
        })
    }
}

/// Why a file was not saved.
#[derive(Debug, thiserror::Error)]
pub(super) enum SaveError {
    /// Somebody else wrote it.
    #[error("the file was changed on disk since it was read; nothing was written")]
    ChangedOnDisk,
    /// The changes do not make a valid file.
    #[error(transparent)]
    File(#[from] LineFileError),
    /// The file cannot be written.
    #[error(transparent)]
    Output(#[from] OutputError),
}

impl Line {
    /// Reads the file.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn load(
        path: &Path,
        budget: Budget,
        write: fn(&Path, &[u8]) -> Result<(), OutputError>,
    ) -> Result<Line, LineFileError> {
        Ok(Line {
            path: path.to_owned(),
            budget,
            write,
            now: Mutex::new(Arc::new(read(path, budget)?)),
        })
    }

    /// The file as it was read.
    pub(super) fn loaded(&self) -> Arc<Loaded> {
        self.now.lock().unwrap_or_else(|poisoned| poisoned.into_inner()).clone()
    }

    /// Reads the file anew.
    ///
    /// # Errors
    /// What is wrong with it; the server goes on with what it had.
    pub(super) fn reload(&self) -> Result<(), LineFileError> {
        let new = Arc::new(read(&self.path, self.budget)?);
        *self.now.lock().unwrap_or_else(|poisoned| poisoned.into_inner()) = new;
        Ok(())
    }

    /// Writes the file with the changes, unless another has written it since it was read.
    ///
    /// # Errors
    /// [`SaveError`]; the file on disk is then as it was.
    pub(super) fn save(&self, changes: &Changes) -> Result<(), SaveError> {
        let mut now = self.now.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        let bytes = load_bytes(&self.path).map_err(LineFileError::from)?;
        if digest(&bytes) != now.digest {
            return Err(SaveError::ChangedOnDisk);
        }
        let document = now.with(changes)?;
        (self.write)(&self.path, document.text().as_bytes())?;
        *now = Arc::new(Loaded {
            digest: digest(document.text().as_bytes()),
            document,
            settled: Kept::default(),
            quick: Kept::default(),
        });
        Ok(())
    }

    /// Name of the file without its folder.
    pub(super) fn name(&self) -> String {
        self.path
            .file_name()
            .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
    }
}

fn read(path: &Path, budget: Budget) -> Result<Loaded, LineFileError> {
    let bytes = load_bytes(path)?;
    Ok(Loaded {
        digest: digest(&bytes),
        document: Document::from_bytes(bytes, path, budget)?,
        settled: Kept::default(),
        quick: Kept::default(),
    })
}

fn digest(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

impl Loaded {
    /// The document with changes.
    ///
    /// # Errors
    /// What would be wrong with it.
    pub(super) fn with(&self, changes: &Changes) -> Result<Document, LineFileError> {
        let mut document = self.document.clone();
        if !changes.is_empty() {
            let values: Vec<(&str, f64)> = changes.iter().map(|(path, value)| (path.as_str(), *value)).collect();
            document.set_all(&values)?;
        }
        Ok(document)
    }

    /// The line with these changes at its own resolution.
    ///
    /// # Errors
    /// What would be wrong with it; a run that fails.
    pub(super) fn settled(&self, changes: &Changes) -> Result<Arc<Settled>, Failure> {
        self.settled.get_or(changes, || {
            let document = self.with(changes).map_err(Failure::File)?;
            Ok(Arc::new(Settled::of(document)?))
        })
    }

    /// A quick run of the line with these changes, and its plan.
    ///
    /// # Errors
    /// As [`Loaded::settled`].
    pub(super) fn quick(&self, changes: &Changes) -> Result<Arc<(Plan, Trace)>, Failure> {
        self.quick
            .get_or(changes, || Ok(Arc::new(quick(&self.document, changes)?)))
    }
}

/// A quick run of the plan with changes.
fn quick(document: &Document, changes: &Changes) -> Result<(Plan, Trace), Failure> {
    let values: Vec<(&str, f64)> = changes.iter().map(|(path, value)| (path.as_str(), *value)).collect();
    let plan = document.with(&values).map_err(Failure::File)?;
    let options = RunOptions {
        resolution: Some(Resolution::Quick),
        ..RunOptions::default()
    };
    let trace = run_with(&plan, &options, document.heater_cache())?;
    Ok((plan, trace))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// For what must not be written.
    fn refuses(_: &Path, _: &[u8]) -> Result<(), OutputError> {
        panic!("written")
    }

    #[cfg(unix)]
    #[test]
    fn what_has_no_end_is_read_to_the_limit() {
        let error = Line::load(Path::new("/dev/zero"), Budget::default(), refuses)
            .err()
            .unwrap();
        assert!(error.to_string().contains("too large"), "{error}");
    }

    #[test]
    fn a_file_that_cannot_be_read_is_not_written() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("pin.toml");
        let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/pin.toml");
        std::fs::copy(example, &file).unwrap();
        let line = Line::load(&file, Budget::default(), refuses).unwrap();
        std::fs::remove_file(&file).unwrap();
        let change = vec![("heater.surface_c".to_owned(), 1201.0)];
        let error = line.save(&change).unwrap_err();
        assert!(
            matches!(error, SaveError::File(_)) && error.to_string().contains("cannot be read"),
            "{error}"
        );
        assert!(line.reload().is_err());
    }
}
