//! The fit: which inputs and biases the measurements speak for, with what they leave open.
//!
//! Least squares of the whitened readings and of what was known before (its owners' spreads; Bayes with normal
//! distributions). Searches look at response surfaces of runs; the answer is corrected by runs of the parts themselves at
//! their measured times and searched again, so that it is one of the runs. Scatter is found from the readings, outliers by
//! a stated rule, and what runs may be off by at each place is an unknown of its own (Kennedy and O'Hagan, J. R. Stat. Soc.
//! B 63 (2001) 425), or the others would absorb it.

use ndarray::{Array2, Axis, Slice};
use rayon::prelude::*;
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};

use super::bench::Bench;
use super::equations::{Equations, Place, has};
use super::error::MeasuredError;
use super::fitted::{Convergence, Estimate, Outlier, PlaceResidual, Stretch, Told};
use super::given::{Wanted, What};
use super::least::{End, Found, from_starts};
use super::setup::Setup;
use super::surface::{Coordinate, Surface, count_of_terms, range_of};
use super::suspect::robust;
use super::tell::{self, Further, Held};
use super::unknown::{Of, Unknown, unknowns};
use crate::ask::random::{Sampler, Scheme};
use crate::numeric::dense::Svd;

/// What a fit came to.
#[derive(Debug, Clone, Serialize)]
pub struct Fit {
    /// Layout version.
    pub schema_version: u32,
    /// What was asked for.
    pub estimates: Vec<Estimate>,
    /// Biases and what runs are off by, which went along.
    pub beside: Vec<Estimate>,
    /// Correlations of the estimates that were asked for.
    pub correlations: Vec<Vec<f64>>,
    /// Directions that the data see, strongest first.
    pub directions: Vec<tell::Direction>,
    /// Residuals by place.
    pub places: Vec<PlaceResidual>,
    /// Readings that do not count.
    pub outliers: Vec<Outlier>,
    /// Runs of parts that are off together.
    pub stretches: Vec<Stretch>,
    /// What was held fixed, and what one standard deviation of it would do.
    pub held: Vec<Held>,
    /// Which further measurement would tell most.
    pub further: Vec<Further>,
    /// Parts used.
    pub parts: usize,
    /// Readings that count.
    pub readings: usize,
    /// How the search ended.
    pub convergence: Convergence,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Why it must not be used, if so.
    pub refused: Vec<String>,
}

/// A reading farther off than this many robust standard deviations does not count.
pub const FAR_SD: f64 = 4.0;
/// Readings from which their scatter is found.
const TELLING: usize = 20;
/// Most parts that are run for the correction.
const MOST_RUN: usize = 400;
/// Parts that are run to see how far the corrected surface is off.
const CHECKED: usize = 60;
/// Standard deviations of what was known before within which an estimate must stay.
const LEAVES_SD: f64 = 3.0;
/// Parts of a stretch.
const STRETCH: usize = 10;

/// Fits what is wanted.
///
/// # Errors
/// Wrong paths, too few readings, runs that fail.
pub fn fit(bench: &Bench, wanted: &[Wanted], confidence: f64) -> Result<Fit, MeasuredError> {
    let unknowns = unknowns(bench, wanted)?;
    let readings: usize = bench
        .setups
        .iter()
        .flat_map(|s| &s.parts)
        .map(|p| p.readings.len())
        .sum();
    let asked = unknowns.iter().filter(|u| u.asked).count();
    if readings <= asked {
        return Err(MeasuredError::Refused(format!(
            "{readings} readings for {asked} unknowns: nothing is fitted from fewer data than unknowns and one more"
        )));
    }
    let mut work = Work {
        bench,
        unknowns: &unknowns,
        runs: 0,
    };
    let mean: Vec<f64> = unknowns.iter().map(|u| u.mean).collect();
    let wide: Vec<f64> = unknowns.iter().map(|u| 2.0 * u.sd).collect();
    let mut equations = work.equations(&mean, &wide)?;
    let (mut found, _) = solve(&mut equations, &unknowns, std::slice::from_ref(&mean))?;
    // Once more over a smaller box about what was found.
    let sd = deviations(&found, &unknowns)?;
    let narrow: Vec<f64> = sd
        .iter()
        .zip(&unknowns)
        .map(|(sd, u)| (4.0 * sd).clamp(0.05 * u.sd, 2.0 * u.sd))
        .collect();
    let counts = std::mem::take(&mut equations.counts);
    let scatter = std::mem::take(&mut equations.sd);
    equations = work.equations(&found.x, &narrow)?;
    (equations.counts, equations.sd) = (counts, scatter);
    let mut agree = false;
    for _ in 0..2 {
        work.correct(&mut equations, &found.x, MOST_RUN)?;
        (found, agree) = solve(&mut equations, &unknowns, &starts(&unknowns, &found.x))?;
    }
    let error_k = work.correct(&mut equations, &found.x, CHECKED)?;
    work.finish(&equations, &found, (agree, error_k), confidence)
}

/// Starts of the last searches: where the first ended, what was believed, and to either side of it.
fn starts(unknowns: &[Unknown], end: &[f64]) -> Vec<Vec<f64>> {
    let moved = |side: f64| -> Vec<f64> {
        let of = |(k, u): (usize, &Unknown)| {
            let by = if k % 2 == 0 { side } else { -side } * u.sd;
            (u.mean + by).max(u.allowed.0).min(u.allowed.1)
        };
        unknowns.iter().enumerate().map(of).collect()
    };
    vec![end.to_vec(), moved(0.0), moved(1.0), moved(-1.0)]
}

/// Searches, finds scatter and outliers anew, until neither changes.
fn solve(equations: &mut Equations, unknowns: &[Unknown], starts: &[Vec<f64>]) -> Result<(Found, bool), MeasuredError> {
    let scale: Vec<f64> = unknowns.iter().map(|u| u.sd).collect();
    let lost = || MeasuredError::Refused("the residuals cannot be computed at what was believed before".to_owned());
    let mut best = from_starts(&|x| equations.residuals(x), starts, &scale).ok_or_else(lost)?;
    for _ in 0..8 {
        let changed = judge(equations, &best.0.x).ok_or_else(lost)?;
        let mut from = vec![best.0.x.clone()];
        from.extend_from_slice(&starts[1.min(starts.len())..]);
        best = from_starts(&|x| equations.residuals(x), &from, &scale).ok_or_else(lost)?;
        if !changed {
            break;
        }
    }
    Ok(best)
}

/// Finds scatter and outliers at `x`; tells whether they changed.
fn judge(equations: &mut Equations, x: &[f64]) -> Option<bool> {
    let all = equations.all(x)?;
    let measurement = |e: &Equations, place: &Place| {
        let setup = &e.bench.setups[place.setup];
        setup.slots[setup.parts[place.part].readings[place.reading].0].measurement
    };
    let unknowns = equations.unknowns.len() as f64;
    let mut changed = false;
    for m in 0..equations.bench.given.measurements.len() {
        let of: Vec<&(Place, f64, f64)> = all
            .iter()
            .filter(|(place, _, _)| measurement(equations, place) == m)
            .collect();
        if of.len() < 8 {
            continue;
        }
        let differences: Vec<f64> = of.iter().map(|(_, d, _)| *d).collect();
        let (middle, spread) = robust(&differences);
        let spread = spread.max(0.3 * of[0].2);
        for (place, d, _) in &of {
            let counts = (d - middle).abs() <= FAR_SD * spread;
            let slot = &mut equations.counts[place.setup][place.part][place.reading];
            changed |= *slot != counts;
            *slot = counts;
        }
        let counted: Vec<f64> = of
            .iter()
            .filter(|(place, _, _)| equations.counts[place.setup][place.part][place.reading])
            .map(|(_, d, _)| *d)
            .collect();
        if counted.len() < TELLING {
            continue;
        }
        let share = unknowns * counted.len() as f64 / all.len() as f64;
        let square = counted.iter().map(|d| d * d).sum::<f64>() / (counted.len() as f64 - share).max(1.0);
        let total = of[0].2;
        let exit = total.powi(2) - equations.sd[m].powi(2);
        let mut sd = (square - exit).max(0.04 * square).sqrt();
        if matches!(equations.bench.given.measurements[m].what, What::Curve(_)) {
            // Readings of a curve err together: fewer of them count (first-order autoregression, from memory).
            let together = autocorrelation(&counted).clamp(0.0, 0.98);
            sd *= ((1.0 + together) / (1.0 - together)).sqrt();
        }
        changed |= (sd / equations.sd[m] - 1.0).abs() > 0.02;
        equations.sd[m] = sd.max(1e-3 * equations.sd[m]);
    }
    Some(changed)
}

/// Correlation of neighbours in a list.
pub fn autocorrelation(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    let square: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    let pairs: f64 = values.windows(2).map(|w| (w[0] - mean) * (w[1] - mean)).sum();
    if square > 0.0 { pairs / square } else { 0.0 }
}

/// Covariance of the unknowns from the Jacobian with the prior.
fn covariance(found: &Found) -> Option<Array2<f64>> {
    Some(Svd::of(found.jacobian.view())?.inverse_normal())
}

fn deviations(found: &Found, unknowns: &[Unknown]) -> Result<Vec<f64>, MeasuredError> {
    let covariance = covariance(found).ok_or_else(no_covariance)?;
    Ok((0..unknowns.len()).map(|k| covariance[[k, k]].sqrt()).collect())
}

fn no_covariance() -> MeasuredError {
    MeasuredError::Refused("the equations have no covariance".to_owned())
}

/// Runs of a fit.
struct Work<'a> {
    bench: &'a Bench,
    unknowns: &'a [Unknown],
    runs: usize,
}

/// A point that was run, and the temperatures there.
type Looked = (Vec<f64>, Vec<f64>);

impl<'a> Work<'a> {
    /// Equations with surfaces over the parts and a box about `x`.
    fn equations(&mut self, x: &[f64], half: &[f64]) -> Result<Equations<'a>, MeasuredError> {
        let bench = self.bench;
        let sd_of = |k: usize| {
            let m = &bench.given.measurements[k];
            bench.given.instruments[m.instrument].scatter(bench.typical(k))
        };
        let mut equations = Equations {
            bench,
            unknowns: self.unknowns,
            surfaces: Vec::new(),
            shifts: Vec::new(),
            counts: Vec::new(),
            sd: (0..bench.given.measurements.len()).map(sd_of).collect(),
            follow: Vec::new(),
        };
        let instruments = equations.instruments(x);
        for setup in &bench.setups {
            let coordinates = self.coordinates(setup, x, half, &instruments);
            let surface = self.surface(setup, &coordinates)?;
            let middle: Vec<f64> = coordinates.iter().map(|c| 0.5 * (c.range.0 + c.range.1)).collect();
            let mut hotter = middle.clone();
            let follow = match (setup.driver, hotter.first_mut()) {
                (Some(_), Some(exit)) => {
                    *exit += 1.0;
                    let slots = || 0..setup.slots.len();
                    let (a, b) = (surface.at(&middle, slots()), surface.at(&hotter, slots()));
                    a.iter().zip(&b).map(|(a, b)| b - a).collect()
                }
                _ => vec![0.0; setup.slots.len()],
            };
            equations.follow.push(follow);
            equations.surfaces.push(surface);
            equations
                .shifts
                .push(vec![vec![0.0; setup.slots.len()]; setup.parts.len()]);
            equations
                .counts
                .push(setup.parts.iter().map(|p| vec![true; p.readings.len()]).collect());
        }
        Ok(equations)
    }

    fn coordinates(
        &self,
        setup: &Setup,
        x: &[f64],
        half: &[f64],
        instruments: &[super::instrument::Instrument],
    ) -> Vec<Coordinate> {
        let plain = |range| Coordinate { range, log: false };
        let mut out = Vec::new();
        if let Some(driver) = setup.driver {
            let k = self.bench.given.measurements[driver].instrument;
            let exits = setup.parts.iter().filter_map(|p| instruments[k].temperature(p.exit?));
            let (low, high) = range_of(exits, 0.02, 0.1);
            let moved = |(u, half): (&Unknown, &f64)| match u.of {
                Of::Bias(other) if other == k => *half,
                Of::Emissivity(other) if other == k => half * 100.0,
                _ => 0.0,
            };
            let by = self.unknowns.iter().zip(half).map(moved).fold(2.0, f64::max);
            out.push(plain((low - by, high + by)));
        }
        out.extend(
            (0..setup.times.len()).map(|k| plain(range_of(setup.parts.iter().map(|p| p.seconds[k]), 0.02, 0.1))),
        );
        let line = &self.bench.lines[setup.line];
        for ((unknown, at), half) in self.unknowns.iter().zip(x).zip(half) {
            if unknown.of == Of::Input && has(line, &unknown.path) {
                out.push(Coordinate {
                    range: unknown.around(*at, *half),
                    log: unknown.is_log(),
                });
            }
        }
        out
    }

    /// Runs over the box and their quadratics.
    fn surface(&mut self, setup: &Setup, coordinates: &[Coordinate]) -> Result<Surface, MeasuredError> {
        let bench = self.bench;
        let line = &bench.lines[setup.line];
        let active = coordinates.iter().filter(|c| c.varies()).count();
        let terms = count_of_terms(active);
        let count = terms + terms / 2 + 5;
        let scheme = if active <= 16 {
            Scheme::QuasiRandom
        } else {
            Scheme::LatinHypercube
        };
        let wrong = |error: crate::ask::PlanError| MeasuredError::Run(error.into());
        let sampler = Sampler::new(scheme, 1, count as u64, active.max(1)).map_err(wrong)?;
        let points: Vec<Vec<f64>> = (0..count as u64)
            .map(|index| {
                let mut shares = sampler.point(index).into_iter();
                let mut of = |c: &Coordinate| {
                    if c.varies() {
                        c.at(shares.next().unwrap_or(0.5))
                    } else {
                        c.range.0
                    }
                };
                coordinates.iter().map(&mut of).collect()
            })
            .collect();
        let inputs: Vec<&str> = self
            .unknowns
            .iter()
            .filter(|u| u.of == Of::Input && has(line, &u.path))
            .map(|u| u.path.as_str())
            .collect();
        let first = usize::from(setup.driver.is_some());
        let run = |x: &Vec<f64>| -> Result<Option<Looked>, MeasuredError> {
            let exit = setup.driver.map(|_| x[0]);
            let times = &x[first..first + setup.times.len()];
            let unknowns: Vec<(&str, f64)> = inputs
                .iter()
                .copied()
                .zip(x[first + setup.times.len()..].iter().copied())
                .collect();
            let changes = bench.changes_at(setup, (exit, times), &unknowns);
            let values = bench.run(setup, &changes)?;
            Ok(values
                .into_iter()
                .collect::<Option<Vec<f64>>>()
                .map(|values| (x.clone(), values)))
        };
        let runs: Vec<_> = points.par_iter().map(run).collect::<Result<Vec<_>, _>>()?;
        self.runs += runs.len();
        let runs: Vec<Looked> = runs.into_iter().flatten().collect();
        let none = || MeasuredError::Refused(format!("trial `{}`: its runs give no temperatures there", setup.trial));
        Surface::fit(coordinates.to_vec(), &runs).ok_or_else(none)
    }

    /// Runs parts at `x` and sets the shifts by them; gives the largest change of a shift that was set before.
    fn correct(&mut self, equations: &mut Equations, x: &[f64], most: usize) -> Result<f64, MeasuredError> {
        let instruments = equations.instruments(x);
        let inputs: Vec<(String, f64)> = equations.inputs(x).iter().map(|(p, v)| ((*p).to_owned(), *v)).collect();
        let inputs: Vec<(&str, f64)> = inputs.iter().map(|(p, v)| (p.as_str(), *v)).collect();
        let mut worst = 0.0_f64;
        for (s, setup) in self.bench.setups.iter().enumerate() {
            let count = setup.parts.len();
            let chosen: Vec<usize> = (0..count.min(most)).map(|k| k * count / count.min(most)).collect();
            let runs = self.bench.run_parts(setup, &chosen, &inputs, &instruments)?;
            self.runs += runs.len();
            let mut mean = vec![(0.0, 0.0_f64); setup.slots.len()];
            for (p, values) in chosen.iter().zip(runs) {
                let (Some(values), Some(at)) = (values, equations.part_at(s, *p, x, &instruments)) else {
                    continue;
                };
                let surface = equations.surfaces[s].at(&at, 0..setup.slots.len());
                for (slot, (value, surface)) in values.into_iter().zip(surface).enumerate() {
                    let Some(value) = value else { continue };
                    worst = worst.max((value - surface - equations.shifts[s][*p][slot]).abs());
                    equations.shifts[s][*p][slot] = value - surface;
                    mean[slot] = (mean[slot].0 + value - surface, mean[slot].1 + 1.0);
                }
            }
            if most == MOST_RUN && count > most {
                for p in (0..count).filter(|p| chosen.binary_search(p).is_err()) {
                    for (slot, (sum, n)) in mean.iter().enumerate() {
                        equations.shifts[s][p][slot] = if *n > 0.0 { sum / n } else { 0.0 };
                    }
                }
            }
        }
        Ok(worst)
    }

    fn finish(
        &mut self,
        equations: &Equations,
        found: &Found,
        (starts_agree, error_k): (bool, f64),
        confidence: f64,
    ) -> Result<Fit, MeasuredError> {
        let covariance = covariance(found).ok_or_else(no_covariance)?;
        let rows = found.residuals.len() - self.unknowns.len();
        let data = found.jacobian.slice_axis(Axis(0), Slice::from(..rows));
        let seen = tell::seen(data, self.unknowns).ok_or_else(no_covariance)?;
        let (held, runs) = tell::held(equations, &found.x, &covariance)?;
        self.runs += runs;
        let freedom = rows.saturating_sub(self.unknowns.len()).max(1) as f64;
        let student = StudentsT::new(0.0, 1.0, freedom);
        let wide = student.map_or(1.96, |t| t.inverse_cdf(0.5 + 0.5 * confidence));
        let estimate = |(k, u): (usize, &Unknown)| {
            let sd = covariance[[k, k]].sqrt();
            let of_held: f64 = held.iter().map(|h| h.effect[k].powi(2)).sum();
            let whole_sd = sd.hypot(of_held.sqrt());
            let value = found.x[k];
            Estimate {
                path: u.path.clone(),
                unit: u.unit.clone(),
                before: (u.mean, u.sd),
                source: u.source.clone(),
                value,
                sd,
                interval: (value - wide * sd, value + wide * sd),
                whole_sd,
                whole_interval: (value - wide * whole_sd, value + wide * whole_sd),
                told: seen.told.get(k).cloned().unwrap_or_default(),
            }
        };
        let all: Vec<Estimate> = self.unknowns.iter().enumerate().map(estimate).collect();
        let asked = self.unknowns.iter().filter(|u| u.asked).count();
        let (estimates, beside) = (all[..asked].to_vec(), all[asked..].to_vec());
        let correlation = |i: usize, j: usize| covariance[[i, j]] / (covariance[[i, i]] * covariance[[j, j]]).sqrt();
        let correlations = (0..asked)
            .map(|i| (0..asked).map(|j| correlation(i, j)).collect())
            .collect();
        let (further, runs) = tell::further(equations, &found.x, &covariance, &estimates)?;
        self.runs += runs;
        let mean: Vec<f64> = self.unknowns.iter().map(|u| u.mean).collect();
        let differences = equations.all(&found.x).unwrap_or_default();
        let before = equations.all(&mean).unwrap_or_default();
        let mut fit = Fit {
            schema_version: 1,
            places: places(equations, &before, &differences),
            outliers: outliers(equations, &differences),
            stretches: stretches(equations, &differences),
            estimates,
            beside,
            correlations,
            directions: seen.directions,
            held: held.into_iter().take(12).collect(),
            further,
            parts: self.bench.setups.iter().map(|s| s.parts.len()).sum(),
            readings: rows,
            convergence: Convergence {
                end: found.end,
                starts_agree,
                runs: self.runs,
                error_k,
            },
            confidence,
            refused: Vec::new(),
        };
        fit.refused = refusals(found, &fit);
        Ok(fit)
    }
}

/// Why a fit must not be used.
fn refusals(found: &Found, fit: &Fit) -> Vec<String> {
    let mut out = Vec::new();
    if found.end != End::Converged {
        out.push(format!("the search did not converge ({:?})", found.end));
    } else if !fit.convergence.starts_agree {
        out.push("searches from other starts ended elsewhere".to_owned());
    }
    for e in &fit.estimates {
        let off = (e.value - e.before.0) / e.before.1;
        if off.abs() > LEAVES_SD {
            out.push(format!(
                "`{}` = {:.4} is {off:+.1} standard deviations from what was known before ({:.4} +- {:.4}): something else is \
                 wrong, or say a wider sd with its reason",
                e.path, e.value, e.before.0, e.before.1
            ));
        }
        match &e.told {
            Told::Alone => {}
            Told::OnlyWith { path, correlation } => out.push(format!(
                "`{}` and `{path}` only together (correlation {correlation:+.3}): hold one, or measure what tells them apart",
                e.path
            )),
            // It stays what it was, and is not written into a calibration.
            Told::Not | Told::Beside => {}
        }
    }
    let error_k = fit.convergence.error_k;
    let least = fit.places.iter().map(|p| p.sd_k).fold(f64::INFINITY, f64::min);
    if error_k > least.max(1.0) {
        out.push(format!(
            "the search looked at values {error_k:.1} K beside those of the runs"
        ));
    }
    out
}

fn slot_of(equations: &Equations, place: &Place) -> usize {
    let setup = &equations.bench.setups[place.setup];
    setup.slots[setup.parts[place.part].readings[place.reading].0].measurement
}

fn places(equations: &Equations, before: &[(Place, f64, f64)], after: &[(Place, f64, f64)]) -> Vec<PlaceResidual> {
    let counts = |place: &Place| equations.counts[place.setup][place.part][place.reading];
    let of = |list: &[(Place, f64, f64)], m: usize| -> Vec<f64> {
        let of_m = list
            .iter()
            .filter(|(place, _, _)| counts(place) && slot_of(equations, place) == m);
        of_m.map(|(_, d, _)| *d).collect()
    };
    let mean = |list: &[f64]| list.iter().sum::<f64>() / list.len().max(1) as f64;
    let measurements = equations.bench.given.measurements.iter().enumerate();
    let found = measurements.filter_map(|(m, measurement)| {
        let list = of(after, m);
        if list.is_empty() {
            return None;
        }
        let mean_k = mean(&list);
        let square: f64 = list.iter().map(|d| (d - mean_k).powi(2)).sum();
        Some(PlaceResidual {
            name: measurement.name.clone(),
            readings: list.len(),
            before_k: mean(&of(before, m)),
            mean_k,
            sd_k: (square / (list.len().max(2) - 1) as f64).sqrt(),
            stated_k: equations.bench.given.instruments[measurement.instrument].sd,
        })
    });
    found.collect()
}

fn outliers(equations: &Equations, differences: &[(Place, f64, f64)]) -> Vec<Outlier> {
    let out = differences
        .iter()
        .filter(|(place, _, _)| !equations.counts[place.setup][place.part][place.reading]);
    out.map(|(place, d, sd)| {
        let part = &equations.bench.setups[place.setup].parts[place.part];
        Outlier {
            measurement: equations.bench.given.measurements[slot_of(equations, place)]
                .name
                .clone(),
            part: part.name.clone(),
            line: part.readings[place.reading].2,
            off_k: *d,
            off_sd: d / sd,
        }
    })
    .collect()
}

/// Stretches of parts whose mean is more than 4.5 standard errors off: another size or steel, or a part of the shift.
fn stretches(equations: &Equations, differences: &[(Place, f64, f64)]) -> Vec<Stretch> {
    let mut out: Vec<Stretch> = Vec::new();
    for m in 0..equations.bench.given.measurements.len() {
        let of: Vec<&(Place, f64, f64)> = differences
            .iter()
            .filter(|(p, _, _)| equations.counts[p.setup][p.part][p.reading] && slot_of(equations, p) == m)
            .collect();
        if of.len() < 3 * STRETCH || matches!(equations.bench.given.measurements[m].what, What::Curve(_)) {
            continue;
        }
        let mut next = 0;
        for k in 0..=of.len() - STRETCH {
            let window = &of[k..k + STRETCH];
            let mean = window.iter().map(|(_, d, _)| d).sum::<f64>() / STRETCH as f64;
            let (first, last) = (&window[0].0, &window[STRETCH - 1].0);
            if k >= next && mean.abs() * (STRETCH as f64).sqrt() > 4.5 * window[0].2 {
                let name = |p: &Place| equations.bench.setups[p.setup].parts[p.part].name.clone();
                out.push(Stretch {
                    measurement: equations.bench.given.measurements[m].name.clone(),
                    from: name(first),
                    to: name(last),
                    off_k: mean,
                });
                next = k + STRETCH;
            }
        }
    }
    out
}
