//! What is refused while tables are read: all unknown keys and wrong types are told at once.

use std::ops::Range;

use toml::Spanned;
use toml::de::DeValue;

use super::key::Key;
use super::problem::{Problem, ProblemKind};
use super::source::Source;
use super::words::nearest;

/// Most problems of names and types that are told of one file.
const MOST_PROBLEMS: usize = 20;

/// Collects what is refused while tables are read.
pub(crate) struct Reader<'t> {
    source: &'t Source<'t>,
    /// Unknown keys and wrong types.
    pub refused: Vec<Problem>,
    /// Places of the tables that a key was left out of: the header, or all of an inline table; `0..0` for the top.
    pub touched: Vec<Range<usize>>,
    /// Whether what is read now stands at the top of the file.
    top: bool,
}

impl<'t> Reader<'t> {
    /// A reader at the top of a file.
    pub fn new(source: &'t Source<'t>) -> Self {
        Reader {
            source,
            refused: Vec::new(),
            touched: Vec::new(),
            top: true,
        }
    }

    /// Whether no more problems are taken.
    pub fn is_full(&self) -> bool {
        self.refused.len() >= MOST_PROBLEMS
    }

    fn refuse(&mut self, kind: ProblemKind, span: Range<usize>) {
        if !self.is_full() {
            self.refused.push(self.source.problem(kind, span));
        }
    }

    /// Tells a key that a table does not have.
    pub fn unknown_key(&mut self, key: &str, span: Range<usize>, allowed: impl Iterator<Item = &'static str>) {
        let allowed: Vec<String> = allowed.map(str::to_owned).collect();
        let kind = ProblemKind::UnknownKey {
            key: key.to_owned(),
            nearest: nearest(key, allowed.iter().map(String::as_str)),
            allowed,
        };
        self.refuse(kind, span);
    }

    /// The value read, or a word on its wrong type.
    pub fn or_wrong<T>(&mut self, read: Option<T>, value: &Spanned<DeValue<'_>>, expected: &str) -> Option<T> {
        if read.is_none() {
            let kind = ProblemKind::WrongType {
                found: found(value.get_ref()),
                expected: expected.to_owned(),
            };
            self.refuse(kind, value.span());
        }
        read
    }

    /// Tells a list where a table belongs or the other way round; at the top of a file in its brackets. `once`:
    /// whether the key is a table that stands once, or a list of tables.
    pub fn wrong_brackets<T>(
        &mut self,
        value: &Spanned<DeValue<'_>>,
        key: &'static Key,
        expected: &str,
        once: Option<bool>,
    ) -> Option<T> {
        let name = key.name;
        let (one, list) = (format!("one table, [{name}]"), format!("a list of tables, [[{name}]]"));
        let tables = |items: &[Spanned<DeValue<'_>>]| items.iter().any(|item| item.get_ref().is_table());
        let (found, expected) = match (value.get_ref(), once) {
            (DeValue::Array(items), Some(true)) if self.top && tables(items) => (format!("a list, [[{name}]]"), one),
            (DeValue::Table(_), Some(false)) if self.top => (one, list),
            (other, _) => (found(other), expected.to_owned()),
        };
        self.refuse(ProblemKind::WrongType { found, expected }, value.span());
        None
    }

    /// Reads an inner table: what stands in it is not at the top.
    pub fn inside<T>(&mut self, read: impl FnOnce(&mut Reader<'t>) -> T) -> T {
        let top = std::mem::replace(&mut self.top, false);
        let made = read(self);
        self.top = top;
        made
    }
}

/// What was found, in words of the file: number `2.5`, text "4.2", a list.
fn found(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("text {text:?}"),
        DeValue::Integer(number) => {
            let large = i64::from_str_radix(number.as_str(), number.radix()).is_err();
            format!("number `{number}`{}", if large { ", too large" } else { "" })
        }
        DeValue::Float(number) => format!("number `{number}`"),
        DeValue::Boolean(flag) => format!("boolean `{flag}`"),
        DeValue::Datetime(date) => format!("date `{date}`"),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}
