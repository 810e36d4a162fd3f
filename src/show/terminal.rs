//! Blocks as text for a terminal.

use std::io::IsTerminal;

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use super::block::{Block, NoteKind, Table};
use super::cell::{Cell, Mark, say};
use super::view::View;

mod grid;
mod plot;

use grid::grid;

/// What the terminal can do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Terminal {
    /// Widest line, in columns.
    pub width: usize,
    /// Whether colour may be used.
    pub colour: bool,
}

impl Default for Terminal {
    fn default() -> Self {
        Terminal {
            width: 80,
            colour: false,
        }
    }
}

/// Narrowest and widest lines.
pub const WIDTHS: std::ops::RangeInclusive<usize> = 60..=160;

impl Terminal {
    /// Standard output as it is: its width between 60 and 160 columns, 80 where it is no terminal;
    /// colour only on a terminal and never when `NO_COLOR` is set to anything but nothing.
    pub fn of_stdout(width: Option<usize>) -> Terminal {
        let terminal = std::io::stdout().is_terminal();
        let own = || {
            console::Term::stdout()
                .size_checked()
                .map(|(_, columns)| usize::from(columns))
        };
        let width = width.or_else(|| terminal.then(own).flatten()).unwrap_or(80);
        let refused = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
        Terminal {
            width: width.clamp(*WIDTHS.start(), *WIDTHS.end()),
            colour: terminal && !refused,
        }
    }
}

// Marks of colour while lines are made: they have no width, and `clean` takes them out of any text of
// a user.
const GOOD: char = '\u{2061}';
const WATCH: char = '\u{2062}';
const BAD: char = '\u{2063}';
const PLAIN: char = '\u{2064}';

/// The blocks as lines no wider than the terminal.
pub fn text(blocks: &[Block], view: &View, terminal: Terminal) -> String {
    let mut out = String::new();
    let mut before: Option<&Block> = None;
    for block in blocks {
        let piece = one(block, view, terminal);
        if piece.is_empty() {
            continue;
        }
        let parted = !matches!(
            (before, block),
            (None, _)
                | (Some(Block::Heading(_) | Block::Sentence(_)), Block::Sentence(_))
                | (Some(Block::Note(..)), Block::Note(..))
        );
        if parted {
            out.push('\n');
        }
        out.push_str(&piece);
        before = Some(block);
    }
    finish(&out, terminal.colour)
}

fn one(block: &Block, view: &View, terminal: Terminal) -> String {
    match block {
        Block::Heading(cell) => format!("{}\n", cut(&shown(cell, view), terminal.width)),
        Block::Sentence(cell) => wrap(&shown(cell, view), terminal.width, "  "),
        Block::Table(table) => self::table(table, view, terminal.width),
        Block::Chart(chart) => {
            let plot = chart.plot.as_ref();
            plot.map_or_else(String::new, |plot| plot::text(plot, view, terminal.width))
        }
        Block::Note(kind, cell) => {
            let word = say(match kind {
                NoteKind::Remark => "note.remark",
                NoteKind::Warning => "note.warning",
                NoteKind::Caution => "note.caution",
            });
            let words = Cell::from(word).joined(super::cell::Joint::Colon, cell.clone());
            wrap(&shown(&words, view), terminal.width, "  ")
        }
    }
}

/// The text of a cell that stands alone, with the mark of its colour.
fn shown(cell: &Cell, view: &View) -> String {
    painted(cell, cell.whole(view))
}

/// A text with the colour of its cell around it.
fn painted(cell: &Cell, text: String) -> String {
    match cell {
        Cell::Mark(mark, _) => {
            let colour = match mark {
                Mark::Ok => GOOD,
                Mark::Watch => WATCH,
                Mark::Broken => BAD,
            };
            format!("{colour}{text}{PLAIN}")
        }
        _ => text,
    }
}

/// A table with its caption and note.
fn table(table: &Table, view: &View, width: usize) -> String {
    if table.rows.is_empty() {
        return String::new();
    }
    let heads: Vec<(String, bool)> = table.columns.iter().map(|c| (c.title(view), c.numbers)).collect();
    let rows: Vec<Vec<String>> = table
        .rows
        .iter()
        .map(|row| {
            row.iter()
                .enumerate()
                .map(|(i, cell)| match cell {
                    Cell::Empty => "-".to_owned(),
                    cell => painted(cell, cut(&table.cell(i, cell, view), 200)),
                })
                .collect()
        })
        .collect();
    let mut out = String::new();
    if let Some(caption) = &table.caption {
        out.push_str(&wrap(&caption.whole(view), width, "  "));
    }
    out.push_str(&grid(&heads, rows, width));
    if let Some(note) = &table.note {
        out.push_str(&wrap(&note.whole(view), width, "  "));
    }
    out
}

/// Text cut to a number of columns, with `...` where something was cut.
fn cut(text: &str, columns: usize) -> String {
    if text.width() <= columns {
        return text.to_owned();
    }
    let mut out = String::new();
    let mut used = 0;
    for c in text.chars() {
        used += c.width().unwrap_or(0);
        if used + 3 > columns {
            break;
        }
        out.push(c);
    }
    out.push_str("...");
    out
}

/// Words wrapped at a width, further lines indented. No-break spaces hold; a text without blanks, as
/// in Chinese, breaks after any character.
fn wrap(text: &str, width: usize, indent: &str) -> String {
    let mut out = String::new();
    let mut used = 0;
    let mut fresh = true;
    for word in text.split([' ', '\n', '\t']).filter(|word| !word.is_empty()) {
        let room = width - indent.len();
        if !fresh && used + 1 + word.width() > width && !(word.width() > room / 2 && word.chars().any(is_wide)) {
            out.push('\n');
            out.push_str(indent);
            used = indent.len();
            fresh = true;
        }
        if !fresh {
            out.push(' ');
            used += 1;
        }
        for c in word.chars() {
            let columns = c.width().unwrap_or(0);
            if used + columns > width {
                out.push('\n');
                out.push_str(indent);
                used = indent.len();
            }
            out.push(c);
            used += columns;
        }
        fresh = false;
    }
    out.push('\n');
    out
}

fn is_wide(c: char) -> bool {
    c.width().unwrap_or(0) > 1
}

/// Plain blanks for those that do not break, and colours for their marks.
fn finish(text: &str, colour: bool) -> String {
    let mut out = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        let (line, end) = line.strip_suffix('\n').map_or((line, ""), |line| (line, "\n"));
        for c in line.trim_end_matches([' ', '\u{a0}']).chars() {
            match c {
                '\u{a0}' => out.push(' '),
                GOOD if colour => out.push_str("\u{1b}[1;32m"),
                WATCH if colour => out.push_str("\u{1b}[1;33m"),
                BAD if colour => out.push_str("\u{1b}[1;31m"),
                PLAIN if colour => out.push_str("\u{1b}[0m"),
                GOOD | WATCH | BAD | PLAIN => {}
                c => out.push(c),
            }
        }
        out.push_str(end);
    }
    out
}
