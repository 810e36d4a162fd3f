//! Numbers from CSV files as shops write them.

use std::path::Path;

use crate::ask::PlanError;
use crate::text::load_data;

/// A CSV file as text cells.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Table {
    /// Column names.
    pub columns: Vec<String>,
    /// Line number from 1 and cells of each row.
    pub rows: Vec<(u64, Vec<String>)>,
    decimal_comma: bool,
}

impl Table {
    /// A cell as a finite number; with `;` or tab as separator a decimal comma is accepted.
    pub fn number(&self, cell: &str) -> Option<f64> {
        let plain = if self.decimal_comma {
            cell.replace(',', ".")
        } else {
            cell.to_owned()
        };
        plain.parse::<f64>().ok().filter(|value| value.is_finite())
    }
}

/// Reads a CSV file. The separator is the one of `;`, tab and `,` that the header line has, in this
/// order. Lines starting with `#` are left out.
pub(crate) fn read_table(path: &Path) -> Result<Table, PlanError> {
    let text = load_data(path, "a header line and rows of numbers").map_err(PlanError::File)?;
    let header = text
        .lines()
        .find(|line| !line.starts_with('#') && !line.trim().is_empty())
        .unwrap_or_default();
    let separator = [b';', b'\t']
        .into_iter()
        .find(|&s| header.contains(char::from(s)))
        .unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let fail = |error: &csv::Error| PlanError::Table {
        path: path.to_owned(),
        line: error.position().map_or(1, csv::Position::line),
        message: error.to_string(),
    };
    let columns = reader
        .headers()
        .map_err(|error| fail(&error))?
        .iter()
        .map(str::to_owned)
        .collect();
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| fail(&error))?;
        let line = record.position().map_or(0, csv::Position::line);
        rows.push((line, record.iter().map(str::to_owned).collect()));
    }
    Ok(Table {
        columns,
        rows,
        decimal_comma: separator != b',',
    })
}

/// Reads the column named `column` (as in the header line) of a CSV file. The separator is the one
/// of `;`, tab and `,` that the header line has, in this order; with `;` or tab a decimal comma is
/// accepted. Lines starting with `#` and empty cells are left out.
///
/// # Errors
/// A file that cannot be read, a missing column (with the columns there are), a cell that is not a
/// finite number (with its line).
pub fn read_column(path: &Path, column: &str) -> Result<Vec<f64>, PlanError> {
    let table = read_table(path)?;
    let fail = |line: u64, message: String| PlanError::Table {
        path: path.to_owned(),
        line,
        message,
    };
    let place = table.columns.iter().position(|name| name == column).ok_or_else(|| {
        fail(
            1,
            format!("no column `{column}`; there are: {}", table.columns.join(", ")),
        )
    })?;
    let mut values = Vec::new();
    for (line, cells) in &table.rows {
        let cell = cells.get(place).map_or("", String::as_str);
        if cell.is_empty() {
            continue;
        }
        let value = table
            .number(cell)
            .ok_or_else(|| fail(*line, format!("`{cell}` in column `{column}` is not a number")))?;
        values.push(value);
    }
    Ok(values)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(text: &str) -> tempfile::NamedTempFile {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), text).unwrap();
        file
    }

    #[test]
    fn separators_and_decimal_commas_are_understood() {
        let comma = file("# log\ntime,seconds\n1,4.2\n2,\n3,4.6\n");
        assert_eq!(read_column(comma.path(), "seconds").unwrap(), [4.2, 4.6]);
        let semicolon = file("time;seconds\n1;4,2\n2;4,6\n");
        assert_eq!(read_column(semicolon.path(), "seconds").unwrap(), [4.2, 4.6]);
    }

    #[test]
    fn faults_are_named_with_their_line() {
        let bad = file("time,seconds\n1,4.2\n2,late\n");
        let error = read_column(bad.path(), "seconds").unwrap_err().to_string();
        assert!(error.contains("line 3") && error.contains("late"), "{error}");
        let error = read_column(bad.path(), "second").unwrap_err().to_string();
        assert!(error.contains("time, seconds"), "{error}");
        let ragged = file("time,seconds\n1,4.2\n2\n");
        assert!(read_column(ragged.path(), "seconds").is_err());
        assert!(read_column(Path::new("no/such/file.csv"), "x").is_err());
    }
}
