//! Numbers from one column of a CSV file.

use std::path::Path;

use crate::plan::PlanError;

/// Reads the column named `column` (as in the header line) of a CSV file. The separator is the one
/// of `;`, tab and `,` that the header line has, in this order; with `;` or tab a decimal comma is
/// accepted. Lines starting with `#` and empty cells are left out.
///
/// # Errors
/// A file that cannot be read, a missing column (with the columns there are), a cell that is not a
/// finite number (with its line).
pub fn read_column(path: &Path, column: &str) -> Result<Vec<f64>, PlanError> {
    let text = std::fs::read_to_string(path).map_err(|error| PlanError::File {
        path: path.to_owned(),
        message: error.to_string(),
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
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
        .flexible(true)
        .from_reader(text.as_bytes());
    let fail = |line: u64, message: String| PlanError::Table {
        path: path.to_owned(),
        line,
        message,
    };
    let names = reader.headers().map_err(|error| fail(1, error.to_string()))?.clone();
    let place = names.iter().position(|name| name == column).ok_or_else(|| {
        fail(
            1,
            format!(
                "no column `{column}`; there are: {}",
                names.iter().collect::<Vec<_>>().join(", ")
            ),
        )
    })?;
    let mut values = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| {
            let line = error.position().map_or(0, csv::Position::line);
            fail(line, error.to_string())
        })?;
        let line = record.position().map_or(0, csv::Position::line);
        let cell = record.get(place).unwrap_or_default();
        if cell.is_empty() {
            continue;
        }
        let plain = if separator == b',' {
            cell.to_owned()
        } else {
            cell.replace(',', ".")
        };
        match plain.parse::<f64>() {
            Ok(value) if value.is_finite() => values.push(value),
            _ => {
                return Err(fail(line, format!("`{cell}` in column `{column}` is not a number")));
            }
        }
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
        assert!(read_column(Path::new("no/such/file.csv"), "x").is_err());
    }
}
