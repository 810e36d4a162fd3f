//! Blocks as HTML. The template escapes everything; names were cleaned when they were shown.

use maud::{Markup, PreEscaped, html};

use super::block::{Block, Chart, NoteKind, Table};
use super::cell::{Cell, Mark};
use super::view::View;
use crate::text::number::minus;

/// Longest text of a cell and of a paragraph, in characters.
const CELL: usize = 600;
const PARAGRAPH: usize = 4000;
/// Widest picture, in pixels of its drawing, that does not take the whole width.
const SMALL: u32 = 1200;
/// Longest name that is kept on one line.
const NAME: usize = 16;

/// Data that can stand inside a script element: nothing in it ends the element or looks like markup.
pub fn script_data(value: &serde_json::Value) -> String {
    value.to_string().replace('<', "\\u003c")
}

/// Words with a capital first letter, which also stand inside sentences.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// The blocks as they stand in a section of a page.
pub fn markup(blocks: &[Block], view: &View) -> Markup {
    html! { @for block in blocks { (one(block, view)) } }
}

fn one(block: &Block, view: &View) -> Markup {
    match block {
        Block::Heading(cell) => html! { h3 { (text(&cell.whole(view), 200)) } },
        Block::Sentence(cell) => html! { p class=[class(cell)] { (text(&cell.whole(view), PARAGRAPH)) } },
        Block::Table(table) => self::table(table, view),
        Block::Chart(chart) => figure(chart),
        Block::Note(kind, cell) => html! {
            p class=(match kind {
                NoteKind::Remark => "note",
                NoteKind::Warning => "note warning",
                NoteKind::Caution => "note caution",
            }) { (text(&cell.whole(view), PARAGRAPH)) }
        },
    }
}

/// A picture over the whole width, or a small one in its own size, so that the text of all is of one size; it
/// carries its own title and words.
fn figure(chart: &Chart) -> Markup {
    let drawing = &chart.drawing;
    html! {
        @if drawing.width > SMALL {
            figure class="wide" { (PreEscaped(&drawing.svg)) }
        } @else {
            figure class="small" style=(format!("width:{}px", drawing.width * 3 / 8)) { (PreEscaped(&drawing.svg)) }
        }
    }
}

fn table(table: &Table, view: &View) -> Markup {
    let caption = table.caption.as_ref().map(|caption| text(&caption.whole(view), 200));
    html! {
        @if !table.rows.is_empty() {
            // What scrolls can be reached by the keyboard.
            div class="scroll" tabindex="0" role="group" aria-label=[caption.as_deref()] {
                table {
                    @if let Some(caption) = &caption { caption { (caption) } }
                    thead {
                        tr {
                            @for column in &table.columns {
                                th scope="col" class=[column.numbers.then_some("num")] {
                                    (text(&column.title(view), 80))
                                }
                            }
                        }
                    }
                    tbody { @for row in &table.rows { (self::row(table, row, view)) } }
                }
            }
            @if let Some(note) = &table.note { p class="note" { (text(&note.whole(view), PARAGRAPH)) } }
        }
    }
}

/// A row; its first cell names it.
fn row(table: &Table, row: &[Cell], view: &View) -> Markup {
    html! {
        tr {
            @for (i, cell) in row.iter().enumerate() {
                @let words = match cell {
                    Cell::Empty => "\u{2013}".to_owned(),
                    cell => text(&table.cell(i, cell, view), CELL),
                };
                @let number = table.columns.get(i).is_some_and(|c| c.numbers);
                @let kind = if number { Some("num") } else { class(cell).or(short(&words)) };
                @if i == 0 {
                    th scope="row" class=[kind] { (broken(&words)) }
                } @else if number {
                    td class=[kind] { (minus(&words)) }
                } @else {
                    td class=[kind] { (broken(&words)) }
                }
            }
        }
    }
}

fn class(cell: &Cell) -> Option<&'static str> {
    match cell {
        Cell::Mark(Mark::Ok, _) => Some("good"),
        Cell::Mark(Mark::Watch, _) => Some("watch"),
        Cell::Mark(Mark::Broken, _) => Some("bad"),
        _ => None,
    }
}

/// A text in which long names may break before the letters that follow a dot, an underscore or a slash.
fn broken(words: &str) -> Markup {
    html! {
        @for (i, word) in words.split(' ').enumerate() {
            @if i > 0 { " " }
            @if word.chars().count() <= NAME { (word) } @else {
                @for piece in word.split_inclusive(['.', '_', '/']) { (piece) wbr; }
            }
        }
    }
}

/// Short cells stay on one line, so that only long ones wrap.
fn short(cell: &str) -> Option<&'static str> {
    (cell.chars().count() <= 14).then_some("one")
}

/// Text cut at a number of characters.
fn text(words: &str, most: usize) -> String {
    if words.chars().count() <= most {
        return words.to_owned();
    }
    let mut cut: String = words.chars().take(most.saturating_sub(1)).collect();
    cut.push('\u{2026}');
    cut
}
