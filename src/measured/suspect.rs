//! Readings that are none: degrees Fahrenheit in a column of degrees Celsius, columns swapped, an instrument at the end
//! of its range, values far from all others. They are named by row and left out; nothing is turned into what it might
//! have been.

use std::collections::HashSet;

use super::error::MeasuredError;
use super::gather::{BadRow, Datum, PartLog, Trial, file_name};
use super::given::{Given, Measurement, Unit, What};
use crate::ask::line_model::LineModel;
use crate::ask::model::{Model, Probe};
use crate::line::plan::Resolution;

/// What was found in the columns of a trial.
#[derive(Debug, Default)]
pub(super) struct Suspects {
    /// Told, with the reason.
    pub rows: Vec<BadRow>,
    /// Readings that are left out: index of the part, index of the reading in it.
    pub refused: HashSet<(usize, usize)>,
}

/// Robust standard deviations from the median beyond which a reading is no scatter of the same parts.
const FAR: f64 = 8.0;
/// Readings from which a column has a median and a spread worth the name.
const FEW: usize = 8;
/// Least robust standard deviation of a column, K.
const LEAST_K: f64 = 3.0;
/// A column whose median is this far from what the plan says, and near it read otherwise, is taken for otherwise, K.
const WHOLE_K: f64 = 250.0;

/// A reading beyond the range that read as degF is this near to the usual one was degF, K.
const DEGF_K: f64 = 60.0;

struct Column<'a> {
    measurement: usize,
    of: &'a Measurement,
    data: Vec<&'a Datum>,
    median: f64,
    sd: f64,
}

fn median(list: &mut [f64]) -> f64 {
    list.sort_by(f64::total_cmp);
    list.get(list.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Median and robust standard deviation: 1.4826 times the median distance from the median (Hampel, J. Amer. Statist.
/// Assoc. 69 (1974) 383).
pub(super) fn robust(values: &[f64]) -> (f64, f64) {
    let middle = median(&mut values.to_vec());
    let mut far: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    (middle, 1.4826 * median(&mut far))
}

/// Looks through the temperatures of a trial.
///
/// # Errors
/// A whole column in another unit, or two columns that are swapped.
pub(super) fn of_columns(trial: &Trial, given: &Given, model: &LineModel) -> Result<Suspects, MeasuredError> {
    let mut found = Suspects::default();
    let mut columns: Vec<Column> = Vec::new();
    for &k in &trial.measurements {
        let m = &given.measurements[k];
        let data: Vec<&Datum> = trial
            .parts
            .iter()
            .flat_map(|p| &p.data)
            .filter(|d| d.measurement == k)
            .collect();
        let (low, high) = given.instruments[m.instrument].reads;
        let inside: Vec<f64> = data.iter().map(|d| d.value).filter(|v| *v > low && *v < high).collect();
        let usual = robust(&inside).0;
        for d in data.iter().filter(|d| d.value <= low || d.value >= high) {
            let (value, as_f) = (d.value, (d.value - 32.0) / 1.8);
            let reason = match (value >= high, (as_f - usual).abs() < DEGF_K) {
                (true, true) => format!("{value:.1} is degF among degC: {as_f:.1} degC would be usual"),
                (true, false) => format!("{value:.1} is at the end of its range ({high})"),
                (false, _) => format!("{value:.1} is at the start of its range ({low})"),
            };
            found.leave_out(trial, d, m, reason);
        }
        if !matches!(m.what, What::Temperature(_)) || data.len() < FEW {
            continue;
        }
        let values: Vec<f64> = data.iter().map(|d| d.value).collect();
        let (median, sd) = robust(&values);
        columns.push(Column {
            measurement: k,
            of: m,
            data,
            median,
            sd: sd.max(LEAST_K),
        });
    }
    whole_columns(&columns, given, model)?;
    for column in &columns {
        saturated(column, trial, &mut found);
    }
    for (k, column) in columns.iter().enumerate() {
        for d in &column.data {
            let off = (d.value - column.median) / column.sd;
            if off.abs() < FAR || place_of(trial, d).is_some_and(|place| found.refused.contains(&place)) {
                continue;
            }
            let others = columns.iter().enumerate().filter(|c| c.0 != k).map(|c| c.1);
            found.leave_out(trial, d, column.of, reason(trial, d, column, others));
        }
    }
    Ok(found)
}

/// Index of the part of a reading, and of the reading in it.
fn place_of(trial: &Trial, d: &Datum) -> Option<(usize, usize)> {
    let at = |part: &PartLog| part.data.iter().position(|other| std::ptr::eq(other, d));
    let parts = trial.parts.iter().enumerate();
    parts.filter_map(|(k, part)| Some((k, at(part)?))).next()
}

impl Suspects {
    fn leave_out(&mut self, trial: &Trial, d: &Datum, measurement: &Measurement, reason: String) {
        let place = place_of(trial, d);
        let part = place.map_or(String::new(), |(k, _)| format!("part {}: ", trial.parts[k].name));
        self.refused.extend(place);
        self.rows.push(BadRow {
            file: measurement.readings.file().map_or(String::new(), file_name),
            line: d.line,
            measurement: measurement.name.clone(),
            reason: format!("{part}{reason}; left out"),
        });
    }
}

/// Why a reading is so far from the others of its column.
fn reason<'a>(trial: &Trial, d: &Datum, column: &Column, others: impl Iterator<Item = &'a Column<'a>>) -> String {
    let value = d.value;
    let near = |value: f64, of: &Column| (value - of.median).abs() < 5.0 * of.sd;
    let part = place_of(trial, d).map(|(k, _)| &trial.parts[k]);
    for other in others {
        let there = part.and_then(|part| part.data.iter().find(|o| o.measurement == other.measurement));
        if near(value, other) && there.is_none_or(|o| !near(o.value, other)) {
            return format!(
                "{value:.1} is a reading of `{}`: the cells of this row are swapped",
                other.of.name
            );
        }
    }
    if near((value - 32.0) / 1.8, column) {
        return format!(
            "{value:.1} is degF among degC: {:.1} degC would be usual",
            (value - 32.0) / 1.8
        );
    }
    if near(value - 273.15, column) {
        return format!("{value:.1} is K among degC");
    }
    format!(
        "{value:.1} is {:+.0} K from the usual {:.0}",
        value - column.median,
        column.median
    )
}

/// Readings at one highest value that comes far more often than those just below it.
fn saturated(column: &Column, trial: &Trial, found: &mut Suspects) {
    let most = column.data.iter().map(|d| d.value).fold(f64::NEG_INFINITY, f64::max);
    let at: Vec<&&Datum> = column.data.iter().filter(|d| d.value == most).collect();
    let below = column
        .data
        .iter()
        .filter(|d| d.value < most && d.value >= most - 0.5 * column.sd)
        .count();
    let mut apart: Vec<f64> = column.data.iter().map(|d| d.value).collect();
    apart.sort_by(f64::total_cmp);
    let steps: Vec<f64> = apart.windows(2).map(|w| w[1] - w[0]).filter(|s| *s > 1e-9).collect();
    let step = steps
        .iter()
        .copied()
        .fold(f64::INFINITY, f64::min)
        .max(0.01 * column.sd);
    let usual = below as f64 / (0.5 * column.sd / step).max(1.0);
    if at.len() >= 4 && at.len() as f64 > 4.0 * usual.max(1.0) {
        for d in at.iter().copied() {
            let reason = format!("{most:.1} comes {} times and nothing is above it: saturated", at.len());
            found.leave_out(trial, d, column.of, reason);
        }
    }
}

/// Refuses columns that are in another unit or swapped as a whole, against the planned run.
fn whole_columns(columns: &[Column], given: &Given, model: &LineModel) -> Result<(), MeasuredError> {
    let quick = model.at(Resolution::Quick);
    let planned: Vec<Option<f64>> = columns
        .iter()
        .map(|column| {
            let at = given.measurements[column.measurement].at()?;
            let probe = Probe {
                stage: at.stage.clone(),
                moment: at.moment,
                node: at.node.clone(),
            };
            quick.probe(&[], &probe).ok()
        })
        .collect();
    for (column, planned) in columns.iter().zip(&planned) {
        let Some(planned) = planned else { continue };
        let unit = given.measurements[column.measurement].unit;
        let (median, name) = (column.median, &column.of.name);
        let as_f = (median - 32.0) / 1.8;
        if unit == Unit::Celsius && median - planned > WHOLE_K && (as_f - planned).abs() < WHOLE_K {
            return Err(MeasuredError::Wrong(format!(
                "measurement `{name}`: half its readings are above {median:.0}, where the plan has {planned:.0} degC: they \
                 are degF ({as_f:.0} degC); say unit = \"degF\""
            )));
        }
    }
    for (i, a) in columns.iter().enumerate() {
        for (b, (plan_a, plan_b)) in columns[..i].iter().zip(planned[..i].iter().map(|b| (planned[i], *b))) {
            let (Some(plan_a), Some(plan_b)) = (plan_a, plan_b) else {
                continue;
            };
            let straight = (a.median - plan_a).abs() + (b.median - plan_b).abs();
            let crossed = (a.median - plan_b).abs() + (b.median - plan_a).abs();
            if straight > 150.0 && crossed < 0.4 * straight {
                return Err(MeasuredError::Wrong(format!(
                    "the columns of `{}` and `{}` are swapped: medians {:.0} and {:.0} degC, planned {plan_a:.0} and \
                     {plan_b:.0}",
                    a.of.name, b.of.name, a.median, b.median
                )));
            }
        }
    }
    Ok(())
}
