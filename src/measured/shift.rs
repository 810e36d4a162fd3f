//! A shift: every part of a log judged from its measured exit and times, and charts of how the line runs.

use rayon::prelude::*;
use serde::Serialize;

use super::bench::Bench;
use super::charts::{Ewma, Individuals, Rule, signals};
use super::gather::BadRow;
use super::judging::{Judging, ShiftPart, stage_of};
use super::responses::Place;
use super::suspect::robust;
use crate::ask::enquiry::ExitKnown;
use crate::ask::model::Model;
use crate::ask::statistics::{Capability, capability};

/// A series of a shift with its charts.
#[derive(Debug, Clone, Serialize)]
pub struct Series {
    /// What it is: `exit`, a stage, or a measurement.
    pub name: String,
    /// Kind.
    pub kind: SeriesKind,
    /// Individuals and moving range, limits from the first parts.
    pub chart: Individuals,
    /// Parts that the limits are from.
    pub base: usize,
    /// Rules that are broken: how often, and at which part first.
    pub broken: Vec<(Rule, usize, String)>,
    /// Exponentially weighted mean: the first part outside.
    pub ewma: Option<String>,
    /// Change of the mean over the log by a straight line, with its standard error.
    pub drift: (f64, f64),
    /// Values far above the others: done again.
    pub retries: usize,
    /// Values, one a part that has it.
    #[serde(skip)]
    pub values: Vec<f64>,
}

/// What a series is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SeriesKind {
    /// Temperature at the exit.
    Exit,
    /// Seconds of a stage.
    Seconds,
    /// Readings less what the instrument would show.
    Off,
}

/// A drift with what it is likely from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Drift {
    /// The series.
    pub series: String,
    /// Change over the log.
    pub change: f64,
    /// Cause.
    pub cause: Cause,
}

/// What a drift is likely from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// The exit drifts and what is seen later follows it: the heater.
    Heater,
    /// What is seen later drifts against the exit: the exit pyrometer (window, smoke, emissivity) or the heat between.
    ExitInstrument,
    /// One of several later instruments drifts alone: that instrument, or what happens just before it.
    Instrument,
    /// Handling takes longer or shorter.
    Handling,
}

/// What a shift came to.
#[derive(Debug, Clone, Serialize)]
pub struct Shift {
    /// Layout version.
    pub schema_version: u32,
    /// Parts.
    pub parts: Vec<ShiftPart>,
    /// Names of the limits.
    pub limits: Vec<String>,
    /// Places whose temperatures the parts have.
    pub places: Vec<Place>,
    /// Paths of the seconds.
    pub times: Vec<String>,
    /// Names of the measurements that the parts have differences to.
    pub slots: Vec<String>,
    /// Charts.
    pub series: Vec<Series>,
    /// Capability of the exit against the band within which parts with the usual times are good.
    pub capability: Option<((f64, f64), Capability)>,
    /// Drifts.
    pub drifts: Vec<Drift>,
    /// How far the quadratics are from runs, K.
    pub error_k: f64,
    /// Rows that were not judged, each with the reason.
    pub not_judged: Vec<BadRow>,
    /// Hand-overs whose seconds were read on no part.
    pub unread: Vec<String>,
    /// Columns of the log named as a hand-over, or `part`, that no measurement reads.
    pub ignored: Vec<String>,
    /// How the guard bands count the exit; none by a decision table, which has its own, and without guard bands.
    pub exit_known: Option<ExitKnown>,
    /// Whether a decision table judges.
    pub by_table: bool,
    /// Whether the decision table was made from another state of the line file.
    pub older_table: bool,
}

impl Shift {
    /// Parts of which seconds are missing that others have.
    #[must_use]
    pub fn without_seconds(&self) -> usize {
        let is_read = |path: &String| !self.unread.iter().any(|stage| stage == stage_of(path));
        let lacks = |p: &&ShiftPart| {
            let mut seconds = p.seconds.iter().zip(&self.times);
            seconds.any(|(s, path)| s.is_none() && is_read(path))
        };
        self.parts.iter().filter(lacks).count()
    }

    /// Parts that were run themselves.
    #[must_use]
    pub fn by_run(&self) -> usize {
        self.parts.iter().filter(|p| p.by_run).count()
    }
}

/// Parts that limits of charts are from.
const BASE: usize = 100;
/// Standard errors from which a drift is more than noise.
const DRIFT_SEEN: f64 = 4.0;
/// Weight of the newest value of the weighted means.
const LAMBDA: f64 = 0.2;

/// Judges a whole log.
#[must_use]
pub fn shift(judging: &Judging, bench: &Bench, confidence: f64) -> Shift {
    let setup = judging.setup;
    let judged: Vec<Result<ShiftPart, BadRow>> = setup.parts.par_iter().map(|p| judging.part(p)).collect();
    let (mut parts, mut not_judged) = (Vec::new(), setup.not_run.clone());
    for part in judged {
        match part {
            Ok(part) => parts.push(part),
            Err(row) => not_judged.push(row),
        }
    }
    not_judged.sort_by_key(|row| row.line);
    let column = |of: &dyn Fn(&ShiftPart) -> Option<f64>| -> Vec<(f64, &str)> {
        parts.iter().filter_map(|p| Some((of(p)?, p.name.as_str()))).collect()
    };
    let mut series: Vec<Series> = Vec::new();
    series.extend(chart("exit", SeriesKind::Exit, &column(&|p| Some(p.exit_c))));
    for (k, path) in setup.times.iter().enumerate() {
        series.extend(chart(
            stage_of(path),
            SeriesKind::Seconds,
            &column(&|p| p.seconds.get(k).copied().flatten()),
        ));
    }
    for (slot, of) in setup.slots.iter().enumerate() {
        let name = &bench.given.measurements[of.measurement].name;
        series.extend(chart(
            name,
            SeriesKind::Off,
            &column(&|p| p.off_k.get(slot).copied().flatten()),
        ));
    }
    let usual: Vec<f64> = (0..setup.times.len())
        .map(|k| {
            let read: Vec<f64> = parts.iter().filter_map(|p| p.seconds[k]).collect();
            if read.is_empty() {
                judging.planned_s[k]
            } else {
                robust(&read).0
            }
        })
        .collect();
    let exits = series.iter().find(|s| s.kind == SeriesKind::Exit);
    let of_exit = exits.and_then(|exit| {
        let sd = (exit.values.iter().map(|v| (v - exit.chart.mean).powi(2)).sum::<f64>()
            / (exit.values.len().max(2) - 1) as f64)
            .sqrt();
        let mean = exit.values.iter().sum::<f64>() / exit.values.len().max(1) as f64;
        let band = judging.exit_band(&usual, mean)?;
        let found = capability(mean, sd, exit.values.len(), Some(band.0), Some(band.1), confidence).ok()?;
        Some((band, found))
    });
    Shift {
        schema_version: 1,
        limits: judging.bench.lines[0]
            .limits()
            .iter()
            .map(ToString::to_string)
            .collect(),
        places: judging.responses.places.clone(),
        times: setup.times.clone(),
        slots: setup
            .slots
            .iter()
            .map(|slot| bench.measurement(slot).name.clone())
            .collect(),
        drifts: drifts(&series),
        series,
        capability: of_exit,
        error_k: judging.error_k(),
        unread: judging.unread(),
        ignored: judging.ignored.clone(),
        exit_known: judging.exit_known,
        by_table: judging.by_table(),
        older_table: judging.is_older(),
        not_judged,
        parts,
    }
}

fn chart(name: &str, kind: SeriesKind, values: &[(f64, &str)]) -> Option<Series> {
    let all: Vec<f64> = values.iter().map(|v| v.0).collect();
    let base = all.len().min(BASE);
    let chart = Individuals::of(&all[..base])?;
    let found = signals(&all, &chart);
    let broken = Rule::ALL
        .into_iter()
        .filter_map(|rule| {
            let of: Vec<usize> = found.iter().filter(|(_, r)| *r == rule).map(|(k, _)| *k).collect();
            Some((rule, of.len(), values[*of.first()?].1.to_owned()))
        })
        .collect();
    let ewma = Ewma::of(&all, chart.mean, chart.sigma, LAMBDA);
    let (middle, spread) = robust(&all);
    let far = middle + 8.0 * spread.max(0.01 * middle.abs()).max(0.02);
    Some(Series {
        name: name.to_owned(),
        kind,
        base,
        broken,
        ewma: ewma.first_outside().map(|k| values[k].1.to_owned()),
        drift: drift(&all),
        retries: if kind == SeriesKind::Seconds {
            all.iter().filter(|v| **v > far).count()
        } else {
            0
        },
        chart,
        values: all,
    })
}

/// Change of the mean over a list by the straight line of least squares, with its standard error; outliers are drawn in to
/// four robust standard deviations.
fn drift(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    if n < 10.0 {
        return (0.0, 0.0);
    }
    let (middle, spread) = robust(values);
    let reach = 4.0 * spread.max(1e-9);
    let y: Vec<f64> = values.iter().map(|v| (v - middle).max(-reach).min(reach)).collect();
    let (half, mean) = (0.5 * (n - 1.0), y.iter().sum::<f64>() / n);
    let (mut xx, mut xy) = (0.0, 0.0);
    for (k, v) in y.iter().enumerate() {
        let x = k as f64 - half;
        (xx, xy) = (xx + x * x, xy + x * (v - mean));
    }
    let slope = xy / xx;
    let rest: f64 = y
        .iter()
        .enumerate()
        .map(|(k, v)| (v - mean - slope * (k as f64 - half)).powi(2))
        .sum();
    ((n - 1.0) * slope, (n - 1.0) * (rest / (n - 2.0) / xx).sqrt())
}

/// Drifts that are more than noise, each with its likely cause.
fn drifts(series: &[Series]) -> Vec<Drift> {
    let seen = |s: &&Series| s.drift.1 > 0.0 && s.drift.0.abs() > DRIFT_SEEN * s.drift.1;
    let off: Vec<&Series> = series.iter().filter(|s| s.kind == SeriesKind::Off).collect();
    let drifting = off.iter().filter(|s| seen(s)).count();
    let cause = |s: &Series| match s.kind {
        SeriesKind::Exit => Cause::Heater,
        SeriesKind::Seconds => Cause::Handling,
        SeriesKind::Off if off.len() > 1 && drifting < off.len() => Cause::Instrument,
        SeriesKind::Off => Cause::ExitInstrument,
    };
    let found = series.iter().filter(seen);
    found
        .map(|s| Drift {
            series: s.name.clone(),
            change: s.drift.0,
            cause: cause(s),
        })
        .collect()
}
