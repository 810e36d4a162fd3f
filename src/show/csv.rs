//! Tables as comma-separated files for spreadsheets.
//!
//! A text that a spreadsheet would run as a formula (it starts with `=`, `+`, `-`, `@`, a tab or a
//! carriage return) gets an apostrophe in front, which spreadsheets take for "this is text".

use super::block::{Block, Table};
use super::view::View;

/// How a file is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dialect {
    /// What parts the cells: a comma, or a semicolon where the decimal sign is a comma.
    pub separator: u8,
}

impl Dialect {
    /// The usual dialect of a decimal sign.
    pub fn of(view: &View) -> Dialect {
        Dialect {
            separator: if view.decimal_comma { b';' } else { b',' },
        }
    }
}

/// All tables of a result, each under its caption and parted by an empty line.
///
/// # Errors
/// What the writer of the file says.
pub fn text(blocks: &[Block], view: &View, dialect: Dialect) -> Result<String, ::csv::Error> {
    let mut out = String::new();
    for block in blocks {
        if let Block::Table(table) = block
            && !table.rows.is_empty()
        {
            if !out.is_empty() {
                out.push('\n');
            }
            out.push_str(&one(table, view, dialect)?);
        }
    }
    Ok(out)
}

fn one(table: &Table, view: &View, dialect: Dialect) -> Result<String, ::csv::Error> {
    let mut writer = ::csv::WriterBuilder::new()
        .delimiter(dialect.separator)
        .flexible(true)
        .from_writer(Vec::new());
    if let Some(caption) = &table.caption {
        writer.write_record([harmless(&plain(&caption.whole(view)))])?;
    }
    writer.write_record(table.columns.iter().map(|c| harmless(&plain(&c.title(view)))))?;
    for row in &table.rows {
        writer.write_record(row.iter().enumerate().map(|(i, cell)| match cell {
            cell if cell.is_number() && table.columns.get(i).is_some_and(|c| c.quantity.is_some()) => cell.bare(view),
            cell => harmless(&plain(&table.cell(i, cell, view))),
        }))?;
    }
    let bytes = writer.into_inner().map_err(|e| ::csv::Error::from(e.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// Plain blanks for those that do not break.
fn plain(text: &str) -> String {
    text.replace('\u{a0}', " ")
}

/// A text that no spreadsheet runs.
pub fn harmless(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

/// The number or the text of a cell for a file of fixed columns: numbers as they are, texts made
/// harmless.
pub fn field(cell: &str) -> String {
    if cell.parse::<f64>().is_ok() {
        cell.to_owned()
    } else {
        harmless(cell)
    }
}
