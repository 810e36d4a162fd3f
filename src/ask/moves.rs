//! Move budget: what the moves take, what temperature allows, who is busy when.

use crate::judge::Kind;
use crate::line::plan::{Plan, Stage, StageKind};
use serde::Serialize;

use super::curve::{Curve, Look};
use super::failure::Failure;
use super::hand_overs::HandOverTimes;
use super::kinematics::{MoveTiming, acceleration_for};
use super::model::{Change, Handover, Model, Outcome};
use super::risk::{GuardLine, Risk};
use super::schedule::{Activity, Chart, ShareRule, Task, chart, share_total};
use super::study::{PlannedMove, Study};
use super::times::Times;
use crate::numeric::root::LimitOutcome;

/// One move with its times and its slack.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MoveRow {
    /// Name of the stage.
    pub stage: String,
    /// Devices.
    pub devices: Vec<String>,
    /// Devices that take turns with it, from part to part.
    pub alternate: Vec<String>,
    /// Seconds in the line file. Temperatures are those of the mean that the drives give.
    pub now_s: f64,
    /// Times from the kinematics.
    pub timing: MoveTiming,
    /// Fewest seconds that the limits allow with the guard band for the reject risk, where there is one, all else as
    /// planned; `None` where none is too hot.
    pub earliest_s: Option<f64>,
    /// Most seconds that the limits allow as they are, all else as planned; `None` where none breaks, and zero where
    /// no length is right.
    pub longest_s: Option<f64>,
    /// Most seconds that the limits allow with the guard band for the reject risk; `None` without one, too.
    pub reject_s: Option<f64>,
    /// Slack in s: the most seconds with the guard band, where there is one, minus the mean that the drives give.
    pub slack_s: Option<f64>,
    /// Slack in K: the margin of the limit that decides, its guard band taken off.
    pub slack_k: Option<f64>,
}

/// What the drives give each planned move in the mean, by the path of its seconds, to a millisecond: the
/// times that temperatures run with.
///
/// # Errors
/// Kinematics that cannot be; a move that the line plans faster than its drives are at best.
pub fn drive_times(study: &Study, handovers: &[Handover]) -> Result<Vec<(String, f64)>, Failure> {
    let mut times = Vec::new();
    let mut too_fast = Vec::new();
    for planned in &study.moves {
        let timing = planned.elements.timing()?;
        let Some(of) = handovers.iter().find(|h| h.stage == planned.stage) else {
            continue;
        };
        if of.seconds < timing.minimum_s - 0.005 {
            too_fast.push(format!(
                "`{}` is planned to take {} s, its drives need at least {:.2} s",
                of.stage,
                of.seconds,
                (timing.minimum_s * 100.0).ceil() / 100.0
            ));
        }
        times.push((of.path.clone(), (timing.mean_s * 1e3).round() / 1e3));
    }
    match too_fast.is_empty() {
        true => Ok(times),
        false => Err(Failure::TooFast(too_fast.join("; "))),
    }
}

/// Rows of the specification table, one per planned move; `handovers` are those of the line file, `times`
/// those of the line at the times of its drives, `risk` what its guard bands are made of.
///
/// # Errors
/// Kinematics that cannot be.
pub fn move_rows(
    study: &Study,
    handovers: &[Handover],
    times: &[HandOverTimes],
    risk: Option<&Risk>,
) -> Result<Vec<MoveRow>, Failure> {
    let guard_k = |of: &HandOverTimes, limit: usize| risk.map_or(0.0, |risk| risk.guards(&[&of.path]).reject[limit]);
    study
        .moves
        .iter()
        .map(|planned| {
            let timing = planned.elements.timing()?;
            let of = times.iter().find(|t| t.stage == planned.stage);
            let now_s = handovers.iter().find(|h| h.stage == planned.stage);
            let now_s = now_s.map_or(timing.mean_s, |h| h.seconds);
            let stated_s = of.and_then(|t| latest_s(t.stated()));
            Ok(MoveRow {
                stage: planned.stage.clone(),
                devices: planned.devices.clone(),
                alternate: planned.alternate.clone(),
                now_s,
                timing,
                earliest_s: of.and_then(|t| t.stated().earliest()).map(|edge| edge.seconds),
                longest_s: of.and_then(|t| latest_s(&t.alone)),
                slack_s: stated_s.map(|s| s - of.map_or(timing.mean_s, |t| t.planned_s)),
                slack_k: of.and_then(|t| {
                    let limit = t.stated().limit()?;
                    Some(t.margins_k[limit] - guard_k(t, limit))
                }),
                reject_s: of.and_then(|t| latest_s(t.reject.as_ref()?)),
            })
        })
        .collect()
}

/// Latest seconds of a stage; zero where no length is right.
fn latest_s(times: &Times) -> Option<f64> {
    match times {
        Times::Between { latest, .. } => latest.map(|edge| edge.seconds),
        Times::Never { .. } => Some(0.0),
    }
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

/// Finds the largest total and shares it: the guard band of the `risk` for rejects is kept where there is one, the
/// moves counting as measured. A `total_s` given is shared as it is.
///
/// # Errors
/// No planned moves; limits, or their guard bands, broken even at the kinematic minima; failing runs.
pub fn share(
    (model, cheap): (&dyn Model, Option<&dyn Model>),
    study: &Study,
    (rule, total_s): (ShareRule, Option<f64>),
    risk: Option<&Risk>,
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
            let changes = |extra: f64| -> Vec<Change> {
                // The extra time is never negative here, so the minima always fit.
                let parts = share_total(least + extra, &minima, &weights, rule).unwrap_or_else(|_| minima.clone());
                let parts = paths.iter().zip(parts);
                parts.map(|(path, s)| Change::new(path.clone(), s)).collect()
            };
            let mut curve = Curve::new(model, cheap, changes);
            let bare = most_extra(&mut curve, &GuardLine::default(), Look::Full)?;
            let found = match risk {
                Some(risk) => {
                    let known: Vec<&str> = paths.iter().map(String::as_str).collect();
                    let guard = guard_over(risk, cheap.unwrap_or(model), &known, &changes, bare)?;
                    most_extra(&mut curve, &guard, Look::Near)?
                }
                None => bare,
            };
            found.map_or((least + LONGEST_S, None), |(extra, limit)| (least + extra, Some(limit)))
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

/// Longest extra time searched, s.
const LONGEST_S: f64 = 600.0;

/// Extra time at which the guard band is found where no limit ends it, s.
const FAR_S: f64 = 60.0;

/// The guard band for rejects over the extra time, from those at the minima and at the end without one.
fn guard_over(
    risk: &Risk,
    model: &dyn Model,
    known: &[&str],
    changes: &dyn Fn(f64) -> Vec<Change>,
    bare: Option<(f64, usize)>,
) -> Result<GuardLine, Failure> {
    let flat = risk.guards(known);
    let end = bare.map_or(FAR_S, |(extra, _)| extra).max(0.01);
    let mut found = Vec::with_capacity(2);
    for extra in [0.0, end] {
        found.push((extra, risk.guards_at(model, known, &changes(extra), &flat)?));
    }
    Ok(GuardLine::through(&found).0)
}

/// The most extra time that no limit breaks which time can break, guard band kept, and the limit that ends it.
fn most_extra(curve: &mut Curve, guard: &GuardLine, look: Look) -> Result<Option<(f64, usize)>, Failure> {
    const FIRST_STEP_S: f64 = 4.0;
    let (now, later) = (curve.near(0.0)?, curve.near(FIRST_STEP_S)?);
    let falls: Vec<usize> = (0..now.len()).filter(|&k| now[k] - later[k] > 0.01).collect();
    let smallest = |x: f64, margins: &[f64]| {
        let of = falls.iter().map(|&k| (k, margins[k] - guard.at(x, k)));
        of.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((0, f64::INFINITY))
    };
    let measure = |x: f64, margins: &[f64]| smallest(x, margins).1;
    let broken = |what: &str| {
        Failure::NothingToDo(format!(
            "{what} is broken even when every move takes its kinematic minimum; see exit-band"
        ))
    };
    match curve.crossing(&measure, (0.0, FIRST_STEP_S, LONGEST_S), 0.005, look)? {
        LimitOutcome::Limit { holds, breaks, .. } => Ok(Some((holds, smallest(breaks, &curve.near(breaks)?).0))),
        LimitOutcome::NeverBreaks { .. } => Ok(None),
        LimitOutcome::AlreadyBroken { .. } => Err(broken(match look {
            Look::Full => "a limit",
            Look::Near | Look::Nodes => "the guard band of a limit (--no-guard leaves it out)",
        })),
    }
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
/// the other; the activities of the study run beside them, and die spray and blow-off after their stage.
///
/// # Errors
/// No takt, activities that wait for what is not there, or for each other.
pub fn cycle(study: &Study, plan: &Plan, nominal: &Outcome, takt_s: f64) -> Result<Chart, Failure> {
    let mut activities: Vec<Activity> = Vec::new();
    let activity = |name: Task, seconds: f64, after: Option<String>| Activity {
        name,
        devices: Vec::new(),
        alternate: Vec::new(),
        every_parts: 1,
        seconds,
        after: after.into_iter().collect(),
        not_before_s: 0.0,
        hot: false,
    };
    for span in nominal.stages.iter().filter(|span| span.kind != Kind::Heater) {
        let before = activities.last().map(|a| a.name.to_string());
        let mut stage = activity(Task::Named(span.name.clone()), span.end_s - span.start_s, before);
        for planned in study.moves.iter().filter(|planned| planned.stage == span.name) {
            stage.devices.extend(planned.devices.clone());
            stage.alternate.extend(planned.alternate.clone());
        }
        for device in &study.devices {
            if device.stages.contains(&span.name) && !stage.devices.contains(&device.name) {
                stage.devices.push(device.name.clone());
            }
        }
        // A conveyor takes many parts at once and is no device of one takt.
        if stage.devices.is_empty() && stage.alternate.is_empty() && span.kind != Kind::Cool {
            stage.devices.push(span.name.clone());
        }
        stage.hot = span.kind != Kind::Cool;
        activities.push(stage);
    }
    let idle: Vec<Activity> = plan
        .stages
        .iter()
        .filter_map(|stage| {
            let seconds = between_parts_s(stage)?;
            let of = activities.iter().find(|a| a.name == Task::Named(stage.name.clone()))?;
            // What the study says of these dies stands for it.
            let told = |a: &Activity| {
                a.after.contains(&stage.name) && a.all_devices().any(|d| of.all_devices().any(|own| own == d))
            };
            if study.activities.iter().any(told) {
                return None;
            }
            Some(Activity {
                devices: of.devices.clone(),
                alternate: of.alternate.clone(),
                ..activity(Task::DieSpray(stage.name.clone()), seconds, Some(stage.name.clone()))
            })
        })
        .collect();
    activities.extend(idle);
    activities.extend(study.activities.iter().cloned());
    Ok(chart(&activities, takt_s)?)
}

/// Seconds of spray and blow-off of the dies of a stage; `None` where there are none.
fn between_parts_s(stage: &Stage) -> Option<f64> {
    let StageKind::Forge(of) = &stage.kind else {
        return None;
    };
    let spray = of.dies.spray.as_ref().map_or(0.0, |spray| spray.seconds);
    let blow_off = of.dies.blow_off.as_ref().map_or(0.0, |blow| blow.seconds);
    Some(spray + blow_off).filter(|seconds| *seconds > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::enquiry::Enquiry;
    use crate::line::file::Document;
    use crate::line::plan::Resolution;

    const LINE: &str = r#"
title = "x"
[billet]
steel = "C45"
diameter_mm = 50
length_mm = 80
[shop]
takt_s = 12
[heater]
kind = "measured"
temperature_c = 1220
[die]
spray_s = 0.7
[[stage]]
kind = "carry"
name = "carry"
seconds = 3
[[stage]]
kind = "forge"
name = "press"
blows = 1
contact_ms = 60
shape = [{ outer_mm = 60, height_mm = 55.556 }]
[[limit]]
node = "coldest"
min_c = 700
stage = "press"
moment = "end"
source = "x"
[[study.move]]
stage = "carry"
alternate = ["left", "right"]
distance_m = 1
speed_m_s = 1
acceleration_m_s2 = 3
"#;

    fn names(study: &Study, enquiry: &Enquiry) -> Vec<Task> {
        let plan = enquiry.model.document().plan();
        let chart = cycle(study, plan, &enquiry.planned().unwrap(), 12.0).unwrap();
        chart.activities.iter().map(|a| a.name.clone()).collect()
    }

    /// Slack and shares keep the guard band: what the line may take in all is less with it, and so is each share.
    #[test]
    fn slack_and_shares_keep_the_guard_band() {
        let scatter = "[[study.scatter]]\ninput = \"heater.temperature_c\"\nkind = \"normal\"\nsd = 8\n";
        let document = Document::parse(format!("{LINE}{scatter}"), "x.toml").unwrap();
        let enquiry = Enquiry::new(document, Some(Resolution::Quick)).unwrap();
        let judged = enquiry.judged().unwrap();
        let risk = judged.risk.as_ref();
        let (study, handovers) = (&enquiry.study, enquiry.model.handovers());
        let row = &move_rows(study, handovers, &judged.times().unwrap(), risk).unwrap()[0];
        let (reject, longest) = (row.reject_s.unwrap(), row.longest_s.unwrap());
        assert!(reject < longest - 0.3, "{row:?}");
        assert!((row.slack_s.unwrap() - (reject - 3.0)).abs() < 1e-9, "{row:?}");
        let shared = |risk| share((&enquiry.model, None), study, (ShareRule::Minimum, None), risk).unwrap();
        let (bare, guarded) = (shared(None), shared(risk));
        assert!((bare.moves[0].seconds - longest).abs() < 0.05, "{bare:?} {longest}");
        // One move alone may take what its own row says.
        assert!((guarded.moves[0].seconds - reject).abs() < 0.1, "{guarded:?} {reject}");
    }

    /// The dies of a stage whose devices take turns are sprayed once: as the study says, or as the dies do.
    #[test]
    fn a_spray_by_devices_that_take_turns_is_there_once() {
        let document = Document::parse(LINE, "x.toml").unwrap();
        let enquiry = Enquiry::new(document, Some(Resolution::Quick)).unwrap();
        let mut study = enquiry.study.clone();
        study.moves[0].stage = "press".to_owned();
        let own = names(&study, &enquiry);
        assert!(own.contains(&Task::DieSpray("press".to_owned())), "{own:?}");
        study.activities.push(Activity {
            name: Task::Named("spray arm".to_owned()),
            devices: Vec::new(),
            alternate: vec!["left".to_owned(), "right".to_owned()],
            every_parts: 1,
            seconds: 0.7,
            after: vec!["press".to_owned()],
            not_before_s: 0.0,
            hot: false,
        });
        let told = names(&study, &enquiry);
        assert!(!told.contains(&Task::DieSpray("press".to_owned())), "{told:?}");
        assert!(told.contains(&Task::Named("spray arm".to_owned())));
    }
}
