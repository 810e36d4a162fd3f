//! A study that runs only what matters: a response surface takes the samples that are far from every
//! limit, the others are run.
//!
//! A polynomial in the scattered inputs (quadratic with cubes; Box and Wilson, J. R. Stat. Soc. B 13 (1951)
//! 1-45) is fitted to two thirds of the first samples and compared with the rest. Where a cheaper model of
//! the same line is given, that is done with it, and what the line itself adds is a smaller polynomial (squares
//! alone) through a few runs of it: the difference of two grids is small and smooth. A later sample is run when
//! the surface puts it within [`BAND`] times the largest error of the comparison of any limit, or when an
//! input lies outside what the fit has seen; else its margins are those of the surface.

use rayon::prelude::*;
use serde::Serialize;

use super::failure::Failure;
use super::model::{Change, Model};
use super::scatter::Draws;
use super::sensitivity::Models;
use super::shards::{SampleRow, Shard};
use super::study::Study;
use ndarray::{Array1, Array2};

use crate::numeric::dense::Svd;

/// A sample is run when it is nearer to a limit than this many times the largest error seen.
pub const BAND: f64 = 3.0;

/// Share of the trained half range by which an input may lie outside it.
const BEYOND: f64 = 0.05;

/// What a response surface did in a study.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Response {
    /// Runs of the cheaper model that gave its shape; none where the line itself did.
    pub scouted: u64,
    /// Samples it was fitted to.
    pub fitted: u64,
    /// Samples it was compared with before use.
    pub compared: u64,
    /// Later samples that were run, being near a limit or outside what the fit had seen.
    pub near: u64,
    /// Samples taken from the surface.
    pub taken: u64,
    /// Their indices, rising.
    #[serde(skip)]
    pub taken_at: Vec<u64>,
    /// Largest error over all samples that were run and not fitted, K, by limit.
    pub error_k: Vec<f64>,
}

/// Inputs of a sample and its margins.
type Known = (Vec<f64>, Vec<f64>);

/// Polynomial of the inputs, scaled to −1 … 1 over the fitted samples.
struct Surface {
    middle: Vec<f64>,
    half: Vec<f64>,
    terms: Terms,
    /// Coefficients by limit.
    coefficients: Vec<Vec<f64>>,
}

fn values(changes: &[Change]) -> Vec<f64> {
    changes.iter().map(|c| c.value).collect()
}

/// Which powers of the inputs a surface has.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Terms {
    /// 1, xᵢ, xᵢ².
    Squares,
    /// 1, xᵢ, xᵢxⱼ, xᵢ³.
    Cubes,
}

impl Terms {
    fn of(self, x: &[f64]) -> Vec<f64> {
        let mut out = vec![1.0];
        out.extend_from_slice(x);
        match self {
            Terms::Squares => out.extend(x.iter().map(|a| a * a)),
            Terms::Cubes => {
                for (i, a) in x.iter().enumerate() {
                    out.extend(x[i..].iter().map(|b| a * b));
                }
                out.extend(x.iter().map(|a| a * a * a));
            }
        }
        out
    }

    fn count(self, inputs: usize) -> usize {
        match self {
            Terms::Squares => 1 + 2 * inputs,
            Terms::Cubes => 1 + 2 * inputs + inputs * (inputs + 1) / 2,
        }
    }
}

impl Surface {
    /// Fits the margins of the samples; `None` when the numbers do not allow it.
    fn fit(samples: &[Known], terms: Terms) -> Option<Surface> {
        let (first, margins) = samples.first()?;
        if samples.len() < terms.count(first.len()) {
            return None;
        }
        let range = |k: usize| {
            samples
                .iter()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (x, _)| {
                    (low.min(x[k]), high.max(x[k]))
                })
        };
        let (mut middle, mut half) = (Vec::new(), Vec::new());
        for k in 0..first.len() {
            let (low, high) = range(k);
            middle.push(0.5 * (low + high));
            half.push(if high > low { 0.5 * (high - low) } else { 1.0 });
        }
        let mut surface = Surface {
            middle,
            half,
            terms,
            coefficients: Vec::new(),
        };
        let mut a = Array2::zeros((samples.len(), terms.count(first.len())));
        for (row, (x, _)) in samples.iter().enumerate() {
            for (column, term) in terms.of(&surface.scaled(x)).into_iter().enumerate() {
                a[[row, column]] = term;
            }
        }
        let svd = Svd::of(a.view())?;
        for limit in 0..margins.len() {
            let b: Array1<f64> = samples.iter().map(|(_, m)| m[limit]).collect();
            surface.coefficients.push(svd.solve(b.view())?.to_vec());
        }
        Some(surface)
    }

    fn scaled(&self, x: &[f64]) -> Vec<f64> {
        let scale = self.middle.iter().zip(&self.half);
        x.iter().zip(scale).map(|(x, (m, h))| (x - m) / h).collect()
    }

    fn at(&self, x: &[f64]) -> Vec<f64> {
        let terms = self.terms.of(&self.scaled(x));
        let at = |c: &Vec<f64>| c.iter().zip(&terms).map(|(c, t)| c * t).sum();
        self.coefficients.iter().map(at).collect()
    }

    fn has_seen(&self, x: &[f64]) -> bool {
        self.scaled(x).iter().all(|s| s.abs() <= 1.0 + BEYOND)
    }
}

/// A surface that was compared with runs.
struct Compared {
    surface: Surface,
    /// Largest error in the comparison, by limit.
    error_k: Vec<f64>,
    fitted: usize,
    compared: usize,
}

impl Compared {
    /// Fits two thirds of the samples and compares with the rest.
    fn of(known: &[Known], terms: Terms) -> Option<Compared> {
        let (fitted, others) = known.split_at(known.len() * 2 / 3);
        let surface = Surface::fit(fitted, terms)?;
        let (_, margins) = others.first()?;
        let mut error_k = vec![0.0; margins.len()];
        for (x, margins) in others {
            larger(&mut error_k, &surface.at(x), margins);
        }
        Some(Compared {
            surface,
            error_k,
            fitted: fitted.len(),
            compared: others.len(),
        })
    }
}

/// The surface of a study: that of the cheaper model with what the line adds to it, or that of the line alone.
struct Together {
    of_line: Compared,
    of_scout: Option<Compared>,
}

impl Together {
    fn at(&self, x: &[f64]) -> Vec<f64> {
        let mut margins = self.of_line.surface.at(x);
        if let Some(scout) = &self.of_scout {
            margins.iter_mut().zip(scout.surface.at(x)).for_each(|(m, s)| *m += s);
        }
        margins
    }

    /// Largest error in the comparisons, by limit.
    fn error_k(&self) -> Vec<f64> {
        let mut error_k = self.of_line.error_k.clone();
        if let Some(scout) = &self.of_scout {
            error_k.iter_mut().zip(&scout.error_k).for_each(|(e, s)| *e += s);
        }
        error_k
    }

    fn has_seen(&self, x: &[f64]) -> bool {
        // What the line adds is small, so that it may be carried beyond its few samples.
        self.of_scout.as_ref().unwrap_or(&self.of_line).surface.has_seen(x)
    }
}

/// Numbers of samples that a surface of so many terms is made of, the compared ones included.
fn samples_of(terms: usize, (times, fewest): (usize, usize)) -> usize {
    (times * terms).max(fewest) * 3 / 2
}

/// Samples for a term, and fewest samples, of a surface that stands alone.
const ALONE: (usize, usize) = (3, 66);
/// The same of the cheaper model, whose runs cost little.
const SCOUTED: (usize, usize) = (6, 66);
/// The same of what the line adds to it.
const ADDED: (usize, usize) = (2, 16);

fn larger(error_k: &mut [f64], surface: &[f64], run: &[f64]) {
    for (e, (a, b)) in error_k.iter_mut().zip(surface.iter().zip(run)) {
        *e = e.max((a - b).abs());
    }
}

/// Fills a part of a study; `early` is told the share of samples that break a limit as soon as there is a
/// surface. `after` is called with the part after each block of runs and may stop it
/// by returning `false`. Returns `None` when every sample was run: the study is too small for a
/// surface, or none could be fitted. The rows do not depend on the number of threads.
///
/// # Errors
/// Those of `after`, and a study whose samples cannot be drawn.
pub fn run_near(
    (model, cheap): Models<'_>,
    study: &Study,
    shard: &mut Shard,
    block: usize,
    mut early: impl FnMut(f64),
    mut after: impl FnMut(&Shard) -> Result<bool, Failure>,
) -> Result<Option<Response>, Failure> {
    let draws = Draws::new(study)?;
    let inputs = study.scattered.len();
    let all: Vec<u64> = shard.missing().collect();
    let mut go = true;
    let mut run = |indices: &[u64], shard: &mut Shard, go: &mut bool| -> Result<(), Failure> {
        for some in indices.chunks(block.max(1)) {
            if !*go {
                break;
            }
            let rows: Vec<SampleRow> = some.par_iter().map(|&i| draws.row(model, i)).collect();
            shard.rows.extend(rows);
            *go = after(shard)?;
        }
        shard.rows.sort_by_key(|row| row.index);
        Ok(())
    };
    let broken = |margins: &dyn Fn(&[f64]) -> Vec<f64>| {
        let bad = |index: &&u64| margins(&inputs_of(&draws, **index)).iter().any(|m| *m < 0.0);
        all.iter().filter(bad).count() as f64 / all.len().max(1) as f64
    };
    let scout = cheap.and_then(|cheap| scouted(cheap, &draws, &all, inputs));
    let (terms, count) = match &scout {
        Some((_, compared)) => {
            early(broken(&|x| compared.surface.at(x)));
            (Terms::Squares, samples_of(Terms::Squares.count(inputs), ADDED))
        }
        None => (Terms::Cubes, samples_of(Terms::Cubes.count(inputs), ALONE)),
    };
    let (first, rest) = all.split_at(count.min(all.len()));
    run(first, shard, &mut go)?;
    let mut known = known_rows(&draws, &shard.rows);
    let of_scout = scout.map(|(scouted, compared)| {
        known = beyond(&known, &scouted);
        compared
    });
    let of_line = Compared::of(&known, terms).filter(|_| !rest.is_empty() && go);
    let Some(of_line) = of_line else {
        run(rest, shard, &mut go)?;
        return Ok(None);
    };
    let surface = Together { of_line, of_scout };
    if surface.of_scout.is_none() {
        early(broken(&|x| surface.at(x)));
    }
    let (near, mut taken) = surface.divide(&draws, rest);
    let mut response = Response {
        scouted: surface.of_scout.as_ref().map_or(0, |s| s.fitted + s.compared) as u64,
        fitted: surface.of_line.fitted as u64,
        compared: surface.of_line.compared as u64,
        near: near.len() as u64,
        taken: taken.len() as u64,
        taken_at: Vec::new(),
        error_k: surface.error_k(),
    };
    run(&near, shard, &mut go)?;
    let done = |index: &u64| shard.rows.binary_search_by_key(index, |row| row.index).is_ok();
    if let Some(end) = near.iter().copied().find(|index| !done(index)) {
        // Stopped: what is left out is what comes near a limit, so only the samples before it count.
        shard.rows.retain(|row| row.index < end);
        taken.retain(|row| row.index < end);
        response.near = near.partition_point(|index| *index < end) as u64;
        response.taken = taken.len() as u64;
    }
    for row in &shard.rows {
        if let (Ok(margins), Ok(_)) = (&row.result, near.binary_search(&row.index)) {
            larger(
                &mut response.error_k,
                &surface.at(&inputs_of(&draws, row.index)),
                margins,
            );
        }
    }
    response.taken_at = taken.iter().map(|row| row.index).collect();
    shard.rows.extend(taken);
    shard.rows.sort_by_key(|row| row.index);
    Ok(Some(response))
}

/// Inputs of a sample.
fn inputs_of(draws: &Draws<'_>, index: u64) -> Vec<f64> {
    values(&draws.changes(index))
}

/// Rows that gave a result, with their inputs.
fn known_rows(draws: &Draws<'_>, rows: &[SampleRow]) -> Vec<Known> {
    rows.iter()
        .filter_map(|row| Some((inputs_of(draws, row.index), row.result.as_ref().ok()?.clone())))
        .collect()
}

/// The first samples run on the cheaper model, and its surface; `None` where there are too few.
fn scouted(cheap: &dyn Model, draws: &Draws<'_>, all: &[u64], inputs: usize) -> Option<(Vec<Known>, Compared)> {
    let first = all.get(..samples_of(Terms::Cubes.count(inputs), SCOUTED))?;
    let rows: Vec<SampleRow> = first.par_iter().map(|&index| draws.row(cheap, index)).collect();
    let known = known_rows(draws, &rows);
    let compared = Compared::of(&known, Terms::Cubes)?;
    Some((known, compared))
}

impl Together {
    /// Samples that come near a limit or lie outside what was seen, and the rows of the others.
    fn divide(&self, draws: &Draws<'_>, samples: &[u64]) -> (Vec<u64>, Vec<SampleRow>) {
        let error_k = self.error_k();
        let (mut near, mut taken) = (Vec::new(), Vec::new());
        for &index in samples {
            let x = inputs_of(draws, index);
            let margins = self.at(&x);
            let clear = margins.iter().zip(&error_k).all(|(m, e)| m.abs() > BAND * e);
            if clear && self.has_seen(&x) {
                taken.push(SampleRow {
                    index,
                    result: Ok(margins),
                });
            } else {
                near.push(index);
            }
        }
        (near, taken)
    }
}

/// What the line adds to the cheaper model, in the samples that both were run for.
fn beyond(of_line: &[Known], of_scout: &[Known]) -> Vec<Known> {
    let same = of_line.iter().filter_map(|(x, margins)| {
        let (_, scout) = of_scout.iter().find(|(at, _)| at == x)?;
        let added = margins.iter().zip(scout).map(|(line, scout)| line - scout);
        Some((x.clone(), added.collect()))
    });
    same.collect()
}
