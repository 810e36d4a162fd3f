//! From bytes to raw tables: size, encoding, syntax, key names and types.

use std::fs::File;
use std::io::Read;
use std::ops::Range;
use std::path::Path;

use serde::Deserialize;
use toml::Spanned;
use toml::de::{DeTable, DeValue, Deserializer};

use super::problem::{LineFileError, Problem, ProblemKind, Problems, SIZE_LIMIT, nearest, place};
use super::raw::RawFile;

/// Most problems of names and types that are collected before giving up.
const MOST_PROBLEMS: usize = 20;

/// Reads a file as text, refusing what is too large, empty or no text.
pub(crate) fn text(path: &Path) -> Result<String, LineFileError> {
    let failed = |source| LineFileError::Read {
        path: path.to_owned(),
        source,
    };
    let file = File::open(path).map_err(failed)?;
    let length = file.metadata().map_err(failed)?.len();
    if length > SIZE_LIMIT {
        return Err(LineFileError::TooLarge {
            path: path.to_owned(),
            bytes: length,
        });
    }
    let mut bytes = Vec::new();
    // A pipe or a growing file tells no length beforehand, hence the cap on what is taken.
    let taken = file.take(SIZE_LIMIT + 1).read_to_end(&mut bytes).map_err(failed)?;
    if taken as u64 > SIZE_LIMIT {
        return Err(LineFileError::TooLarge {
            path: path.to_owned(),
            bytes: taken as u64,
        });
    }
    from_bytes(bytes, path)
}

/// Takes bytes as text; a byte order mark at the start is dropped.
pub(crate) fn from_bytes(bytes: Vec<u8>, path: &Path) -> Result<String, LineFileError> {
    let not_text = |offset: usize, byte: u8| LineFileError::NotText {
        path: path.to_owned(),
        offset,
        byte,
    };
    let text = String::from_utf8(bytes).map_err(|error| {
        let offset = error.utf8_error().valid_up_to();
        not_text(offset, error.as_bytes().get(offset).copied().unwrap_or(0))
    })?;
    if let Some(offset) = text.bytes().position(|byte| byte == 0) {
        return Err(not_text(offset, 0));
    }
    let text = match text.strip_prefix('\u{feff}') {
        Some(rest) => rest.to_owned(),
        None => text,
    };
    if text.trim().is_empty() {
        return Err(LineFileError::Empty { path: path.to_owned() });
    }
    Ok(text)
}

/// Raw tables and what was refused on the way to them.
pub(crate) struct Reading {
    /// What could be read.
    pub raw: RawFile,
    /// Unknown keys and wrong types.
    pub refused: Vec<Problem>,
    /// Places of the tables that a key was taken out of: the header, or all of an inline table; `0..0`
    /// for the top of the file.
    pub touched: Vec<Range<usize>>,
    /// Where the headers of tables start, in the order of the text.
    pub headers: Vec<usize>,
}

/// Parses text into raw tables. Keys with an unknown name or a wrong type are taken out and told.
///
/// # Errors
/// Text that is no TOML, or that cannot be read even without the refused keys.
pub(crate) fn parse(text: &str, path: &Path) -> Result<Reading, LineFileError> {
    let wrong = |list: Vec<Problem>| {
        LineFileError::Wrong(Box::new(Problems {
            path: path.to_owned(),
            text: text.to_owned(),
            list,
        }))
    };
    let tree = DeTable::parse(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        let kind = ProblemKind::Syntax {
            message: error.message().to_owned(),
        };
        wrong(vec![problem(text, kind, span)])
    })?;
    let mut rest = tree;
    let mut list = Vec::new();
    let mut touched = Vec::new();
    let mut headers = Vec::new();
    for (name, kind, span) in wrong_brackets(rest.get_ref()) {
        list.push(problem(text, kind, span));
        rest.get_mut().remove(name.as_str());
        touched.push(0..0);
    }
    // A key that is refused is taken out and the reading starts again, so that one look shows all.
    loop {
        match RawFile::deserialize(Deserializer::from(rest.clone())) {
            Ok(raw) => {
                if !list.is_empty() {
                    rest.get_ref()
                        .values()
                        .for_each(|value| find_headers(text, value, &mut headers));
                    headers.sort_unstable();
                }
                return Ok(Reading {
                    raw,
                    refused: list,
                    touched,
                    headers,
                });
            }
            Err(error) => {
                let span = error.span().unwrap_or(0..0);
                list.push(problem(text, kind_of(error.message()), span.clone()));
                match remove(rest.get_mut(), &span, &(0..0)) {
                    Some(table) if list.len() < MOST_PROBLEMS => touched.push(table),
                    _ => break,
                }
            }
        }
    }
    list.sort_by_key(|problem| problem.span.start);
    Err(wrong(list))
}

/// Tables of the file that stand once.
const ONCE: [&str; 7] = ["billet", "shop", "heater", "die", "grip", "support", "scale"];

/// Tables that may stand any number of times.
const MANY: [&str; 3] = ["section", "stage", "limit"];

/// Tables of the top with one bracket too few or too many: name, problem, place.
fn wrong_brackets(top: &DeTable<'_>) -> Vec<(String, ProblemKind, Range<usize>)> {
    let told = |name: &str, value: &Spanned<DeValue<'_>>| {
        let (found, expected) = match value.get_ref() {
            DeValue::Array(items) if ONCE.contains(&name) => {
                let tables = items.iter().any(|item| matches!(item.get_ref(), DeValue::Table(_)));
                tables.then(|| (format!("a list, [[{name}]]"), format!("one table, [{name}]")))?
            }
            DeValue::Table(_) if MANY.contains(&name) => {
                (format!("one table, [{name}]"), format!("a list of tables, [[{name}]]"))
            }
            _ => return None,
        };
        Some((
            name.to_owned(),
            ProblemKind::WrongType { found, expected },
            value.span(),
        ))
    };
    top.iter()
        .filter_map(|(key, value)| told(key.get_ref(), value))
        .collect()
}

/// A problem with its line and column.
pub(crate) fn problem(text: &str, kind: ProblemKind, span: Range<usize>) -> Problem {
    let (line, column) = place(text, span.start);
    Problem {
        kind,
        span,
        line,
        column,
        other: None,
    }
}

/// Tells an unknown key from a wrong type by the reader's message, which quotes names in backticks.
fn kind_of(message: &str) -> ProblemKind {
    let first = message.lines().next().unwrap_or(message);
    if let Some(rest) = first.strip_prefix("unknown field ") {
        let mut names = rest.split('`').skip(1).step_by(2).map(str::to_owned);
        if let Some(key) = names.next() {
            let allowed: Vec<String> = names.collect();
            let nearest = nearest(&key, allowed.iter().map(String::as_str));
            return ProblemKind::UnknownKey { key, allowed, nearest };
        }
    }
    match first
        .strip_prefix("invalid type: ")
        .and_then(|rest| rest.split_once(", expected "))
    {
        Some((found, expected)) => ProblemKind::WrongType {
            found: found_words(found),
            expected: expected_words(expected).to_owned(),
        },
        None => ProblemKind::Unreadable {
            message: first.to_owned(),
        },
    }
}

/// The reader's name of a type in words of the file.
fn expected_words(expected: &str) -> &str {
    match expected {
        "f64" => "a number",
        "i64" => "a whole number",
        "a sequence" => "a list",
        "a boolean" => "true or false",
        "a string" => "a text in quotes",
        other if other.starts_with("struct Raw") => "a table",
        other => other,
    }
}

/// What was found, in words of the file: `number 2.5`, `text "4.2"`, `a list`.
fn found_words(found: &str) -> String {
    match found {
        "map" => "a table".to_owned(),
        "sequence" => "a list".to_owned(),
        other => {
            let kinds = [
                ("floating point `", "number `"),
                ("integer `", "number `"),
                ("string \"", "text \""),
            ];
            let hit = kinds
                .iter()
                .find_map(|(old, new)| other.strip_prefix(old).map(|rest| format!("{new}{rest}")));
            let found = hit.unwrap_or_else(|| other.to_owned());
            // A whole number beyond 64 bits comes with the type that would hold it.
            found
                .strip_suffix(" as i128")
                .map_or(found.clone(), |number| format!("{number}, too large"))
        }
    }
}

/// The starts of the headers of a table and of those inside it; inline tables have none.
fn find_headers(text: &str, value: &Spanned<DeValue<'_>>, out: &mut Vec<usize>) {
    match value.get_ref() {
        DeValue::Table(table) => {
            let start = value.span().start;
            if text.as_bytes().get(start) == Some(&b'[') {
                out.push(start);
            }
            table.values().for_each(|value| find_headers(text, value, out));
        }
        DeValue::Array(items) => items.iter().for_each(|item| find_headers(text, item, out)),
        _ => {}
    }
}

/// Takes the entry whose key or value stands at `span` out of the tree; gives the place of the table
/// that it stood in. `here` is the place of `table`.
fn remove(table: &mut DeTable<'_>, span: &Range<usize>, here: &Range<usize>) -> Option<Range<usize>> {
    let hit = table
        .iter()
        .find(|(key, value)| key.span() == *span || value.span() == *span)
        .map(|(key, _)| key.get_ref().clone().into_owned());
    if let Some(key) = hit {
        return table.remove(key.as_str()).map(|_| here.clone());
    }
    table.iter_mut().find_map(|(_, value)| remove_inside(value, span, here))
}

fn remove_inside(value: &mut Spanned<DeValue<'_>>, span: &Range<usize>, here: &Range<usize>) -> Option<Range<usize>> {
    let own = value.span();
    match value.get_mut() {
        DeValue::Table(table) => remove(table, span, &own),
        DeValue::Array(items) => {
            if items.iter().any(|item| item.span() == *span) {
                let kept = items.iter().filter(|item| item.span() != *span);
                *items = kept.cloned().collect();
                return Some(here.clone());
            }
            items.iter_mut().find_map(|item| remove_inside(item, span, here))
        }
        _ => None,
    }
}
