//! How long each hand-over may take before a limit breaks.

use rayon::prelude::*;
use serde::Serialize;

use super::curve::Curve;
use super::failure::Failure;
use super::model::{Change, Handover, Model, Outcome};
use super::root::LimitOutcome;
use super::uncertainty::{Scattered, Uncertainty};

/// Extra seconds until the first limit breaks.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Allowed {
    /// This much, on the safe side of the crossing.
    Extra {
        /// Extra seconds that still hold.
        seconds: f64,
        /// Index of the limit that breaks first.
        limit: usize,
    },
    /// None: a limit is broken (or its guard band used up) without any delay.
    Broken {
        /// Index of the limit.
        limit: usize,
        /// Margin in K, guard band taken off.
        margin_k: f64,
    },
    /// Any: nothing breaks within the seconds searched.
    Endless {
        /// Seconds searched.
        searched_s: f64,
    },
}

impl Allowed {
    /// Extra seconds, where there is such a number.
    #[must_use]
    pub fn seconds(&self) -> Option<f64> {
        match self {
            Self::Extra { seconds, .. } => Some(*seconds),
            _ => None,
        }
    }

    /// Index of the limit that decides, where there is one.
    #[must_use]
    pub fn limit(&self) -> Option<usize> {
        match self {
            Self::Extra { limit, .. } | Self::Broken { limit, .. } => Some(*limit),
            Self::Endless { .. } => None,
        }
    }
}

/// Times of one hand-over.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DelayLimit {
    /// Name of the stage.
    pub stage: String,
    /// Path of its seconds.
    pub path: String,
    /// Nominal seconds.
    pub nominal_s: f64,
    /// All else nominal.
    pub nominal: Allowed,
    /// All other times at their worst; `None` when no other time has a stated scatter.
    pub worst: Option<Allowed>,
    /// With the guard band for the reject risk; `None` without stated uncertainties. Guarded times
    /// are read off the curve of the searches above, without a run of their own.
    pub reject: Option<Allowed>,
    /// With the wider guard band for the alarm risk.
    pub alarm: Option<Allowed>,
    /// Extra seconds for each limit alone, all else nominal.
    pub by_limit: Vec<Allowed>,
    /// Margin in K, at the nominal time, of the limit that decides; `None` where nothing breaks.
    pub margin_k: Option<f64>,
    /// Change of that margin per second, K/s.
    pub k_per_s: f64,
    /// A broken limit that more time would mend (a part too hot for its tool) and the extra seconds
    /// that mend it; the largest such, `None` where nothing needs waiting for.
    pub wait: Option<(f64, usize)>,
    /// Runs of the full model that it took.
    pub runs: usize,
}

/// Options of [`delay_limits`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DelayOptions {
    /// Risk that a part at the reject time is bad (default 0.05).
    pub reject_risk: f64,
    /// Risk that a part at the alarm time is bad (default 0.00135, three standard deviations).
    pub alarm_risk: f64,
    /// Longest delay searched, s (default 600).
    pub longest_s: f64,
    /// Tolerance of a delay, s (default 0.005).
    pub tolerance_s: f64,
    /// Whether to find the delay of every limit alone (more runs).
    pub each_limit: bool,
}

impl Default for DelayOptions {
    fn default() -> Self {
        Self {
            reject_risk: 0.05,
            alarm_risk: 0.001_35,
            longest_s: 600.0,
            tolerance_s: 0.005,
            each_limit: true,
        }
    }
}

/// Delay limits of every hand-over of the model. `cheap` may be a coarser model of the same line.
///
/// # Errors
/// [`Failure`] of the first hand-over, in the order of the line, that has no answer.
pub fn delay_limits(
    model: &dyn Model,
    cheap: Option<&dyn Model>,
    nominal: &Outcome,
    scattered: &[Scattered],
    uncertainty: Option<&Uncertainty>,
    options: &DelayOptions,
) -> Result<Vec<DelayLimit>, Failure> {
    let all: Vec<_> = model
        .handovers()
        .par_iter()
        .map(|handover| one(model, cheap, nominal, handover, scattered, uncertainty, options))
        .collect();
    all.into_iter().collect()
}

fn one(
    model: &dyn Model,
    cheap: Option<&dyn Model>,
    nominal: &Outcome,
    handover: &Handover,
    scattered: &[Scattered],
    uncertainty: Option<&Uncertainty>,
    options: &DelayOptions,
) -> Result<DelayLimit, Failure> {
    let extra = |delay: f64| Change::new(handover.path.clone(), handover.seconds + delay);
    let mut curve = Curve::new(model, cheap, move |delay| vec![extra(delay)]);
    curve.know(0.0, nominal.margins_k());
    let limits = nominal.verdicts.len();
    let none = vec![0.0; limits];
    let counts = breakable(&mut curve)?;
    let first = allowed(&mut curve, &none, &counts, options, true)?;
    let (reject, alarm) = match uncertainty {
        Some(u) => {
            let guard = u.guard_k(options.reject_risk, &[&handover.path], None)?;
            let wide = u.guard_k(options.alarm_risk, &[&handover.path], None)?;
            (
                Some(allowed(&mut curve, &guard, &counts, options, false)?),
                Some(allowed(&mut curve, &wide, &counts, options, false)?),
            )
        }
        None => (None, None),
    };
    let mut by_limit = Vec::new();
    if options.each_limit {
        for limit in 0..limits {
            let alone: Vec<bool> = (0..limits).map(|k| k == limit && counts[k]).collect();
            by_limit.push(allowed(&mut curve, &none, &alone, options, true)?);
        }
    }
    let step = options.tolerance_s.max(0.1);
    let (here, later) = (curve.near(0.0)?, curve.near(step)?);
    let decides = first.limit();
    let wait = waiting(&mut curve, &counts, options)?;
    let others: Vec<Change> = scattered
        .iter()
        .filter(|s| s.is_time() && s.path != handover.path)
        .map(|s| Change::new(s.path.clone(), s.worst(true).max(s.nominal)))
        .collect();
    let mut runs = curve.runs();
    let shift = curve.last_shift();
    let worst = if others.is_empty() {
        None
    } else {
        let mut curve = Curve::new(model, cheap, move |delay| {
            let mut changes = others.clone();
            changes.push(extra(delay));
            changes
        });
        curve.shift_first(shift);
        let found = allowed(&mut curve, &none, &counts, options, true)?;
        runs += curve.runs();
        Some(found)
    };
    Ok(DelayLimit {
        stage: handover.stage.clone(),
        path: handover.path.clone(),
        nominal_s: handover.seconds,
        nominal: first,
        worst,
        reject,
        alarm,
        by_limit,
        margin_k: decides.map(|k| here[k]),
        k_per_s: decides.map_or(0.0, |k| (later[k] - here[k]) / step),
        wait,
        runs,
    })
}

/// Which limits a delay can break: those whose margin falls with it. A part too hot for its tool is
/// mended by waiting, and a limit of an earlier moment does not feel it.
pub(crate) fn breakable(curve: &mut Curve) -> Result<Vec<bool>, Failure> {
    let (now, later) = (curve.near(0.0)?, curve.near(FIRST_STEP_S)?);
    Ok(now.iter().zip(&later).map(|(n, l)| n - l > 0.01).collect())
}

/// First step of the searches, s.
const FIRST_STEP_S: f64 = 4.0;

/// Extra seconds that mend what waiting can mend, the longest over the broken limits.
fn waiting(curve: &mut Curve, counts: &[bool], options: &DelayOptions) -> Result<Option<(f64, usize)>, Failure> {
    let now = curve.near(0.0)?;
    let mut longest: Option<(f64, usize)> = None;
    for limit in (0..now.len()).filter(|&k| !counts[k] && now[k] < 0.0) {
        let measure = |margins: &[f64]| -margins[limit];
        let way = (0.0, FIRST_STEP_S, options.longest_s);
        let outcome = curve.crossing(&measure, way, options.tolerance_s, true)?;
        if let LimitOutcome::Limit { breaks, .. } = outcome
            && longest.is_none_or(|(seconds, _)| breaks > seconds)
        {
            longest = Some((breaks, limit));
        }
    }
    Ok(longest)
}

/// The counted limit with the smallest margin after taking off the guard, and that margin.
fn smallest(margins: &[f64], guard: &[f64], counts: &[bool]) -> (usize, f64) {
    let mut best = (0, f64::INFINITY);
    for (limit, (m, g)) in margins.iter().zip(guard).enumerate() {
        if counts[limit] && m - g < best.1 {
            best = (limit, m - g);
        }
    }
    best
}

pub(crate) fn allowed(
    curve: &mut Curve,
    guard: &[f64],
    counts: &[bool],
    options: &DelayOptions,
    confirm: bool,
) -> Result<Allowed, Failure> {
    let measure = |margins: &[f64]| smallest(margins, guard, counts).1;
    let way = (0.0, FIRST_STEP_S, options.longest_s);
    let outcome = curve.crossing(&measure, way, options.tolerance_s, confirm)?;
    Ok(match outcome {
        LimitOutcome::AlreadyBroken { .. } => {
            let (limit, margin_k) = smallest(&curve.exact(0.0)?, guard, counts);
            Allowed::Broken { limit, margin_k }
        }
        LimitOutcome::NeverBreaks { end, .. } => Allowed::Endless { searched_s: end },
        LimitOutcome::Limit { holds, breaks, .. } => Allowed::Extra {
            seconds: holds,
            limit: smallest(&curve.near(breaks)?, guard, counts).0,
        },
    })
}

/// Pairs of extra seconds in two hand-overs that together just hold.
///
/// # Errors
/// As [`delay_limits`].
pub fn combined(
    model: &dyn Model,
    cheap: Option<&dyn Model>,
    first: &Handover,
    second: &Handover,
    points: u32,
    options: &DelayOptions,
) -> Result<Vec<(f64, f64)>, Failure> {
    let none = vec![0.0; model.limits().len()];
    let alone = |fixed: f64| -> Result<Allowed, Failure> {
        let mut curve = Curve::new(model, cheap, move |delay| {
            vec![
                Change::new(first.path.clone(), first.seconds + fixed),
                Change::new(second.path.clone(), second.seconds + delay),
            ]
        });
        let counts = breakable(&mut curve)?;
        allowed(&mut curve, &none, &counts, options, true)
    };
    let mut curve = Curve::new(model, cheap, move |delay| {
        vec![Change::new(first.path.clone(), first.seconds + delay)]
    });
    let counts = breakable(&mut curve)?;
    let Some(most) = allowed(&mut curve, &none, &counts, options, true)?.seconds() else {
        return Ok(Vec::new());
    };
    let pairs: Vec<_> = (0..=points)
        .into_par_iter()
        .map(|k| {
            let fixed = most * f64::from(k) / f64::from(points.max(1));
            Ok(alone(fixed)?.seconds().map(|s| (fixed, s)))
        })
        .collect::<Vec<Result<_, Failure>>>();
    let mut found = Vec::new();
    for pair in pairs {
        found.extend(pair?);
    }
    Ok(found)
}

/// Allowed extra seconds of one hand-over at several exit temperatures, by limit: the chart of
/// delay against exit temperature.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExitChart {
    /// Exit temperatures in degC.
    pub exit_c: Vec<f64>,
    /// For each exit temperature, one entry per limit.
    pub by_limit: Vec<Vec<Allowed>>,
    /// For each exit temperature, all limits together.
    pub first: Vec<Allowed>,
}

/// Makes the chart.
///
/// # Errors
/// As [`delay_limits`]; a line whose exit temperature is not an input.
pub fn exit_chart(
    model: &dyn Model,
    handover: &Handover,
    exit_c: &[f64],
    options: &DelayOptions,
) -> Result<ExitChart, Failure> {
    let exit = model.exit_inputs().ok_or_else(no_exit)?;
    let none = vec![0.0; model.limits().len()];
    let rows: Vec<_> = exit_c
        .par_iter()
        .map(|&temperature| {
            let mut curve = Curve::new(model, None, move |delay| {
                let mut changes = exit.at(temperature);
                changes.push(Change::new(handover.path.clone(), handover.seconds + delay));
                changes
            });
            let counts = breakable(&mut curve)?;
            let by_limit = (0..none.len())
                .map(|limit| {
                    let alone: Vec<bool> = (0..none.len()).map(|k| k == limit && counts[k]).collect();
                    allowed(&mut curve, &none, &alone, options, true)
                })
                .collect::<Result<Vec<_>, _>>()?;
            Ok((by_limit, allowed(&mut curve, &none, &counts, options, true)?))
        })
        .collect::<Vec<Result<_, Failure>>>();
    let mut chart = ExitChart {
        exit_c: exit_c.to_vec(),
        by_limit: Vec::new(),
        first: Vec::new(),
    };
    for row in rows {
        let (by_limit, first) = row?;
        chart.by_limit.push(by_limit);
        chart.first.push(first);
    }
    Ok(chart)
}

pub(crate) fn no_exit() -> Failure {
    Failure::NothingToDo("the temperature at heater exit is not known: the nominal run of this line fails".to_owned())
}
