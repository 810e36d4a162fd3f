//! Verdicts and cycle statistics from the event log of a line.
//!
//! One row a part: `part`, `exit_c`, and for every hand-over either its seconds (a column named as the
//! stage) or its first and last moment (`<stage> start`, `<stage> end`; seconds or h:m:s). An empty cell is
//! what has not happened yet. Semicolons go with decimal commas.

use std::collections::HashSet;

use serde::Serialize;

use super::{Decision, DecisionTable};

/// The log of a line, read against a table.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Log {
    /// Parts in the order of the log.
    pub parts: Vec<LoggedPart>,
    /// The exit temperature over the log.
    pub exit: StepStatistics,
    /// Every hand-over over the log, in the order of the line.
    pub steps: Vec<StepStatistics>,
}

/// One part of a log.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct LoggedPart {
    /// Line of the log, from 1.
    pub line: usize,
    /// Name of the part; its number where the log names none.
    pub part: String,
    /// What it is.
    pub verdict: PartVerdict,
}

/// What a part of a log is.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum PartVerdict {
    /// As a controller decides it.
    Decided(Decision),
    /// Not decided, so no good part: what is wrong with its row.
    Refused {
        /// Why.
        reason: String,
    },
}

impl PartVerdict {
    /// Whether the part may go on.
    #[must_use]
    pub fn goes_on(&self) -> bool {
        matches!(self, PartVerdict::Decided(decision) if decision.goes_on())
    }

    /// The word of the state.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            PartVerdict::Decided(decision) => decision.word(),
            PartVerdict::Refused { .. } => "refused",
        }
    }
}

/// How a measured quantity went over a log.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct StepStatistics {
    /// The stage, or the heater exit.
    pub name: String,
    /// Path of its input.
    pub path: String,
    /// The plan: seconds or degC.
    pub planned: f64,
    /// Values.
    pub count: usize,
    /// Mean of all.
    pub mean: f64,
    /// Standard deviation of all.
    pub sd: f64,
    /// Skewness of all.
    pub skew: f64,
    /// Longest or hottest.
    pub most: f64,
    /// What was done again, where something was.
    pub retries: Option<Retries>,
    /// Change of the mean from the first to the last part of the log by a straight line.
    pub drift: f64,
    /// Standard error of that.
    pub drift_error: f64,
}

/// Values far above the others: a grip that failed and was done again.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Retries {
    /// Parts with one or more.
    pub parts: usize,
    /// Probability that a try fails.
    pub probability: f64,
    /// Seconds of one.
    pub retry_s: f64,
    /// Standard deviation of one.
    pub retry_sd_s: f64,
    /// Mean without them, s.
    pub base_s: f64,
    /// Standard deviation without them, s.
    pub base_sd_s: f64,
}

/// A drift of less than this many of its standard errors is noise.
pub const DRIFT_SEEN: f64 = 3.0;

impl StepStatistics {
    /// Whether the drift is more than the noise of the mean.
    #[must_use]
    pub fn drifts(&self) -> bool {
        self.drift_error > 0.0 && self.drift.abs() > DRIFT_SEEN * self.drift_error
    }
}

/// Why a log cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum LogError {
    /// No table of rows.
    #[error("{0}")]
    Csv(String),
    /// A column that a decision needs.
    #[error(
        "no column `{column}`: a log has `part`, `exit_c` and for each hand-over `<stage>` or `<stage> start` and `<stage> end`; here are {found}"
    )]
    NoColumn {
        /// What is missing.
        column: String,
        /// What is there.
        found: String,
    },
    /// A column twice.
    #[error("the column `{column}` is there twice")]
    Twice {
        /// Which.
        column: String,
    },
    /// No rows below the head.
    #[error("no parts below the head")]
    Empty,
}

/// Where a hand-over stands in a row.
enum Columns {
    /// Its seconds.
    Seconds(usize),
    /// Its first and last moment.
    Moments(usize, usize),
}

impl Log {
    /// Reads a log and decides every part of it.
    ///
    /// # Errors
    /// A text that is no log of this table's line. A row that is wrong is refused by itself.
    pub fn read(text: &str, table: &DecisionTable) -> Result<Log, LogError> {
        let head = text.lines().next().unwrap_or_default();
        let semicolons = head.contains(';');
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(if semicolons { b';' } else { b',' })
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
        let told = |error: csv::Error| LogError::Csv(error.to_string());
        let names: Vec<String> = reader.headers().map_err(told)?.iter().map(str::to_owned).collect();
        let mut seen = HashSet::new();
        if let Some(twice) = names.iter().find(|name| !seen.insert(name.as_str())) {
            return Err(LogError::Twice { column: twice.clone() });
        }
        let at = |name: &str| names.iter().position(|n| n == name);
        let missing = |column: &str| LogError::NoColumn {
            column: column.to_owned(),
            found: names.join(", "),
        };
        let exit = at("exit_c").ok_or_else(|| missing("exit_c"))?;
        let columns: Vec<Columns> = table
            .stages
            .iter()
            .map(|stage| {
                let moments = at(&format!("{} start", stage.stage)).zip(at(&format!("{} end", stage.stage)));
                match (at(&stage.stage), moments) {
                    (Some(seconds), _) => Ok(Columns::Seconds(seconds)),
                    (None, Some((start, end))) => Ok(Columns::Moments(start, end)),
                    (None, None) => Err(missing(&stage.stage)),
                }
            })
            .collect::<Result<_, _>>()?;
        let mut parts = Vec::new();
        let mut exits = Vec::new();
        let mut times: Vec<Vec<f64>> = vec![Vec::new(); table.stages.len()];
        for (index, record) in reader.records().enumerate() {
            let record = record.map_err(told)?;
            let cell = |column: usize| record.get(column).unwrap_or_default();
            let number = |column: usize| number(cell(column), semicolons);
            let name = at("part").map(cell).filter(|name| !name.is_empty());
            let read = row(&columns, table, number(exit), &|column| number(column), &|column| {
                cell(column).is_empty()
            });
            let verdict = match read {
                Ok((exit_c, seconds)) => {
                    exits.push(exit_c);
                    for (list, s) in times.iter_mut().zip(&seconds) {
                        list.push(*s);
                    }
                    PartVerdict::Decided(over(table, exit_c, &seconds))
                }
                Err(reason) => PartVerdict::Refused { reason },
            };
            parts.push(LoggedPart {
                line: record.position().map_or(index + 2, |p| p.line() as usize),
                part: name.map_or_else(|| (index + 1).to_string(), str::to_owned),
                verdict,
            });
        }
        if parts.is_empty() {
            return Err(LogError::Empty);
        }
        let planned_c = table.exit_c[table.exit_c.len() / 2];
        let exit = statistics(("heater exit", &table.exit_input, planned_c), &exits, false);
        let steps = table.stages.iter().zip(&times);
        let steps = steps.map(|(s, values)| statistics((&s.stage, &s.path, s.planned_s), values, true));
        Ok(Log {
            steps: steps.collect(),
            parts,
            exit,
        })
    }

    /// Parts of each state by its word, in the order of the first.
    #[must_use]
    pub fn counts(&self) -> Vec<(&'static str, usize)> {
        let mut counts: Vec<(&'static str, usize)> = Vec::new();
        for part in &self.parts {
            let word = part.verdict.word();
            match counts.iter_mut().find(|(known, _)| *known == word) {
                Some((_, count)) => *count += 1,
                None => counts.push((word, 1)),
            }
        }
        counts
    }

    /// The scatter found, as `[[study.scatter]]` tables ready for the line file; what does not scatter is
    /// left out.
    #[must_use]
    pub fn scatter(&self) -> String {
        let exit = Some(&self.exit).filter(|exit| exit.path != "heater.exit_offset_k");
        exit.into_iter().chain(&self.steps).filter_map(table_of).collect()
    }
}

/// The decision on a part: one whose hand-overs are all over cannot wait any more.
fn over(table: &DecisionTable, exit_c: f64, seconds: &[f64]) -> Decision {
    match table.decide(exit_c, seconds) {
        Decision::Wait { limit, margin_k, .. } if seconds.len() == table.stages.len() => {
            Decision::Reject { limit, margin_k }
        }
        decision => decision,
    }
}

/// Exit temperature and seconds of a row, or what is wrong with it.
fn row(
    columns: &[Columns],
    table: &DecisionTable,
    exit_c: Option<f64>,
    number: &dyn Fn(usize) -> Option<f64>,
    empty: &dyn Fn(usize) -> bool,
) -> Result<(f64, Vec<f64>), String> {
    let exit_c = exit_c.ok_or("exit_c is no number")?;
    let mut seconds = Vec::new();
    let mut open: Option<&str> = None;
    let mut clock = f64::NEG_INFINITY;
    for (column, stage) in columns.iter().zip(&table.stages) {
        let name = stage.stage.as_str();
        let done = match column {
            Columns::Seconds(at) => !empty(*at),
            Columns::Moments(start, end) => match (empty(*start), empty(*end)) {
                (true, true) | (false, true) => false,
                (true, false) => return Err(format!("`{name}` ends without a start")),
                (false, false) => true,
            },
        };
        if !done {
            open = open.or(Some(name));
            continue;
        }
        if let Some(before) = open {
            return Err(format!("`{name}` has a time, `{before}` before it has none"));
        }
        let bad = || format!("the time of `{name}` is no number");
        let taken = match column {
            Columns::Seconds(at) => number(*at).ok_or_else(bad)?,
            Columns::Moments(start, end) => {
                let (start, end) = (number(*start).ok_or_else(bad)?, number(*end).ok_or_else(bad)?);
                if start < clock {
                    return Err(format!("`{name}` starts before the hand-over before it ends"));
                }
                clock = end;
                end - start
            }
        };
        if taken < 0.0 {
            return Err(format!("the time of `{name}` is negative"));
        }
        seconds.push(taken);
    }
    Ok((exit_c, seconds))
}

/// A number or a time of day as seconds; `None` for anything else, and for what is not finite.
fn number(cell: &str, comma: bool) -> Option<f64> {
    let plain = |text: &str| -> Option<f64> {
        let text = if comma { text.replace(',', ".") } else { text.to_owned() };
        text.parse::<f64>().ok().filter(|x| x.is_finite())
    };
    let parts: Vec<&str> = cell.split(':').collect();
    match parts.as_slice() {
        [one] => plain(one),
        [hours, minutes, seconds] => {
            let (h, m, s) = (plain(hours)?, plain(minutes)?, plain(seconds)?);
            let right = (0.0..24.0).contains(&h) && (0.0..60.0).contains(&m) && (0.0..61.0).contains(&s);
            right.then_some(3600.0 * h + 60.0 * m + s)
        }
        _ => None,
    }
}

/// Mean and standard deviation of a sample.
fn moments(values: &[f64]) -> (f64, f64) {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count.max(1.0);
    let square: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    (
        mean,
        if count > 1.0 {
            (square / (count - 1.0)).sqrt()
        } else {
            0.0
        },
    )
}

fn statistics((name, path, planned): (&str, &str, f64), values: &[f64], times: bool) -> StepStatistics {
    let (mean, sd) = moments(values);
    let count = values.len() as f64;
    let skew = match sd > 0.0 {
        true => values.iter().map(|v| ((v - mean) / sd).powi(3)).sum::<f64>() / count,
        false => 0.0,
    };
    let (drift, drift_error) = drift(values, mean);
    StepStatistics {
        name: name.to_owned(),
        path: path.to_owned(),
        planned,
        count: values.len(),
        mean,
        sd,
        skew,
        most: values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        retries: times.then(|| retries(values)).flatten(),
        drift,
        drift_error,
    }
}

/// Change of the mean over the list by the straight line of least squares, with its standard error.
fn drift(values: &[f64], mean: f64) -> (f64, f64) {
    let count = values.len() as f64;
    if count < 3.0 {
        return (0.0, 0.0);
    }
    let middle = 0.5 * (count - 1.0);
    let of = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
        values
            .iter()
            .enumerate()
            .map(|(k, v)| f(k as f64 - middle, v - mean))
            .sum()
    };
    let (xx, xy) = (of(&|x, _| x * x), of(&|x, y| x * y));
    let slope = xy / xx;
    let rest = of(&|x, y| (y - slope * x).powi(2)) / (count - 2.0);
    ((count - 1.0) * slope, (count - 1.0) * (rest / xx).sqrt())
}

/// A value this many robust standard deviations above the median is no scatter of the same movement.
const FAR: f64 = 8.0;

/// Values far above the median: their excess in whole numbers of retries. The standard deviation is 1.4826
/// times the median distance from the median (F. R. Hampel, J. Amer. Statist. Assoc. 69 (1974) 383).
fn retries(values: &[f64]) -> Option<Retries> {
    let median = |list: &mut Vec<f64>| {
        list.sort_by(f64::total_cmp);
        list.get(list.len() / 2).copied().unwrap_or(0.0)
    };
    let middle = median(&mut values.to_vec());
    let spread = 1.4826 * median(&mut values.iter().map(|v| (v - middle).abs()).collect());
    // Times that a controller rounds may not spread at all.
    let far = middle + FAR * spread.max(0.01 * middle).max(0.02);
    let (long, short): (Vec<f64>, Vec<f64>) = values.iter().partition(|v| **v > far);
    if long.is_empty() || short.is_empty() {
        return None;
    }
    let (base_s, base_sd_s) = moments(&short);
    let least = median(&mut long.iter().map(|v| v - base_s).collect());
    let tries: Vec<(f64, f64)> = long
        .iter()
        .map(|v| (v - base_s, ((v - base_s) / least).round().max(1.0)))
        .collect();
    let total: f64 = tries.iter().map(|t| t.1).sum();
    let retry_s = tries.iter().map(|t| t.0).sum::<f64>() / total;
    let square: f64 = tries.iter().map(|(excess, k)| (excess - k * retry_s).powi(2) / k).sum();
    // What one retry scatters beyond the movement itself.
    let own = square / tries.len() as f64 - base_sd_s.powi(2);
    Some(Retries {
        parts: long.len(),
        probability: total / (total + values.len() as f64),
        retry_s,
        retry_sd_s: own.max(0.0).sqrt(),
        base_s,
        base_sd_s,
    })
}

/// A skew above this is no normal distribution.
const SKEWED: f64 = 0.5;

/// Fewest values that tell a skew.
const TELLING: usize = 30;

/// The `[[study.scatter]]` table of one quantity; `None` where it does not scatter.
fn table_of(of: &StepStatistics) -> Option<String> {
    let number = |x: f64| format!("{:.4}", x);
    let mut lines = vec!["[[study.scatter]]".to_owned(), format!("input = {:?}", of.path)];
    match &of.retries {
        Some(r) if r.base_sd_s > 0.0 => {
            lines.push(format!(
                "kind = \"retry\"\nmean = {}\nsd = {}",
                number(r.base_s),
                number(r.base_sd_s.max(1e-4))
            ));
            lines.push(format!(
                "retry_probability = {:.5}\nretry_s = {}",
                r.probability,
                number(r.retry_s)
            ));
            lines.push(format!("retry_sd_s = {}", number(r.retry_sd_s)));
        }
        _ if !(of.sd >= 5e-5) => return None,
        _ if of.skew > SKEWED && of.count >= TELLING => {
            let offset = of.mean - of.sd / width(of.skew);
            lines.push(format!(
                "kind = \"lognormal\"\nmean = {}\nsd = {}\noffset = {}",
                number(of.mean),
                number(of.sd),
                number(offset)
            ));
        }
        _ => lines.push(format!(
            "kind = \"normal\"\nmean = {}\nsd = {}",
            number(of.mean),
            number(of.sd)
        )),
    }
    let retried = of.retries.map_or(0, |r| r.parts);
    lines.push(format!(
        "# {} parts, {retried} with retries, planned {}",
        of.count, of.planned
    ));
    Some(lines.join("\n") + "\n\n")
}

/// √(exp σ² − 1) of the lognormal distribution with a skewness: (w² + 3) w, w being that width.
fn width(skew: f64) -> f64 {
    crate::numeric::boundary::boundary(0.0, skew, |w| (w * w + 3.0) * w < skew)
}
