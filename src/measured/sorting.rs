//! Limits for sorting parts out: which readings may be accepted so that the risk of a bad part is the one stated, and what
//! that costs in good parts.
//!
//! Parts are drawn from the scatter of the process; each has its true margins and what the instrument shows of it. A part is
//! bad when a limit breaks. The risks are those of JCGM 106:2012: bad and accepted (consumer), good and rejected (producer),
//! as shares of all parts. Two rules are compared at the same risk: a band of the reading alone, and the margin that the model
//! gives from the reading and the measured times.

use rayon::prelude::*;
use serde::Serialize;

use super::bench::Bench;
use super::error::MeasuredError;
use super::gather::{BadRow, file_name};
use super::given::What;
use super::instrument::{EXIT_SD_K, Instrument};
use super::responses::Responses;
use super::setup::Setup;
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
    /// Rows whose seconds are not drawn: not read where others were, or beyond what the quadratics span.
    pub left_out: Vec<BadRow>,
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
    /// Bands of the reading, for the risks that were asked for; none where every one rejects most good parts.
    pub bands: Vec<Choice>,
    /// The same risks by the margin that the model gives.
    pub by_model: Vec<Choice>,
    /// The band that costs least; none where it rejects most good parts.
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
    if readings.is_empty() {
        let text = "nothing was read at the exit: the mean of the process is not known".to_owned();
        return Err(MeasuredError::Wrong(text));
    }
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
    let (rows, left_out) = rows(bench, setup, &responses, middle)?;
    let places = gates(bench, setup, &responses, driver);
    let process = Process {
        responses: &responses,
        rows: &rows,
        exit: (middle, sd),
        seed: options.seed,
    };
    let samples: Vec<Sample> = (0..options.samples as u64)
        .into_par_iter()
        .map(|k| process.draw(k, &places, scatter))
        .collect();
    let n = samples.len() as f64;
    let bad = samples.iter().filter(|s| s.margin < 0.0).count() as f64 / n;
    let usual: Vec<f64> = (0..setup.times.len())
        .map(|k| robust(&rows.iter().map(|row| row[k]).collect::<Vec<f64>>()).0)
        .collect();
    let mean = responses.at(&with(middle, &usual));
    let gates = places
        .iter()
        .enumerate()
        .map(|(g, place)| gate(&samples, g, place, options, place.output.map_or(middle, |k| mean[k])))
        .collect();
    Ok(Sorting {
        schema_version: 1,
        exit: (middle, sd),
        from_readings: options.exit_sd_k.is_none(),
        bad,
        breaks: process.breaks(model, options.samples),
        gates,
        left_out,
        samples: samples.len(),
        error_k: responses.error_k,
        runs: responses.runs,
    })
}

/// Exit and seconds as coordinates of the quadratics.
fn with(exit: f64, seconds: &[f64]) -> Vec<f64> {
    std::iter::once(exit).chain(seconds.iter().copied()).collect()
}

/// Seconds of parts, a row each.
type Seconds = Vec<Vec<f64>>;

/// The seconds that are drawn, and the rows that are left out of them.
fn rows(
    bench: &Bench,
    setup: &Setup,
    responses: &Responses,
    middle: f64,
) -> Result<(Seconds, Vec<BadRow>), MeasuredError> {
    let seen: Vec<bool> = (0..setup.times.len())
        .map(|k| setup.parts.iter().any(|p| !p.assumed[k]))
        .collect();
    let (mut rows, mut left_out) = (Vec::new(), Vec::new());
    for part in &setup.parts {
        let missing = part.assumed.iter().zip(&seen).any(|(assumed, seen)| *assumed && *seen);
        let why = if missing {
            "its seconds were not read"
        } else if !responses.covers(&with(middle, &part.seconds)) {
            "its seconds are far beyond those of the others"
        } else {
            rows.push(part.seconds.clone());
            continue;
        };
        let driver = setup.driver.map(|k| &bench.given.measurements[k]);
        left_out.push(BadRow {
            file: driver.and_then(|m| m.readings.file()).map_or(String::new(), file_name),
            line: part.line,
            measurement: String::new(),
            reason: format!("part {}: {why}; not drawn from", part.name),
        });
    }
    if rows.is_empty() {
        let text = "no part has seconds that can be drawn from".to_owned();
        return Err(MeasuredError::Wrong(text));
    }
    Ok((rows, left_out))
}

/// Where parts can be sorted.
struct GatePlace<'a> {
    name: &'a str,
    instrument: &'a Instrument,
    /// Output that has its temperature; the exit where there is none.
    output: Option<usize>,
}

/// The gates of a trial: the exit, then every other temperature that has one reading a part.
fn gates<'a>(bench: &'a Bench, setup: &Setup, responses: &Responses, driver: usize) -> Vec<GatePlace<'a>> {
    let of = |m: usize, output: Option<usize>| {
        let measurement = &bench.given.measurements[m];
        GatePlace {
            name: &measurement.name,
            instrument: &bench.given.instruments[measurement.instrument],
            output,
        }
    };
    let first = responses.limits + responses.places.len();
    let is_temperature = |m: usize| matches!(bench.given.measurements[m].what, What::Temperature(_));
    let slots = setup
        .slots
        .iter()
        .enumerate()
        .filter(|(_, slot)| is_temperature(slot.measurement));
    std::iter::once(of(driver, None))
        .chain(slots.map(|(k, slot)| of(slot.measurement, Some(first + k))))
        .collect()
}

/// The process that parts are drawn from.
struct Process<'a> {
    responses: &'a Responses,
    rows: &'a [Vec<f64>],
    /// Mean and standard deviation of the exit, degC and K.
    exit: (f64, f64),
    seed: u64,
}

impl Process<'_> {
    /// Exit and seconds of one part.
    fn part(&self, random: &mut Stream) -> (f64, &[f64]) {
        let exit = self.exit.0 + self.exit.1 * random.normal();
        let count = self.rows.len();
        let row = (random.uniform() * count as f64) as usize;
        (exit, &self.rows[row.min(count - 1)])
    }

    fn least(&self, outputs: &[f64]) -> f64 {
        let margins = outputs[..self.responses.limits].iter().copied();
        margins.fold(f64::INFINITY, f64::min)
    }

    /// One part: its exit and times as they scatter, what scatters beside them, what instruments show.
    fn draw(&self, index: u64, places: &[GatePlace], scatter: f64) -> Sample {
        let mut random = Stream::new(self.seed, index);
        let (exit, seconds) = self.part(&mut random);
        let responses = self.responses;
        let mut truth = responses.at(&with(exit, seconds));
        responses.scatter(&mut truth, &mut || random.uniform());
        let (mut shown, mut said) = (Vec::new(), Vec::new());
        for GatePlace { instrument, output, .. } in places {
            let there = output.map_or(exit, |k| truth[k]);
            let noise = output.map_or(scatter, |_| instrument.scatter(there));
            let error = noise * random.normal() + instrument.whole_bias_sd(there) * random.normal();
            let reading = instrument.shows(there).unwrap_or(there) + error;
            shown.push(reading);
            // What the model makes of it: at the exit the margin at what was read; later, moved by what was read beside it.
            let read = instrument.temperature(reading).unwrap_or(reading);
            let as_exit = match output {
                None => read,
                Some(k) => {
                    let mean = self.exit.0;
                    let planned = responses.at(&with(mean, seconds))[*k];
                    let hotter = responses.at(&with(mean + 1.0, seconds))[*k];
                    mean + (read - planned) / (hotter - planned).max(0.05)
                }
            };
            said.push(self.least(&responses.at(&with(as_exit, seconds))));
        }
        Sample {
            margin: self.least(&truth),
            shown,
            said,
        }
    }

    /// The limits that parts break first, by their share.
    fn breaks(&self, model: &dyn Model, samples: usize) -> Vec<(String, f64)> {
        let (count, limits) = (samples.min(20_000), self.responses.limits);
        let mut found = vec![0_usize; limits];
        for index in 0..count as u64 {
            let mut random = Stream::new(self.seed ^ 0x5eed, index);
            let (exit, seconds) = self.part(&mut random);
            let mut outputs = self.responses.at(&with(exit, seconds));
            self.responses.scatter(&mut outputs, &mut || random.uniform());
            let least = (0..limits).min_by(|a, b| outputs[*a].total_cmp(&outputs[*b]));
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
}

fn gate(
    samples: &[Sample],
    g: usize,
    GatePlace {
        name,
        instrument,
        output,
    }: &GatePlace,
    options: &SortOptions,
    there: f64,
) -> Gate {
    let readings: Vec<(f64, bool)> = samples.iter().map(|s| (s.shown[g], s.margin < 0.0)).collect();
    let said: Vec<(f64, bool)> = samples.iter().map(|s| (s.said[g], s.margin < 0.0)).collect();
    let grid = bands(&readings);
    let good = readings.iter().filter(|(_, bad)| !bad).count() as f64 / readings.len().max(1) as f64;
    let is_useful = |c: &Choice| c.false_reject <= REJECTS_MOST * good;
    let least = |risk: f64| {
        let fit = grid.iter().filter(|c| c.false_accept <= risk && is_useful(c));
        fit.min_by(|a, b| a.false_reject.total_cmp(&b.false_reject))
            .map(|c| Choice { asked: risk, ..*c })
    };
    let dear = |c: &&Choice| c.false_reject + options.cost * c.false_accept;
    let half = Instrument {
        spot_share: 0.5 * instrument.spot_share,
        ..(*instrument).clone()
    };
    let loose = Instrument {
        loose_scale_k: instrument.loose_scale_k + 50.0,
        ..(*instrument).clone()
    };
    let less =
        |other: &Instrument| Some(other.shows(there)? - instrument.shows(there)?).filter(|_| instrument.is_optical());
    Gate {
        name: (*name).to_owned(),
        instrument: instrument.name.clone(),
        error_k: (
            output.map_or(instrument.sd.unwrap_or(EXIT_SD_K), |_| instrument.scatter(there)),
            instrument.whole_bias_sd(there),
        ),
        bands: options.risks.iter().filter_map(|risk| least(*risk)).collect(),
        by_model: options
            .risks
            .iter()
            .filter_map(|risk| by_margin(&said, *risk))
            .collect(),
        cheapest: grid
            .iter()
            .min_by(|a, b| dear(a).total_cmp(&dear(b)))
            .copied()
            .filter(is_useful),
        best_setting: instrument.best_setting(there),
        half_spot_k: less(&half),
        loose_scale_k: less(&loose),
        grid,
    }
}

/// Share of the good parts that a band may reject and still be offered (chosen: beyond it the line is to be mended, not sorted).
const REJECTS_MOST: f64 = 0.5;
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measured::Principle;
    use crate::measured::risk::risks;
    use crate::measured::testing::{bench, enquiry};

    const MEAN_C: f64 = 1230.0;
    const SD_K: f64 = 12.0;
    const LEAST_C: f64 = 1210.0;

    fn samples(instrument: &Instrument) -> Vec<Sample> {
        let responses = Responses::of_exit(LEAST_C, (MEAN_C - 60.0, MEAN_C + 60.0));
        let rows = [Vec::new()];
        let process = Process {
            responses: &responses,
            rows: &rows,
            exit: (MEAN_C, SD_K),
            seed: 5,
        };
        let place = GatePlace {
            name: "exit",
            instrument,
            output: None,
        };
        (0..40_000)
            .map(|k| process.draw(k, std::slice::from_ref(&place), 4.0))
            .collect()
    }

    /// A normal exit with one limit and a normal error of the reading: risks by drawing are those by integration
    /// (JCGM 106:2012, clauses 7 to 9), here and in `tests/outside/sorting.rs` against its worked example.
    #[test]
    fn risks_by_drawing_are_those_by_integration() {
        let instrument = Instrument {
            bias_sd: 3.0,
            ..Instrument::plain("exit", Principle::Couple { time_constant_s: 0.0 })
        };
        let samples = samples(&instrument);
        let z = |x: f64| (x - MEAN_C) / SD_K;
        let prior = |x: f64| (-0.5 * z(x).powi(2)).exp() / (SD_K * (2.0 * std::f64::consts::PI).sqrt());
        let integrated = |accept: (f64, f64)| {
            let far = 1e6;
            let accept = (accept.0.max(-far), accept.1.min(far));
            risks(
                &prior,
                (MEAN_C - 9.0 * SD_K, MEAN_C + 9.0 * SD_K),
                (LEAST_C, far),
                accept,
                5.0,
            )
        };
        let agrees = |choice: &Choice| {
            let exact = integrated(choice.accept);
            let near = |share: f64, exact: f64| {
                let error = (exact * (1.0 - exact) / samples.len() as f64).sqrt();
                (share - exact).abs() <= 4.5 * error.max(2e-5)
            };
            assert!(
                near(choice.false_accept, exact.false_accept) && near(choice.false_reject, exact.false_reject),
                "{choice:?} {exact:?}"
            );
        };
        let readings: Vec<(f64, bool)> = samples.iter().map(|s| (s.shown[0], s.margin < 0.0)).collect();
        bands(&readings).iter().step_by(7).for_each(agrees);
        // By the margin at what was read: accepted from the limit and that margin on.
        let said: Vec<(f64, bool)> = samples.iter().map(|s| (s.said[0], s.margin < 0.0)).collect();
        for risk in [0.02, 0.005] {
            let found = by_margin(&said, risk).unwrap();
            let accept = (LEAST_C + found.accept.0, f64::INFINITY);
            agrees(&Choice { accept, ..found });
        }
    }

    #[test]
    fn a_band_that_rejects_most_good_parts_is_not_offered() {
        let poor = Instrument {
            bias_sd: 60.0,
            ..Instrument::plain("exit", Principle::Couple { time_constant_s: 0.0 })
        };
        let options = SortOptions {
            risks: vec![0.0005, 0.2],
            exit_sd_k: None,
            cost: 1000.0,
            samples: 40_000,
            seed: 5,
        };
        let place = GatePlace {
            name: "exit",
            instrument: &poor,
            output: None,
        };
        let found = gate(&samples(&poor), 0, &place, &options, MEAN_C);
        assert_eq!(found.bands.iter().map(|b| b.asked).collect::<Vec<f64>>(), [0.2]);
        assert_eq!(found.cheapest, None);
    }

    #[test]
    fn rows_beyond_the_quadratics_are_not_drawn_from() {
        let enquiry = enquiry("");
        let options = SortOptions {
            risks: vec![0.01],
            exit_sd_k: Some(8.0),
            cost: 20.0,
            samples: 1000,
            seed: 1,
        };
        let of = |rows: &[&str]| sort(&enquiry, &bench(&enquiry, rows), &options);
        let found = of(&["slow,1230,12,200", "open,1230,,40"]).unwrap();
        assert_eq!(
            found.left_out.iter().map(|row| row.line).collect::<Vec<usize>>(),
            [62, 63]
        );
        // Power has no temperature: it is no gate. Nor is there a process without a mean.
        let mut without = bench(&enquiry, &[]);
        without.setups[0].parts.clear();
        assert!(sort(&enquiry, &without, &options).is_err());
    }

    #[test]
    fn only_temperatures_are_gates() {
        let enquiry = enquiry("");
        let mut bench = bench(&enquiry, &[]);
        let mut later = bench.given.measurements[0].clone();
        later.name = "later".to_owned();
        let mut power = later.clone();
        (power.name, power.what) = ("power".to_owned(), What::Power);
        let first = bench.given.measurements.len();
        bench.given.measurements.extend([power, later]);
        let slot = |measurement: usize| crate::measured::Slot {
            measurement,
            time_s: 0.0,
        };
        bench.setups[0].slots = vec![slot(first), slot(first + 1)];
        let responses = Responses::of_exit(LEAST_C, (MEAN_C - 60.0, MEAN_C + 60.0));
        let found = gates(&bench, &bench.setups[0], &responses, 0);
        let named: Vec<(&str, Option<usize>)> = found.iter().map(|place| (place.name, place.output)).collect();
        // Behind one limit and the power.
        assert_eq!(named, [("exit", None), ("later", Some(2))]);
    }
}
