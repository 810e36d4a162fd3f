//! Limits for sorting parts out: which readings may be accepted so that the risk of a bad part is the one stated, and what
//! that costs in good parts.
//!
//! Parts are drawn from the scatter of the process; each has its true margins and what the instrument shows of it. A part is
//! bad when a limit breaks. The risks are those of JCGM 106:2012: bad and accepted (consumer), good and rejected (producer),
//! as shares of all parts. Two rules are compared at the same risk: a band of the reading alone, and the margin that the model
//! gives from the reading and the measured times.

use rayon::prelude::*;
use serde::Serialize;

use super::bench::{Bench, Setup};
use super::equations::EXIT_SD_K;
use super::error::MeasuredError;
use super::instrument::Instrument;
use super::responses::Responses;
use super::suspect::robust;
use crate::ask::enquiry::Enquiry;
use crate::ask::model::Model;
use crate::ask::random::Stream;

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct SortOptions {
    /// Risks of a bad part among all that are accepted-and-bad, as shares of all parts.
    pub risks: Vec<f64>,
    /// Standard deviation of the exit from part to part, K; `None` takes that of the readings.
    pub exit_sd_k: Option<f64>,
    /// What a bad part that goes on costs, in good parts that are rejected.
    pub cost: f64,
    /// Samples.
    pub samples: usize,
    /// Seed.
    pub seed: u64,
}

/// The answer.
#[derive(Debug, Clone, Serialize)]
pub struct Sorting {
    /// Layout version.
    pub schema_version: u32,
    /// Mean and standard deviation of the exit, degC and K.
    pub exit: (f64, f64),
    /// Whether they are those of readings.
    pub from_readings: bool,
    /// Share of parts that are bad.
    pub bad: f64,
    /// Limits by how many parts break them first.
    pub breaks: Vec<(String, f64)>,
    /// Gates: the exit first.
    pub gates: Vec<Gate>,
    /// Samples drawn.
    pub samples: usize,
    /// How far the quadratics are from runs, K.
    pub error_k: f64,
    /// Runs made.
    pub runs: usize,
}

/// A place where parts are sorted.
#[derive(Debug, Clone, Serialize)]
pub struct Gate {
    /// Name of the measurement.
    pub name: String,
    /// Instrument.
    pub instrument: String,
    /// Error of a reading, K: scatter and what is known of the bias.
    pub error_k: (f64, f64),
    /// Bands of the reading, for the risks that were asked for.
    pub bands: Vec<Choice>,
    /// The same risks by the margin that the model gives.
    pub by_model: Vec<Choice>,
    /// The band that costs least.
    pub cheapest: Option<Choice>,
    /// Every band of a grid: edge below, edge above, risks.
    pub grid: Vec<Choice>,
    /// Setting of the emissivity with which it would show the truth at the mean.
    pub best_setting: Option<f64>,
    /// What it shows less with half of its spot beside the part, K.
    pub half_spot_k: Option<f64>,
    /// What it shows less of a part with loose scale 50 K colder, K.
    pub loose_scale_k: Option<f64>,
}

/// A rule with its risks.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Choice {
    /// Risk that was asked for.
    pub asked: f64,
    /// Lowest and highest reading, degC; of the rule by the model, the least margin in K and infinity.
    pub accept: (f64, f64),
    /// Bad and accepted, of all parts.
    pub false_accept: f64,
    /// Good and rejected, of all parts.
    pub false_reject: f64,
    /// Standard errors of both, from the number of samples.
    pub error: (f64, f64),
}

struct Sample {
    margin: f64,
    shown: Vec<f64>,
    /// What the model says of the least margin, from the reading of each gate and the times.
    said: Vec<f64>,
}

/// Finds the limits.
///
/// # Errors
/// A line without limits, runs that fail.
pub fn sort(enquiry: &Enquiry, bench: &Bench, options: &SortOptions) -> Result<Sorting, MeasuredError> {
    let model = &enquiry.quick.clone().unwrap_or_else(|| enquiry.model.clone());
    if model.limits().is_empty() {
        return Err(MeasuredError::Wrong(
            "the line has no limits: a part cannot be bad".to_owned(),
        ));
    }
    let driven = |s: &&Setup| s.driver.is_some() && s.line == 0;
    let setup = bench.setups.iter().filter(driven).max_by_key(|s| s.parts.len());
    let needs =
        || MeasuredError::Wrong("no measurement of the surface at the exit: sorting starts with one".to_owned());
    let setup = setup.ok_or_else(needs)?;
    let driver = setup.driver.ok_or_else(needs)?;
    let pyrometer = &bench.given.instruments[bench.given.measurements[driver].instrument];
    let readings: Vec<f64> = setup
        .parts
        .iter()
        .filter_map(|p| pyrometer.temperature(p.exit?))
        .collect();
    let (middle, spread) = robust(&readings);
    let scatter = pyrometer.sd.unwrap_or(EXIT_SD_K);
    let own = (spread.powi(2) - scatter.powi(2)).max(0.0).sqrt();
    let sd = options.exit_sd_k.unwrap_or(own);
    if readings.len() < 20 && options.exit_sd_k.is_none() {
        return Err(MeasuredError::Wrong(format!(
            "{} readings at the exit are too few for the scatter of the process: give --exit-sd",
            readings.len()
        )));
    }
    let scattered = enquiry.scattered();
    let wide = 4.0 * sd.max(2.0) + 2.0 * pyrometer.whole_bias_sd(middle);
    let responses = Responses::of(bench, setup, (middle - wide, middle + wide), &scattered)?;
    let instruments: Vec<&Instrument> = gates(bench, setup, driver).iter().map(|(_, i)| *i).collect();
    let samples: Vec<Sample> = (0..options.samples as u64)
        .into_par_iter()
        .map(|k| {
            draw(
                &responses,
                setup,
                (middle, sd),
                (&instruments, scatter),
                (options.seed, k),
            )
        })
        .collect();
    let n = samples.len() as f64;
    let bad = samples.iter().filter(|s| s.margin < 0.0).count() as f64 / n;
    let named = gates(bench, setup, driver);
    let gates = named
        .iter()
        .enumerate()
        .map(|(g, (name, instrument))| gate(&samples, g, (name, instrument), options, middle))
        .collect();
    Ok(Sorting {
        schema_version: 1,
        exit: (middle, sd),
        from_readings: options.exit_sd_k.is_none(),
        bad,
        breaks: breaks(&responses, setup, model, (middle, sd), options),
        gates,
        samples: samples.len(),
        error_k: responses.error_k,
        runs: responses.runs,
    })
}

/// The gates of a trial: the exit, then every other temperature that has one reading a part.
fn gates<'a>(bench: &'a Bench, setup: &Setup, driver: usize) -> Vec<(String, &'a Instrument)> {
    let of = |m: usize| {
        let measurement = &bench.given.measurements[m];
        (
            measurement.name.clone(),
            &bench.given.instruments[measurement.instrument],
        )
    };
    std::iter::once(of(driver))
        .chain(setup.slots.iter().map(|slot| of(slot.measurement)))
        .collect()
}

/// One part of the process: its exit and times as they scatter, what scatters beside them, what instruments show.
fn draw(
    responses: &Responses,
    setup: &Setup,
    (mean, sd): (f64, f64),
    (instruments, scatter): (&[&Instrument], f64),
    (seed, index): (u64, u64),
) -> Sample {
    let mut random = Stream::new(seed, index);
    let exit = mean + sd * random.normal();
    let seconds: Vec<f64> = match setup.parts.len() {
        0 => Vec::new(),
        count => {
            let part = (random.uniform() * count as f64) as usize;
            setup.parts[part.min(count - 1)].seconds.clone()
        }
    };
    let with = |exit: f64| -> Vec<f64> { std::iter::once(exit).chain(seconds.iter().copied()).collect() };
    let mut truth = responses.at(&with(exit));
    responses.scatter(&mut truth, &mut || random.uniform());
    let least = |outputs: &[f64]| {
        outputs[..responses.limits]
            .iter()
            .copied()
            .fold(f64::INFINITY, f64::min)
    };
    let first = responses.limits + responses.places.len();
    let (mut shown, mut said) = (Vec::new(), Vec::new());
    for (g, instrument) in instruments.iter().enumerate() {
        let there = if g == 0 { exit } else { truth[first + g - 1] };
        let noise = if g == 0 {
            scatter
        } else {
            instrument.sd.unwrap_or(super::equations::SD_K)
        };
        let error = noise * random.normal() + instrument.whole_bias_sd(there) * random.normal();
        let reading = instrument.shows(there).unwrap_or(there) + error;
        shown.push(reading);
        // What the model makes of it: at the exit the margin at what was read; later, moved by what was read beside it.
        let read = instrument.temperature(reading).unwrap_or(reading);
        said.push(match g {
            0 => least(&responses.at(&with(read))),
            _ => {
                let planned = responses.at(&with(mean));
                let hotter = responses.at(&with(mean + 1.0));
                let follows = (hotter[first + g - 1] - planned[first + g - 1]).max(0.05);
                let as_exit = mean + (read - planned[first + g - 1]) / follows;
                least(&responses.at(&with(as_exit)))
            }
        });
    }
    Sample {
        margin: least(&truth),
        shown,
        said,
    }
}

/// The limits that parts break first, by their share.
fn breaks(
    responses: &Responses,
    setup: &Setup,
    model: &dyn Model,
    (mean, sd): (f64, f64),
    options: &SortOptions,
) -> Vec<(String, f64)> {
    let count = options.samples.min(20_000);
    let mut found = vec![0_usize; responses.limits];
    for index in 0..count as u64 {
        let mut random = Stream::new(options.seed ^ 0x5eed, index);
        let exit = mean + sd * random.normal();
        let part = (random.uniform() * setup.parts.len().max(1) as f64) as usize;
        let seconds = setup.parts.get(part).map_or(&[][..], |p| &p.seconds);
        let x: Vec<f64> = std::iter::once(exit).chain(seconds.iter().copied()).collect();
        let mut outputs = responses.at(&x);
        responses.scatter(&mut outputs, &mut || random.uniform());
        let least = (0..responses.limits).min_by(|a, b| outputs[*a].total_cmp(&outputs[*b]));
        if let Some(limit) = least.filter(|l| outputs[*l] < 0.0) {
            found[limit] += 1;
        }
    }
    let named = model.limits().iter().map(ToString::to_string).zip(found);
    let mut list: Vec<(String, f64)> = named
        .filter(|(_, c)| *c > 0)
        .map(|(name, c)| (name, c as f64 / count as f64))
        .collect();
    list.sort_by(|a, b| b.1.total_cmp(&a.1));
    list
}

fn gate(
    samples: &[Sample],
    g: usize,
    (name, instrument): (&str, &Instrument),
    options: &SortOptions,
    mean: f64,
) -> Gate {
    let readings: Vec<(f64, bool)> = samples.iter().map(|s| (s.shown[g], s.margin < 0.0)).collect();
    let said: Vec<(f64, bool)> = samples.iter().map(|s| (s.said[g], s.margin < 0.0)).collect();
    let grid = bands(&readings);
    let least = |risk: f64| {
        let fit = grid.iter().filter(|c| c.false_accept <= risk);
        fit.min_by(|a, b| a.false_reject.total_cmp(&b.false_reject))
            .map(|c| Choice { asked: risk, ..*c })
    };
    let dear = |c: &&Choice| c.false_reject + options.cost * c.false_accept;
    let there = instrument.temperature(mean).map_or(mean, |_| mean);
    let half = Instrument {
        spot_share: 0.5 * instrument.spot_share,
        ..instrument.clone()
    };
    let loose = Instrument {
        loose_scale_k: instrument.loose_scale_k + 50.0,
        ..instrument.clone()
    };
    let less =
        |other: &Instrument| Some(other.shows(there)? - instrument.shows(there)?).filter(|_| instrument.is_optical());
    Gate {
        name: name.to_owned(),
        instrument: instrument.name.clone(),
        error_k: (
            instrument
                .sd
                .unwrap_or(if g == 0 { EXIT_SD_K } else { super::equations::SD_K }),
            instrument.whole_bias_sd(there),
        ),
        bands: options.risks.iter().filter_map(|risk| least(*risk)).collect(),
        by_model: options
            .risks
            .iter()
            .filter_map(|risk| by_margin(&said, *risk))
            .collect(),
        cheapest: grid.iter().min_by(|a, b| dear(a).total_cmp(&dear(b))).copied(),
        best_setting: instrument.best_setting(there),
        half_spot_k: less(&half),
        loose_scale_k: less(&loose),
        grid,
    }
}

/// Edges of the grid of bands on each side.
const EDGES: usize = 40;

/// Risks of every band of a grid of quantiles of the readings.
fn bands(readings: &[(f64, bool)]) -> Vec<Choice> {
    let mut sorted: Vec<(f64, bool)> = readings.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let n = sorted.len();
    let mut bad_before = vec![0_usize; n + 1];
    for (k, (_, bad)) in sorted.iter().enumerate() {
        bad_before[k + 1] = bad_before[k] + usize::from(*bad);
    }
    let good = n - bad_before[n];
    // Edges lie closer together towards the ends, where few parts are.
    let share = |k: usize| crate::numeric::special::normal_cdf(-4.0 + 4.0 * k as f64 / EDGES as f64);
    let low: Vec<usize> = (0..=EDGES)
        .map(|k| if k == 0 { 0 } else { (share(k) * n as f64) as usize })
        .collect();
    let mut out = Vec::new();
    for from in &low {
        for above in &low {
            let to = n - above;
            if to <= *from {
                continue;
            }
            let accepted_bad = bad_before[to] - bad_before[*from];
            let accepted_good = to - from - accepted_bad;
            let edge = |k: usize| match k {
                0 => f64::NEG_INFINITY,
                k if k == n => f64::INFINITY,
                k => 0.5 * (sorted[k - 1].0 + sorted[k].0),
            };
            out.push(choice((edge(*from), edge(to)), (accepted_bad, good - accepted_good), n));
        }
    }
    out
}

fn choice(accept: (f64, f64), (accepted_bad, rejected_good): (usize, usize), n: usize) -> Choice {
    let share = |count: usize| count as f64 / n as f64;
    let error = |count: usize| (share(count) * (1.0 - share(count)) / n as f64).sqrt();
    Choice {
        asked: 0.0,
        accept,
        false_accept: share(accepted_bad),
        false_reject: share(rejected_good),
        error: (error(accepted_bad), error(rejected_good)),
    }
}

/// The least margin, as the model says it, at which the risk is kept.
fn by_margin(said: &[(f64, bool)], risk: f64) -> Option<Choice> {
    let mut sorted: Vec<(f64, bool)> = said.to_vec();
    sorted.sort_by(|a, b| b.0.total_cmp(&a.0));
    let n = sorted.len();
    let good = sorted.iter().filter(|(_, bad)| !bad).count();
    let (mut accepted_bad, mut accepted_good) = (0, 0);
    let mut best = choice((f64::INFINITY, f64::INFINITY), (0, good), n);
    for (margin, bad) in sorted {
        accepted_bad += usize::from(bad);
        accepted_good += usize::from(!bad);
        if accepted_bad as f64 > risk * n as f64 {
            break;
        }
        best = choice((margin, f64::INFINITY), (accepted_bad, good - accepted_good), n);
    }
    Some(Choice { asked: risk, ..best })
}
