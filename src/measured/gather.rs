//! From files to parts: the rows of all logs of a trial, joined, with all that is wrong in them told by file and line.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::clock::{self, Clock};
use super::error::MeasuredError;
use super::given::{Given, Measurement, Readings, What};
use super::join::{Offset, find_offset, pairs};
use super::sheet::{Reading, Sheet, SheetRow};

/// A row that is not used, or only in part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BadRow {
    /// File; empty for what was typed in the line file.
    pub file: String,
    /// Line of it, from 1.
    pub line: usize,
    /// Name of the measurement.
    pub measurement: String,
    /// What is wrong, in a sentence.
    pub reason: String,
}

/// A reading of a part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Datum {
    /// Index of the measurement.
    pub measurement: usize,
    /// Value in degC, s, kWh or kW.
    pub value: f64,
    /// Line of its file.
    pub line: usize,
    /// Seconds of a curve after its moment.
    pub time_s: f64,
}

/// What was logged of one part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartLog {
    /// Name, or number in the log.
    pub name: String,
    /// Line of the first file.
    pub line: usize,
    /// Readings.
    pub data: Vec<Datum>,
}

/// How a file was joined to the first one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Join {
    /// The file.
    pub file: String,
    /// By what.
    pub by: JoinedBy,
    /// Rows with a partner.
    pub joined: usize,
    /// Rows of the file.
    pub rows: usize,
}

/// By what rows were joined.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum JoinedBy {
    /// The name of the part.
    Name,
    /// The clock.
    Clock(Offset),
    /// The order of the rows, both logs being of one length.
    Order,
}

/// Parts of one trial.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trial {
    /// Its name.
    pub name: String,
    /// Another line.
    pub line: Option<PathBuf>,
    /// Measurements of it, by index.
    pub measurements: Vec<usize>,
    /// Parts.
    pub parts: Vec<PartLog>,
    /// How files were joined.
    pub joins: Vec<Join>,
    /// Rows with something wrong.
    pub bad: Vec<BadRow>,
    /// Cells without a value, by measurement.
    pub missing: Vec<(usize, usize)>,
    /// Rows of the first file whose part was there before.
    pub repeated: Vec<BadRow>,
    /// Columns of its files that no measurement reads; not those of curves.
    #[serde(skip)]
    pub unread_columns: Vec<String>,
}

/// Most rows of a curve; of a longer one every second, third, ... is taken.
pub const MOST_OF_CURVE: usize = 400;

/// Line, part, clock, readings.
type LogRow = (usize, Option<String>, Option<f64>, Vec<Datum>);

/// Rows of one file with what was read in them.
struct Rows {
    name: String,
    rows: Vec<LogRow>,
    offset: Option<f64>,
    has_part: bool,
    has_clock: bool,
}

/// Seconds from the first clock to a measurement of a part, as planned: for joining by the clock.
pub type Lag<'a> = dyn Fn(&Measurement, &[Datum]) -> f64 + 'a;

/// Reads all trials. `lag` gives the planned seconds after the heater exit at which a measurement is taken.
///
/// # Errors
/// A file that cannot be read, a column that is not there, logs that cannot be joined.
pub fn gather(given: &Given, lag: &Lag) -> Result<Vec<Trial>, MeasuredError> {
    let mut sheets: HashMap<PathBuf, Sheet> = HashMap::new();
    for path in given.measurements.iter().filter_map(|m| m.readings.file()) {
        if !sheets.contains_key(path) {
            sheets.insert(path.to_owned(), Sheet::load(path)?);
        }
    }
    let mut trials: Vec<Trial> = Vec::new();
    for (index, m) in given.measurements.iter().enumerate() {
        match trials.iter_mut().find(|t| t.name == m.trial && t.line == m.line) {
            Some(trial) => trial.measurements.push(index),
            None => trials.push(Trial {
                name: m.trial.clone(),
                line: m.line.clone(),
                measurements: vec![index],
                parts: Vec::new(),
                joins: Vec::new(),
                bad: Vec::new(),
                missing: Vec::new(),
                repeated: Vec::new(),
                unread_columns: Vec::new(),
            }),
        }
    }
    for trial in &mut trials {
        fill(trial, given, &sheets, lag)?;
    }
    Ok(trials)
}

pub(super) fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}

fn fill(trial: &mut Trial, given: &Given, sheets: &HashMap<PathBuf, Sheet>, lag: &Lag) -> Result<(), MeasuredError> {
    let of = |index: &usize| (*index, &given.measurements[*index]);
    let (curves, others): (Vec<_>, Vec<_>) = trial
        .measurements
        .clone()
        .iter()
        .map(of)
        .partition(|(_, m)| matches!(m.what, What::Curve(_)));
    let mut files: Vec<PathBuf> = Vec::new();
    for path in others.iter().filter_map(|(_, m)| m.readings.file()) {
        if !files.iter().any(|known| known == path) {
            files.push(path.to_owned());
        }
    }
    for (k, path) in files.iter().enumerate() {
        let of_file: Vec<(usize, &Measurement)> = others
            .iter()
            .filter(|(_, m)| m.readings.file() == Some(path))
            .copied()
            .collect();
        let rows = read_rows(&sheets[path], &of_file, trial)?;
        if k == 0 {
            first_file(trial, rows);
        } else {
            join(trial, rows, &of_file, given, lag)?;
        }
    }
    typed(trial, &others)?;
    for (index, m) in curves {
        curve(trial, index, m, sheets)?;
    }
    Ok(())
}

/// The parts are those of the first file.
fn first_file(trial: &mut Trial, rows: Rows) {
    let mut seen: HashMap<String, usize> = HashMap::new();
    for (k, (line, part, clock, data)) in rows.rows.into_iter().enumerate() {
        if let Some(before) = part.as_ref().and_then(|part| seen.insert(part.clone(), line)) {
            let row = BadRow {
                file: rows.name.clone(),
                line,
                measurement: String::new(),
                reason: format!("the part of line {before} again; the later row is not used"),
            };
            trial.bad.push(row.clone());
            trial.repeated.push(row);
            continue;
        }
        let mut data = data;
        // The clock of the first file is carried along for joining.
        for datum in &mut data {
            datum.time_s = clock.unwrap_or(f64::NAN);
        }
        trial.parts.push(PartLog {
            name: part.unwrap_or_else(|| (k + 1).to_string()),
            line,
            data,
        });
    }
}

/// What stands in the rows of a file.
fn read_rows(sheet: &Sheet, of_file: &[(usize, &Measurement)], trial: &mut Trial) -> Result<Rows, MeasuredError> {
    let name = file_name(&sheet.path);
    let one = |pick: fn(&Measurement) -> Option<&String>| -> Result<Option<usize>, MeasuredError> {
        let found = of_file.iter().find_map(|(_, m)| pick(m));
        found.map(|column| sheet.column(column)).transpose()
    };
    let part = one(|m| m.part_column.as_ref())?;
    let clock = one(|m| m.time_column.as_ref())?;
    let clocks: Vec<Option<Clock>> = sheet
        .rows
        .iter()
        .map(|row| clock::read(row.cells.get(clock?)?, sheet.decimal_comma))
        .collect();
    let clocks = clock::going_on(&clocks);
    let mut columns = Vec::new();
    for (index, m) in of_file {
        let pair = match &m.readings {
            Readings::Column { column, .. } => (sheet.column(column)?, None),
            Readings::Clock { from, to, .. } => (sheet.column(from)?, Some(sheet.column(to)?)),
            Readings::Typed(_) => continue,
        };
        columns.push((*index, *m, pair));
        trial.missing.push((*index, 0));
    }
    let of_values = columns
        .iter()
        .flat_map(|(_, _, pair)| std::iter::once(pair.0).chain(pair.1));
    let read: Vec<usize> = of_values.chain(part).chain(clock).collect();
    let unread = sheet.head.iter().enumerate().filter(|(k, _)| !read.contains(k));
    trial.unread_columns.extend(unread.map(|(_, name)| name.clone()));
    let mut rows = Vec::new();
    for (row, clock_s) in sheet.rows.iter().zip(clocks) {
        let cell = |column: usize| row.cells.get(column).cloned().filter(|cell| !cell.is_empty());
        if clock.is_some() && clock_s.is_none() {
            let told = clock.and_then(cell).unwrap_or_default();
            bad(trial, &name, row, "", format!("`{told}` is no time"));
        }
        let mut data = Vec::new();
        for (index, m, columns) in &columns {
            match value_of(sheet, row, m, *columns) {
                Ok(Some(value)) => data.push(Datum {
                    measurement: *index,
                    value,
                    line: row.line,
                    time_s: 0.0,
                }),
                Ok(None) => {
                    if let Some(count) = trial.missing.iter_mut().find(|c| c.0 == *index) {
                        count.1 += 1;
                    }
                }
                Err(reason) => bad(trial, &name, row, &m.name, reason),
            }
        }
        rows.push((row.line, part.and_then(cell), clock_s, data));
    }
    Ok(Rows {
        name,
        rows,
        offset: of_file.iter().find_map(|(_, m)| m.clock_offset_s),
        has_part: part.is_some(),
        has_clock: clock.is_some(),
    })
}

fn bad(trial: &mut Trial, file: &str, row: &SheetRow, measurement: &str, reason: String) {
    trial.bad.push(BadRow {
        file: file.to_owned(),
        line: row.line,
        measurement: measurement.to_owned(),
        reason,
    });
}

/// The value of a measurement in a row; `None` where there is none.
fn value_of(
    sheet: &Sheet,
    row: &SheetRow,
    m: &Measurement,
    (first, second): (usize, Option<usize>),
) -> Result<Option<f64>, String> {
    let Some(to) = second else {
        return match sheet.reading(row, first) {
            Reading::Number(value, unit) => m.value(value, unit).map(Some),
            Reading::Missing => Ok(None),
            Reading::Words(words) => Err(format!("`{words}` is no number")),
        };
    };
    let clock = |column: usize| -> Result<Option<(Clock, &str)>, String> {
        match sheet.reading(row, column) {
            Reading::Missing => Ok(None),
            Reading::Number(value, unit) => Ok(Some((Clock::Plain(value), unit))),
            Reading::Words(words) => match clock::read(&words, sheet.decimal_comma) {
                Some(time) => Ok(Some((time, ""))),
                None => Err(format!("`{words}` is no time")),
            },
        }
    };
    let (Some(from), Some(to)) = (clock(first)?, clock(to)?) else {
        return Ok(None);
    };
    let seconds = match (from, to) {
        // Plain numbers count in the unit of the measurement, clocks in seconds whatever that is.
        ((Clock::Plain(from), of_from), (Clock::Plain(to), of_to)) => m.value(to, of_to)? - m.value(from, of_from)?,
        // Past midnight on a clock without a date.
        ((Clock::OfDay(from), _), (Clock::OfDay(to), _)) if to < from - 0.5 * clock::DAY_S => to + clock::DAY_S - from,
        ((Clock::OfDay(from), _), (Clock::OfDay(to), _)) | ((Clock::Dated(from), _), (Clock::Dated(to), _)) => {
            to - from
        }
        _ => return Err("its start and its end are not of one clock".to_owned()),
    };
    match seconds < 0.0 {
        true => Err(format!("it ends {:.1} s before it starts", -seconds)),
        false => Ok(Some(seconds)),
    }
}

/// Joins a further file to the parts.
fn join(
    trial: &mut Trial,
    rows: Rows,
    of_file: &[(usize, &Measurement)],
    given: &Given,
    lag: &Lag,
) -> Result<(), MeasuredError> {
    let count = rows.rows.len();
    let first_has_names = trial.measurements.iter().any(|k| {
        let m = &given.measurements[*k];
        m.part_column.is_some() && !of_file.iter().any(|(index, _)| index == k)
    });
    let has_first_clock = trial.parts.iter().any(|p| p.data.iter().any(|d| d.time_s.is_finite()));
    let (by, partners): (JoinedBy, Vec<Option<usize>>) = if rows.has_part && first_has_names {
        let places: HashMap<&str, usize> = trial
            .parts
            .iter()
            .enumerate()
            .map(|(k, part)| (part.name.as_str(), k))
            .collect();
        let partner = |part: &Option<String>| places.get(part.as_deref()?).copied();
        (
            JoinedBy::Name,
            rows.rows.iter().map(|(_, part, _, _)| partner(part)).collect(),
        )
    } else if rows.has_clock && has_first_clock {
        by_clock(trial, &rows, of_file, lag)?
    } else if count == trial.parts.len() {
        (JoinedBy::Order, (0..count).map(Some).collect())
    } else {
        let detail = format!(
            "{}: {count} rows cannot be joined to {} parts: give part_column in both files, or time_column in both",
            rows.name,
            trial.parts.len()
        );
        return Err(MeasuredError::Wrong(detail));
    };
    let mut joined = 0;
    for ((line, part, _, data), partner) in rows.rows.into_iter().zip(partners) {
        let Some(partner) = partner else {
            let of = part.map_or(String::new(), |part| format!(" `{part}`"));
            trial.bad.push(BadRow {
                file: rows.name.clone(),
                line,
                measurement: String::new(),
                reason: format!("no part{of} of the first file goes with this row"),
            });
            continue;
        };
        joined += 1;
        trial.parts[partner].data.extend(data);
    }
    trial.joins.push(Join {
        file: rows.name,
        by,
        joined,
        rows: count,
    });
    Ok(())
}

/// Standard deviation of single events about an offset that is given, s (chosen: a hand on a key).
const GIVEN_SD_S: f64 = 2.0;

/// Partners by the clock.
fn by_clock(
    trial: &Trial,
    rows: &Rows,
    of_file: &[(usize, &Measurement)],
    lag: &Lag,
) -> Result<(JoinedBy, Vec<Option<usize>>), MeasuredError> {
    let Some((_, m)) = of_file.iter().find(|(_, m)| m.time_column.is_some()) else {
        return Ok((JoinedBy::Order, vec![None; rows.rows.len()]));
    };
    let timed = |(k, part): (usize, &PartLog)| {
        let clock = part.data.iter().map(|d| d.time_s).find(|t| t.is_finite())?;
        Some((clock + lag(m, &part.data), k))
    };
    let mut first: Vec<(f64, usize)> = trial.parts.iter().enumerate().filter_map(timed).collect();
    first.sort_by(|a, b| a.0.total_cmp(&b.0));
    let of_row = |(k, row): (usize, &LogRow)| Some((row.2?, k));
    let mut second: Vec<(f64, usize)> = rows.rows.iter().enumerate().filter_map(of_row).collect();
    second.sort_by(|a, b| a.0.total_cmp(&b.0));
    let times = |list: &[(f64, usize)]| -> Vec<f64> { list.iter().map(|e| e.0).collect() };
    let (a, b) = (times(&first), times(&second));
    let none = || MeasuredError::Wrong(format!("{}: its clock goes with nothing of the first file", rows.name));
    let still = || {
        MeasuredError::Wrong(format!(
            "{}: its clock goes with nothing of the first file, or tells its rows not apart",
            rows.name
        ))
    };
    let offset = match rows.offset {
        Some(seconds) => {
            let near = pairs(&a, &b, seconds, GIVEN_SD_S).ok_or_else(still)?;
            Offset {
                seconds,
                sd_s: GIVEN_SD_S,
                matched: near.len(),
                events: b.len(),
                second_best: None,
                given: true,
            }
        }
        None => find_offset(&a, &b).ok_or_else(still)?,
    };
    if offset.matched < 3.min(b.len()) {
        return Err(none());
    }
    if let (true, Some((other, count))) = (offset.is_ambiguous(), offset.second_best) {
        return Err(MeasuredError::Wrong(format!(
            "{}: the clock offset is not to be told: {:+.1} s matches {} of {} rows, {other:+.1} s matches {count}; give \
             clock_offset_s, or part_column in both files",
            rows.name, offset.seconds, offset.matched, offset.events
        )));
    }
    let mut partners = vec![None; rows.rows.len()];
    for (i, j) in pairs(&a, &b, offset.seconds, offset.sd_s).ok_or_else(still)? {
        partners[second[j].1] = Some(first[i].1);
    }
    Ok((JoinedBy::Clock(offset), partners))
}

/// Readings that stand in the line file.
fn typed(trial: &mut Trial, others: &[(usize, &Measurement)]) -> Result<(), MeasuredError> {
    for (index, m) in others {
        let Readings::Typed(values) = &m.readings else { continue };
        if trial.parts.is_empty() {
            trial.parts = (1..=values.len())
                .map(|number| PartLog {
                    name: number.to_string(),
                    line: 0,
                    data: Vec::new(),
                })
                .collect();
        }
        if values.len() != trial.parts.len() && values.len() != 1 {
            return Err(MeasuredError::Wrong(format!(
                "measurement `{}`: {} typed readings for {} parts; one, or one for each part, or a trial of its own",
                m.name,
                values.len(),
                trial.parts.len()
            )));
        }
        for (k, part) in trial.parts.iter_mut().enumerate() {
            let value = values.get(k).or(values.first()).map_or(f64::NAN, |v| v.1);
            part.data.push(Datum {
                measurement: *index,
                value: m.unit.value(value),
                line: 0,
                time_s: f64::NAN,
            });
        }
    }
    Ok(())
}

/// Readings of a curve, all of one part.
fn curve(
    trial: &mut Trial,
    index: usize,
    m: &Measurement,
    sheets: &HashMap<PathBuf, Sheet>,
) -> Result<(), MeasuredError> {
    if trial.parts.len() > 1 {
        return Err(MeasuredError::Wrong(format!(
            "measurement `{}`: a curve is of one part, its trial has {}; give it a trial of its own",
            m.name,
            trial.parts.len()
        )));
    }
    if trial.parts.is_empty() {
        trial.parts.push(PartLog {
            name: "1".to_owned(),
            line: 0,
            data: Vec::new(),
        });
    }
    let mut points: Vec<Datum> = Vec::new();
    let mut point = |line: usize, time_s: f64, value: f64| {
        points.push(Datum {
            measurement: index,
            value,
            line,
            time_s: time_s + m.clock_offset_s.unwrap_or(0.0),
        });
    };
    match &m.readings {
        Readings::Typed(values) => values
            .iter()
            .for_each(|(time, value)| point(0, *time, m.unit.value(*value))),
        Readings::Clock { .. } => {}
        Readings::Column { file, column } => {
            let sheet = &sheets[file];
            let (column, clock) = (
                sheet.column(column)?,
                sheet.column(m.time_column.as_deref().unwrap_or("1"))?,
            );
            let clocks: Vec<Option<Clock>> = sheet
                .rows
                .iter()
                .map(|row| clock::read(row.cells.get(clock)?, sheet.decimal_comma))
                .collect();
            let clocks = clock::going_on(&clocks);
            let zero = match m.clock_offset_s {
                Some(_) => 0.0,
                None => clocks.iter().flatten().copied().fold(f64::INFINITY, f64::min),
            };
            let (name, mut missing) = (file_name(file), 0);
            for (row, time) in sheet.rows.iter().zip(clocks) {
                match (time, sheet.reading(row, column)) {
                    (Some(time), Reading::Number(value, unit)) => match m.value(value, unit) {
                        Ok(value) => point(row.line, time - zero, value),
                        Err(reason) => bad(trial, &name, row, &m.name, reason),
                    },
                    (_, Reading::Missing) => missing += 1,
                    (None, _) => bad(trial, &name, row, &m.name, "no time".to_owned()),
                    (_, Reading::Words(words)) => bad(trial, &name, row, &m.name, format!("`{words}` is no number")),
                }
            }
            trial.missing.push((index, missing));
        }
    }
    let every = points.len().div_ceil(MOST_OF_CURVE).max(1);
    if every > 1 {
        trial.bad.push(BadRow {
            file: m.readings.file().map_or(String::new(), file_name),
            line: 0,
            measurement: m.name.clone(),
            reason: format!(
                "of {} rows every {every}th is used: a curve has at most {MOST_OF_CURVE}",
                points.len()
            ),
        });
    }
    trial.parts[0].data.extend(points.into_iter().step_by(every));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measured::given::Unit;

    fn of_row(text: &str, unit: Unit, columns: (usize, Option<usize>)) -> Result<Option<f64>, String> {
        let sheet = Sheet::of(text, Path::new("x.csv")).unwrap();
        let what = match unit {
            Unit::Minutes | Unit::Own => What::Seconds {
                stage: "carry".to_owned(),
            },
            _ => What::Temperature(crate::measured::At {
                stage: "heater".to_owned(),
                moment: crate::judge::Moment::Exit,
                after_s: 0.0,
                node: "surface".to_owned(),
            }),
        };
        let m = Measurement {
            name: "m".to_owned(),
            what,
            instrument: 0,
            trial: String::new(),
            line: None,
            readings: Readings::Typed(Vec::new()),
            part_column: None,
            time_column: None,
            clock_offset_s: None,
            unit,
            model_sd_k: 0.0,
        };
        value_of(&sheet, &sheet.rows[0], &m, columns)
    }

    #[test]
    fn a_unit_that_is_not_that_of_the_measurement_is_refused() {
        let told = of_row("t\n1225 \u{b0}F\n", Unit::Celsius, (0, None)).unwrap_err();
        assert!(told.contains("1225 degF"), "{told}");
        assert_eq!(of_row("t\n1225 \u{b0}C\n", Unit::Celsius, (0, None)), Ok(Some(1225.0)));
        assert_eq!(
            of_row("t\n2237 \u{b0}F\n", Unit::Fahrenheit, (0, None)),
            Ok(Some(1225.0))
        );
        assert!(of_row("t\n0.5 min\n", Unit::Own, (0, None)).is_err());
    }

    #[test]
    fn clocks_count_in_seconds_whatever_the_unit() {
        let times = "a;b\n06:00:00;06:00:09\n";
        assert_eq!(of_row(times, Unit::Minutes, (0, Some(1))), Ok(Some(9.0)));
        assert_eq!(of_row("a;b\n1;1.5\n", Unit::Minutes, (0, Some(1))), Ok(Some(30.0)));
        assert_eq!(
            of_row("a;b\n23:59:58;00:00:07\n", Unit::Own, (0, Some(1))),
            Ok(Some(9.0))
        );
        // Plain seconds have no midnight.
        assert!(of_row("a;b\n90000;5\n", Unit::Own, (0, Some(1))).is_err());
        assert!(of_row("a;b\n5;06:00:09\n", Unit::Own, (0, Some(1))).is_err());
    }
}
