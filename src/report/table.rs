//! Text tables that fit a terminal of 80 columns.

use std::io::IsTerminal;

use crate::show::terminal::grid;

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
        assert_eq!(paint("holds", true, false), "holds");
        assert_eq!(cut("abcdefgh", 6), "abc...");
    }
}
