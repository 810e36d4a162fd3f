//! How long each hand-over may take, and each place where a stop may hold a part.

use rayon::prelude::*;
use serde::Serialize;

use super::curve::Look;
use super::failure::Failure;
use super::model::{Change, Handover, Model, Outcome};
use super::risk::{GuardLine, Guards, Risk};
use super::sensitivity::sensitivity;
use super::times::{Slider, Times, TimesOptions};
use super::uncertainty::Scattered;
use crate::judge::Kind;

/// Times of one hand-over.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HandOverTimes {
    /// Name of the stage.
    pub stage: String,
    /// Kind of the stage.
    pub kind: Kind,
    /// Path of its seconds.
    pub path: String,
    /// Planned seconds.
    pub planned_s: f64,
    /// All else as planned.
    pub alone: Times,
    /// All other times at their worst: late for the latest time, early for the earliest; `None` when no
    /// other time has a stated scatter.
    pub others_worst: Option<Times>,
    /// With the guard band for the reject risk; `None` without stated uncertainties.
    pub reject: Option<Times>,
    /// With the wider guard band for the alarm risk.
    pub alarm: Option<Times>,
    /// Margin in K of every limit at the planned seconds.
    pub margins_k: Vec<f64>,
    /// Change of every margin per second of delay, K/s: the sensitivity to the planned seconds.
    pub k_per_s: Vec<f64>,
    /// Runs of the full model that it took.
    pub runs: usize,
}

impl HandOverTimes {
    /// Times that an instruction may state: with the reject guard where uncertainties are stated.
    #[must_use]
    pub fn stated(&self) -> &Times {
        self.reject.as_ref().unwrap_or(&self.alone)
    }

    /// What to do with a part that took `seconds`.
    #[must_use]
    pub fn state(&self, seconds: f64) -> State {
        State::of(self.stated(), self.alarm.as_ref(), seconds)
    }
}

/// What to do with a part after some seconds in a stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum State {
    /// Go on.
    Good,
    /// Too hot: wait until the earliest time.
    Wait,
    /// Inside the guard band for the alarm risk: call the shift leader.
    Alarm,
    /// The risk of a bad part is above the reject risk.
    Reject,
}

impl State {
    /// What to do with a part that took `seconds` where `stated` times hold and `alarm` times keep the
    /// wider guard band.
    #[must_use]
    pub fn of(stated: &Times, alarm: Option<&Times>, seconds: f64) -> State {
        if !stated.holds_at(seconds) {
            return match stated.earliest() {
                Some(edge) if seconds < edge.seconds => State::Wait,
                _ => State::Reject,
            };
        }
        match alarm {
            Some(alarm) if !alarm.holds_at(seconds) => State::Alarm,
            _ => State::Good,
        }
    }

    /// The word of tables and results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            State::Good => "good",
            State::Wait => "wait",
            State::Alarm => "alarm",
            State::Reject => "reject",
        }
    }
}

/// What is known of the scatter of the inputs.
#[derive(Debug, Clone, Copy, Default)]
pub struct Uncertain<'a> {
    /// Inputs that scatter.
    pub scattered: &'a [Scattered],
    /// What they make of each limit; `None` for bare limits.
    pub risk: Option<&'a Risk>,
}

/// Seconds beyond the planned ones at which the guard band is found where no limit ends the time.
const FAR_S: f64 = 60.0;

/// A guard band is found anew where it is needed farther from the places where it is known than this share
/// of the time between them.
const FAR_OFF: f64 = 0.1;

/// What all limits allow with the guard bands for the reject and for the alarm risk. The bands are found at
/// the planned seconds, at the ends of the `bare` times and where the part is rejected.
///
/// # Errors
/// A run that fails.
pub(crate) fn guarded(
    slider: &mut Slider,
    model: &dyn Model,
    risk: &Risk,
    (path, planned_s): (&str, f64),
    bare: &Times,
) -> Result<(Times, Times), Failure> {
    let known = [path];
    let flat = risk.guards(&known);
    let at = |seconds: f64| -> Result<(f64, Guards), Failure> {
        let change = [Change::new(path, seconds)];
        Ok((seconds, risk.guards_at(model, &known, &change, &flat)?))
    };
    let mut found = vec![(planned_s, flat.clone())];
    let ends = [
        bare.earliest().map(|edge| edge.seconds),
        Some(bare.latest().map_or(planned_s + FAR_S, |edge| edge.seconds)),
    ];
    let ends = ends.into_iter().flatten().filter(|s| (s - planned_s).abs() > 0.01);
    let more: Vec<_> = ends.collect::<Vec<f64>>().into_par_iter().map(at).collect();
    for one in more {
        found.push(one?);
    }
    let first = slider.guarded(&GuardLine::through(&found).0)?;
    let edges = [first.earliest(), first.latest()].into_iter().flatten();
    let spread = found.iter().map(|(s, _)| (s - planned_s).abs()).fold(0.0_f64, f64::max);
    let far = |s: &f64| found.iter().all(|(at, _)| (at - s).abs() > FAR_OFF * spread);
    let more: Vec<_> = edges.map(|edge| edge.seconds).filter(far).collect();
    for seconds in more {
        found.push(at(seconds)?);
    }
    let (reject, alarm) = GuardLine::through(&found);
    Ok((slider.guarded(&reject)?, slider.guarded(&alarm)?))
}

/// Times of every hand-over of the model. `cheap` may be a coarser model of the same line.
///
/// # Errors
/// [`Failure`] of the first hand-over, in the order of the line, that has no answer.
pub fn hand_over_times(
    model: &dyn Model,
    cheap: Option<&dyn Model>,
    nominal: &Outcome,
    spread: &Uncertain,
    options: &TimesOptions,
) -> Result<Vec<HandOverTimes>, Failure> {
    let all: Vec<_> = model
        .handovers()
        .par_iter()
        .map(|handover| one((model, cheap), nominal, handover, spread, options))
        .collect();
    all.into_iter().collect()
}

fn one(
    models: (&dyn Model, Option<&dyn Model>),
    nominal: &Outcome,
    handover: &Handover,
    spread: &Uncertain,
    options: &TimesOptions,
) -> Result<HandOverTimes, Failure> {
    let seconds = (handover.seconds, handover.least_s);
    let margins = Some(nominal.margins_k());
    let mut slider = Slider::new(models, &handover.path, seconds, Vec::new(), margins, *options)?;
    let alone = slider.of_all()?;
    let k_per_s = sensitivity(models, &handover.path, nominal)?.margin_per_unit;
    let (reject, alarm) = match spread.risk {
        Some(risk) => {
            let place = (handover.path.as_str(), handover.seconds);
            let (reject, alarm) = guarded(&mut slider, models.1.unwrap_or(models.0), risk, place, &alone)?;
            (Some(reject), Some(alarm))
        }
        None => (None, None),
    };
    // The sensitivity is one run.
    let mut runs = slider.runs() + 1;
    let mut at_worst = |late: bool| -> Result<Option<Times>, Failure> {
        let others: Vec<Change> = spread
            .scattered
            .iter()
            .filter(|s| s.is_time() && s.path != handover.path)
            .map(|s| {
                let worst = s.worst(late);
                let worst = if late {
                    worst.max(s.nominal)
                } else {
                    worst.min(s.nominal)
                };
                Change::new(s.path.clone(), worst)
            })
            .collect();
        if others.is_empty() {
            return Ok(None);
        }
        let mut slider = Slider::new(models, &handover.path, seconds, others, None, *options)?;
        let found = slider.of_all()?;
        runs += slider.runs();
        Ok(Some(found))
    };
    let late = at_worst(true)?;
    // Early others matter only where something sets an earliest time.
    let early = match (&alone, &late) {
        (Times::Between { earliest: Some(_), .. }, Some(_)) => at_worst(false)?,
        _ => None,
    };
    let others_worst = match (late, early) {
        (Some(never @ Times::Never { .. }), _) | (_, Some(never @ Times::Never { .. })) => Some(never),
        // Late others may help, where an edge takes heat back from the inside: what is told holds with planned ones too.
        (Some(late), early) => {
            let all = [Some(late), early].into_iter().flatten();
            Some(all.fold(alone, |times, others| times.and(others, slider.margins_k())))
        }
        (None, _) => None,
    };
    Ok(HandOverTimes {
        stage: handover.stage.clone(),
        kind: handover.kind,
        path: handover.path.clone(),
        planned_s: handover.seconds,
        alone,
        others_worst,
        reject,
        alarm,
        margins_k: slider.margins_k().to_vec(),
        k_per_s,
        runs,
    })
}

/// A pair of seconds in two hand-overs that together hold, with the ends of the second.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Pair {
    /// Seconds of the first hand-over.
    pub first_s: f64,
    /// What the second may take then.
    pub second: Times,
}

/// What the second hand-over may take when the first takes from its earliest (or planned) to its
/// latest seconds; empty where no limit sets a latest time of the first.
///
/// # Errors
/// As [`hand_over_times`].
pub fn pairs(
    models: (&dyn Model, Option<&dyn Model>),
    nominal: &Outcome,
    first: &Handover,
    second: &Handover,
    points: u32,
    options: &TimesOptions,
) -> Result<Vec<Pair>, Failure> {
    let seconds = (first.seconds, first.least_s);
    let margins = Some(nominal.margins_k());
    let alone = Slider::new(models, &first.path, seconds, Vec::new(), margins, *options)?.of_all()?;
    let Some(latest) = alone.latest() else {
        return Ok(Vec::new());
    };
    let from = alone
        .earliest()
        .map_or(first.seconds.min(latest.seconds), |edge| edge.seconds);
    let found: Vec<_> = (0..=points)
        .into_par_iter()
        .map(|k| {
            let first_s = from + (latest.seconds - from) * f64::from(k) / f64::from(points.max(1));
            let others = vec![Change::new(first.path.clone(), first_s)];
            let seconds = (second.seconds, second.least_s);
            let second = Slider::new(models, &second.path, seconds, others, None, *options)?.of_all()?;
            Ok(Pair { first_s, second })
        })
        .collect::<Vec<Result<_, Failure>>>();
    found.into_iter().collect()
}

/// Times of one hand-over at several exit temperatures, by limit: the chart of time against exit
/// temperature.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExitChart {
    /// Exit temperatures in degC.
    pub exit_c: Vec<f64>,
    /// For each exit temperature, one entry per limit.
    pub by_limit: Vec<Vec<Times>>,
    /// For each exit temperature, all limits together.
    pub all: Vec<Times>,
}

/// Makes the chart.
///
/// # Errors
/// As [`hand_over_times`]; a line whose exit temperature is not an input.
pub fn exit_chart(
    model: &dyn Model,
    handover: &Handover,
    exit_c: &[f64],
    options: &TimesOptions,
) -> Result<ExitChart, Failure> {
    let exit = model.exit_inputs().ok_or_else(Failure::no_exit)?;
    let rows: Vec<_> = exit_c
        .par_iter()
        .map(|&temperature| {
            let seconds = (handover.seconds, handover.least_s);
            let others = exit.at(temperature);
            let mut slider = Slider::new((model, None), &handover.path, seconds, others, None, *options)?;
            let by_limit = (0..slider.margins_k().len())
                .map(|limit| slider.of_limit(limit, &GuardLine::default(), Look::Near))
                .collect::<Result<Vec<_>, _>>()?;
            Ok((by_limit, slider.of_all()?))
        })
        .collect::<Vec<Result<_, Failure>>>();
    let mut chart = ExitChart {
        exit_c: exit_c.to_vec(),
        by_limit: Vec::new(),
        all: Vec::new(),
    };
    for row in rows {
        let (by_limit, all) = row?;
        chart.by_limit.push(by_limit);
        chart.all.push(all);
    }
    Ok(chart)
}

#[cfg(test)]
mod tests {
    use crate::ask::enquiry::Enquiry;
    use crate::ask::model::Model;
    use crate::ask::sensitivity::sensitivities;
    use crate::line::file::Document;

    /// The change per second beside the seconds of a hand-over is the number that the sensitivities print.
    #[test]
    fn a_second_of_a_hand_over_is_told_once() {
        let line = "title = \"x\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 50\nlength_mm = 80\n\
            [heater]\nkind = \"measured\"\ntemperature_c = 1220\n\
            [[stage]]\nkind = \"carry\"\nname = \"carry\"\nseconds = 3\n\
            [[stage]]\nkind = \"carry\"\nname = \"further\"\nseconds = 2\n\
            [[limit]]\nnode = \"coldest\"\nmin_c = 900\nstage = \"further\"\nmoment = \"end\"\nsource = \"x\"\n";
        let enquiry = Enquiry::new(Document::parse(line, "x.toml").unwrap(), None).unwrap();
        assert!(enquiry.cheap().is_some());
        let planned = enquiry.planned().unwrap();
        let times = enquiry.judged().unwrap().times().unwrap();
        let paths: Vec<String> = enquiry.model.handovers().iter().map(|h| h.path.clone()).collect();
        assert_eq!(paths.len(), 2);
        let found = sensitivities((&enquiry.model, enquiry.cheap()), &paths, &planned).unwrap();
        for (of, found) in times.iter().zip(&found) {
            assert_eq!((&of.path, &of.k_per_s), (&found.path, &found.margin_per_unit));
            assert!(of.k_per_s[0] < -1.0, "{:?}", of.k_per_s);
        }
    }
}
