//! What can be wrong with result files.

use std::path::PathBuf;

use crate::output::OutputError;
use crate::text::FileError;

/// What can be wrong with result files.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ShardError {
    /// A part outside 1 to the number of parts.
    #[error("there is no part {part} of {parts}; parts count from 1")]
    NoSuchPart {
        /// Part asked for.
        part: u64,
        /// Number of parts.
        parts: u64,
    },
    /// More parts than samples.
    #[error("{parts} parts for {samples} samples; at most one part per sample")]
    TooManyParts {
        /// Number of parts.
        parts: u64,
        /// Number of samples.
        samples: u64,
    },
    /// A result file of another part.
    #[error("the result file holds part {part} of {parts}; give another file or that part")]
    OtherPart {
        /// Part in the file.
        part: u64,
        /// Number of parts in the file.
        parts: u64,
    },
    /// Nothing to merge.
    #[error("no result files to merge")]
    Nothing,
    /// A file of another study.
    #[error(
        "the result files belong to different studies ({expected} and {found}): line file, distributions, \
         seed, samples, resolution and program version must all agree"
    )]
    OtherStudy {
        /// Digest of the first.
        expected: String,
        /// Digest of the other.
        found: String,
    },
    /// A sample that is there twice.
    #[error("sample {index} is in two of the files")]
    Twice {
        /// Its index.
        index: u64,
    },
    /// Samples that are in none of the files.
    #[error(
        "{missing} samples are not done yet, the first is {first} of {samples}: go on with their part, or say that what \
         there is shall be evaluated (--incomplete)"
    )]
    Incomplete {
        /// How many.
        missing: u64,
        /// Of how many.
        samples: u64,
        /// Index of the first.
        first: u64,
    },
    /// A file that does not hold what it should.
    #[error("{path} is damaged at line {line}: {message}; delete it to start that part again")]
    Corrupt {
        /// The file.
        path: PathBuf,
        /// Line number from 1.
        line: usize,
        /// What is wrong.
        message: String,
    },
    /// A file that gives no text.
    #[error(transparent)]
    Unread(#[from] FileError),
    /// A file that could not be written.
    #[error(transparent)]
    Unwritten(#[from] OutputError),
}
