//! Rows and columns of texts within a width.

use comfy_table::{
    Cell, CellAlignment, ColumnConstraint, ContentArrangement, ContentLineStyle, LineStyle, Table, TableStyle, Width,
};
use unicode_width::UnicodeWidthStr;

/// Columns parted by blanks, one rule under the header.
const HOUSE: TableStyle = TableStyle::new()
    .header_lines(ContentLineStyle::none())
    .header_separator(LineStyle::none().fill('\u{2500}'))
    .content_lines(ContentLineStyle::none());

/// Where a text may break: a blank of no width, taken out of the finished table.
const SOFT: char = '\u{200b}';

/// The text with its breaks: behind a blank, and in a name before the letters that follow a dot, an
/// underscore or a hyphen.
fn soft(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 12);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        out.push(c);
        let letters = chars.peek().is_some_and(|next| next.is_alphabetic());
        if c == ' ' || (matches!(c, '.' | '_' | '-') && letters) {
            out.push(SOFT);
        }
    }
    out
}

fn cell(text: &str) -> Cell {
    Cell::new(soft(text)).set_delimiter(SOFT)
}

/// The widest piece of a text that has to stay on one line.
fn longest(text: &str) -> usize {
    let piece = |piece: &str| piece.trim_end_matches(' ').width();
    soft(text).split(SOFT).map(piece).max().unwrap_or(0)
}

/// Widest name that is kept whole where there is room.
const NAME: usize = 16;

/// The same with names kept whole.
fn whole(text: &str) -> usize {
    let pieces = text.split(' ').map(|word| match word.width() {
        width if width <= NAME => width,
        _ => longest(word),
    });
    pieces.max().unwrap_or(0)
}

/// The widest of something in each column, head and cells.
fn by(heads: &[(String, bool)], rows: &[Vec<String>], widest: fn(&str) -> usize) -> Vec<usize> {
    let column = |(i, head): (usize, &(String, bool))| {
        let cells = rows.iter().filter_map(|row| row.get(i)).map(|text| widest(text));
        cells.max().unwrap_or(0).max(widest(&head.0))
    };
    heads.iter().enumerate().map(column).collect()
}

/// The least width of each column so that no name and no word is torn; where the table has no room for
/// that, so that no word is; where there is no room for that either, the longest words are.
fn least(heads: &[(String, bool)], rows: &[Vec<String>], room: usize) -> Vec<usize> {
    let names = by(heads, rows, whole);
    if names.iter().sum::<usize>() <= room {
        return names;
    }
    let mut least = by(heads, rows, longest);
    while least.iter().sum::<usize>() > room {
        let Some(widest) = least.iter_mut().max().filter(|width| **width > 1) else {
            break;
        };
        *widest -= 1;
    }
    least
}

/// Digits behind the decimal sign of a number, and the sign: what stands to the right of the place
/// where numbers of a column meet. `None` for a text that is no number.
fn fraction(text: &str) -> Option<usize> {
    let body = text.trim_start_matches(['+', '-']);
    if body.is_empty() || !body.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',')) {
        return None;
    }
    Some(body.find(['.', ',']).map_or(0, |at| body.len() - at))
}

/// Sets the numbers of right-hand columns so that their decimal signs stand under each other.
fn align(heads: &[(String, bool)], rows: &mut [Vec<String>]) {
    for (i, _) in heads.iter().enumerate().filter(|(_, head)| head.1) {
        let widest = rows.iter().filter_map(|row| fraction(row.get(i)?)).max().unwrap_or(0);
        for text in rows.iter_mut().filter_map(|row| row.get_mut(i)) {
            if let Some(digits) = fraction(text) {
                text.push_str(&"\u{a0}".repeat(widest - digits));
            }
        }
    }
}

/// A table of texts, no line wider than the width: long cells wrap. Columns with `true` hold numbers
/// and are set to the right.
pub(super) fn grid(heads: &[(String, bool)], mut rows: Vec<Vec<String>>, width: usize) -> String {
    align(heads, &mut rows);
    let columns = u16::try_from(width).unwrap_or(u16::MAX);
    let mut table = Table::new();
    table
        .load_style(HOUSE)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(columns);
    table.set_header(heads.iter().map(|head| cell(&head.0)));
    for row in &rows {
        table.add_row(row.iter().map(|text| cell(text)));
    }
    // Two blanks between columns where the table stays narrow enough and no name is torn for them.
    let content: usize = table.column_max_content_widths().iter().map(|&w| usize::from(w)).sum();
    let names: usize = by(heads, &rows, whole).iter().sum();
    let gap = if content.max(names) + 2 * heads.len() <= width {
        2
    } else {
        1
    };
    let least = least(heads, &rows, width.saturating_sub(gap * heads.len()));
    let gap = gap as u16;
    for (i, head) in heads.iter().enumerate() {
        if let Some(column) = table.column_mut(i) {
            column.set_padding((0, gap));
            let width = u16::try_from(least[i]).unwrap_or(u16::MAX) + gap;
            column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(width)));
            if head.1 {
                column.set_cell_alignment(CellAlignment::Right);
            }
        }
    }
    let mut text: String = table.lines().map(|line| format!("{}\n", line.trim_end())).collect();
    text.retain(|c| c != SOFT);
    if text.is_empty() {
        text.push('\n');
    }
    debug_assert!(text.lines().all(|line| line.width() <= width), "{text}");
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heads(names: &[&str]) -> Vec<(String, bool)> {
        names
            .iter()
            .map(|name| (name.trim_start_matches('>').to_owned(), name.starts_with('>')))
            .collect()
    }

    #[test]
    fn tables_never_exceed_the_width() {
        let rows = vec![
            vec!["heater to upsetter ".repeat(40), "1240".into(), "x".repeat(300)],
            vec!["\u{6c49}\u{5b57}".repeat(50), "-3".into(), String::new()],
        ];
        for width in [60, 80, 160] {
            let text = grid(&heads(&["stage", ">surface", "note"]), rows.clone(), width);
            for line in text.lines() {
                assert!(line.width() <= width, "{} {line}", line.width());
            }
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
        let text = grid(&heads(&["stage", "node", "note"]), rows, 80);
        let from = text.lines().next().and_then(|line| line.find("node")).unwrap();
        let mut pieces: Vec<&str> = Vec::new();
        for line in text.lines().skip(2) {
            assert!(line.width() <= 80 && !line.contains(SOFT), "{line}");
            let piece = line.get(from..).and_then(|rest| rest.split(' ').next());
            pieces.extend(piece.filter(|piece| !piece.is_empty()));
        }
        assert_eq!(pieces.concat(), names.concat());
        assert!(pieces.len() > names.len(), "nothing was broken: {pieces:?}");
        let whole = |piece: &&str| piece.ends_with(['.', '_', '-']) || names.iter().any(|name| name.ends_with(*piece));
        assert!(pieces.iter().all(whole), "{pieces:?}");
    }

    #[test]
    fn words_are_not_torn_while_there_is_room() {
        let rows = vec![vec![
            "case-hardening steel".to_owned(),
            "1265".to_owned(),
            "a long list of names that are wrapped, ".repeat(4),
        ]];
        let text = grid(&heads(&["kind", ">never above", "also called"]), rows, 60);
        assert!(text.contains("hardening") && text.contains("wrapped"), "{text}");
    }

    #[test]
    fn blanks_between_columns_tear_no_head() {
        let names = [
            "coil",
            ">frequency\u{a0}Hz",
            ">terminals\u{a0}kW",
            ">billets\u{a0}kW",
            ">efficiency\u{a0}%",
            ">cos\u{a0}\u{3c6}",
            ">field\u{a0}kA/m",
        ];
        let rows = vec![vec!["1".to_owned(); names.len()]];
        let text = grid(&heads(&names), rows, 80).replace('\u{a0}', " ");
        assert!(text.contains("efficiency %"), "{text}");
    }

    #[test]
    fn decimal_signs_stand_under_each_other() {
        let rows = ["12.5", "-3", "none", "0.125"]
            .iter()
            .map(|text| vec![(*text).to_owned()])
            .collect();
        let text = grid(&heads(&[">kW"]), rows, 80).replace('\u{a0}', " ");
        let lines: Vec<&str> = text.lines().skip(2).collect();
        assert_eq!(lines, ["12.5", "-3", "  none", " 0.125"].map(|line| line), "{text}");
    }
}
