//! Changing the text of a line file, leaving all else as it was written: comments, order, blank lines.

use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

/// What marks a remark on a default that follows from other inputs.
const MARK: &str = "  # default: ";

/// A text that is being changed.
pub(crate) struct Editor {
    document: DocumentMut,
    /// Whether its lines end in a carriage return and a line feed.
    returns: bool,
}

impl Editor {
    /// Takes a text that has been parsed before; `None` if it does not parse.
    pub fn new(text: &str) -> Option<Editor> {
        Some(Editor {
            document: text.parse().ok()?,
            returns: text.contains("\r\n"),
        })
    }

    /// The text as it stands.
    pub fn text(&self) -> String {
        let text = self.document.to_string();
        match self.returns {
            true => text.replace("\r\n", "\n").replace('\n', "\r\n"),
            false => text,
        }
    }

    /// Whether something stands at a path.
    pub fn has(&self, path: &[&str]) -> bool {
        let mut item = Some(self.document.as_item());
        for step in path {
            item = item.and_then(|item| match step.parse::<usize>() {
                Ok(number) => item.get(number.checked_sub(1)?),
                Err(_) => item.get(step),
            });
        }
        item.is_some()
    }

    /// Puts a value at a path; a key that is missing is written with the comment behind it where a line can take one,
    /// tables that are missing are made, items of lists are not. `None` where there is no such place.
    pub fn set(&mut self, path: &[&str], literal: &str, comment: &str) -> Option<()> {
        if path.iter().any(|step| step.is_empty()) {
            return None;
        }
        let value = literal.parse().ok()?;
        match path {
            // A table of the file itself gets a header of its own.
            [table, _, ..] if !self.document.contains_key(table) => {
                self.document.insert(table, Item::Table(Table::new()));
            }
            _ => {}
        }
        set_in(self.document.as_table_mut(), path, value, comment)
    }

    /// Puts a value in place of whatever stands at a path, a table of its own too. `None` where its table is missing.
    pub fn replace(&mut self, path: &[&str], literal: &str) -> Option<()> {
        let (key, tables) = path.split_last()?;
        let mut item = self.document.as_item_mut();
        for step in tables {
            item = match step.parse::<usize>() {
                Ok(number) => item.get_mut(number.checked_sub(1)?)?,
                Err(_) => item.get_mut(step)?,
            };
        }
        let value: Value = literal.parse().ok()?;
        item.as_table_like_mut()?.insert(key, Item::Value(value));
        Some(())
    }

    /// Writes a line of remark below the last value of the table that a path leads to; `None` where it has no lines.
    pub fn remark(&mut self, path: &[&str], literal: &str, reason: &str) -> Option<()> {
        let (table, prefix, key) = lines_of(self.document.as_table_mut(), "", path)?;
        let remark = format!("\n# {prefix}{key} = {literal}{MARK}{reason}");
        let decor = match last_value(table) {
            Some(last) => last.decor_mut(),
            None => table.decor_mut(),
        };
        let suffix = decor
            .suffix()
            .and_then(|suffix| suffix.as_str())
            .unwrap_or("")
            .to_owned();
        decor.set_suffix(suffix + &remark);
        Some(())
    }
}

/// A text without the lines that [`Editor::remark`] wrote.
pub(crate) fn without_remarks(text: &str) -> String {
    let ours = |line: &&str| line.starts_with("# ") && line.contains(" = ") && line.contains(MARK);
    text.split_inclusive('\n').filter(|line| !ours(line)).collect()
}

fn set_in(table: &mut dyn TableLike, path: &[&str], value: Value, comment: &str) -> Option<()> {
    match path {
        [] => None,
        [key] => put(table, key, value, comment),
        [key, rest @ ..] => {
            if table.get(key).is_none() {
                if rest.iter().any(|step| step.parse::<usize>().is_ok()) {
                    return None;
                }
                let mut made = Table::new();
                made.set_dotted(true);
                table.insert(key, Item::Table(made));
            }
            match table.get_mut(key)? {
                Item::Table(inner) => set_in(inner, rest, value, comment),
                Item::ArrayOfTables(list) => set_in(item_of(list, rest)?, &rest[1..], value, comment),
                Item::Value(Value::InlineTable(inner)) => set_in(inner, rest, value, ""),
                Item::Value(Value::Array(list)) => set_in(inline_of(list, rest)?, &rest[1..], value, ""),
                _ => None,
            }
        }
    }
}

fn index(path: &[&str]) -> Option<usize> {
    path.first()?.parse::<usize>().ok()?.checked_sub(1)
}

fn item_of<'a>(list: &'a mut ArrayOfTables, path: &[&str]) -> Option<&'a mut Table> {
    list.get_mut(index(path)?)
}

fn inline_of<'a>(list: &'a mut Array, path: &[&str]) -> Option<&'a mut InlineTable> {
    list.get_mut(index(path)?)?.as_inline_table_mut()
}

/// Replaces a value inside its place, so that what stands around it stays; or writes a new key.
fn put(table: &mut dyn TableLike, key: &str, mut value: Value, comment: &str) -> Option<()> {
    if let Some(item) = table.get_mut(key) {
        let old = item
            .as_value_mut()
            .filter(|old| !old.is_array() && !old.is_inline_table())?;
        *value.decor_mut() = old.decor().clone();
        *old = value;
        return Some(());
    }
    value.decor_mut().set_prefix(" ");
    value.decor_mut().set_suffix(comment);
    table.insert(key, Item::Value(value));
    Some(())
}

/// The innermost table on a path that has lines of its own, the path from its header to it, and what is left.
fn lines_of<'a>(table: &'a mut Table, prefix: &str, path: &[&str]) -> Option<(&'a mut Table, String, String)> {
    let (key, rest) = path.split_first()?;
    let here = |table: &'a mut Table| Some((table, prefix.to_owned(), path.join(".")));
    if rest.is_empty() {
        return here(table);
    }
    match table.get(key) {
        None if prefix.is_empty() && rest.iter().all(|step| step.parse::<usize>().is_err()) => here(table),
        None | Some(Item::None | Item::Value(_)) => None,
        Some(_) => match table.get_mut(key)? {
            Item::Table(inner) => {
                let prefix = match inner.is_dotted() {
                    true => format!("{prefix}{key}."),
                    false => String::new(),
                };
                lines_of(inner, &prefix, rest)
            }
            Item::ArrayOfTables(list) => lines_of(item_of(list, rest)?, "", &rest[1..]),
            _ => None,
        },
    }
}

/// The value that stands last in the lines under a table's own header.
fn last_value(table: &mut Table) -> Option<&mut Value> {
    let keys: Vec<String> = table.iter().map(|(key, _)| key.to_owned()).collect();
    let own = |item: &Item| item.is_value() || item.as_table().is_some_and(Table::is_dotted);
    let last = keys.into_iter().rev().find(|key| table.get(key).is_some_and(own))?;
    match table.get_mut(&last)? {
        Item::Value(value) => Some(value),
        Item::Table(inner) => last_value(inner),
        _ => None,
    }
}

/// A path with the stage's name replaced by its number from 1: `stage.3.grip.length_mm`. Names may hold dots, so the
/// longest that fits is meant.
pub(crate) fn numbered(path: &str, stages: &[&str]) -> Option<Vec<String>> {
    let Some(after) = path.strip_prefix("stage.") else {
        return Some(path.split('.').map(str::to_owned).collect());
    };
    let fits = |name: &&str| after.strip_prefix(*name).is_some_and(|rest| rest.starts_with('.'));
    let named = stages.iter().enumerate().filter(|(_, name)| fits(name));
    let (index, name) = named.max_by_key(|(_, name)| name.len())?;
    let rest = after.get(name.len() + 1..)?;
    let stage = ["stage".to_owned(), (index + 1).to_string()];
    Some(stage.into_iter().chain(rest.split('.').map(str::to_owned)).collect())
}

/// A number as TOML writes it, so that reading gives the same number.
pub(crate) fn literal(value: f64) -> String {
    if value.is_nan() {
        "nan".to_owned()
    } else if value.is_infinite() {
        if value > 0.0 { "inf" } else { "-inf" }.to_owned()
    } else if value.fract() == 0.0 && value.abs() < 1e15 {
        format!("{value:.0}")
    } else {
        format!("{value:?}")
    }
}
