//! Verdicts and cycle statistics from the event log of a line.
//!
//! One row a part: `part`, `exit_c`, and for every hand-over either its seconds (a column named as the
//! stage) or its first and last moment (`<stage> start`, `<stage> end`; seconds or h:m:s, which may go past
//! midnight). An empty cell is what has not happened, or was not logged: such a part is not complete, and no good
//! part. Semicolons go with decimal commas.

use std::collections::{HashMap, HashSet};

use serde::Serialize;

use super::{Decision, DecisionTable};

/// The log of a line, read against a table.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Log {
    /// Parts in the order of the log.
    pub parts: Vec<LoggedPart>,
    /// The exit temperature over the log, where a part of it can be judged.
    pub exit: Option<StepStatistics>,
    /// Every hand-over that the log has a time for, in the order of the line.
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
    /// Not all of its hand-overs have a time, so no good part, though what there is gives no other reason.
    NotComplete {
        /// The first hand-over without a time.
        stage: String,
    },
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
            PartVerdict::NotComplete { .. } => "not complete",
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
        let records: Vec<csv::StringRecord> = reader.records().collect::<Result<_, _>>().map_err(told)?;
        let named = at("part");
        let line_of =
            |(index, record): (usize, &csv::StringRecord)| record.position().map_or(index + 2, |p| p.line() as usize);
        let lines = named.map_or_else(HashMap::new, |column| lines_of_parts(&records, column, &line_of));
        let mut parts = Vec::new();
        let mut exits = Vec::new();
        let mut times: Vec<Vec<f64>> = vec![Vec::new(); table.stages.len()];
        for (index, record) in records.iter().enumerate() {
            let cell = |column: usize| record.get(column).unwrap_or_default();
            let reading = |column: usize| reading(cell(column), semicolons);
            let name = named.map(cell).filter(|name| !name.is_empty());
            let read = part_number(named.map(cell), &lines).and_then(|()| {
                row(&columns, table, reading(exit), &reading, &|column| {
                    cell(column).is_empty()
                })
            });
            let verdict = match read {
                Ok((exit_c, seconds)) => {
                    exits.push(exit_c);
                    for (list, s) in times.iter_mut().zip(&seconds) {
                        list.push(*s);
                    }
                    over(table, exit_c, &seconds)
                }
                Err(reason) => PartVerdict::Refused { reason },
            };
            parts.push(LoggedPart {
                line: line_of((index, record)),
                part: name.map_or_else(|| (index + 1).to_string(), str::to_owned),
                verdict,
            });
        }
        if parts.is_empty() {
            return Err(LogError::Empty);
        }
        let exit = statistics(("heater exit", &table.exit_input, table.planned_exit_c), &exits, false);
        let steps = table.stages.iter().zip(&times);
        let steps = steps.filter_map(|(s, values)| statistics((&s.stage, &s.path, s.planned_s), values, true));
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
        let exit = self.exit.as_ref().filter(|exit| exit.path != "heater.exit_offset_k");
        exit.into_iter().chain(&self.steps).filter_map(table_of).collect()
    }
}

/// What a part is: one whose hand-overs are all over cannot wait any more, and one that lacks the time of a hand-over
/// is not good.
fn over(table: &DecisionTable, exit_c: f64, seconds: &[f64]) -> PartVerdict {
    let decision = table.decide(exit_c, seconds);
    match (table.stages.get(seconds.len()), decision) {
        (Some(open), decision) if decision.goes_on() => PartVerdict::NotComplete {
            stage: open.stage.clone(),
        },
        (None, Decision::Wait { limit, margin_k, .. }) => PartVerdict::Decided(Decision::Reject { limit, margin_k }),
        (_, decision) => PartVerdict::Decided(decision),
    }
}

/// The lines of every part number.
fn lines_of_parts<'r>(
    records: &'r [csv::StringRecord],
    column: usize,
    line_of: &dyn Fn((usize, &csv::StringRecord)) -> usize,
) -> HashMap<&'r str, Vec<usize>> {
    let mut lines: HashMap<&str, Vec<usize>> = HashMap::new();
    for (index, record) in records.iter().enumerate() {
        let name = record.get(column).unwrap_or_default();
        lines.entry(name).or_default().push(line_of((index, record)));
    }
    lines
}

/// That a row names its part, and no other row does; a log without part numbers counts its rows.
fn part_number(name: Option<&str>, lines: &HashMap<&str, Vec<usize>>) -> Result<(), String> {
    let Some(name) = name else { return Ok(()) };
    if name.is_empty() {
        return Err("no part number".to_owned());
    }
    match lines.get(name) {
        Some(lines) if lines.len() > 1 => {
            let lines: Vec<String> = lines.iter().map(ToString::to_string).collect();
            Err(format!(
                "the part number is there more than once: lines {}",
                lines.join(", ")
            ))
        }
        _ => Ok(()),
    }
}

/// A number of a log.
#[derive(Debug, Clone, Copy)]
struct Reading {
    /// Seconds, or degC.
    value: f64,
    /// Whether it is a time of day.
    of_day: bool,
}

/// A day, s.
const DAY_S: f64 = 86_400.0;

impl Reading {
    /// Seconds from one moment to another, negative where the other comes first; `None` where one is a time of day
    /// and the other is not. Times of day are those less than half a day apart, so that a part may pass midnight.
    fn until(self, other: Reading) -> Option<f64> {
        let seconds = other.value - self.value;
        match (self.of_day, other.of_day) {
            (false, false) => Some(seconds),
            (true, true) => Some(seconds - DAY_S * (seconds / DAY_S).round()),
            _ => None,
        }
    }
}

/// Exit temperature and seconds of a row, or what is wrong with it.
fn row(
    columns: &[Columns],
    table: &DecisionTable,
    exit_c: Option<Reading>,
    reading: &dyn Fn(usize) -> Option<Reading>,
    empty: &dyn Fn(usize) -> bool,
) -> Result<(f64, Vec<f64>), String> {
    let exit_c = exit_c.filter(|exit| !exit.of_day).ok_or("exit_c is no number")?.value;
    let mut seconds = Vec::new();
    let mut open: Option<&str> = None;
    let mut clock: Option<Reading> = None;
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
            Columns::Seconds(at) => reading(*at).filter(|taken| !taken.of_day).ok_or_else(bad)?.value,
            Columns::Moments(start, end) => {
                let mixed = || format!("the moments of `{name}` are in part times of day, in part seconds");
                let (start, end) = (reading(*start).ok_or_else(bad)?, reading(*end).ok_or_else(bad)?);
                let after = clock.map_or(Some(0.0), |clock| clock.until(start)).ok_or_else(mixed)?;
                if after < 0.0 {
                    return Err(format!("`{name}` starts before the hand-over before it ends"));
                }
                clock = Some(end);
                start.until(end).ok_or_else(mixed)?
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
fn reading(cell: &str, comma: bool) -> Option<Reading> {
    let plain = |text: &str| -> Option<f64> {
        let text = if comma { text.replace(',', ".") } else { text.to_owned() };
        text.parse::<f64>().ok().filter(|x| x.is_finite())
    };
    let parts: Vec<&str> = cell.split(':').collect();
    match parts.as_slice() {
        [one] => plain(one).map(|value| Reading { value, of_day: false }),
        [hours, minutes, seconds] => {
            let (h, m, s) = (plain(hours)?, plain(minutes)?, plain(seconds)?);
            let right = (0.0..24.0).contains(&h) && (0.0..60.0).contains(&m) && (0.0..61.0).contains(&s);
            right.then_some(Reading {
                value: 3600.0 * h + 60.0 * m + s,
                of_day: true,
            })
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

/// Statistics of some values; none of none.
fn statistics((name, path, planned): (&str, &str, f64), values: &[f64], times: bool) -> Option<StepStatistics> {
    let most = values.iter().copied().reduce(f64::max)?;
    let (mean, sd) = moments(values);
    let count = values.len() as f64;
    let skew = match sd > 0.0 {
        true => values.iter().map(|v| ((v - mean) / sd).powi(3)).sum::<f64>() / count,
        false => 0.0,
    };
    let (drift, drift_error) = drift(values, mean);
    Some(StepStatistics {
        name: name.to_owned(),
        path: path.to_owned(),
        planned,
        count: values.len(),
        mean,
        sd,
        skew,
        most,
        retries: times.then(|| retries(values)).flatten(),
        drift,
        drift_error,
    })
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
        _ if of.sd.is_nan() || of.sd < 5e-5 => return None,
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

#[cfg(test)]
mod tests {
    use super::super::{Identity, StageChanges, TABLE_SCHEMA};
    use super::*;

    /// A line with two hand-overs that change nothing: every part in the table is good.
    fn table() -> DecisionTable {
        let stage = |name: &str| StageChanges {
            stage: name.to_owned(),
            path: format!("stage.{name}.seconds"),
            planned_s: 4.0,
            seconds: vec![0.0, 4.0, 30.0],
            change_k: vec![vec![vec![0.0]; 3]; 2],
            error_k: vec![vec![0.0]; 3],
        };
        DecisionTable {
            schema_version: TABLE_SCHEMA,
            identity: Identity {
                title: "x".to_owned(),
                part: None,
                revision: None,
                input_sha256: String::new(),
                program: String::new(),
                reject_risk: 0.05,
                alarm_risk: 0.001,
            },
            meaning: String::new(),
            limits: vec!["surface".to_owned()],
            limit_of: vec![0],
            moment_of: vec![None],
            exit_input: "heater.temperature_c".to_owned(),
            planned_exit_c: 1200.0,
            exit_c: vec![1200.0, 1260.0],
            base_k: vec![vec![50.0]; 2],
            stages: vec![stage("carry"), stage("trim")],
            pair_per_k: vec![vec![0.0]],
            sum_error_per_k: vec![[0.0; 3]],
            guard_k: vec![5.0],
            alarm_guard_k: vec![9.0],
            error_k: vec![vec![0.0]],
            digest: String::new(),
        }
    }

    /// A limit without a row would be good by default.
    #[test]
    fn a_table_has_a_row_for_every_limit() {
        let of = |limits: usize, limit_of: Vec<usize>| {
            let rows = limit_of.len();
            let mut table = table();
            table.limits = vec!["surface".to_owned(); limits];
            (table.guard_k, table.alarm_guard_k) = (vec![5.0; limits], vec![9.0; limits]);
            (table.limit_of, table.moment_of) = (limit_of, vec![None; rows]);
            (table.base_k, table.error_k) = (vec![vec![50.0; rows]; 2], vec![vec![0.0; rows]]);
            (table.pair_per_k, table.sum_error_per_k) = (vec![vec![0.0; rows]], vec![[0.0; 3]; rows]);
            for stage in &mut table.stages {
                (stage.change_k, stage.error_k) = (vec![vec![vec![0.0; rows]; 3]; 2], vec![vec![0.0; rows]; 3]);
            }
            table.digest = table.digest_now();
            table.check()
        };
        assert_eq!(of(1, vec![0, 0]), Ok(()));
        assert_eq!(of(2, vec![0, 1, 1]), Ok(()));
        let wrong = || super::super::TableError::List {
            what: "limit_of".to_owned(),
        };
        assert_eq!(of(2, vec![0, 0]), Err(wrong()));
        assert_eq!(of(1, vec![0, 1]), Err(wrong()));
    }

    fn words(text: &str) -> Vec<&'static str> {
        let log = Log::read(text, &table()).unwrap();
        assert!(
            log.parts
                .iter()
                .all(|part| part.verdict.goes_on() == (part.verdict.word() == "good"))
        );
        log.parts.iter().map(|part| part.verdict.word()).collect()
    }

    /// A part without all its times is no good part; one that is bad already stays bad.
    #[test]
    fn a_row_without_times_is_not_complete() {
        let text = "part,exit_c,carry,trim\na,1240,4,5\nb,1240,,\nc,1240,4,\nd,1240,4\ne,1500,,\n";
        let told = words(text);
        assert_eq!(told[..4], ["good", "not complete", "not complete", "not complete"]);
        assert_eq!(told[4], "outside the table: reject");
    }

    /// A part number says which part a row is of: none and one of another row are refused.
    #[test]
    fn a_part_number_is_there_once() {
        let text = "part,exit_c,carry,trim\na,1240,4,5\n,1240,4,5\nb,1240,4,5\na,1240,4,5\n";
        assert_eq!(words(text), ["refused", "refused", "good", "refused"]);
        let log = Log::read(text, &table()).unwrap();
        let PartVerdict::Refused { reason } = &log.parts[3].verdict else {
            panic!("{:?}", log.parts[3]);
        };
        assert!(reason.ends_with("lines 2, 5"), "{reason}");
        // A log without part numbers counts its rows.
        assert_eq!(words("exit_c,carry,trim\n1240,4,5\n1240,4,5\n"), ["good", "good"]);
    }

    /// Times of day go past midnight; an end before its start stays one, and seconds are no times of day.
    #[test]
    fn times_of_day_go_past_midnight() {
        let text = "part,exit_c,carry start,carry end,trim start,trim end\n\
            a,1240,23:59:58,00:00:02.2,00:00:03,00:00:08\n\
            b,1240,10:00:04.2,10:00:00.0,10:00:05,10:00:09\n\
            c,1240,23:59:50,23:59:59,23:59:58,00:00:03\n\
            d,1240,23:59:50,23:59:59,3,8\n\
            e,1240,86398,2,3,8\n\
            f,1240,0:00:01,0:00:04,0:00:05,0:00:09\n";
        assert_eq!(
            words(text),
            ["good", "refused", "refused", "refused", "refused", "good"]
        );
        let log = Log::read(text, &table()).unwrap();
        assert!((log.steps[0].most - 4.2).abs() < 1e-9, "{:?}", log.steps[0]);
    }
}
