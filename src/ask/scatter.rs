//! Many runs with scattered inputs: probability of breaking each limit, and what causes it.

use ndarray::Array2;
use rayon::prelude::*;
use serde::Serialize;

use crate::judge::{Bound, Limit};

use super::failure::Failure;
use super::model::{Change, Model, ModelError};
use super::random::{Copula, Sampler, Scheme};
use super::rare::{ImportanceOptions, RareError, RareEvent, SubsetOptions, importance, subset};
use super::shards::{SampleRow, Shard, StudyKey};
use super::statistics::{Capability, Histogram, Proportion, Share, Summary, capability, clopper_pearson, shares};
use super::study::Study;
use super::uncertainty::Scattered;
use crate::numeric::special::normal_cdf;

/// Samples of a study, by index.
#[derive(Debug, Clone)]
pub struct Draws<'a> {
    scattered: &'a [Scattered],
    sampler: Sampler,
    copula: Option<Copula>,
}

impl<'a> Draws<'a> {
    /// The samples of a study.
    ///
    /// # Errors
    /// Nothing scattered, too many inputs for the scheme, contradicting correlations.
    pub fn new(study: &'a Study) -> Result<Self, Failure> {
        if study.scattered.is_empty() {
            return Err(nothing_scattered());
        }
        Ok(Self {
            scattered: &study.scattered,
            sampler: Sampler::new(study.scheme, study.seed, study.samples, study.scattered.len())?,
            copula: study.copula()?,
        })
    }

    /// Changes of sample `index`.
    #[must_use]
    pub fn changes(&self, index: u64) -> Vec<Change> {
        let mut u = self.sampler.point(index);
        if let Some(copula) = &self.copula {
            copula.correlate_uniform(&mut u);
        }
        at_quantiles(self.scattered, &u)
    }

    /// Values of the scattered inputs of some samples as an array [sample, input].
    #[must_use]
    pub fn inputs(&self, samples: std::ops::Range<u64>) -> Array2<f64> {
        let columns = self.scattered.len();
        let values: Vec<f64> = samples
            .flat_map(|index| self.changes(index))
            .map(|change| change.value)
            .collect();
        let mut array = Array2::zeros((values.len() / columns.max(1), columns));
        for (place, value) in array.iter_mut().zip(values) {
            *place = value;
        }
        array
    }

    /// Runs sample `index`.
    #[must_use]
    pub fn row(&self, model: &dyn Model, index: u64) -> SampleRow {
        let result = model.run(&self.changes(index));
        SampleRow {
            index,
            result: result
                .map(|outcome| outcome.margins_k())
                .map_err(|error| error.to_string()),
        }
    }
}

fn nothing_scattered() -> Failure {
    Failure::NothingToDo(
        "nothing scatters: give [[study.scatter]] tables with input, kind and the numbers of the distribution"
            .to_owned(),
    )
}

fn at_quantiles(scattered: &[Scattered], u: &[f64]) -> Vec<Change> {
    scattered
        .iter()
        .zip(u)
        .map(|(entry, &u)| Change::new(entry.path.clone(), entry.distribution.quantile(u)))
        .collect()
}

/// Key under which results of this study may be merged or resumed. `text` is the line file with all other files that
/// it reads ([`crate::line::file::Document::contents`]); what only one run of a program uses may leave those out.
#[must_use]
pub fn study_key(model: &dyn Model, study: &Study, text: &str, resolution: &str) -> StudyKey {
    let program = env!("CARGO_PKG_VERSION").to_owned();
    let all = format!("{text}\n{resolution}\n{:?}", study);
    StudyKey {
        study: format!("{:016x}", super::shards::digest(&all)),
        program,
        seed: study.seed,
        samples: study.samples,
        outputs: model.limits().iter().map(ToString::to_string).collect(),
    }
}

/// Runs what is missing of a part of a study, in blocks. After each block `after` is called with the
/// part as it stands; it may save it, show progress, and stop the study by returning `false`.
///
/// A failed run is kept with its reason and does not stop the study. Rows are the same whatever the
/// number of threads, the size of the blocks, or the number of interruptions.
///
/// # Errors
/// Those of `after`, and a study whose samples cannot be drawn.
pub fn run_part(
    model: &dyn Model,
    study: &Study,
    shard: &mut Shard,
    block: usize,
    mut after: impl FnMut(&Shard) -> Result<bool, Failure>,
) -> Result<(), Failure> {
    let draws = Draws::new(study)?;
    let mut missing = shard.missing();
    loop {
        let indices: Vec<u64> = missing.by_ref().take(block.max(1)).collect();
        if indices.is_empty() {
            break;
        }
        let rows: Vec<SampleRow> = indices.par_iter().map(|&index| draws.row(model, index)).collect();
        shard.add(rows);
        if !after(shard)? {
            break;
        }
    }
    Ok(())
}

/// What a study says of one limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LimitScatter {
    /// The limit in words.
    pub name: String,
    /// Probability of breaking it.
    pub broken: Proportion,
    /// The limited value: degC, or K for a difference.
    pub value: Summary,
    /// Its histogram.
    pub histogram: Histogram,
    /// Capability index against this limit; `None` when nothing varies.
    pub capability: Option<Capability>,
}

/// What a study says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScatterResult {
    /// Runs that gave a result.
    pub runs: u64,
    /// Runs that failed, with the changed inputs in their message.
    pub failed: Vec<FailedRun>,
    /// Probability of breaking any limit.
    pub any: Proportion,
    /// One entry per limit.
    pub limits: Vec<LimitScatter>,
}

/// A run of a study that failed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FailedRun {
    /// Index of its sample.
    pub index: u64,
    /// Why, with its inputs.
    pub message: String,
}

/// Value of a limited quantity from its margin.
fn value_of(limit: &Limit, margin_k: f64) -> f64 {
    match limit.bound {
        Bound::MinC(low) => low + margin_k,
        Bound::MaxC(high) | Bound::MaxDifferenceK(high) => high - margin_k,
    }
}

/// Reduces rows, in the order of their index, to the figures of the study. Failed runs are counted
/// apart and are in no probability.
///
/// # Errors
/// [`Failure::AllFailed`], or a confidence out of range.
pub fn reduce(limits: &[Limit], rows: &[SampleRow], confidence: f64) -> Result<ScatterResult, Failure> {
    let mut failed = Vec::new();
    let mut margins: Vec<Vec<f64>> = vec![Vec::new(); limits.len()];
    let mut any = 0;
    for row in rows {
        match &row.result {
            Ok(values) => {
                any += u64::from(values.iter().any(|m| *m < 0.0));
                for (list, value) in margins.iter_mut().zip(values) {
                    list.push(*value);
                }
            }
            Err(message) => failed.push(FailedRun {
                index: row.index,
                message: message.clone(),
            }),
        }
    }
    let runs = (rows.len() - failed.len()) as u64;
    if runs == 0 {
        return Err(match failed.into_iter().next() {
            Some(first) => Failure::AllFailed {
                runs: rows.len() as u64,
                first: first.message,
            },
            None => Failure::NothingToDo("no runs to evaluate".to_owned()),
        });
    }
    let mut found = Vec::new();
    for (limit, margins) in limits.iter().zip(&margins) {
        let broken = margins.iter().filter(|m| **m < 0.0).count() as u64;
        let values: Vec<f64> = margins.iter().map(|m| value_of(limit, *m)).collect();
        let value = Summary::of(&values)?;
        let (lower, upper) = match limit.bound {
            Bound::MinC(low) => (Some(low), None),
            Bound::MaxC(high) | Bound::MaxDifferenceK(high) => (None, Some(high)),
        };
        // What does not scatter has no capability; rounding alone gives a spread of this size.
        let index = (value.sd > 1e-9 * value.mean.abs().max(1.0))
            .then(|| capability(value.mean, value.sd, value.count, lower, upper, confidence))
            .transpose()?;
        found.push(LimitScatter {
            name: limit.to_string(),
            broken: clopper_pearson(broken, runs, confidence)?,
            histogram: Histogram::of(&values)?,
            value,
            capability: index,
        });
    }
    Ok(ScatterResult {
        runs,
        failed,
        any: clopper_pearson(any, runs, confidence)?,
        limits: found,
    })
}

/// Shares of every scattered input in the variance of every limited value: the outer list is by
/// limit, the inner by input. `base` runs are made for each input and two times more.
///
/// # Errors
/// Correlated inputs, for which shares of single inputs mean nothing; a failing run; more inputs
/// than half the quasi-random table.
pub fn causes(model: &dyn Model, study: &Study, base: u64) -> Result<Vec<Vec<Share>>, Failure> {
    let inputs = study.scattered.len();
    if inputs == 0 {
        return Err(nothing_scattered());
    }
    if !study.correlations.is_empty() {
        return Err(Failure::NothingToDo(
            "variance shares need independent inputs; leave out the [[study.correlation]] tables for them".to_owned(),
        ));
    }
    let sampler = Sampler::new(Scheme::QuasiRandom, study.seed, base, 2 * inputs)?;
    // One job: sample index and which column comes from B (0: none, 1: all, 2+j: column j).
    let per_sample = inputs + 2;
    let jobs = base * per_sample as u64;
    let margins: Vec<Result<Vec<f64>, ModelError>> = (0..jobs)
        .into_par_iter()
        .map(|job| {
            let point = sampler.point(job / per_sample as u64);
            let which = usize::try_from(job % per_sample as u64).unwrap_or(0);
            let (a, b) = point.split_at(inputs);
            let u: Vec<f64> = (0..inputs)
                .map(|j| if which == 1 || which == j + 2 { b[j] } else { a[j] })
                .collect();
            Ok(model.run(&at_quantiles(&study.scattered, &u))?.margins_k())
        })
        .collect();
    let margins: Vec<Vec<f64>> = margins.into_iter().collect::<Result<_, _>>()?;
    (0..model.limits().len())
        .map(|limit| {
            let column = |which: usize| -> Vec<f64> {
                margins
                    .iter()
                    .skip(which)
                    .step_by(per_sample)
                    .map(|m| m[limit])
                    .collect()
            };
            let mixed: Vec<Vec<f64>> = (0..inputs).map(|j| column(j + 2)).collect();
            Ok(shares(&column(0), &column(1), &mixed)?)
        })
        .collect()
}

/// Probability of a rare break by importance sampling, of one limit.
///
/// # Errors
/// [`RareError`].
pub fn rare_break(
    model: &dyn Model,
    study: &Study,
    limit: usize,
    options: &ImportanceOptions,
) -> Result<RareEvent, RareError<Failure>> {
    let copula = study.copula()?;
    let margin = |z: &[f64]| {
        let margins = margins_at(model, study, copula.as_ref(), z)?;
        Ok(margins.get(limit).copied().unwrap_or(f64::INFINITY))
    };
    importance(margin, study.scattered.len(), options)
}

/// Probability that any limit breaks, by subset simulation.
///
/// # Errors
/// [`RareError`].
pub fn rare_any(model: &dyn Model, study: &Study, options: &SubsetOptions) -> Result<RareEvent, RareError<Failure>> {
    let copula = study.copula()?;
    let margin = |z: &[f64]| {
        let margins = margins_at(model, study, copula.as_ref(), z)?;
        Ok(margins.into_iter().fold(f64::INFINITY, f64::min))
    };
    subset(margin, study.scattered.len(), options)
}

fn margins_at(model: &dyn Model, study: &Study, copula: Option<&Copula>, z: &[f64]) -> Result<Vec<f64>, Failure> {
    let mut z = z.to_vec();
    if let Some(copula) = copula {
        copula.correlate(&mut z);
    }
    // Beyond eight standard deviations the uniform coordinate would round to 0 or 1.
    let u: Vec<f64> = z.iter().map(|z| normal_cdf(*z).clamp(1e-16, 1.0 - 1e-16)).collect();
    Ok(model.run(&at_quantiles(&study.scattered, &u))?.margins_k())
}
