//! From the running state to another takt.

use super::stops::{Running, scaled};
use crate::heater::line::{
    Course, Feed, HeaterLine, Origin, Phase, Steady, Study, Target, Transition, proportional_powers, set,
};
use crate::heater::search::Status;
use crate::heater::{Bar, HeaterError};

/// How near the powers at another pace bring the exit to its aim, K.
const NEAR_K: f64 = 0.5;
const ROUNDS: usize = 6;

/// From the running state to another takt.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Pace {
    /// The new takt, s.
    pub takt_s: f64,
    /// Settled power of each channel there, W.
    pub powers_w: Vec<f64>,
    /// Whether the target is met there.
    pub met: bool,
    /// The powers on the way, and what comes of them.
    pub course: Course,
    /// Powers of an operator who only scales them by the takt, W.
    pub scaled_w: Vec<f64>,
    /// What comes of those.
    pub scaled: Study,
}

impl Pace {
    pub(super) fn of(running: &Running, steady: &Steady, takt_s: f64) -> Result<Pace, HeaterError> {
        let heater = running.heater;
        let line = HeaterLine {
            takt_s,
            ..heater.line.clone()
        };
        let first = line.by_channel(&proportional_powers(&heater.line, steady, takt_s));
        let (powers_w, met) = settled(running, steady, &line, first)?;
        let transition = Transition {
            takt_s,
            ..running.transition(Origin::Running(running.drives), None, &powers_w)
        };
        let course = transition.plan()?;
        let share = heater.line.takt_s / takt_s;
        let by_takt = Phase {
            seconds: (2 * line.places() + 10) as f64 * takt_s,
            takt_s: Some(takt_s),
            drives: scaled(running.drives, share),
            feed: Feed::USUAL,
        };
        let scaled = transition.follow(&[by_takt])?;
        Ok(Pace {
            takt_s,
            course,
            met,
            scaled_w: running.powers_w.iter().map(|p| p * share).collect(),
            scaled,
            powers_w,
        })
    }
}

/// Powers at the new pace: those in proportion, trimmed all by one factor to the target; where that breaks a
/// limit, those of a search. And whether they meet the target.
fn settled(
    running: &Running,
    steady: &Steady,
    line: &HeaterLine,
    first: Vec<f64>,
) -> Result<(Vec<f64>, bool), HeaterError> {
    let (heater, bar, slices) = (running.heater, running.bar, running.slices);
    let (target, aim_c, after_s) = match heater.goal {
        Some(goal) => (goal.target, goal.value_c, goal.after_s),
        None => (Target::Mean, steady.exit.mean_c, 0.0),
    };
    let powers = |factor: f64| -> Vec<f64> {
        let highest = heater.highest_w.iter();
        let all = first.iter().zip(highest);
        all.map(|(p, most)| set(p * factor).min(*most)).collect()
    };
    let at = |factor: f64| -> Result<(f64, Steady), HeaterError> {
        let state = line.steady(bar, &line.at_powers(&powers(factor)), slices)?;
        let nodes = state.after_exit(bar, line.ambient_c, after_s)?;
        Ok((target.among(&nodes) - aim_c, state))
    };
    let mut factor = 1.0;
    let (mut off, mut state) = at(factor)?;
    let mut slope = aim_c - line.start_c;
    for _ in 0..ROUNDS {
        if off.abs() <= NEAR_K {
            break;
        }
        let step = (-off / slope).clamp(-0.15, 0.15);
        let (next, now) = at(factor + step)?;
        if (next - off).abs() > 1e-3 {
            slope = ((next - off) / step).max(50.0);
        }
        (factor, off, state) = (factor + step, next, now);
    }
    let Some(goal) = heater.goal else {
        return Ok((powers(factor), off.abs() <= goal_tolerance(None)));
    };
    let nodes = state.after_exit(bar, line.ambient_c, after_s)?;
    let even = goal
        .difference_k
        .is_none_or(|k| (nodes.surface_c - nodes.core_c).abs() <= k);
    let cool = state.exit.peak_c <= goal.never_above_c;
    if off.abs() <= goal_tolerance(Some(goal.tolerance_k)) && even && cool {
        return Ok((powers(factor), true));
    }
    searched(running, bar, line, &powers(factor))
}

fn goal_tolerance(given_k: Option<f64>) -> f64 {
    given_k.unwrap_or(1.0).max(NEAR_K)
}

fn searched(running: &Running, bar: &Bar, line: &HeaterLine, start: &[f64]) -> Result<(Vec<f64>, bool), HeaterError> {
    let found = running.heater.search_on(line, bar, Some(start), running.slices)?;
    let met = !matches!(found.status, Status::Impossible(_));
    let set = found.powers_w.iter().map(|p| set(*p));
    Ok((set.collect(), met))
}
