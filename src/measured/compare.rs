//! Runs beside measurements: by how much each reading is off, in K and in standard deviations.

use serde::Serialize;

use super::bench::Bench;
use super::error::MeasuredError;
use super::setup::Setup;
use super::suspect::robust;

/// Readings beside what the instruments would show.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// Layout version.
    pub schema_version: u32,
    /// By place.
    pub places: Vec<PlaceDeviation>,
    /// Every reading.
    pub readings: Vec<Deviation>,
    /// Parts that were run, and all there are.
    pub parts: (usize, usize),
}

/// A reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Deviation {
    /// Index of the measurement.
    pub measurement: usize,
    /// Part.
    pub part: String,
    /// Line of its file.
    pub line: usize,
    /// Time after heater exit, s.
    pub time_s: f64,
    /// What was read, degC (kWh or kW of a meter).
    pub read_c: f64,
    /// What the instrument would show, degC.
    pub shown_c: f64,
    /// Temperature of the place in the run, degC.
    pub run_c: f64,
    /// Reading less what it would show, K.
    pub off_k: f64,
    /// The same in standard deviations of single readings.
    pub off_sd: f64,
}

/// Readings of a place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlaceDeviation {
    /// Name of the measurement.
    pub name: String,
    /// Instrument.
    pub instrument: String,
    /// Stage, moment and node.
    pub place: String,
    /// Readings.
    pub readings: usize,
    /// Mean of reading less shown, K.
    pub mean_k: f64,
    /// Median of it, K.
    pub median_k: f64,
    /// Standard deviation of it, K.
    pub sd_k: f64,
    /// What the mean may be off by, by what is known of instruments and runs, K.
    pub known_k: f64,
    /// The mean in units of that.
    pub mean_sd: f64,
    /// Largest distance from the median, K, with its part.
    pub worst: Option<(f64, String)>,
}

/// Most parts that are run.
const MOST: usize = 500;

/// Runs the parts and compares.
///
/// # Errors
/// A run that fails.
pub fn compare(bench: &Bench) -> Result<Comparison, MeasuredError> {
    let instruments = &bench.given.instruments;
    let mut readings = Vec::new();
    let (mut ran, mut all) = (0, 0);
    for setup in &bench.setups {
        let count = setup.parts.len();
        let chosen: Vec<usize> = (0..count.min(MOST)).map(|k| k * count / count.min(MOST)).collect();
        let runs = bench.run_parts(setup, &chosen, &[], instruments)?;
        (ran, all) = (ran + chosen.len(), all + count);
        for (p, values) in chosen.iter().zip(runs) {
            let Some(values) = values else { continue };
            let part = &setup.parts[*p];
            let times = times(bench, setup, *p);
            for (slot, read_c, line) in &part.readings {
                let m = setup.slots[*slot].measurement;
                let instrument = &instruments[bench.given.measurements[m].instrument];
                let Some((run_c, shown_c)) = values[*slot].and_then(|v| Some((v, instrument.shows(v)?))) else {
                    continue;
                };
                readings.push(Deviation {
                    measurement: m,
                    part: part.name.clone(),
                    line: *line,
                    time_s: times[*slot],
                    read_c: *read_c,
                    shown_c,
                    run_c,
                    off_k: read_c - shown_c,
                    off_sd: (read_c - shown_c) / instrument.scatter(*read_c),
                });
            }
        }
    }
    let places = (0..bench.given.measurements.len())
        .filter_map(|m| place(bench, m, &readings))
        .collect();
    Ok(Comparison {
        schema_version: 1,
        places,
        readings,
        parts: (ran, all),
    })
}

/// Times of the slots of a part after heater exit, by its own seconds.
fn times(bench: &Bench, setup: &Setup, part: usize) -> Vec<f64> {
    let line = &bench.lines[setup.line];
    let changes = bench.changes_at(setup, (None, &setup.parts[part].seconds), &[]);
    let plan = line.plan(&changes).ok();
    let of = |slot: &super::setup::Slot| {
        let at = bench.measurement(slot).at()?;
        Some(super::bench::planned_time(plan.as_ref()?, at)? + slot.time_s)
    };
    setup.slots.iter().map(|slot| of(slot).unwrap_or(0.0)).collect()
}

fn place(bench: &Bench, m: usize, readings: &[Deviation]) -> Option<PlaceDeviation> {
    let of: Vec<&Deviation> = readings.iter().filter(|r| r.measurement == m).collect();
    let first = of.first()?;
    let measurement = &bench.given.measurements[m];
    let instrument = &bench.given.instruments[measurement.instrument];
    let off: Vec<f64> = of.iter().map(|r| r.off_k).collect();
    let n = off.len() as f64;
    let mean_k = off.iter().sum::<f64>() / n;
    let sd_k = (off.iter().map(|d| (d - mean_k).powi(2)).sum::<f64>() / (n - 1.0).max(1.0)).sqrt();
    let (median_k, _) = robust(&off);
    let exit = bench
        .setups
        .iter()
        .find(|s| s.slots.iter().any(|slot| slot.measurement == m))
        .and_then(|s| s.driver);
    // The exit errs in kelvin: it says nothing of a meter.
    let exit = exit.filter(|_| measurement.at().is_some());
    let exit = exit.map(|k| &bench.given.instruments[bench.given.measurements[k].instrument]);
    let bias = |i: &super::instrument::Instrument| i.whole_bias_sd(first.run_c);
    let scatter = if n > 1.0 {
        sd_k
    } else {
        instrument.scatter(first.read_c)
    };
    let known_k = bias(instrument)
        .hypot(exit.map_or(0.0, bias))
        .hypot(measurement.model_sd_k)
        .hypot(scatter / n.sqrt());
    let worst = of
        .iter()
        .max_by(|a, b| (a.off_k - median_k).abs().total_cmp(&(b.off_k - median_k).abs()));
    Some(PlaceDeviation {
        name: measurement.name.clone(),
        instrument: instrument.name.clone(),
        place: measurement.place(),
        readings: off.len(),
        mean_k,
        median_k,
        sd_k,
        known_k,
        mean_sd: mean_k / known_k.max(1e-9),
        worst: worst.map(|w| (w.off_k - median_k, w.part.clone())),
    })
}
