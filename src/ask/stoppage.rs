//! The line stops for a while: which parts between heater and trim are still good.

use crate::judge::Kind;
use rayon::prelude::*;
use serde::Serialize;

use super::failure::Failure;
use super::hand_overs::{State, Uncertain, guarded};
use super::model::{Model, Outcome};
use super::times::{Slider, Times, TimesOptions};

/// Stops of a table unless others are asked for, s.
pub const STOPS_S: [f64; 6] = [5.0, 10.0, 20.0, 30.0, 60.0, 120.0];
/// Longest stop searched, s.
pub const LONGEST_STOP_S: f64 = 600.0;

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
    /// Their planned value, s.
    pub seconds: f64,
    /// The shortest that they can be, s.
    pub least_s: f64,
}

/// A position with the stops that a part there survives.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Survival {
    /// The position.
    pub position: Position,
    /// What the seconds of the position may be, all else as planned.
    pub alone: Times,
    /// With the guard band for the reject risk; `None` without stated uncertainties.
    pub reject: Option<Times>,
    /// With the guard band for the alarm risk.
    pub alarm: Option<Times>,
    /// What to do with the part, one per stop length asked for.
    pub states: Vec<State>,
}

impl Survival {
    /// Times that an instruction may state.
    #[must_use]
    pub fn stated(&self) -> &Times {
        self.reject.as_ref().unwrap_or(&self.alone)
    }

    /// Longest stop in s after which the part may go on: `None` where no limit sets one, zero where
    /// the part is rejected without any stop.
    #[must_use]
    pub fn longest_s(&self) -> Option<f64> {
        match self.stated() {
            Times::Between { latest, .. } => latest.map(|edge| (edge.seconds - self.position.seconds).max(0.0)),
            Times::Never { .. } => Some(0.0),
        }
    }

    /// What to do with the part after a stop.
    #[must_use]
    pub fn state(&self, stop_s: f64) -> State {
        State::of(self.stated(), self.alarm.as_ref(), self.position.seconds + stop_s)
    }

    /// The limit that decides, where there is one.
    #[must_use]
    pub fn limit(&self) -> Option<usize> {
        match self.stated() {
            Times::Between { latest, .. } => latest.map(|edge| edge.limit),
            Times::Never { limit, .. } => Some(*limit),
        }
    }
}

/// Positions of a line: every hand-over, and before and after the blows of every stage that has
/// such times. Heater and conveyor are left out.
#[must_use]
pub fn positions(model: &dyn Model, nominal: &Outcome) -> Vec<Position> {
    let mut found = Vec::new();
    let least = |path: &str, seconds: f64| {
        let known = model.handovers().iter().find(|handover| handover.path == path);
        // The times before and after blows are not shortened: a stop only adds to them.
        known.map_or(seconds, |handover| handover.least_s)
    };
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
                    least_s: least(&path, seconds),
                    path,
                    seconds,
                });
            }
        }
    }
    found
}

/// Longest stop and what to do after each stop, for every position. `stops_s` are the stop lengths of
/// the wall table, `longest_s` how long a stop is searched. A part that waits is only ever later, so a
/// stop ends at the latest time of its position, which is that of the hand-over where it is one.
///
/// # Errors
/// [`Failure`] of the first position, in the order given, that has no answer.
pub fn survivals(
    models: (&dyn Model, Option<&dyn Model>),
    nominal: &Outcome,
    positions: &[Position],
    spread: &Uncertain,
    stops_s: &[f64],
    longest_s: f64,
) -> Result<Vec<Survival>, Failure> {
    let all: Vec<Result<Survival, Failure>> = positions
        .par_iter()
        .map(|position| {
            let options = TimesOptions {
                longest_s,
                ..TimesOptions::default()
            };
            let seconds = (position.seconds, position.least_s);
            let margins = Some(nominal.margins_k());
            let mut slider = Slider::new(models, &position.path, seconds, Vec::new(), margins, options)?;
            let alone = slider.of_all()?;
            let (reject, alarm) = match spread.risk {
                Some(risk) => {
                    let place = (position.path.as_str(), position.seconds);
                    let (reject, alarm) = guarded(&mut slider, models.1.unwrap_or(models.0), risk, place, &alone)?;
                    (Some(reject), Some(alarm))
                }
                None => (None, None),
            };
            let mut survival = Survival {
                position: position.clone(),
                alone,
                reject,
                alarm,
                states: Vec::new(),
            };
            survival.states = stops_s.iter().map(|stop| survival.state(*stop)).collect();
            Ok(survival)
        })
        .collect();
    all.into_iter().collect()
}
