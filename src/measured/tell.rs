//! What the data of a fit tell, what they cannot tell apart, what was held, and what else should be measured.

use ndarray::{Array1, Array2, ArrayView2, Axis, Slice};
use rayon::prelude::*;
use serde::Serialize;

use super::equations::{Equations, has};
use super::error::MeasuredError;
use super::fitted::{Estimate, Told};
use super::instrument::USUAL_SD_K;
use super::setup::Setup;
use super::unknown::{Of, Unknown};
use crate::ask::model::Model;
use crate::ask::risk::assumed;
use crate::judge::Moment;
use crate::numeric::dense::Svd;

/// Share of an unknown in a direction from which it is named (chosen: below it a direction is not about it).
const SHARE_TOLD: f64 = 0.2;
/// Correlation from which two unknowns are told together only (chosen: half of the variance of one and more is the other's).
const TOGETHER: f64 = 0.8;
/// Share of a standard deviation to which a further measurement must bring it to be named (chosen).
const WORTH: f64 = 0.95;

/// A direction of the unknowns, each counted in standard deviations of what was known before.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Direction {
    /// How many times better the data know it than was known before; below one it is not seen.
    pub singular: f64,
    /// Unknowns with their shares, the largest first.
    pub along: Vec<(String, f64)>,
}

/// What the data alone see.
pub(super) struct Seen {
    pub told: Vec<Told>,
    pub directions: Vec<Direction>,
}

/// Singular values of what the data say of the unknowns that were asked for; the others are integrated out with what is
/// known of them.
pub(super) fn seen(data: ArrayView2<f64>, unknowns: &[Unknown]) -> Option<Seen> {
    let asked = unknowns.iter().filter(|u| u.asked).count();
    let n = unknowns.len();
    // In units of what was known before.
    let scaled = Array2::from_shape_fn(data.raw_dim(), |(i, k)| data[[i, k]] * unknowns[k].sd);
    let of_asked = scaled.slice_axis(Axis(1), Slice::from(..asked)).to_owned();
    let mut information = of_asked.t().dot(&of_asked);
    if n > asked {
        let beside = scaled.slice_axis(Axis(1), Slice::from(asked..)).to_owned();
        let with_prior = ndarray::concatenate(Axis(0), &[beside.view(), Array2::eye(n - asked).view()]).ok()?;
        let inverse = Svd::of(with_prior.view())?.inverse_normal();
        let across = of_asked.t().dot(&beside);
        information = &information - &across.dot(&inverse).dot(&across.t());
    }
    let svd = Svd::of(information.view())?;
    let values: Vec<f64> = svd.singular_values().to_vec();
    let directions = (0..values.len()).map(|k| {
        let mut along: Vec<(String, f64)> = svd
            .direction(k)
            .iter()
            .zip(unknowns)
            .map(|(v, u)| (u.path.clone(), *v))
            .collect();
        along.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        along.retain(|(_, v)| v.abs() > SHARE_TOLD);
        Direction {
            singular: values[k].max(0.0).sqrt(),
            along,
        }
    });
    // A direction that is not seen at all has no end; this one is far beyond what anything is known by.
    let variance = |i: usize, j: usize| -> f64 {
        let of = |k: usize| svd.direction(k)[i] * svd.direction(k)[j] / values[k].max(1e-12);
        (0..values.len()).map(of).sum()
    };
    let told = |i: usize| {
        if variance(i, i) < 1.0 {
            return Told::Alone;
        }
        let correlation = |j: usize| variance(i, j) / (variance(i, i) * variance(j, j)).sqrt();
        let partner = (0..asked)
            .filter(|j| *j != i)
            .max_by(|a, b| correlation(*a).abs().total_cmp(&correlation(*b).abs()));
        match partner.map(|j| (j, correlation(j))) {
            Some((j, correlation)) if correlation.abs() > TOGETHER => Told::OnlyWith {
                path: unknowns[j].path.clone(),
                correlation,
            },
            _ => Told::Not,
        }
    };
    Some(Seen {
        told: (0..asked).map(told).collect(),
        directions: directions.collect(),
    })
}

/// A number that was held fixed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Held {
    /// Path.
    pub path: String,
    /// Its value.
    pub value: f64,
    /// Standard deviation of what is known of it.
    pub sd: f64,
    /// Change of each unknown if it were one standard deviation higher.
    pub effect: Vec<f64>,
}

/// The middle of the parts of a trial, as a run takes them.
fn middle(equations: &Equations, s: usize, x: &[f64]) -> Option<(Option<f64>, Vec<f64>)> {
    let setup = &equations.bench.setups[s];
    let instruments = equations.instruments(x);
    let parts: Vec<Vec<f64>> = (0..setup.parts.len())
        .filter_map(|p| equations.part_at(s, p, x, &instruments))
        .collect();
    let of = |k: usize| {
        let mut list: Vec<f64> = parts.iter().map(|p| p[k]).collect();
        list.sort_by(f64::total_cmp);
        list.get(list.len() / 2).copied()
    };
    let first = usize::from(setup.driver.is_some());
    let exit = if first == 1 { Some(of(0)?) } else { None };
    let seconds = (0..setup.times.len())
        .map(|k| of(first + k))
        .collect::<Option<Vec<f64>>>()?;
    Some((exit, seconds))
}

/// What each number that was held would do: those with a spread of their owners. Strongest first; beside it the runs.
pub(super) fn held(
    equations: &Equations,
    x: &[f64],
    covariance: &Array2<f64>,
) -> Result<(Vec<Held>, usize), MeasuredError> {
    let bench = equations.bench;
    let inputs = equations.inputs(x);
    let mut candidates: Vec<(String, f64, f64)> = Vec::new();
    for line in &bench.lines {
        for a in assumed(line) {
            let path = &a.scattered.path;
            let fitted = equations.unknowns.iter().any(|u| u.path == *path);
            if !fitted && !candidates.iter().any(|c| c.0 == *path) {
                let sd = a.scattered.distribution.standard_deviation();
                candidates.push((path.clone(), a.scattered.nominal, sd));
            }
        }
    }
    let middles: Vec<_> = (0..bench.setups.len()).map(|s| middle(equations, s, x)).collect();
    let slopes = |(path, value, sd): &(String, f64, f64)| -> Result<Vec<Vec<f64>>, MeasuredError> {
        let of_setup = |(s, setup): (usize, &Setup)| {
            let line = &bench.lines[setup.line];
            let (Some((exit, seconds)), true) = (&middles[s], has(line, path)) else {
                return Ok(vec![0.0; setup.slots.len()]);
            };
            let at = |value: f64| {
                let mut inputs = inputs.clone();
                inputs.push((path, value));
                bench.run(setup, &bench.changes_at(setup, (*exit, seconds), &inputs))
            };
            let allowed = line.input(path).ok().and_then(|i| i.allowed);
            let within = |v: f64| allowed.map_or(v, |a| v.max(a.low).min(a.high));
            let (high, low) = (within(value + 0.5 * sd), within(value - 0.5 * sd));
            let (a, b) = (at(high)?, at(low)?);
            let share = sd / (high - low).max(1e-12);
            Ok(a.iter()
                .zip(&b)
                .map(|(a, b)| a.zip(*b).map_or(0.0, |(a, b)| (a - b) * share))
                .collect())
        };
        bench.setups.iter().enumerate().map(of_setup).collect()
    };
    let found: Vec<Vec<Vec<f64>>> = candidates.par_iter().map(slopes).collect::<Result<_, _>>()?;
    let base = equations.data(x).unwrap_or_default();
    let mut out = Vec::new();
    for ((path, value, sd), slopes) in candidates.iter().zip(found) {
        if slopes.iter().flatten().all(|s| s.abs() < 1e-3) {
            continue;
        }
        // Residuals with the number one standard deviation higher, linearly.
        let moved = equations.moved(x, &slopes).unwrap_or_else(|| base.clone());
        let change: Array1<f64> = moved.iter().zip(&base).map(|(a, b)| a - b).collect();
        out.push((path, *value, *sd, change));
    }
    let jacobian = equations.data_jacobian(x);
    let size = |effect: &[f64]| -> f64 {
        let of = |(k, e): (usize, &f64)| e.powi(2) / covariance[[k, k]];
        effect
            .iter()
            .enumerate()
            .filter(|(k, _)| equations.unknowns[*k].asked)
            .map(of)
            .sum()
    };
    let mut held: Vec<Held> = out
        .into_iter()
        .map(|(path, value, sd, change)| Held {
            path: path.clone(),
            value,
            sd,
            effect: (-covariance.dot(&jacobian.t().dot(&change))).to_vec(),
        })
        .collect();
    held.sort_by(|a, b| size(&b.effect).total_cmp(&size(&a.effect)));
    let runs = 2 * candidates.len() * bench.setups.len();
    Ok((held, runs))
}

/// A measurement that would tell more.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Further {
    /// The unknown.
    pub path: String,
    /// Where: stage.
    pub stage: String,
    /// Moment.
    pub moment: Moment,
    /// Node.
    pub node: String,
    /// Standard deviation now, and with twelve readings of a thermocouple there.
    pub sd: (f64, f64),
}

/// Readings of a couple that a further measurement would have (chosen: a morning's work).
const COUPLE_READINGS: f64 = 12.0;
/// Standard deviation of what is known of the bias of a couple: class 1 of IEC 60584 (from memory), K.
const COUPLE_BIAS_K: f64 = 4.0;

/// Stage, moment and temperatures of the nodes.
type MomentRow = (usize, Moment, Vec<Option<f64>>);

/// For each unknown that was asked for, the place where a couple would tell most of it.
pub(super) fn further(
    equations: &Equations,
    x: &[f64],
    covariance: &Array2<f64>,
    estimates: &[Estimate],
) -> Result<(Vec<Further>, usize), MeasuredError> {
    let bench = equations.bench;
    let main = (0..bench.setups.len())
        .filter(|s| bench.setups[*s].line == 0)
        .max_by_key(|s| bench.setups[*s].parts.len());
    let Some((s, Some((exit, seconds)))) = main.map(|s| (s, middle(equations, s, x))) else {
        return Ok((Vec::new(), 0));
    };
    let setup = &bench.setups[s];
    let readings = |x: &[f64], exit: Option<f64>| -> Result<Vec<MomentRow>, MeasuredError> {
        let changes = bench.changes_at(setup, (exit, &seconds), &equations.inputs(x));
        let trace = bench.run_whole(setup, &changes)?.1;
        Ok(trace
            .moments
            .into_iter()
            .map(|r| (r.stage, r.moment, r.temps_c))
            .collect())
    };
    let driver = setup.driver.map(|k| bench.given.measurements[k].instrument);
    let slope = |k: usize| -> Result<Option<Vec<Vec<f64>>>, MeasuredError> {
        let u = &equations.unknowns[k];
        let by = 0.5 * covariance[[k, k]].sqrt().max(0.02 * u.sd);
        let mut moved = (x.to_vec(), x.to_vec());
        moved.0[k] = (x[k] + by).min(u.allowed.1);
        moved.1[k] = (x[k] - by).max(u.allowed.0);
        let exits = match (&u.of, driver, exit) {
            (Of::Bias(i) | Of::Emissivity(i), Some(driver), Some(exit)) if *i == driver => {
                // What the same reading means with another bias.
                let reading = equations.instruments(x)[driver].shows(exit);
                let at = |x: &[f64]| reading.and_then(|r| equations.instruments(x)[driver].temperature(r));
                (at(&moved.0), at(&moved.1))
            }
            (Of::Input, _, exit) => (exit, exit),
            _ => return Ok(None),
        };
        let (a, b) = (readings(&moved.0, exits.0)?, readings(&moved.1, exits.1)?);
        let width = moved.0[k] - moved.1[k];
        let of = |(a, b): (&Option<f64>, &Option<f64>)| a.zip(*b).map_or(f64::NAN, |(a, b)| (a - b) / width);
        Ok(Some(
            a.iter()
                .zip(&b)
                .map(|(a, b)| a.2.iter().zip(&b.2).map(of).collect())
                .collect(),
        ))
    };
    let slopes: Vec<Option<Vec<Vec<f64>>>> = (0..x.len()).into_par_iter().map(slope).collect::<Result<_, _>>()?;
    let trace = bench
        .run_whole(setup, &bench.changes_at(setup, (exit, &seconds), &equations.inputs(x)))?
        .1;
    let nodes = ["core", "surface", "grip_end", "free_end"];
    let mut out = Vec::new();
    for (k, estimate) in estimates.iter().enumerate() {
        let mut best: Option<Further> = None;
        for (r, reading) in trace.moments.iter().enumerate() {
            for node in nodes {
                let Some(column) = trace.node(node) else { continue };
                let row: Array1<f64> = slopes
                    .iter()
                    .map(|s| s.as_ref().and_then(|s| Some(*s.get(r)?.get(column)?)).unwrap_or(0.0))
                    .collect();
                if !row.iter().all(|v| v.is_finite()) || reading.temps_c.get(column).copied().flatten().is_none() {
                    continue;
                }
                let of_mean = COUPLE_BIAS_K.powi(2) + USUAL_SD_K.powi(2) / COUPLE_READINGS;
                // One more equation: the covariance loses a rank-one part (Sherman and Morrison 1950).
                let with = covariance.dot(&row);
                let then = covariance[[k, k]] - with[k].powi(2) / (of_mean + row.dot(&with));
                let sd = (estimate.sd, then.max(0.0).sqrt());
                if best.as_ref().is_none_or(|best| sd.1 < best.sd.1 - 1e-9) {
                    best = Some(Further {
                        path: estimate.path.clone(),
                        stage: trace.stages[reading.stage].name.clone(),
                        moment: reading.moment,
                        node: node.to_owned(),
                        sd,
                    });
                }
            }
        }
        out.extend(best.filter(|best| best.sd.1 < WORTH * best.sd.0));
    }
    Ok((out, 2 * x.len() + 1))
}
