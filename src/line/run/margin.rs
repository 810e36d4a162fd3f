//! Margins in seconds: how much longer a hand-over could have lasted, or how much too long it was.
//!
//! For a minimum that is judged at a moment, the hand-over that leads to the moment is lengthened
//! or shortened until the node just meets its limit. The searched values come from quick runs,
//! shifted so that the nominal quick value equals the nominal value of the run itself: the search
//! needs only differences, and those are good to a few per cent on the coarse grid.

use rayon::prelude::*;

use super::{HeaterCache, RunError, RunOptions, run_with};
use crate::judge::{Bound, Moment, Verdict};
use crate::line::plan::{Plan, Resolution, StageKind};
use crate::line::trace::Trace;

/// Longest extra time searched for, s. A hand-over with more margin than this has none stated.
const LONGEST_S: f64 = 600.0;

/// Most runs of one search.
const RUNS: usize = 12;

/// Fills `margin_s` and `margin_stage` of the verdicts.
pub(super) fn fill(plan: &Plan, trace: &mut Trace, heated: &HeaterCache) -> Result<(), RunError> {
    let quick = RunOptions {
        resolution: Some(Resolution::Quick),
        ..RunOptions::bare()
    };
    let open: Vec<(usize, usize)> = trace
        .verdicts
        .iter()
        .enumerate()
        .filter_map(|(v, verdict)| hand_over(plan, verdict).map(|index| (v, index)))
        .collect();
    if open.is_empty() {
        return Ok(());
    }
    let nominal = run_with(plan, &quick, heated)?;
    // Each search is a computation of its own, so the order of the threads does not matter.
    let found: Result<Vec<Option<f64>>, RunError> = open
        .par_iter()
        .map(|(v, index)| {
            let verdict = &trace.verdicts[*v];
            let Some(start) = nominal.verdicts.get(*v).map(|q| q.margin_k) else {
                return Ok(None);
            };
            let shift = verdict.margin_k - start;
            let seconds = plan.stages[*index].seconds();
            let mut other = plan.clone();
            other.limits = vec![verdict.limit.clone()];
            // Nothing after the judged moment matters.
            other.stages.truncate(verdict.stage);
            let value = |extra: f64| -> Result<f64, RunError> {
                let mut other = other.clone();
                set_seconds(&mut other.stages[*index].kind, seconds + extra);
                let trace = run_with(&other, &quick, heated)?;
                Ok(trace.verdicts.first().map_or(f64::NAN, |q| q.margin_k) + shift)
            };
            search(&value, verdict.margin_k, seconds)
        })
        .collect();
    for ((v, index), extra) in open.iter().zip(found?) {
        trace.verdicts[*v].margin_s = extra;
        trace.verdicts[*v].margin_stage = extra.map(|_| plan.stages[*index].name.clone());
    }
    Ok(())
}

/// The hand-over whose length the margin of a verdict is about: the stage of the moment if it is
/// one, else the last one before it. Only minima depend on waiting in the sense that more time
/// breaks them.
fn hand_over(plan: &Plan, verdict: &Verdict) -> Option<usize> {
    if !matches!(verdict.limit.bound, Bound::MinC(_)) {
        return None;
    }
    // Stage 0 of a trace is the heater.
    let at = verdict.stage.checked_sub(1)?;
    let starts_here = verdict.moment == Moment::Start;
    (0..plan.stages.len())
        .take(at + 1)
        .rev()
        .filter(|i| *i < at || !starts_here)
        .find(|i| is_hand_over(&plan.stages[*i].kind))
}

/// Whether the length of a stage is free to vary.
pub(crate) fn is_hand_over(kind: &StageKind) -> bool {
    matches!(
        kind,
        StageKind::Carry { .. } | StageKind::Wait { .. } | StageKind::Rest { .. } | StageKind::Cool(_)
    )
}

/// Sets the length of a hand-over.
pub(crate) fn set_seconds(kind: &mut StageKind, to: f64) {
    match kind {
        StageKind::Carry { seconds, .. }
        | StageKind::Wait { seconds }
        | StageKind::Rest { seconds, .. }
        | StageKind::Descale { seconds, .. } => *seconds = to,
        StageKind::Cool(cool) => cool.seconds = to,
        StageKind::Forge(_) | StageKind::Trim(_) => {}
    }
}

/// Extra time at which `value` reaches zero, given its value at no extra time; `None` when there
/// is none between an empty stage and [`LONGEST_S`]. Secant steps kept inside a bracket.
fn search(value: &dyn Fn(f64) -> Result<f64, RunError>, at_zero: f64, seconds: f64) -> Result<Option<f64>, RunError> {
    let positive = at_zero >= 0.0;
    // First probe: what 5 K/s would take, the surface rate of a 60 mm bar.
    let mut probe = if positive {
        (at_zero / 5.0).clamp(0.2, 20.0)
    } else {
        (at_zero / 5.0).max(-seconds)
    };
    let (mut a, mut fa) = (0.0, at_zero);
    let mut runs = 0;
    // Widen until the sign changes.
    let (mut b, mut fb) = loop {
        let f = value(probe)?;
        runs += 1;
        if f.is_nan() {
            return Ok(None);
        }
        if (f >= 0.0) != positive {
            break (probe, f);
        }
        let slope = (f - fa) / (probe - a);
        (a, fa) = (probe, f);
        let next = if slope < 0.0 {
            probe - 1.15 * f / slope
        } else if positive {
            4.0 * probe
        } else {
            -seconds
        };
        let next = if positive {
            next.clamp(1.3 * probe, 6.0 * probe + 1.0)
        } else {
            next.min(probe - 0.05).max(-seconds)
        };
        let exhausted = if positive {
            probe >= LONGEST_S
        } else {
            probe <= -seconds
        };
        if exhausted || runs >= RUNS {
            return Ok(None);
        }
        probe = if positive {
            next.min(LONGEST_S)
        } else {
            next.max(-seconds)
        };
    };
    while (b - a).abs() > 0.005 && runs < RUNS {
        let mut x = (a * fb - b * fa) / (fb - fa);
        let (low, high) = (a.min(b), a.max(b));
        if !(x > low && x < high) {
            x = 0.5 * (a + b);
        }
        let f = value(x)?;
        runs += 1;
        if f.abs() < 0.05 {
            return Ok(Some(x));
        }
        if (f >= 0.0) == (fa >= 0.0) {
            (a, fa) = (x, f);
            fb *= 0.5;
        } else {
            (b, fb) = (x, f);
            fa *= 0.5;
        }
    }
    Ok(Some(0.5 * (a + b)))
}
