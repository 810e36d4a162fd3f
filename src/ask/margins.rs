//! Seconds beside the verdicts of a run: what the hand-over before each moment may take.

use rayon::prelude::*;

use super::curve::Look;
use super::failure::Failure;
use super::line_model::LineModel;
use super::model::Model;
use super::risk::GuardLine;
use super::times::{Slider, Times, TimesOptions};
use crate::judge::{Moment, Verdict};
use crate::line::Trace;
use crate::line::plan::{Plan, Resolution};

/// Fills in the seconds of every verdict of a run of `model`: for each limit that the hand-over
/// leading to its worst moment can break or mend, the same times that the question for that limit
/// gives for that hand-over.
///
/// # Errors
/// [`Failure`] of the first limit whose search has no answer.
pub fn fill_margins(model: &LineModel, trace: &mut Trace) -> Result<(), Failure> {
    let plan = model.document().plan();
    let quick = (model.resolution() != Resolution::Quick).then(|| model.at(Resolution::Quick));
    let cheap = quick.as_ref().map(|quick| quick as &dyn Model);
    let margins: Vec<f64> = trace.verdicts.iter().map(|verdict| verdict.margin_k).collect();
    let found: Vec<Result<Option<(usize, Times)>, Failure>> = trace
        .verdicts
        .par_iter()
        .enumerate()
        .map(|(limit, verdict)| {
            let Some(index) = hand_over(plan, verdict) else {
                return Ok(None);
            };
            let name = &plan.stages[index].name;
            let Some(handover) = model.handovers().iter().position(|h| h.stage == *name) else {
                return Ok(None);
            };
            let of = &model.handovers()[handover];
            let mut slider = Slider::new(
                (model, cheap),
                &of.path,
                (of.seconds, of.least_s),
                Vec::new(),
                Some(margins.clone()),
                TimesOptions::default(),
            )?;
            if !slider.felt()?[limit] {
                return Ok(None);
            }
            Ok(Some((
                handover,
                slider.of_limit(limit, &GuardLine::default(), Look::Full)?,
            )))
        })
        .collect();
    for (verdict, found) in trace.verdicts.iter_mut().zip(found) {
        let Some((handover, times)) = found? else { continue };
        let of = &model.handovers()[handover];
        verdict.earliest_s = times.earliest().map(|edge| edge.seconds);
        verdict.latest_s = times.latest().map(|edge| edge.seconds);
        if verdict.earliest_s.is_some() || verdict.latest_s.is_some() {
            verdict.margin_stage = Some(of.stage.clone());
        }
        verdict.margin_s = match (verdict.latest_s, verdict.earliest_s) {
            (Some(latest), _) => Some(latest - of.seconds),
            // Too hot: how much too short the hand-over is.
            (None, Some(earliest)) if earliest > of.seconds => Some(of.seconds - earliest),
            (None, _) => None,
        };
    }
    Ok(())
}

/// Index of the hand-over that leads to the worst moment of a verdict: the stage of the moment if it
/// is one, else the last one before it.
fn hand_over(plan: &Plan, verdict: &Verdict) -> Option<usize> {
    // Stage 0 of a run is the heater.
    let at = verdict.stage.checked_sub(1)?;
    let starts_here = verdict.moment == Moment::Start;
    let before = |index: &usize| *index < at || (*index == at && !starts_here);
    plan.hand_overs().into_iter().rev().find(before)
}
