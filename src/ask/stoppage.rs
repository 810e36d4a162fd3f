//! The line stops for a while: which parts between heater and trim are still good.

use crate::judge::Kind;
use rayon::prelude::*;
use serde::Serialize;

use super::curve::Curve;
use super::delays::{Allowed, DelayOptions, allowed, breakable};
use super::failure::Failure;
use super::model::{Change, Model, Outcome};

/// Where a part waits while the line stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Hold {
    /// Where it is: in the gripper, in air, on its rest, as the stage says.
    InPlace,
    /// On the lower die before the first blow.
    OnDieBefore,
    /// On the lower die after the last blow.
    OnDieAfter,
    /// On a rest of its own, reached at the end of the hand-over.
    OnRest,
}

/// A position in flight and the number that a stop lengthens there.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Position {
    /// Name of the stage.
    pub stage: String,
    /// Kind of the stage.
    pub kind: Kind,
    /// Where the part waits.
    pub hold: Hold,
    /// Path of the seconds that grow.
    pub path: String,
    /// Their nominal value, s.
    pub seconds: f64,
}

/// A position with the longest stop that a part there survives.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Survival {
    /// The position.
    pub position: Position,
    /// Longest stop.
    pub longest: Allowed,
    /// Whether the part is still good, one per stop length asked for.
    pub good: Vec<bool>,
}

/// Positions of a line: every hand-over, and before and after the blows of every stage that has
/// such times. Heater and conveyor are left out.
#[must_use]
pub fn positions(model: &dyn Model, nominal: &Outcome) -> Vec<Position> {
    let mut found = Vec::new();
    for span in nominal
        .stages
        .iter()
        .filter(|span| !matches!(span.kind, Kind::Heater | Kind::Cool))
    {
        for (key, hold) in [
            ("seconds", Hold::InPlace),
            ("lying_before_s", Hold::OnDieBefore),
            ("lying_after_s", Hold::OnDieAfter),
        ] {
            let path = format!("stage.{}.{key}", span.name);
            if let Ok(seconds) = model.number(&path) {
                found.push(Position {
                    stage: span.name.clone(),
                    kind: span.kind,
                    hold,
                    path,
                    seconds,
                });
            }
        }
    }
    found
}

/// Longest stop and verdicts for every position. `stops_s` are the stop lengths of the wall table.
///
/// # Errors
/// [`Failure`] of the first position, in the order given, that has no answer.
pub fn survivals(
    model: &dyn Model,
    cheap: Option<&dyn Model>,
    nominal: &Outcome,
    positions: &[Position],
    stops_s: &[f64],
    longest_s: f64,
) -> Result<Vec<Survival>, Failure> {
    let all: Vec<Result<Survival, Failure>> = positions
        .par_iter()
        .map(|position| {
            let mut curve = Curve::new(model, cheap, move |stop| {
                vec![Change::new(position.path.clone(), position.seconds + stop)]
            });
            curve.know(0.0, nominal.margins_k());
            let counts = breakable(&mut curve)?;
            let none = vec![0.0; counts.len()];
            let options = DelayOptions {
                longest_s,
                tolerance_s: 0.01,
                ..DelayOptions::default()
            };
            let longest = allowed(&mut curve, &none, &counts, &options, true)?;
            let good = stops_s
                .iter()
                .map(|&stop| match longest {
                    Allowed::Extra { seconds, .. } => stop <= seconds,
                    Allowed::Broken { .. } => false,
                    Allowed::Endless { searched_s } => stop <= searched_s,
                })
                .collect();
            Ok(Survival {
                position: position.clone(),
                longest,
                good,
            })
        })
        .collect();
    all.into_iter().collect()
}
