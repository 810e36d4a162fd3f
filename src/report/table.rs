//! Text tables that fit a terminal of 80 columns.

use crate::show::terminal::grid;

/// Widest line of every table.
pub const COLUMNS: u16 = 80;

/// Text for a terminal: control characters (which could move the cursor or change colours) are
/// left out.
pub fn plain(text: &str) -> String {
    crate::text::clean(text)
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

/// A table of texts; columns whose header starts with `>` are set to the right.
///
/// Lines are never wider than [`COLUMNS`]: long cells wrap, and a single cell is cut at 200
/// characters so that a hostile title cannot flood the screen.
pub fn text_table(header: &[&str], rows: &[Vec<String>]) -> String {
    let heads: Vec<(String, bool)> = header
        .iter()
        .map(|head| {
            (
                head.trim_start_matches('>').trim_start().to_owned(),
                head.starts_with('>'),
            )
        })
        .collect();
    let rows = rows.iter().map(|row| row.iter().map(|text| cut(text, 200)).collect());
    grid(&heads, rows.collect(), usize::from(COLUMNS)).replace('\u{a0}', " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_characters_do_not_reach_the_terminal() {
        assert_eq!(plain("a\u{1b}[2Jb"), "a[2Jb");
        assert_eq!(cut("abcdefgh", 6), "abc...");
    }
}
