//! What can be wrong with a file, with places and numbers.

use std::fmt;
use std::ops::Range;
use std::path::{Path, PathBuf};

use super::key::Allowed;
use super::words::{Shown, spaced};

/// Longest file of tables that is read, in bytes.
pub const SIZE_LIMIT: u64 = 1_000_000;

/// Longest file of data that is read, in bytes: a year of parts at one line each.
pub(crate) const DATA_LIMIT: u64 = 50_000_000;

/// Longest file of results that is read, in bytes: ten million samples of five limits.
pub(crate) const RESULT_LIMIT: u64 = 1_000_000_000;

/// Why a file gives no text.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FileError {
    /// The file could not be read.
    #[error("{}: cannot be read: {reason}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        reason: String,
    },
    /// The file is longer than what is read of its kind.
    #[error("{}: too large: {bytes} bytes, limit {} MB", path.display(), limit / 1_000_000)]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Its length in bytes.
        bytes: u64,
        /// The limit in bytes.
        limit: u64,
    },
    /// The file is not text.
    #[error("{}: not a text file: byte {offset} (0x{byte:02X}) is not UTF-8 text", path.display())]
    NotText {
        /// The file.
        path: PathBuf,
        /// Place of the first bad byte, from 0.
        offset: usize,
        /// That byte.
        byte: u8,
    },
    /// The file holds nothing.
    #[error("{}: empty: {needs}", path.display())]
    Empty {
        /// The file.
        path: PathBuf,
        /// What it must have.
        needs: &'static str,
    },
}

/// All that is wrong with one file.
#[derive(Debug, Clone, PartialEq)]
pub struct Problems {
    /// The file, as given.
    pub path: PathBuf,
    /// Its text.
    pub text: String,
    /// The problems in the order of the text; never empty.
    pub list: Vec<Problem>,
}

impl Problems {
    /// Problems of a text, put in its order.
    pub(crate) fn new(path: &Path, text: &str, mut list: Vec<Problem>) -> Problems {
        list.sort_by_key(|problem| problem.span.start);
        Problems {
            path: path.to_owned(),
            text: text.to_owned(),
            list,
        }
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        for (index, problem) in self.list.iter().enumerate() {
            if index > 0 {
                writeln!(out)?;
            }
            let file = self.path.display();
            write!(out, "{file}:{}:{}: {}", problem.line, problem.column, problem.kind)?;
            if let Some(help) = problem.kind.help() {
                write!(out, "; {help}")?;
            }
        }
        Ok(())
    }
}

/// One thing wrong, with its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// What is wrong.
    pub kind: ProblemKind,
    /// Where, as bytes of the text.
    pub span: Range<usize>,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// The second place of a conflict, with a word on it.
    pub other: Option<(Range<usize>, &'static str)>,
}

/// What is wrong.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ProblemKind {
    /// Not TOML.
    #[error("not valid TOML: {message}")]
    Syntax {
        /// What the TOML reader says.
        message: String,
    },
    /// A key that does not exist.
    #[error("unknown key `{key}`")]
    UnknownKey {
        /// The key.
        key: String,
        /// The keys of this table.
        allowed: Vec<String>,
        /// The closest of them.
        nearest: Option<String>,
    },
    /// A value of the wrong type.
    #[error("wrong type: found {found}, expected {expected}")]
    WrongType {
        /// What was found.
        found: String,
        /// What was expected.
        expected: String,
    },
    /// A word that is not one of the words allowed here.
    #[error("unknown {what} \"{word}\"")]
    UnknownWord {
        /// What the word names: `section`, `node`, `stage`, ...
        what: &'static str,
        /// The word.
        word: String,
        /// The words allowed.
        allowed: Vec<String>,
        /// The closest of them.
        nearest: Option<String>,
    },
    /// A table or key that must be there.
    #[error("{what} is missing")]
    Missing {
        /// What is missing.
        what: String,
        /// What to write.
        hint: String,
    },
    /// A number outside its range, NaN and infinities included.
    #[error("{key} = {}{} is out of range: allowed {allowed}{}", Shown(*value), spaced(unit), spaced(unit))]
    OutOfRange {
        /// The key.
        key: &'static str,
        /// The value.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// Its range.
        allowed: Allowed,
    },
    /// A text that is too short or too long.
    #[error("{key} has {characters} characters, allowed {low} to {high}")]
    TextLength {
        /// The key.
        key: &'static str,
        /// Its length.
        characters: usize,
        /// Shortest.
        low: usize,
        /// Longest.
        high: usize,
    },
    /// A name with characters that would break tables or paths.
    #[error("{key} holds a control character (code {code})")]
    ControlCharacter {
        /// The key.
        key: &'static str,
        /// The code point.
        code: u32,
    },
    /// Two keys that say the same thing in two ways.
    #[error("`{key}` and `{other}` cannot both be given")]
    Exclusive {
        /// One key.
        key: &'static str,
        /// The other.
        other: &'static str,
    },
    /// A key that has no meaning here.
    #[error("`{key}` has no meaning {place}")]
    NotHere {
        /// The key.
        key: String,
        /// Where it stands: `for a carry stage`, ...
        place: String,
        /// What would have one.
        hint: String,
    },
    /// A rule beyond single keys that is broken, told by the check that knows it.
    #[error("{detail}")]
    Rule {
        /// Short name for programs.
        code: &'static str,
        /// What is wrong, with numbers.
        detail: String,
        /// What to do about it; empty where there is nothing to say.
        help: String,
    },
    /// More of something than the program takes.
    #[error("{count} {what}, at most {most} are allowed")]
    TooMany {
        /// Of what.
        what: &'static str,
        /// How many.
        count: usize,
        /// How many are allowed.
        most: usize,
    },
    /// Something that needs a round billet with a length.
    #[error("{what} needs {needs}")]
    Needs {
        /// What.
        what: String,
        /// What it needs.
        needs: &'static str,
    },
}

impl ProblemKind {
    /// A rule that is broken; `help` is empty where there is nothing to say.
    pub(crate) fn rule(code: &'static str, detail: String, help: &str) -> ProblemKind {
        ProblemKind::Rule {
            code,
            detail,
            help: help.to_owned(),
        }
    }

    /// What to do about it, where there is something to say.
    pub fn help(&self) -> Option<String> {
        let list = |allowed: &[String]| {
            if allowed.is_empty() {
                None
            } else {
                Some(format!("allowed: {}", allowed.join(", ")))
            }
        };
        let near = |nearest: &Option<String>, allowed: &[String]| match nearest {
            Some(nearest) => {
                let rest = list(allowed).map_or(String::new(), |rest| format!(" ({rest})"));
                Some(format!("did you mean `{nearest}`?{rest}"))
            }
            None => list(allowed),
        };
        match self {
            ProblemKind::UnknownKey { nearest, allowed, .. } | ProblemKind::UnknownWord { nearest, allowed, .. } => {
                near(nearest, allowed)
            }
            ProblemKind::Missing { hint, .. }
            | ProblemKind::NotHere { hint, .. }
            | ProblemKind::Rule { help: hint, .. } => Some(hint.clone()).filter(|hint| !hint.is_empty()),
            ProblemKind::OutOfRange { value, .. } if !value.is_finite() => Some("a finite number is needed".to_owned()),
            _ => None,
        }
    }

    /// Short name for programs: `out-of-range`, `unknown-key`, ...
    pub fn code(&self) -> &'static str {
        match self {
            ProblemKind::Syntax { .. } => "syntax",
            ProblemKind::UnknownKey { .. } => "unknown-key",
            ProblemKind::WrongType { .. } => "wrong-type",
            ProblemKind::UnknownWord { .. } => "unknown-word",
            ProblemKind::Missing { .. } => "missing",
            ProblemKind::OutOfRange { .. } => "out-of-range",
            ProblemKind::TextLength { .. } => "text-length",
            ProblemKind::ControlCharacter { .. } => "control-character",
            ProblemKind::Exclusive { .. } => "exclusive",
            ProblemKind::NotHere { .. } => "not-here",
            ProblemKind::Rule { code, .. } => code,
            ProblemKind::TooMany { .. } => "too-many",
            ProblemKind::Needs { .. } => "needs",
        }
    }
}
