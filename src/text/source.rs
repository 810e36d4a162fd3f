//! A text with its lines: from bytes to text, from a byte to line and column.

use std::fs::File;
use std::io::Read;
use std::ops::Range;
use std::path::Path;

use super::problem::{DATA_LIMIT, FileError, Problem, ProblemKind, RESULT_LIMIT, SIZE_LIMIT};

/// A text with the starts of its lines.
#[derive(Debug, Clone)]
pub(crate) struct Source<'t> {
    /// The text.
    pub text: &'t str,
    line_starts: Vec<usize>,
}

impl<'t> Source<'t> {
    /// Finds the lines of a text.
    pub fn new(text: &'t str) -> Source<'t> {
        let mut line_starts = vec![0];
        line_starts.extend(text.match_indices('\n').map(|(at, _)| at + 1));
        Source { text, line_starts }
    }

    /// Line of a byte, from 1.
    pub fn line(&self, byte: usize) -> usize {
        self.line_starts.partition_point(|start| *start <= byte)
    }

    /// A problem with its line and column; the column counts characters.
    pub fn problem(&self, kind: ProblemKind, span: Range<usize>) -> Problem {
        let line = self.line(span.start);
        let start = self.line_starts.get(line - 1).copied().unwrap_or(0);
        let before = self.text.get(start..span.start).unwrap_or("");
        Problem {
            kind,
            span,
            line,
            column: before.chars().count() + 1,
            other: None,
        }
    }
}

/// Reads a file of tables as text, refusing what is too large, empty or no text. `needs` says what it must have.
pub(crate) fn load(path: &Path, needs: &'static str) -> Result<String, FileError> {
    from_bytes(load_bytes(path)?, path, needs)
}

/// Reads a file of tables as it is on disk, refusing what is too large.
pub(crate) fn load_bytes(path: &Path) -> Result<Vec<u8>, FileError> {
    bytes_up_to(SIZE_LIMIT, path)
}

/// Reads a file of data as text.
pub(crate) fn load_data(path: &Path, needs: &'static str) -> Result<String, FileError> {
    from_bytes(bytes_up_to(DATA_LIMIT, path)?, path, needs)
}

/// Reads a file of results as text.
pub(crate) fn load_results(path: &Path, needs: &'static str) -> Result<String, FileError> {
    from_bytes(bytes_up_to(RESULT_LIMIT, path)?, path, needs)
}

fn bytes_up_to(limit: u64, path: &Path) -> Result<Vec<u8>, FileError> {
    let failed = |error: std::io::Error| FileError::Read {
        path: path.to_owned(),
        reason: error.to_string(),
    };
    let too_large = |bytes| FileError::TooLarge {
        path: path.to_owned(),
        bytes,
        limit,
    };
    let file = File::open(path).map_err(failed)?;
    let length = file.metadata().map_err(failed)?.len();
    if length > limit {
        return Err(too_large(length));
    }
    let mut bytes = Vec::new();
    // A pipe or a growing file tells no length beforehand, hence the cap on what is taken.
    let taken = file.take(limit + 1).read_to_end(&mut bytes).map_err(failed)? as u64;
    if taken > limit {
        return Err(too_large(taken));
    }
    Ok(bytes)
}

/// Takes bytes as text; a byte order mark at the start is dropped.
pub(crate) fn from_bytes(bytes: Vec<u8>, path: &Path, needs: &'static str) -> Result<String, FileError> {
    let not_text = |offset: usize, byte: u8| FileError::NotText {
        path: path.to_owned(),
        offset,
        byte,
    };
    let mut text = String::from_utf8(bytes).map_err(|error| {
        let offset = error.utf8_error().valid_up_to();
        not_text(offset, error.as_bytes().get(offset).copied().unwrap_or(0))
    })?;
    if let Some(offset) = text.bytes().position(|byte| byte == 0) {
        return Err(not_text(offset, 0));
    }
    if text.starts_with('\u{feff}') {
        text.remove(0);
    }
    if text.trim().is_empty() {
        let path = path.to_owned();
        return Err(FileError::Empty { path, needs });
    }
    Ok(text)
}
