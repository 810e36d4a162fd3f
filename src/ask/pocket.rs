//! The pocket table: what one second of each step, one kelvin of the exit, one blow are worth.

use rayon::prelude::*;

use super::failure::Failure;
use super::model::{Model, Outcome};
use super::sensitivity::{Models, Sensitivity, exit_sensitivity, sensitivity};

/// What is changed.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Changed {
    /// The exit temperatures of the heater together.
    Exit,
    /// The time of a hand-over, by its stage.
    HandOver(String),
    /// The emissivity of the part.
    Emissivity,
    /// The temperature of the dies.
    DieTemperature,
    /// The number of blows of a stage.
    Blows(String),
    /// The time lying on the die before the first blow of a stage.
    LyingBefore(String),
    /// The time lying on the die after the last blow of a stage.
    LyingAfter(String),
    /// Another input, by its path.
    Input(String),
}

/// One line of the table.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Effect {
    /// What is changed.
    pub what: Changed,
    /// By how much, in the unit of the input.
    pub amount: f64,
    /// What one unit changes.
    pub slope: Sensitivity,
}

impl Effect {
    /// Most that one unit takes from any margin, K.
    pub fn worst(&self) -> f64 {
        self.slope.margin_per_unit.iter().fold(0.0, |most, s| most.max(-s))
    }
}

/// The table.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Pocket {
    /// Lines in the order of the line.
    pub effects: Vec<Effect>,
    /// What could not be varied, and why.
    pub left_out: Vec<(Changed, String)>,
}

impl Pocket {
    /// Changes one input after the other about the nominal outcome of the full model; `more` are paths of further inputs.
    ///
    /// # Errors
    /// A path that does not exist, a run that fails.
    pub fn of(models: Models<'_>, nominal: &Outcome, more: &[String]) -> Result<Pocket, Failure> {
        let model = models.0;
        let mut list = wanted(model, more)?;
        if model.exit_inputs().is_some() {
            list.insert(0, (Changed::Exit, 1.0, String::new()));
        }
        let found: Vec<_> = list
            .into_par_iter()
            .map(|(what, amount, path)| {
                let slope = match what {
                    Changed::Exit => exit_sensitivity(models, nominal),
                    _ => sensitivity(models, &path, nominal),
                };
                (slope, what, amount)
            })
            .collect();
        let (mut effects, mut left_out) = (Vec::new(), Vec::new());
        for (slope, what, amount) in found {
            match slope {
                Ok(slope) => effects.push(Effect { what, amount, slope }),
                // One blow more may not be the same line; nobody asked for it by name.
                Err(error) if matches!(what, Changed::Blows(_)) => left_out.push((what, error.to_string())),
                Err(error) => return Err(error),
            }
        }
        Ok(Pocket { effects, left_out })
    }

    /// The hand-over whose second costs a limit most.
    pub fn costliest(&self) -> Option<&Effect> {
        let seconds = self.effects.iter().filter(|effect| effect.slope.unit == "s");
        seconds.max_by(|a, b| a.worst().total_cmp(&b.worst()))
    }
}

/// What is changed by how much, with the path of the input.
fn wanted(model: &dyn Model, more: &[String]) -> Result<Vec<(Changed, f64, String)>, Failure> {
    let mut list: Vec<(Changed, f64, String)> = model
        .handovers()
        .iter()
        .map(|h| (Changed::HandOver(h.stage.clone()), 1.0, h.path.clone()))
        .collect();
    let usual = model
        .inputs()
        .iter()
        .map(|input| input.path.as_str())
        .filter(|path| !more.iter().any(|asked| asked == path))
        .filter_map(|path| usual(path).map(|(what, amount)| (what, amount, path.to_owned())));
    list.extend(usual);
    for path in more {
        model.input(path)?;
        list.push((Changed::Input(path.clone()), 1.0, path.clone()));
    }
    Ok(list)
}

/// Inputs that every table has, with the step that it tells.
fn usual(path: &str) -> Option<(Changed, f64)> {
    match path {
        "billet.emissivity" => return Some((Changed::Emissivity, 0.1)),
        "die.bulk_c" => return Some((Changed::DieTemperature, 50.0)),
        _ => {}
    }
    let (stage, key) = path.strip_prefix("stage.")?.rsplit_once('.')?;
    let stage = stage.to_owned();
    let what = match key {
        "blows" => Changed::Blows(stage),
        "lying_before_s" => Changed::LyingBefore(stage),
        "lying_after_s" => Changed::LyingAfter(stage),
        _ => return None,
    };
    Some((what, 1.0))
}
