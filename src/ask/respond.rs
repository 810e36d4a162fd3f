//! A study that runs only what matters: a response surface takes the samples that are far from every
//! limit, the others are run.
//!
//! The first samples of the study are run. A polynomial in the scattered inputs (quadratic with
//! cubes; Box and Wilson, J. R. Stat. Soc. B 13 (1951) 1-45) is fitted to two thirds of them and
//! compared with the rest. A later sample is run when the surface puts it within [`BAND`] times the
//! largest error of that comparison of any limit, or when an input lies outside what the fit has
//! seen; else its margins are those of the surface.

use rayon::prelude::*;
use serde::Serialize;

use super::failure::Failure;
use super::model::{Change, Model};
use super::scatter::Draws;
use super::shards::{SampleRow, Shard};
use super::study::Study;
use ndarray::{Array1, Array2};

use crate::numeric::dense::Svd;

/// A sample is run when it is nearer to a limit than this many times the largest error seen.
pub const BAND: f64 = 3.0;

/// Share of the trained half range by which an input may lie outside it.
const BEYOND: f64 = 0.05;

/// Fewest samples to fit, and to compare with.
const FEWEST: (usize, usize) = (60, 40);

/// What a response surface did in a study.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Response {
    /// Samples it was fitted to.
    pub fitted: u64,
    /// Samples it was compared with before use.
    pub compared: u64,
    /// Later samples that were run, being near a limit or outside what the fit had seen.
    pub near: u64,
    /// Samples taken from the surface.
    pub taken: u64,
    /// Largest error over all samples that were run and not fitted, K, by limit.
    pub error_k: Vec<f64>,
}

/// Polynomial of the inputs, scaled to −1 … 1 over the fitted samples.
struct Surface {
    middle: Vec<f64>,
    half: Vec<f64>,
    /// Coefficients by limit.
    coefficients: Vec<Vec<f64>>,
}

fn values(changes: &[Change]) -> Vec<f64> {
    changes.iter().map(|c| c.value).collect()
}

/// 1, xᵢ, xᵢxⱼ, xᵢ³.
fn terms(x: &[f64]) -> Vec<f64> {
    let mut out = vec![1.0];
    out.extend_from_slice(x);
    for (i, a) in x.iter().enumerate() {
        out.extend(x[i..].iter().map(|b| a * b));
    }
    out.extend(x.iter().map(|a| a * a * a));
    out
}

fn count_of_terms(inputs: usize) -> usize {
    1 + 2 * inputs + inputs * (inputs + 1) / 2
}

impl Surface {
    /// Fits the margins of the samples; `None` when the numbers do not allow it.
    fn fit(samples: &[(Vec<f64>, Vec<f64>)]) -> Option<Surface> {
        let (first, margins) = samples.first()?;
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
            coefficients: Vec::new(),
        };
        let mut a = Array2::zeros((samples.len(), count_of_terms(first.len())));
        for (row, (x, _)) in samples.iter().enumerate() {
            for (column, term) in terms(&surface.scaled(x)).into_iter().enumerate() {
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
        let terms = terms(&self.scaled(x));
        let at = |c: &Vec<f64>| c.iter().zip(&terms).map(|(c, t)| c * t).sum();
        self.coefficients.iter().map(at).collect()
    }

    fn has_seen(&self, x: &[f64]) -> bool {
        self.scaled(x).iter().all(|s| s.abs() <= 1.0 + BEYOND)
    }
}

fn larger(error_k: &mut [f64], surface: &[f64], run: &[f64]) {
    for (e, (a, b)) in error_k.iter_mut().zip(surface.iter().zip(run)) {
        *e = e.max((a - b).abs());
    }
}

/// Fills a part of a study; `after` is called with the part after each block of runs and may stop it
/// by returning `false`. Returns `None` when every sample was run: the study is too small for a
/// surface, or none could be fitted. The rows do not depend on the number of threads.
///
/// # Errors
/// Those of `after`, and a study whose samples cannot be drawn.
pub fn run_near(
    model: &dyn Model,
    study: &Study,
    shard: &mut Shard,
    block: usize,
    mut after: impl FnMut(&Shard) -> Result<bool, Failure>,
) -> Result<Option<Response>, Failure> {
    let draws = Draws::new(study)?;
    let fitted = FEWEST.0.max(3 * count_of_terms(study.scattered.len()));
    let compared = FEWEST.1.max(fitted / 2);
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
    let (first, rest) = all.split_at((fitted + compared).min(all.len()));
    run(first, shard, &mut go)?;
    let known: Vec<(Vec<f64>, Vec<f64>)> = shard
        .rows
        .iter()
        .filter_map(|row| Some((values(&draws.changes(row.index)), row.result.as_ref().ok()?.clone())))
        .collect();
    let (known, others) = known.split_at(known.len() * 2 / 3);
    let surface = if rest.is_empty() || !go || known.len() < count_of_terms(study.scattered.len()) || others.is_empty()
    {
        None
    } else {
        Surface::fit(known)
    };
    let Some(surface) = surface else {
        run(rest, shard, &mut go)?;
        return Ok(None);
    };
    let mut error_k = vec![0.0; model.limits().len()];
    for (x, margins) in others {
        larger(&mut error_k, &surface.at(x), margins);
    }
    let (mut near, mut taken) = (Vec::new(), Vec::new());
    for &index in rest {
        let x = values(&draws.changes(index));
        let margins = surface.at(&x);
        let clear = margins.iter().zip(&error_k).all(|(m, e)| m.abs() > BAND * e);
        if clear && surface.has_seen(&x) {
            taken.push(SampleRow {
                index,
                result: Ok(margins),
            });
        } else {
            near.push(index);
        }
    }
    let mut response = Response {
        fitted: known.len() as u64,
        compared: others.len() as u64,
        near: near.len() as u64,
        taken: taken.len() as u64,
        error_k: Vec::new(),
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
            larger(&mut error_k, &surface.at(&values(&draws.changes(row.index))), margins);
        }
    }
    response.error_k = error_k;
    shard.rows.extend(taken);
    shard.rows.sort_by_key(|row| row.index);
    Ok(Some(response))
}
