//! How large the pages of the sheet may be set so that each stays on one page.

use super::Paper;
use super::content::Content;
use super::wall::{LINE, lines};
use crate::picture::text_width;
use crate::show::{Block, Table, View};

/// Largest base sizes of the two pages in points.
const LARGEST: f64 = 12.0;
const LARGEST_STOPS: f64 = 11.0;

/// The largest size in points at which a page of a height, in em for a width in em, fits on the paper.
fn largest(most: f64, paper: Paper, needed: impl Fn(f64) -> f64) -> f64 {
    let (width_mm, height_mm) = paper.size_mm();
    let to_points = 72.0 / 25.4;
    let (width, height) = ((width_mm - 20.0) * to_points, (height_mm - 20.0) * to_points);
    let fits = |size: f64| size * 1.03 * needed(width / size) <= height;
    if fits(most) {
        return most;
    }
    let (mut low, mut high) = (3.0, most);
    for _ in 0..12 {
        let middle = 0.5 * (low + high);
        if fits(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// Base size of the first page in points.
pub(super) fn first_page(content: &Content, view: &View, paper: Paper) -> f64 {
    largest(LARGEST, paper, |width| first_height(content, view, width))
}

/// Height of the first page in em for a width in em, from the heights of the style sheet.
fn first_height(content: &Content, view: &View, width: f64) -> f64 {
    let kind = text_width(view.say("sheet.title"), 1.05, true) + 1.0;
    let title = 1.9 * 1.1 * lines(&content.title, 1.9, true, (width - kind).max(10.0));
    let verdict_size = if content.released { 1.0 } else { 1.35 };
    let verdict = verdict_size * LINE * lines(&content.verdict, verdict_size, true, width - 2.0) + 1.9;
    let facts = content.facts.iter().map(|(key, value)| {
        let wide = text_width(value, 1.0, true).max(text_width(view.say(key), 0.72, false));
        wide + 1.2
    });
    // the row of facts wraps where it is too long
    let facts = 3.1 * (facts.sum::<f64>() / (width - 1.2)).ceil().max(1.0);
    let settings: f64 = content
        .settings
        .chunks(2)
        .map(|pair| {
            let high = pair.iter().map(|(name, value)| {
                let room = width / 2.0 - 2.0 - text_width(value, 1.5, true);
                LINE * lines(name, 1.0, false, room.max(4.0))
            });
            high.fold(2.0, f64::max) + 0.25
        })
        .sum();
    let notes: f64 = content
        .notes
        .iter()
        .filter(|note| !note.is_empty())
        .map(|note| 0.82 * LINE * lines(note, 0.82, true, width) + 0.5)
        .sum();
    let starred = if content.starred { 1.5 } else { 0.0 };
    let times = match (&content.times, content.released) {
        (Some(times), _) => times.height(width) + 2.6,
        (None, true) => 4.4,
        (None, false) => 0.0,
    };
    let reactions = content
        .reactions
        .iter()
        .map(|r| 1.05 * LINE * lines(r, 1.05, false, width - 1.7));
    let cautions = LINE * lines(&content.cautions.join(" "), 1.05, true, width - 1.5) + 1.4;
    let headings = 4.0 * 2.6;
    let (sign, foot) = (4.4, 1.9);
    let head = title + 0.7 + facts + verdict;
    let tables = settings + starred + content.limits.height(width) + times + notes;
    head + headings + tables + reactions.sum::<f64>() + 0.5 + cautions + sign + foot + 1.5
}

/// Base size of the page of stops in points.
pub(super) fn second_page(stops: &[Block], view: &View, paper: Paper) -> f64 {
    largest(LARGEST_STOPS, paper, |width| {
        let blocks = stops.iter().map(|block| block_height(block, view, width));
        8.0 + blocks.sum::<f64>()
    })
}

/// Height of a block in em for a width in em.
fn block_height(block: &Block, view: &View, width: f64) -> f64 {
    match block {
        Block::Heading(_) => 2.6,
        Block::Sentence(cell) | Block::Note(_, cell) => LINE * lines(&cell.whole(view), 1.06, false, width) + 0.6,
        Block::Table(table) => table_height(table, view, width),
        Block::Chart(_) => 0.6 * width,
    }
}

/// Height of a table whose columns the browser sets out: each gets room for its longest word and a share of what
/// is left by how much text it has.
fn table_height(table: &Table, view: &View, width: f64) -> f64 {
    let column = |i: usize| {
        let head = table.columns.get(i).map_or(String::new(), |c| c.title(view));
        let cells = table
            .rows
            .iter()
            .filter_map(move |row| Some(table.cell(i, row.get(i)?, view)));
        std::iter::once(head).chain(cells).collect::<Vec<String>>()
    };
    let columns: Vec<Vec<String>> = (0..table.columns.len()).map(column).collect();
    let wide = |text: &str| text_width(text, 1.0, true) + 1.0;
    let longest = |column: &Vec<String>| column.iter().flat_map(|t| t.split(' ')).map(wide).fold(0.0, f64::max);
    let full = |column: &Vec<String>| column.iter().map(|t| wide(t)).fold(0.0, f64::max);
    let least: Vec<f64> = columns.iter().map(longest).collect();
    let wish: Vec<f64> = columns
        .iter()
        .zip(&least)
        .map(|(c, least)| (full(c) - least).max(0.0))
        .collect();
    let spare = (width - least.iter().sum::<f64>()).max(0.0);
    let share = (spare / wish.iter().sum::<f64>().max(1e-9)).min(1.0);
    // words wider than the page would stick out: they count as a taller table, which makes the text smaller
    let tight = (least.iter().sum::<f64>() / width).max(1.0);
    let room: Vec<f64> = least
        .iter()
        .zip(&wish)
        .map(|(least, wish)| least + share * wish)
        .collect();
    let rows = (0..=table.rows.len()).map(|k| {
        let high = columns.iter().zip(&room).map(|(column, room)| {
            column
                .get(k)
                .map_or(1.0, |words| (1.15 * wide(words) / room).ceil().max(1.0))
        });
        LINE * high.fold(1.0, f64::max) + 0.4
    });
    let under = |cell: &Option<crate::show::Cell>| match cell {
        Some(cell) => LINE * lines(&cell.whole(view), 1.06, true, width) + 0.6,
        None => 0.0,
    };
    tight.powi(4) * rows.sum::<f64>() + under(&table.caption) + under(&table.note) + 1.0
}
