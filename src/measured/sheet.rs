//! Logs as shops have them: separated values with commas, semicolons or tabs, decimal points or commas, missing
//! values, text in cells.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use super::error::MeasuredError;
use crate::text::nearest;

/// Largest log, bytes.
const MOST_BYTES: u64 = 64_000_000;
/// Most rows of a log.
const MOST_ROWS: usize = 500_000;

/// A log with its head.
#[derive(Debug, Clone)]
pub struct Sheet {
    /// The file.
    pub path: PathBuf,
    /// Names of the columns.
    pub head: Vec<String>,
    /// Rows below the head.
    pub rows: Vec<SheetRow>,
    /// Whether numbers have decimal commas.
    pub decimal_comma: bool,
    /// What stands between cells.
    pub delimiter: char,
}

/// A row of a log.
#[derive(Debug, Clone)]
pub struct SheetRow {
    /// Line of the file, from 1.
    pub line: usize,
    /// Cells without the space around them; none beyond the last one given.
    pub cells: Vec<String>,
}

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Reading {
    /// A number, with the unit that stands behind it; empty where none does.
    Number(f64, &'static str),
    /// Nothing, or a word for it.
    Missing,
    /// Something else.
    Words(String),
}

/// What logs write where there is no value.
const NOTHING: [&str; 14] = [
    "", "-", "--", "---", "\u{2013}", "n/a", "na", "nan", "null", "none", "#n/a", "#nv", "k.a.", "?",
];

/// Whether a cell says that there is no value.
fn is_missing(cell: &str) -> bool {
    NOTHING.contains(&cell.to_lowercase().as_str())
}

impl Sheet {
    /// Reads a log.
    ///
    /// # Errors
    /// A file that cannot be read, is too large, or has no rows.
    pub fn load(path: &Path) -> Result<Sheet, MeasuredError> {
        let unread = |why: String| MeasuredError::Log {
            path: path.to_owned(),
            why,
        };
        let file = File::open(path).map_err(|error| unread(error.to_string()))?;
        let mut bytes = Vec::new();
        let taken = file.take(MOST_BYTES + 1).read_to_end(&mut bytes);
        if taken.map_err(|error| unread(error.to_string()))? as u64 > MOST_BYTES {
            return Err(unread(format!("larger than {MOST_BYTES} bytes")));
        }
        Sheet::of(&decoded(bytes), path)
    }

    /// Takes a text as a log. Lines before the head that start with `#` and empty lines are left out.
    ///
    /// # Errors
    /// A text without rows.
    pub fn of(text: &str, path: &Path) -> Result<Sheet, MeasuredError> {
        let unread = |why: String| MeasuredError::Log {
            path: path.to_owned(),
            why,
        };
        let text = text.trim_start_matches('\u{feff}');
        let skipped = text
            .split_inclusive('\n')
            .take_while(|line| line.trim().is_empty() || line.starts_with('#'));
        let (bytes, lines) = skipped.fold((0, 0), |(bytes, lines), line| (bytes + line.len(), lines + 1));
        let body = &text[bytes..];
        let delimiter = delimiter(body.lines().next().unwrap_or_default());
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter as u8)
            .flexible(true)
            .has_headers(false)
            .trim(csv::Trim::All)
            .from_reader(body.as_bytes());
        let mut head = None;
        let mut rows = Vec::new();
        // Up to which byte line ends were counted. The reader's own count leaves out empty lines before a row.
        let mut counted = (0, lines + 1);
        for record in reader.records() {
            let record = record.map_err(|error| unread(error.to_string()))?;
            let begin = record.position().map_or(0, |at| at.byte() as usize);
            let begin = begin + body[begin..].bytes().take_while(|b| matches!(b, b'\n' | b'\r')).count();
            counted = (begin, counted.1 + line_ends(&body.as_bytes()[counted.0..begin]));
            let cells: Vec<String> = record.iter().map(str::to_owned).collect();
            if head.is_none() {
                head = Some(cells);
                continue;
            }
            if cells.iter().all(String::is_empty) {
                continue;
            }
            if rows.len() == MOST_ROWS {
                return Err(unread(format!("more than {MOST_ROWS} rows")));
            }
            rows.push(SheetRow { line: counted.1, cells });
        }
        let head = head.ok_or_else(|| unread("it has no head".to_owned()))?;
        if rows.is_empty() {
            return Err(unread("no rows below the head".to_owned()));
        }
        let decimal_comma = has_decimal_commas(&rows, delimiter);
        Ok(Sheet {
            path: path.to_owned(),
            head,
            rows,
            decimal_comma,
            delimiter,
        })
    }

    /// Column by its name (case does not count where that is clear) or its number from 1.
    ///
    /// # Errors
    /// A name that no column has, or that two have.
    pub fn column(&self, name: &str) -> Result<usize, MeasuredError> {
        let wanted = name.trim();
        let exact: Vec<usize> = (0..self.head.len()).filter(|k| self.head[*k] == wanted).collect();
        let alike = || -> Vec<usize> {
            let lower = wanted.to_lowercase();
            (0..self.head.len())
                .filter(|k| self.head[*k].to_lowercase() == lower)
                .collect()
        };
        let found = if exact.is_empty() { alike() } else { exact };
        match (found.as_slice(), wanted.parse::<usize>()) {
            ([one], _) => Ok(*one),
            ([], Ok(number)) if (1..=self.head.len()).contains(&number) => Ok(number - 1),
            (several, _) => Err(MeasuredError::Column {
                path: self.path.clone(),
                column: wanted.to_owned(),
                times: several.len(),
                near: nearest(wanted, self.head.iter().map(String::as_str)),
                known: self.head.join(", "),
            }),
        }
    }

    /// What stands in a cell.
    #[must_use]
    pub fn reading(&self, row: &SheetRow, column: usize) -> Reading {
        let cell = row.cells.get(column).map_or("", String::as_str);
        if is_missing(cell) {
            return Reading::Missing;
        }
        match number(cell, self.decimal_comma) {
            Some((value, unit)) => Reading::Number(value, unit),
            None => Reading::Words(cell.to_owned()),
        }
    }
}

/// Bytes as text: UTF-8, UTF-16 with a byte order mark, else Latin-1, which older loggers write.
fn decoded(bytes: Vec<u8>) -> String {
    let wide = |of: fn([u8; 2]) -> u16| -> String {
        let units: Vec<u16> = bytes[2..].chunks_exact(2).map(|pair| of([pair[0], pair[1]])).collect();
        String::from_utf16_lossy(&units)
    };
    match bytes.as_slice() {
        [0xff, 0xfe, ..] => return wide(u16::from_le_bytes),
        [0xfe, 0xff, ..] => return wide(u16::from_be_bytes),
        _ => {}
    }
    String::from_utf8(bytes).unwrap_or_else(|error| error.as_bytes().iter().map(|byte| char::from(*byte)).collect())
}

/// Line ends of a text: a line feed, or a carriage return that no line feed follows.
fn line_ends(bytes: &[u8]) -> usize {
    let feeds = bytes.iter().filter(|b| **b == b'\n').count();
    let returns = bytes
        .iter()
        .enumerate()
        .filter(|(k, b)| **b == b'\r' && bytes.get(k + 1) != Some(&b'\n'));
    feeds + returns.count()
}

/// What stands between the cells of the head: a semicolon or a tab where there is one, else a comma.
fn delimiter(head: &str) -> char {
    let outside: String = head.split('"').step_by(2).collect();
    [';', '\t'].into_iter().find(|c| outside.contains(*c)).unwrap_or(',')
}

/// Whether more numbers of the rows read with a decimal comma than with a decimal point. Where commas stand between the
/// cells, `1,225` is a number with a separator of thousands.
fn has_decimal_commas(rows: &[SheetRow], delimiter: char) -> bool {
    let (mut commas, mut points) = (0_usize, 0_usize);
    for cell in rows.iter().take(2000).flat_map(|row| &row.cells) {
        let with = |sign: char| {
            cell.split_once(sign).is_some_and(|(whole, part)| {
                let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
                let grouped = sign == ',' && delimiter == ',' && part.len() == 3;
                digits(whole.trim_start_matches(['-', '+'])) && digits(part) && !grouped
            })
        };
        commas += usize::from(with(','));
        points += usize::from(with('.'));
    }
    commas > points
}

/// Units as cells have them, each with what is meant.
const UNITS: [(&str, &str); 14] = [
    ("\u{b0}C", "degC"),
    ("\u{b0}F", "degF"),
    ("degC", "degC"),
    ("degF", "degF"),
    ("C", "degC"),
    ("F", "degF"),
    ("K", "K"),
    ("min", "min"),
    ("kWh", "kWh"),
    ("kW", "kW"),
    ("MJ", "MJ"),
    ("sec", "s"),
    ("ms", "ms"),
    ("s", "s"),
];

/// A number with the decimal sign of its log, and the unit behind it; separators of thousands are taken off.
pub(super) fn number(cell: &str, comma: bool) -> Option<(f64, &'static str)> {
    let cell = cell.replace(['\u{a0}', '\u{202f}', '\''], " ");
    let cell = cell.trim();
    let (bare, unit) = UNITS
        .iter()
        .find_map(|(written, unit)| Some((cell.strip_suffix(written)?, *unit)))
        .unwrap_or((cell, ""));
    let bare = bare.trim_end();
    let power = bare.find(['e', 'E']).unwrap_or(bare.len());
    let (bare, power) = bare.split_at(power);
    let (decimal, thousands) = if comma { (',', '.') } else { ('.', ',') };
    let (whole, part) = bare.split_once(decimal).unwrap_or((bare, ""));
    let groups: Vec<&str> = whole.split([thousands, ' ']).collect();
    let (first, rest) = groups.split_first()?;
    if !rest
        .iter()
        .all(|group| group.len() == 3 && group.bytes().all(|b| b.is_ascii_digit()))
    {
        return None;
    }
    let digits = first.trim_start_matches(['-', '+']).len();
    let has_none = digits == 0 && part.is_empty();
    if has_none || !rest.is_empty() && !(1..=3).contains(&digits) {
        return None;
    }
    let text = format!(
        "{}.{}{power}",
        groups.concat(),
        if part.is_empty() { "0" } else { part }
    );
    // Only the signs of numbers: words such as `inf` are none.
    if !text
        .bytes()
        .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e' | b'E'))
    {
        return None;
    }
    let value = text.parse::<f64>().ok().filter(|value| value.is_finite())?;
    Some((value, unit))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_shops_are_read() {
        for (cell, comma, value) in [
            ("1240,5", true, Some(1240.5)),
            ("1.240,5", true, Some(1240.5)),
            ("1 240,5", true, Some(1240.5)),
            ("1,240.5", false, Some(1240.5)),
            ("-3e-2", false, Some(-0.03)),
            ("1240 \u{b0}C", false, Some(1240.0)),
            ("12.40,5", true, None),
            ("over", false, None),
            ("", false, None),
            ("\u{b0}C", false, None),
            ("inf", false, None),
            ("1240;", false, None),
        ] {
            assert_eq!(number(cell, comma).map(|n| n.0), value, "{cell}");
        }
    }

    #[test]
    fn a_log_with_semicolons_commas_gaps_and_words_is_read() {
        let text =
            "# export of the line\nTeil;Zeit;T Austritt\n1;06:00:00;1240,5\n\n2;06:00:14;-\n3;06:00:28;Störung\n";
        let sheet = Sheet::of(text, Path::new("x.csv")).unwrap();
        assert!(sheet.decimal_comma && sheet.delimiter == ';');
        let at = sheet.column("t austritt").unwrap();
        let read: Vec<(usize, Reading)> = sheet.rows.iter().map(|r| (r.line, sheet.reading(r, at))).collect();
        assert_eq!(read[0], (3, Reading::Number(1240.5, "")));
        assert_eq!(read[1], (5, Reading::Missing));
        assert_eq!(read[2], (6, Reading::Words("Störung".to_owned())));
        assert_eq!(sheet.column("2").unwrap(), 1);
        assert!(
            sheet
                .column("T Austrit")
                .unwrap_err()
                .to_string()
                .contains("T Austritt")
        );
    }

    #[test]
    fn a_unit_behind_a_number_is_kept() {
        for (cell, value, unit) in [
            ("1225 \u{b0}F", 1225.0, "degF"),
            ("1225 \u{b0}C", 1225.0, "degC"),
            ("1498K", 1498.0, "K"),
            ("0.5 min", 0.5, "min"),
            ("12.5 s", 12.5, "s"),
            ("12.5", 12.5, ""),
        ] {
            assert_eq!(number(cell, false), Some((value, unit)), "{cell}");
        }
    }

    #[test]
    fn a_group_of_three_digits_between_commas_is_no_decimal_comma() {
        let sheet = Sheet::of("part,exit_c\n1,\"1,225\"\n2,\"1,231\"\n", Path::new("x.csv")).unwrap();
        assert_eq!(sheet.reading(&sheet.rows[0], 1), Reading::Number(1225.0, ""));
        let sheet = Sheet::of("part,exit_c\n1,\"1225,5\"\n2,\"1231,0\"\n", Path::new("x.csv")).unwrap();
        assert_eq!(sheet.reading(&sheet.rows[0], 1), Reading::Number(1225.5, ""));
    }

    #[test]
    fn lines_that_end_with_a_carriage_return_are_counted() {
        let sheet = Sheet::of("part;t\r1;5\r2;6\r", Path::new("x.csv")).unwrap();
        assert_eq!(sheet.rows.iter().map(|r| r.line).collect::<Vec<usize>>(), [2, 3]);
    }

    #[test]
    fn latin_1_is_read() {
        assert_eq!(decoded(vec![b'T', 0xb0, b'C']), "T\u{b0}C");
    }
}
