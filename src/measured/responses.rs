//! Margins and temperatures of parts as quadratics of their exit temperature and times, with what each number that scatters
//! adds: what thousands of parts are judged by. Made on the grid of its line; how far it is from runs is told.

use rayon::prelude::*;
use serde::Serialize;

use super::bench::Bench;
use super::error::MeasuredError;
use super::setup::Setup;
use super::surface::{Coordinate, Surface, count_of_terms, range_of};
use crate::ask::line_model::LineModel;
use crate::ask::model::{Change, Model};
use crate::ask::random::{Sampler, Scheme};
use crate::ask::uncertainty::Scattered;
use crate::judge::Moment;
use crate::line::RunOptions;
use crate::numeric::special::normal_cdf;

/// A temperature of every part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Place {
    /// Stage.
    pub stage: String,
    /// Moment.
    pub moment: Moment,
    /// Node.
    pub node: String,
}

/// What one number that scatters adds, by output: slope and curvature in its standard deviations.
#[derive(Debug, Clone)]
struct Effect {
    scattered: Scattered,
    middle: f64,
    sd: f64,
    terms: Vec<(f64, f64)>,
}

/// Margins and temperatures as functions of exit, times and what scatters.
#[derive(Debug, Clone)]
pub struct Responses {
    surface: Surface,
    /// Lowest and highest exit and seconds over which runs were made.
    pub ranges: Vec<(f64, f64)>,
    effects: Vec<Effect>,
    /// Number of limits: the first outputs are their margins, K.
    pub limits: usize,
    /// Temperatures, degC, behind them.
    pub places: Vec<Place>,
    /// Temperatures at the slots of the trial, degC, behind those.
    pub slots: usize,
    /// Largest difference from runs that were not fitted, K.
    pub error_k: f64,
    /// Runs made.
    pub runs: usize,
}

/// Runs that are compared and not fitted.
const COMPARED: usize = 12;

impl Responses {
    /// Runs the line over the range of exits and times of a trial. What scatters and is not measured goes beside it.
    ///
    /// # Errors
    /// A run that fails.
    pub fn of(
        bench: &Bench,
        setup: &Setup,
        exit: (f64, f64),
        scattered: &[Scattered],
    ) -> Result<Responses, MeasuredError> {
        let model = &bench.lines[setup.line];
        let seconds = (0..setup.times.len()).map(|k| {
            if setup.parts.is_empty() {
                let planned = model.number(&setup.times[k]).unwrap_or(0.0);
                return (planned, planned);
            }
            let (low, high) = range_of(setup.parts.iter().map(|p| p.seconds[k]), 0.01, 0.2);
            let least_s = model
                .handovers()
                .iter()
                .find(|h| h.path == setup.times[k])
                .map_or(0.0, |h| h.least_s);
            (low.max(least_s), high)
        });
        let plain = |range| Coordinate { range, log: false };
        let coordinates: Vec<Coordinate> = std::iter::once(exit).chain(seconds).map(plain).collect();
        let places = places(model)?;
        let output = |x: &[f64], more: &[(&str, f64)]| outputs(bench, setup, &places, x, more);
        let active = coordinates.iter().filter(|c| c.varies()).count();
        let terms = count_of_terms(active);
        let count = terms + terms / 2 + 4 + COMPARED;
        let wrong = |error: crate::ask::PlanError| MeasuredError::Run(error.into());
        let scheme = if active <= 16 {
            Scheme::QuasiRandom
        } else {
            Scheme::LatinHypercube
        };
        let sampler = Sampler::new(scheme, 1, count as u64, active.max(1)).map_err(wrong)?;
        let point = |index: u64| -> Vec<f64> {
            let mut shares = sampler.point(index).into_iter();
            let mut of = |c: &Coordinate| {
                if c.varies() {
                    c.at(shares.next().unwrap_or(0.5))
                } else {
                    c.range.0
                }
            };
            coordinates.iter().map(&mut of).collect()
        };
        let points: Vec<Vec<f64>> = (0..count as u64).map(point).collect();
        let runs: Vec<(Vec<f64>, Vec<f64>)> = points
            .into_par_iter()
            .map(|x| Ok((x.clone(), output(&x, &[])?)))
            .collect::<Result<_, MeasuredError>>()?;
        let (fitted, compared) = runs.split_at(count - COMPARED);
        let none = || MeasuredError::Refused("the runs give no quadratic".to_owned());
        let surface = Surface::fit(coordinates.clone(), fitted).ok_or_else(none)?;
        let error_k = compared
            .iter()
            .flat_map(|(x, values)| {
                let at = surface.at(x, 0..values.len());
                values.iter().zip(at).map(|(a, b)| (a - b).abs()).collect::<Vec<f64>>()
            })
            .fold(0.0, f64::max);
        let middle: Vec<f64> = coordinates.iter().map(|c| 0.5 * (c.range.0 + c.range.1)).collect();
        let effects = effects(model, setup, scattered, &|more| output(&middle, more))?;
        Ok(Responses {
            surface,
            ranges: coordinates.iter().map(|c| c.range).collect(),
            limits: model.limits().len(),
            slots: setup.slots.len(),
            places,
            error_k,
            runs: count + 2 * effects.len() + 1,
            effects,
        })
    }

    /// Outputs of a part with what scatters at its planned values: exit (degC), then its seconds.
    #[must_use]
    pub fn at(&self, x: &[f64]) -> Vec<f64> {
        self.surface.at(x, 0..self.count())
    }

    /// One limit that an exit below `least_c` breaks, kelvin by kelvin, and nothing else.
    #[cfg(test)]
    pub(super) fn of_exit(least_c: f64, range: (f64, f64)) -> Responses {
        let runs: Vec<(Vec<f64>, Vec<f64>)> = (0..=6)
            .map(|k| range.0 + f64::from(k) / 6.0 * (range.1 - range.0))
            .map(|exit| (vec![exit], vec![exit - least_c]))
            .collect();
        Responses {
            surface: Surface::fit(vec![Coordinate { range, log: false }], &runs).unwrap(),
            ranges: vec![range],
            effects: Vec::new(),
            limits: 1,
            places: Vec::new(),
            slots: 0,
            error_k: 0.0,
            runs: runs.len(),
        }
    }

    /// Whether exit and seconds lie where runs were made; beyond that a quadratic says nothing.
    #[must_use]
    pub fn covers(&self, x: &[f64]) -> bool {
        let within = |(value, (low, high)): (&f64, &(f64, f64))| {
            let reach = 1e-9 * (1.0 + low.abs().max(high.abs()));
            (low - reach..=high + reach).contains(value)
        };
        x.len() == self.ranges.len() && x.iter().zip(&self.ranges).all(within)
    }

    /// Outputs of a part by a run of its own.
    ///
    /// # Errors
    /// A run that fails, or that has no such place.
    pub fn run(&self, bench: &Bench, setup: &Setup, x: &[f64]) -> Result<Vec<f64>, MeasuredError> {
        outputs(bench, setup, &self.places, x, &[])
    }

    /// Outputs in all.
    #[must_use]
    pub fn count(&self) -> usize {
        self.limits + self.places.len() + self.slots
    }

    /// Adds what the numbers that scatter do, each at its share of probability.
    pub fn scatter(&self, outputs: &mut [f64], shares: &mut dyn FnMut() -> f64) {
        for effect in &self.effects {
            let z = (effect.scattered.distribution.quantile(shares()) - effect.middle) / effect.sd;
            for (output, (a, b)) in outputs.iter_mut().zip(&effect.terms) {
                *output += a * z + b * z * z;
            }
        }
    }
}

/// The temperatures that are followed: core and surface at the exit and at the end of every stage.
fn places(model: &LineModel) -> Result<Vec<Place>, MeasuredError> {
    let trace = model.trace(&[], &RunOptions::bare())?;
    let mut places = Vec::new();
    for reading in &trace.moments {
        if !matches!(reading.moment, Moment::Exit | Moment::End) {
            continue;
        }
        for node in ["core", "surface"] {
            let there = trace
                .node(node)
                .and_then(|k| reading.temps_c.get(k).copied().flatten())
                .is_some();
            if there {
                places.push(Place {
                    stage: trace.stages[reading.stage].name.clone(),
                    moment: reading.moment,
                    node: node.to_owned(),
                });
            }
        }
    }
    Ok(places)
}

fn outputs(
    bench: &Bench,
    setup: &Setup,
    places: &[Place],
    x: &[f64],
    more: &[(&str, f64)],
) -> Result<Vec<f64>, MeasuredError> {
    let mut changes: Vec<Change> = bench.changes_at(setup, (Some(x[0]), &x[1..]), &[]);
    changes.extend(more.iter().map(|(path, value)| Change::new(*path, *value)));
    let (slots, trace) = bench.run_whole(setup, &changes)?;
    let lost = |what: &str| {
        MeasuredError::Refused(format!(
            "a part with {} has no {what}",
            crate::ask::model::in_words(&changes)
        ))
    };
    let mut out: Vec<f64> = trace.verdicts.iter().map(|v| v.margin_k).collect();
    for place in places {
        out.push(
            trace
                .at(&place.stage, place.moment, &place.node)
                .ok_or_else(|| lost(&place.node))?,
        );
    }
    for slot in slots {
        out.push(slot.ok_or_else(|| lost("node where it is measured"))?);
    }
    Ok(out)
}

/// Outputs of a run with some inputs changed.
type Outputs<'o> = dyn Fn(&[(&str, f64)]) -> Result<Vec<f64>, MeasuredError> + Sync + 'o;

/// What each scattered input does that the trial does not measure, from two runs each; `output` are the outputs in the
/// middle of the ranges with some inputs changed.
fn effects(
    model: &LineModel,
    setup: &Setup,
    scattered: &[Scattered],
    output: &Outputs,
) -> Result<Vec<Effect>, MeasuredError> {
    let free = |s: &&Scattered| {
        let exit = model.exit_inputs();
        let is_exit = exit.is_some_and(|e| e.surface.0 == s.path || e.core.as_ref().is_some_and(|c| c.0 == s.path));
        !is_exit && !setup.times.contains(&s.path) && s.distribution.standard_deviation() > 0.0
    };
    let base = output(&[])?;
    let effect = |s: &&Scattered| -> Result<Effect, MeasuredError> {
        let sd = s.distribution.standard_deviation();
        let value = |z: f64| s.distribution.quantile(normal_cdf(z));
        let at = |z: f64| output(&[(s.path.as_str(), value(z))]);
        let (high, low) = (at(1.5)?, at(-1.5)?);
        let z = |z: f64| (value(z) - s.nominal) / sd;
        let (zh, zl) = (z(1.5), z(-1.5));
        let term = |k: usize| {
            // A parabola through the planned value, where the effect is nothing.
            let (h, l) = (high[k] - base[k], low[k] - base[k]);
            if (zh * zl * (zh - zl)).abs() < 1e-9 {
                return ((h - l) / (zh - zl).max(1e-9), 0.0);
            }
            let b = (h / zh - l / zl) / (zh - zl);
            (h / zh - b * zh, b)
        };
        Ok(Effect {
            scattered: (*s).clone(),
            middle: s.nominal,
            sd,
            terms: (0..base.len()).map(term).collect(),
        })
    };
    let free: Vec<&Scattered> = scattered.iter().filter(free).collect();
    free.par_iter().map(effect).collect()
}
