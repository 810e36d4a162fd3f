//! Move budget: what the moves take, what temperature allows, who is busy when.

use crate::judge::Kind;
use serde::Serialize;

use super::curve::Curve;
use super::delays::{DelayLimit, DelayOptions, allowed, breakable};
use super::failure::Failure;
use super::kinematics::{MoveTiming, acceleration_for};
use super::model::{Change, Model, Outcome};
use super::schedule::{Activity, Chart, ShareRule, chart, share_total};
use super::study::{PlannedMove, Study};

/// One move with its times and its slack.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MoveRow {
    /// Name of the stage.
    pub stage: String,
    /// Devices.
    pub devices: Vec<String>,
    /// Seconds in the line file.
    pub now_s: f64,
    /// Times from the kinematics.
    pub timing: MoveTiming,
    /// Seconds that the limits allow, all else nominal; `None` where nothing breaks.
    pub longest_s: Option<f64>,
    /// Slack in s: longest minus now.
    pub slack_s: Option<f64>,
    /// Slack in K: the margin of the limit that decides.
    pub slack_k: Option<f64>,
    /// Seconds that the limits allow with the guard band for the reject risk.
    pub reject_s: Option<f64>,
}

/// Rows of the specification table, one per planned move.
///
/// # Errors
/// Kinematics that cannot be.
pub fn move_rows(study: &Study, delays: &[DelayLimit]) -> Result<Vec<MoveRow>, Failure> {
    study
        .moves
        .iter()
        .map(|planned| {
            let timing = planned.elements.timing()?;
            let delay = delays.iter().find(|d| d.stage == planned.stage);
            let slack_s = delay.and_then(|d| d.nominal.seconds());
            let now_s = delay.map_or(timing.mean_s, |d| d.nominal_s);
            Ok(MoveRow {
                stage: planned.stage.clone(),
                devices: planned.devices.clone(),
                now_s,
                timing,
                longest_s: slack_s.map(|s| now_s + s),
                slack_s,
                slack_k: delay.and_then(|d| d.margin_k),
                reject_s: delay.and_then(|d| d.reject.as_ref()?.seconds()).map(|s| now_s + s),
            })
        })
        .collect()
}

/// The largest total that the limits allow for all planned moves together, shared by a rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shared {
    /// Rule.
    pub rule: ShareRule,
    /// Sum of the shares, s.
    pub total_s: f64,
    /// Index of the limit that sets it; `None` where nothing breaks within the range searched.
    pub limit: Option<usize>,
    /// One per planned move.
    pub moves: Vec<SharedMove>,
}

/// Share of one move.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SharedMove {
    /// Name of the stage.
    pub stage: String,
    /// Its seconds.
    pub seconds: f64,
    /// Acceleration in m/s2 that it then needs, waits at their mean; `None` where speed and jerk
    /// alone are too slow.
    pub acceleration_m_s2: Option<f64>,
}

/// Finds the largest total and shares it. A `total_s` given is shared as it is.
///
/// # Errors
/// No planned moves; limits broken even at the kinematic minima; failing runs.
pub fn share(
    model: &dyn Model,
    cheap: Option<&dyn Model>,
    study: &Study,
    rule: ShareRule,
    total_s: Option<f64>,
) -> Result<Shared, Failure> {
    if study.moves.is_empty() {
        return Err(no_moves());
    }
    let timings: Vec<MoveTiming> = study
        .moves
        .iter()
        .map(|m| m.elements.timing())
        .collect::<Result<_, _>>()?;
    let minima: Vec<f64> = timings.iter().map(|t| t.minimum_s).collect();
    let weights: Vec<f64> = study.moves.iter().map(|m| m.cost).collect();
    let least: f64 = minima.iter().sum();
    let (total_s, limit) = match total_s {
        Some(total) => (total, None),
        None => {
            let paths: Vec<String> = study
                .moves
                .iter()
                .map(|planned| format!("stage.{}.seconds", planned.stage))
                .collect();
            let (minima, weights) = (&minima, &weights);
            let mut curve = Curve::new(model, cheap, move |extra| {
                // The extra time is never negative here, so the minima always fit.
                let parts = share_total(least + extra, minima, weights, rule).unwrap_or_else(|_| minima.clone());
                paths
                    .iter()
                    .zip(parts)
                    .map(|(p, s)| Change::new(p.clone(), s))
                    .collect()
            });
            let counts = breakable(&mut curve)?;
            let none = vec![0.0; counts.len()];
            let options = DelayOptions {
                longest_s: 600.0,
                ..DelayOptions::default()
            };
            let found = allowed(&mut curve, &none, &counts, &options, true)?;
            match found.seconds() {
                Some(extra) => (least + extra, found.limit()),
                None if found.limit().is_some() => {
                    return Err(Failure::NothingToDo(
                        "a limit is broken even when every move takes its kinematic minimum; see exit-band".to_owned(),
                    ));
                }
                None => (least + options.longest_s, None),
            }
        }
    };
    let parts = share_total(total_s, &minima, &weights, rule)?;
    let moves = study
        .moves
        .iter()
        .zip(&timings)
        .zip(&parts)
        .map(|((planned, timing), &seconds)| SharedMove {
            stage: planned.stage.clone(),
            seconds,
            acceleration_m_s2: needed(planned, timing, seconds),
        })
        .collect();
    Ok(Shared {
        rule,
        total_s,
        limit,
        moves,
    })
}

/// Acceleration that leaves `seconds` for the whole move, its waits at their mean.
fn needed(planned: &PlannedMove, timing: &MoveTiming, seconds: f64) -> Option<f64> {
    let waits: f64 = planned
        .elements
        .waits
        .iter()
        .map(|wait| 0.5 * (wait.least_s + wait.most_s))
        .sum();
    let travel = seconds - (timing.minimum_s - timing.travel_s) - waits;
    acceleration_for(planned.elements.distance_m, travel, &planned.elements.limits).ok()
}

pub(crate) fn no_moves() -> Failure {
    Failure::NothingToDo(
        "no moves are described: give [[study.move]] tables with stage, distance_m, speed_m_s and acceleration_m_s2"
            .to_owned(),
    )
}

/// Cycle chart of the line: every stage after the heater is a hot activity on its devices, one after
/// the other; the activities of the study run beside them.
///
/// # Errors
/// No takt, activities that wait for what is not there, or for each other.
pub fn cycle(study: &Study, nominal: &Outcome, takt_s: f64) -> Result<Chart, Failure> {
    let mut activities: Vec<Activity> = Vec::new();
    for span in nominal.stages.iter().filter(|span| span.kind != Kind::Heater) {
        let mut devices: Vec<String> = study
            .moves
            .iter()
            .filter(|planned| planned.stage == span.name)
            .flat_map(|planned| planned.devices.clone())
            .collect();
        for device in &study.devices {
            if device.stages.contains(&span.name) && !devices.contains(&device.name) {
                devices.push(device.name.clone());
            }
        }
        // A conveyor takes many parts at once and is no device of one takt.
        if devices.is_empty() && span.kind != Kind::Cool {
            devices.push(span.name.clone());
        }
        activities.push(Activity {
            name: span.name.clone(),
            devices,
            seconds: span.end_s - span.start_s,
            after: activities.last().map(|a| a.name.clone()).into_iter().collect(),
            not_before_s: 0.0,
            hot: span.kind != Kind::Cool,
        });
    }
    activities.extend(study.activities.iter().cloned());
    Ok(chart(&activities, takt_s)?)
}
