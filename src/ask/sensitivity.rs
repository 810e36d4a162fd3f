//! How much each limited temperature changes with an input.

use rayon::prelude::*;
use serde::Serialize;

use super::failure::Failure;
use super::model::{Change, Model, Outcome};

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
/// only counts (blows) has a step of one.
///
/// # Errors
/// An unknown input, or runs that fail to both sides.
pub fn sensitivity(model: &dyn Model, path: &str, nominal: &Outcome) -> Result<Sensitivity, Failure> {
    let unit = model.input(path)?.unit;
    let x = model.number(path)?;
    let step = usual_step(unit, path, x);
    let whole = path.ends_with(".blows");
    let change = |value: f64| vec![Change::new(path, value)];
    slopes(model, (path, unit, x), &change, (step, whole), nominal)
}

/// The same for the exit temperature, surface and core together.
///
/// # Errors
/// As [`sensitivity`]; a line whose exit temperature is not an input.
pub fn exit_sensitivity(model: &dyn Model, nominal: &Outcome) -> Result<Sensitivity, Failure> {
    let exit = model.exit_inputs().ok_or_else(Failure::no_exit)?;
    let change = |value: f64| exit.at(value);
    slopes(
        model,
        ("exit temperature", "degC", exit.surface.1),
        &change,
        (5.0, false),
        nominal,
    )
}

fn slopes(
    model: &dyn Model,
    (path, unit, x): (&str, &str, f64),
    change: &dyn Fn(f64) -> Vec<Change>,
    (mut step, whole): (f64, bool),
    nominal: &Outcome,
) -> Result<Sensitivity, Failure> {
    let run = |value: f64| model.run(&change(value));
    let difference = |step: f64| -> Result<(Vec<f64>, Vec<f64>), Failure> {
        let up = run(x + step);
        let down = run(x - step);
        // One side may be outside what the input or the line allows.
        let (low, high, width) = match (&down, &up) {
            (Ok(low), Ok(high)) => (low, high, 2.0 * step),
            (Err(_), Ok(high)) => (nominal, high, step),
            (Ok(low), Err(_)) => (low, nominal, step),
            (Err(_), Err(error)) => return Err(error.clone().into()),
        };
        let slope = |pick: fn(&crate::judge::Verdict) -> f64| -> Vec<f64> {
            low.verdicts
                .iter()
                .zip(&high.verdicts)
                .map(|(a, b)| (pick(b) - pick(a)) / width)
                .collect()
        };
        Ok((slope(|v| v.value), slope(|v| v.margin_k)))
    };
    let mut best = difference(step)?;
    let mut best_step = step;
    let mut spread = if whole { 0.0 } else { f64::INFINITY };
    for _ in 0..4 {
        let largest = best.0.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
        if spread <= (0.02 * largest).max(0.01 / best_step) {
            break;
        }
        step *= 0.5;
        let next = difference(step)?;
        let disagreement = next
            .0
            .iter()
            .zip(&best.0)
            .fold(0.0_f64, |m, (a, b)| m.max((a - b).abs()));
        if disagreement > spread {
            break;
        }
        (best, best_step, spread) = (next, step, disagreement);
    }
    Ok(Sensitivity {
        path: path.to_owned(),
        unit: unit.to_owned(),
        nominal: x,
        step: best_step,
        per_unit: best.0,
        margin_per_unit: best.1,
        spread,
    })
}

/// Sensitivities to several inputs, in the order given.
///
/// # Errors
/// As [`sensitivity`]; the first in the order of the paths.
pub fn sensitivities(model: &dyn Model, paths: &[String], nominal: &Outcome) -> Result<Vec<Sensitivity>, Failure> {
    let all: Vec<_> = paths.par_iter().map(|path| sensitivity(model, path, nominal)).collect();
    all.into_iter().collect()
}
