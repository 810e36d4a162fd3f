//! From the text of a file to its typed table.

use std::ops::Range;
use std::path::Path;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::problem::{Problem, ProblemKind, Problems};
use super::read::Reader;
use super::source::Source;
use super::table::Table;
use super::value::read_into;

/// A table that was read, and what was refused on the way to it.
pub(crate) struct Reading<T> {
    /// What could be read.
    pub table: T,
    /// Unknown keys and wrong types.
    pub refused: Vec<Problem>,
    /// Places of the tables that a key was left out of.
    pub touched: Vec<Range<usize>>,
    /// Where the headers of tables start, in the order of the text.
    pub headers: Vec<usize>,
    /// Whether so much was refused that the rest is not worth a look.
    pub hopeless: bool,
}

/// Reads the text of a whole file.
///
/// # Errors
/// Text that is no TOML.
pub(crate) fn parse<T: Table>(source: &Source<'_>, path: &Path) -> Result<Reading<T>, Box<Problems>> {
    let tree = DeTable::parse(source.text).map_err(|error| {
        let kind = ProblemKind::Syntax {
            message: error.message().to_owned(),
        };
        let problem = source.problem(kind, error.span().unwrap_or(0..0));
        Box::new(Problems::new(path, source.text, vec![problem]))
    })?;
    let mut reader = Reader::new(source);
    let table = read_into(tree.get_ref(), 0..0, &mut reader);
    let mut headers = Vec::new();
    if !reader.refused.is_empty() {
        tree.get_ref()
            .values()
            .for_each(|value| find_headers(source.text, value, &mut headers));
        headers.sort_unstable();
    }
    Ok(Reading {
        table,
        hopeless: reader.is_full(),
        refused: reader.refused,
        touched: reader.touched,
        headers,
    })
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
