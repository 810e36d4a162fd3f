//! Text tables that fit a terminal of 80 columns.

use std::io::IsTerminal;

use comfy_table::{Cell, CellAlignment, ContentArrangement, ContentLineStyle, LineStyle, Table, TableStyle};

/// Columns parted by blanks, one rule under the header.
const HOUSE: TableStyle = TableStyle::new()
    .header_lines(ContentLineStyle::none())
    .header_separator(LineStyle::none().fill('\u{2500}'))
    .content_lines(ContentLineStyle::none());

/// Widest line of every table.
pub const COLUMNS: u16 = 80;

/// Whether colour may be used on standard output: only on a terminal, and never when `NO_COLOR` is
/// set to anything but nothing (the convention of no-color.org).
pub fn colour_allowed() -> bool {
    let refused = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
    !refused && std::io::stdout().is_terminal()
}

/// A word in bold red or green where colour is allowed; the word alone must carry the meaning.
pub fn paint(word: &str, good: bool, colour: bool) -> String {
    match (colour, good) {
        (false, _) => word.to_owned(),
        (true, true) => format!("\u{1b}[1;32m{word}\u{1b}[0m"),
        (true, false) => format!("\u{1b}[1;31m{word}\u{1b}[0m"),
    }
}

/// Text for a terminal: control characters (which could move the cursor or change colours) are
/// left out.
pub fn plain(text: &str) -> String {
    super::chart::canvas::clean(text)
}

/// Text cut to a number of columns, with `...` where something was cut.
pub fn cut(text: &str, columns: usize) -> String {
    use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};
    let text = plain(text);
    if text.width() <= columns {
        return text;
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

/// Words wrapped at a width, further lines indented.
pub fn wrap(text: &str, width: usize, indent: &str) -> String {
    use unicode_width::UnicodeWidthStr;
    let mut out = String::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let word = cut(word, width - indent.len());
        if !line.trim().is_empty() && line.width() + 1 + word.width() > width {
            out.push_str(&line);
            out.push('\n');
            line = indent.to_owned();
        }
        if !line.trim().is_empty() {
            line.push(' ');
        }
        line.push_str(&word);
    }
    out.push_str(&line);
    out.push('\n');
    out
}

/// Where a name may break: a blank of no width, taken out of the finished table.
const SOFT: char = '\u{200b}';

/// A cell. A long name without blanks (a node, a path of an input) breaks after a dot or an underscore.
fn cell(text: &str) -> Cell {
    if text.contains(' ') || !text.contains(['.', '_']) {
        return Cell::new(text);
    }
    let mut soft = String::with_capacity(text.len() + 12);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        soft.push(c);
        if matches!(c, '.' | '_') && chars.peek().is_some_and(|next| next.is_alphabetic()) {
            soft.push(SOFT);
        }
    }
    Cell::new(soft).set_delimiter(SOFT)
}

/// A table of texts; columns whose header starts with `>` are set to the right.
///
/// Lines are never wider than [`COLUMNS`]: long cells wrap, and a single cell is cut at 200
/// characters so that a hostile title cannot flood the screen.
pub fn text_table(header: &[&str], rows: &[Vec<String>]) -> String {
    let mut table = Table::new();
    table
        .load_style(HOUSE)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(COLUMNS);
    table.set_header(header.iter().map(|h| cell(h.trim_start_matches('>'))));
    for row in rows {
        table.add_row(row.iter().map(|text| cell(&cut(text, 200))));
    }
    // two blanks between columns where the table stays narrow enough
    let content: u32 = table.column_max_content_widths().iter().map(|&w| u32::from(w)).sum();
    let gap = if content + 2 * header.len() as u32 <= u32::from(COLUMNS) {
        2
    } else {
        1
    };
    for (i, head) in header.iter().enumerate() {
        if let Some(column) = table.column_mut(i) {
            column.set_padding((0, gap));
            if head.starts_with('>') {
                column.set_cell_alignment(CellAlignment::Right);
            }
        }
    }
    let mut text: String = table.lines().map(|line| format!("{}\n", line.trim_end())).collect();
    text.retain(|c| c != SOFT);
    if text.is_empty() {
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use unicode_width::UnicodeWidthStr;

    #[test]
    fn tables_never_exceed_the_width() {
        let rows = vec![
            vec!["heater to upsetter ".repeat(40), "1240".into(), "x".repeat(300)],
            vec!["\u{6c49}\u{5b57}".repeat(50), "-3".into(), String::new()],
        ];
        let text = text_table(&["stage", ">surface [degC]", "note"], &rows);
        for line in text.lines() {
            assert!(line.width() <= usize::from(COLUMNS), "{} {line}", line.width());
        }
    }

    #[test]
    fn names_break_after_a_dot_or_an_underscore() {
        let names = [
            "big_end.body.surface",
            "shank.flash.coldest",
            "part_of_many_words.heat.share_3.5",
        ];
        let words = "a word or two ".repeat(5);
        let rows: Vec<Vec<String>> = names
            .iter()
            .map(|name| vec![words.clone(), (*name).to_owned(), words.clone()])
            .collect();
        let text = text_table(&["stage", "node", "note"], &rows);
        let from = text.lines().next().and_then(|line| line.find("node")).unwrap();
        let mut pieces: Vec<&str> = Vec::new();
        for line in text.lines().skip(2) {
            assert!(line.width() <= usize::from(COLUMNS) && !line.contains(SOFT), "{line}");
            let piece = line.get(from..).and_then(|rest| rest.split(' ').next());
            pieces.extend(piece.filter(|piece| !piece.is_empty()));
        }
        assert_eq!(pieces.concat(), names.concat());
        assert!(pieces.len() > names.len(), "nothing was broken: {pieces:?}");
        let whole = |piece: &&str| piece.ends_with(['.', '_']) || names.iter().any(|name| name.ends_with(*piece));
        assert!(pieces.iter().all(whole), "{pieces:?}");
    }

    #[test]
    fn control_characters_do_not_reach_the_terminal() {
        assert_eq!(plain("a\u{1b}[2Jb"), "a[2Jb");
        assert_eq!(paint("holds", true, false), "holds");
        assert_eq!(cut("abcdefgh", 6), "abc...");
    }
}
