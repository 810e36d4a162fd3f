//! The metals that line files name, each read once.

use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use toml::Spanned;
use toml::de::DeValue;

use crate::line::plan::Metal;
use crate::steel::{Library, Provenance, Steel, SteelError, SteelInput, from_input};
use crate::text::{Form, Key, Problem, Reader, Source, Value};

/// A metal: by name or path, or written out as a table.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum SteelRef {
    /// A grade of the library, or a path ending in `.toml`.
    Named(String),
    /// The table of a steel file, inline.
    Inline(Box<SteelInput>),
}

impl Value for SteelRef {
    fn read(value: &Spanned<DeValue<'_>>, key: &'static Key, reader: &mut Reader) -> Option<SteelRef> {
        match value.get_ref() {
            DeValue::String(name) => Some(SteelRef::Named(name.clone().into_owned())),
            DeValue::Table(_) => SteelInput::read(value, key, reader).map(|input| SteelRef::Inline(Box::new(input))),
            _ => {
                let expected = "a grade name, the path of a steel file, or a table of properties";
                reader.or_wrong(None, value, expected)
            }
        }
    }

    fn form() -> Form {
        Form::OneOf(vec![Form::Text, SteelInput::form()])
    }
}

/// Why a metal was refused.
pub(crate) enum Refused {
    /// It stands in another file, or in none.
    Elsewhere(SteelError),
    /// It stands in the line file itself, with these problems.
    Here(Vec<Problem>),
}

/// What an inline steel is called where a file name would stand.
const INLINE: &str = "inline steel";

/// Most metals kept beside the library's; a search over inline properties makes a new one a step.
const MOST_KEPT: usize = 64;

/// Reads metals and keeps them, so that changing a number of the line does not read them again.
#[derive(Debug, Clone)]
pub(crate) struct Metals {
    /// Folder that paths of steel files are relative to.
    folder: PathBuf,
    /// Steel files and inline steels by what refers to them; shared by copies of a document.
    kept: Arc<Mutex<Vec<(SteelRef, Metal)>>>,
}

impl Metals {
    pub fn beside(path: &Path) -> Metals {
        Metals {
            folder: path.parent().unwrap_or(Path::new("")).to_owned(),
            kept: Arc::default(),
        }
    }

    /// The metal of a reference, which stands at `at` of the line file.
    pub fn find(&self, reference: &SteelRef, source: &Source<'_>, at: Range<usize>) -> Result<Metal, Refused> {
        match reference {
            SteelRef::Named(name) if name.to_lowercase().ends_with(".toml") => self.kept(reference, || {
                Steel::from_file(&self.folder.join(name)).map_err(Refused::Elsewhere)
            }),
            SteelRef::Named(name) => Library::builtin()
                .and_then(|library| library.find(name))
                .map_err(Refused::Elsewhere),
            SteelRef::Inline(input) => self.kept(reference, || {
                from_input(input, source, at, INLINE, Provenance::Given).map_err(Refused::Here)
            }),
        }
    }

    /// The steel files that were read.
    pub fn files(&self) -> Vec<PathBuf> {
        let kept = self.kept.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        let named = kept.iter().filter_map(|(reference, _)| match reference {
            SteelRef::Named(name) => Some(self.folder.join(name)),
            SteelRef::Inline(_) => None,
        });
        named.collect()
    }

    fn kept(&self, key: &SteelRef, make: impl FnOnce() -> Result<Steel, Refused>) -> Result<Metal, Refused> {
        // A panic while the lock is held leaves a list that is whole, so a poisoned lock is as good.
        let lock = || self.kept.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        if let Some((_, metal)) = lock().iter().find(|(known, _)| known == key) {
            return Ok(Arc::clone(metal));
        }
        let metal = Arc::new(make()?);
        let mut kept = lock();
        if kept.len() >= MOST_KEPT {
            kept.clear();
        }
        kept.push((key.clone(), Arc::clone(&metal)));
        Ok(metal)
    }
}
