//! From text to a checked steel. All problems of a file are told together.

use std::ops::Range;
use std::path::Path;

use super::check::Checker;
use super::curve::Provenance;
use super::error::SteelError;
use super::grade::Steel;
use super::input::SteelInput;
use crate::text::{FileError, Problem, Problems, Source, from_bytes, load, parse, together};

/// What a steel file must have.
const NEEDS: &str = "a steel needs at least conductivity_w_mk, specific_heat_j_kgk and density_kg_m3";

/// Reads and checks a steel file of the user's own.
pub(super) fn file(path: &Path) -> Result<Steel, SteelError> {
    steel(&load(path, NEEDS)?, &path.display().to_string(), Provenance::Given)
}

/// Reads and checks a steel; `rules` is [`Provenance::Library`] for the strict rules.
pub(super) fn steel(text: &str, origin: &str, rules: Provenance) -> Result<Steel, SteelError> {
    let path = Path::new(origin);
    let text = from_bytes(text.as_bytes().to_vec(), path, NEEDS)?;
    if text
        .lines()
        .map(str::trim)
        .all(|line| line.is_empty() || line.starts_with('#'))
    {
        let path = path.to_owned();
        return Err(SteelError::File(FileError::Empty { path, needs: NEEDS }));
    }
    let source = Source::new(&text);
    let reading = parse::<SteelInput>(&source, path).map_err(SteelError::Wrong)?;
    let wrong = |list: Vec<Problem>| SteelError::Wrong(Box::new(Problems::new(path, &text, list)));
    match from_input(&reading.table, &source, 0..0, origin, rules) {
        Ok(steel) if reading.refused.is_empty() => Ok(steel),
        checked => Err(wrong(together(&text, &reading, checked.err().unwrap_or_default()))),
    }
}

/// Checks a steel that was read as part of a larger file.
///
/// `source` is the whole file, so that positions fit it; `at` is the place of the steel's table, where
/// missing keys are told. `rules` is [`Provenance::Given`] for a steel of the user's own.
pub(crate) fn from_input(
    input: &SteelInput,
    source: &Source<'_>,
    at: Range<usize>,
    origin: &str,
    rules: Provenance,
) -> Result<Steel, Vec<Problem>> {
    let mut checker = Checker::new(source, at, rules);
    let steel = checker.steel(input, origin);
    match steel {
        Some(steel) if checker.found.problems.is_empty() => Ok(steel),
        _ => Err(checker.found.problems),
    }
}
