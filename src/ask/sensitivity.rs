//! How much each limited temperature changes with an input.

use rayon::prelude::*;
use serde::Serialize;

use super::failure::Failure;
use super::model::{Change, Model, ModelError, Outcome};

/// Change of every limited value with one input.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sensitivity {
    /// Path of the input.
    pub path: String,
    /// Unit of the input.
    pub unit: String,
    /// Nominal value.
    pub nominal: f64,
    /// Step of the difference that was accepted.
    pub step: f64,
    /// Change of the value (K) per unit of the input, one per limit.
    pub per_unit: Vec<f64>,
    /// Change of the margin (K) per unit of the input, one per limit: positive when more of the
    /// input helps the limit.
    pub margin_per_unit: Vec<f64>,
    /// Largest disagreement in K per unit between the accepted difference and that at twice the
    /// step.
    pub spread: f64,
}

/// Step to start from, in the unit of the input: about what a shop would change.
#[must_use]
fn usual_step(unit: &str, path: &str, nominal: f64) -> f64 {
    if path.ends_with(".blows") {
        return 1.0;
    }
    match unit {
        "s" => 0.5_f64.min((0.25 * nominal.abs()).max(0.05)),
        "degC" | "K" => 5.0,
        _ if nominal != 0.0 => 0.02 * nominal.abs(),
        _ => 0.01,
    }
}

/// Differences of every limited value with the input at `path`: central where the input may go both
/// ways, else one-sided. The step is halved, at most four times, until two successive steps agree
/// within 2 % or 0.01 K over the step; the smallest disagreement is kept and stated. A number that
/// only counts (blows) has a step of one. A cheaper model of the same line finds the step and what one side
/// lacks of the central difference, so that one run of the full model is enough.
///
/// # Errors
/// An unknown input, or runs that fail to both sides.
pub fn sensitivity(models: Models<'_>, path: &str, nominal: &Outcome) -> Result<Sensitivity, Failure> {
    let model = models.0;
    let unit = model.input(path)?.unit;
    let x = model.number(path)?;
    let step = usual_step(unit, path, x);
    let whole = path.ends_with(".blows");
    let change = |value: f64| vec![Change::new(path, value)];
    slopes(models, (path, unit, x), &change, (step, whole), nominal)
}

/// The same for the exit temperature, surface and core together.
///
/// # Errors
/// As [`sensitivity`]; a line whose exit temperature is not an input.
pub fn exit_sensitivity(models: Models<'_>, nominal: &Outcome) -> Result<Sensitivity, Failure> {
    let exit = models.0.exit_inputs().ok_or_else(Failure::no_exit)?;
    let change = |value: f64| exit.at(value);
    let about = ("exit temperature", "degC", exit.surface.1);
    slopes(models, about, &change, (5.0, false), nominal)
}

/// A model and, where there is one, a cheaper one of the same line.
pub type Models<'a> = (&'a dyn Model, Option<&'a dyn Model>);

/// Values and margins of every limit, or their changes per unit.
type Both = (Vec<f64>, Vec<f64>);

fn of_outcome(outcome: &Outcome) -> Both {
    let values = outcome.verdicts.iter().map(|v| v.value).collect();
    (values, outcome.margins_k())
}

/// (b - a) / width.
fn between(a: &Both, b: &Both, width: f64) -> Both {
    let of = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| (b - a) / width).collect();
    (of(&a.0, &b.0), of(&a.1, &b.1))
}

/// The differences of a model with a step of its input, central where both sides can be run.
struct Sides {
    nominal: Both,
    down: Result<Both, ModelError>,
    up: Result<Both, ModelError>,
    step: f64,
}

impl Sides {
    /// Slopes about the nominal value.
    fn slopes(&self) -> Result<Both, Failure> {
        // One side may be outside what the input or the line allows.
        Ok(match (&self.down, &self.up) {
            (Ok(low), Ok(high)) => between(low, high, 2.0 * self.step),
            (Err(_), Ok(high)) => between(&self.nominal, high, self.step),
            (Ok(low), Err(_)) => between(low, &self.nominal, self.step),
            (Err(_), Err(error)) => return Err(error.clone().into()),
        })
    }

    /// Slopes of the upper side alone where it can be run, else of the lower; which side it was.
    fn one_sided(&self) -> Result<(Both, f64), Failure> {
        Ok(match (&self.down, &self.up) {
            (_, Ok(high)) => (between(&self.nominal, high, self.step), 1.0),
            (Ok(low), Err(_)) => (between(low, &self.nominal, self.step), -1.0),
            (Err(_), Err(error)) => return Err(error.clone().into()),
        })
    }
}

fn slopes(
    (model, cheap): Models<'_>,
    (path, unit, x): (&str, &str, f64),
    change: &(dyn Fn(f64) -> Vec<Change> + Sync),
    (mut step, whole): (f64, bool),
    nominal: &Outcome,
) -> Result<Sensitivity, Failure> {
    let of_cheap = cheap.map(|cheap| cheap.run(&[])).transpose()?;
    let (scout, middle) = match (cheap, &of_cheap) {
        (Some(cheap), Some(outcome)) => (cheap, of_outcome(outcome)),
        _ => (model, of_outcome(nominal)),
    };
    let sides = |step: f64| {
        let run = |value: f64| scout.run(&change(value)).map(|outcome| of_outcome(&outcome));
        let (up, down) = rayon::join(|| run(x + step), || run(x - step));
        Sides {
            nominal: middle.clone(),
            down,
            up,
            step,
        }
    };
    let mut best = sides(step);
    let mut slope = best.slopes()?;
    let mut spread = if whole { 0.0 } else { f64::INFINITY };
    for _ in 0..4 {
        let largest = slope.0.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
        if spread <= (0.02 * largest).max(0.01 / best.step) {
            break;
        }
        step *= 0.5;
        let next = sides(step);
        let found = next.slopes()?;
        let disagreement = |(a, b): (&f64, &f64)| (a - b).abs();
        let disagreement = found.0.iter().zip(&slope.0).map(disagreement).fold(0.0_f64, f64::max);
        if disagreement > spread {
            break;
        }
        (best, slope, spread) = (next, found, disagreement);
    }
    if cheap.is_some() {
        let (one, side) = best.one_sided()?;
        let there = of_outcome(&model.run(&change(x + side * best.step))?);
        let of_full = between(&of_outcome(nominal), &there, side * best.step);
        let whole_of = |full: &[f64], one: &[f64], both: &[f64]| {
            let lacks = both.iter().zip(one).map(|(both, one)| both - one);
            full.iter().zip(lacks).map(|(full, lacks)| full + lacks).collect()
        };
        slope = (
            whole_of(&of_full.0, &one.0, &slope.0),
            whole_of(&of_full.1, &one.1, &slope.1),
        );
    }
    Ok(Sensitivity {
        path: path.to_owned(),
        unit: unit.to_owned(),
        nominal: x,
        step: best.step,
        per_unit: slope.0,
        margin_per_unit: slope.1,
        spread,
    })
}

/// Sensitivities to several inputs, in the order given.
///
/// # Errors
/// As [`sensitivity`]; the first in the order of the paths.
pub fn sensitivities(models: Models<'_>, paths: &[String], nominal: &Outcome) -> Result<Vec<Sensitivity>, Failure> {
    let all: Vec<_> = paths
        .par_iter()
        .map(|path| sensitivity(models, path, nominal))
        .collect();
    all.into_iter().collect()
}
