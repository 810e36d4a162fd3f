//! The answers: first good part, steady state, preheat, breaks.

use super::pipeline;
use super::preheat::preheat;
use super::result::{AfterBreak, FromHot, Steady, WARMUP_SCHEMA, WarmPart, Warmup};
use super::shift::{Shift, dies};
use super::{WarmupError, WarmupOptions};
use crate::die::settle::{Bounds, Settled, TRIAL_K, Takt, largest, settle};
use crate::judge::{Datum, Warning};
use crate::line::plan::Plan;
use crate::line::run::RunError;
use crate::line::run::tooling::Tooling;

/// Bounds of the search for the steady state.
const BOUNDS: Bounds = Bounds {
    tolerance_k: 0.3,
    evaluations: 80,
    takts: 200_000,
};

/// Faces this near to the steady ones count as warm, K.
const NEAR_K: f64 = 5.0;

/// States from cold and from hot dies no farther apart than this count as one, K: each is found to
/// [`BOUNDS`] and where a spray bends a little makes much.
const SAME_K: f64 = 2.0;

/// Parts on hot dies before the search for where they end.
const HOT_PARTS: usize = 5;

pub(super) fn all(shift: &Shift<'_>, options: &WarmupOptions) -> Result<Warmup, WarmupError> {
    let plan = shift.plan;
    let mut tooling = shift.cold(options.preheat_c);
    let first = shift.part(1, &mut tooling)?;
    shift.idle(&mut tooling, 0.0)?;
    let dies = shift.names(&tooling, &first);
    // Preheat heats dies, no jaws.
    let hot_work = dies.iter().filter(|d| d.tempering_c.is_some());
    let coldest_c = hot_work.map(|d| d.start_c).fold(f64::NAN, f64::min);
    let after_first = tooling.clone();
    // What starts from cold dies and what starts from hot ones can go side by side.
    let (onwards, aside) = rayon::join(
        || follow(shift, &first, tooling, options),
        || {
            let preheat = match options.preheat {
                true => Some(preheat(shift, &first, coldest_c)?),
                false => None,
            };
            let hot = match options.steady && sprays_bend(plan) {
                true => Some(from_hot(shift, &after_first)?),
                false => None,
            };
            Ok::<_, RunError>((preheat, hot))
        },
    );
    let (parts, mut steady, tooling) = onwards?;
    let (preheat, hot) = aside?;
    let bad = parts.iter().rposition(|part| !part.good);
    let first_good = match bad {
        None => Some(1),
        Some(at) if at + 1 < parts.len() => Some(parts[at + 1].number),
        Some(_) => None,
    };
    if let (Some(steady), Some((start_c, hot))) = (&mut steady, hot) {
        let apart_k = largest(&state(&tooling), &hot.state);
        steady.from_hot = Some(FromHot {
            start_c,
            apart_k,
            same: apart_k <= SAME_K,
            part: hot.part,
            evaluations: hot.evaluations + HOT_PARTS,
            converged: hot.converged,
        });
    }
    let breaks = options
        .breaks_min
        .iter()
        .map(|minutes| after_break(shift, &tooling, *minutes, options.parts))
        .collect::<Result<_, _>>()?;
    let mut warnings = plan.warnings.clone();
    warnings.extend(tempering(&dies, &parts, steady.as_ref()));
    Ok(Warmup {
        schema_version: WARMUP_SCHEMA,
        program: concat!("billet-thermal ", env!("CARGO_PKG_VERSION")).to_owned(),
        title: plan.title.clone(),
        resolution: shift.resolution().to_owned(),
        takt_s: shift.takt_s,
        dies,
        parts,
        first_good,
        steady,
        preheat,
        breaks,
        warnings,
        inputs: plan.records(),
    })
}

fn near(part: &WarmPart, steady: &WarmPart) -> bool {
    part.faces
        .iter()
        .zip(&steady.faces)
        .all(|(a, b)| (a.before_c - b.before_c).abs() <= NEAR_K)
}

/// Temperatures of all tools in one line.
fn state(tooling: &Tooling) -> Vec<f64> {
    tooling
        .kept
        .iter()
        .flat_map(|kept| kept.ground.temperatures())
        .collect()
}

fn with_state(tooling: &Tooling, temps_c: &[f64]) -> Tooling {
    let mut tooling = tooling.clone();
    let mut rest = temps_c;
    for kept in &mut tooling.kept {
        let (own, after) = rest.split_at(kept.ground.cells());
        kept.ground.set_temperatures(own);
        rest = after;
    }
    tooling
}

/// The parts after the first, and the state that repeats; the tools that wait in that, or else after the
/// last part.
fn follow(
    shift: &Shift<'_>,
    first: &WarmPart,
    tooling: Tooling,
    options: &WarmupOptions,
) -> Result<(Vec<WarmPart>, Option<Steady>, Tooling), RunError> {
    let mut parts = vec![first.clone()];
    let (later, tooling) = pipeline::parts(shift, 2..=options.parts, tooling)?;
    parts.extend(later);
    if !options.steady {
        return Ok((parts, None, tooling));
    }
    let found = repeating(shift, &tooling)?;
    let near = parts.iter().find(|part| near(part, &found.part)).map(|p| p.number);
    // The search starts with the part after the last; its first takt ends with the one after that.
    let later = options.parts + 2 + u32::try_from(found.near_from).unwrap_or(u32::MAX / 2);
    let waiting = with_state(&tooling, &found.state);
    let steady = Steady {
        part: found.part,
        evaluations: found.evaluations,
        residual_k: found.residual_k,
        distance_k: found.distance_k,
        converged: found.converged,
        near_from: near.unwrap_or(later),
        from_hot: None,
    };
    Ok((parts, Some(steady), waiting))
}

/// The state that repeats, starting from tools that wait for a part.
fn repeating(shift: &Shift<'_>, start: &Tooling) -> Result<Settled<WarmPart>, RunError> {
    let takt = |x: &[f64]| {
        let mut tooling = with_state(start, x);
        let part = shift.part(0, &mut tooling)?;
        let left = tooling.clone();
        shift.idle(&mut tooling, 0.0)?;
        let (after, left_c) = (state(&tooling), state(&left));
        let takt = Takt {
            left: left_c,
            after,
            part,
        };
        Ok::<_, RunError>((takt, left))
    };
    let from = state(start);
    let warmer: Vec<f64> = from.iter().map(|t| t + TRIAL_K).collect();
    let (first, trial) = rayon::join(|| takt(&from), || takt(&warmer));
    let ((first, left), (trial, _)) = (first?, trial?);
    let real = |x: &[f64]| takt(x).map(|(takt, _)| takt);
    settle(shift.copies(&left), &from, first, &trial.left, BOUNDS, NEAR_K, real)
}

/// Whether a die is sprayed by the law that falls when the face is too hot to wet, so that there may be
/// more than one state that repeats.
fn sprays_bend(plan: &Plan) -> bool {
    let sprays = (0..plan.stages.len()).filter_map(|index| dies(plan, index)?.spray);
    sprays.into_iter().any(|spray| spray.film_w_m2k.is_none())
}

/// The state that repeats, starting from dies at their tempering limit all through: that temperature, the
/// search and the state.
fn from_hot(shift: &Shift<'_>, waiting: &Tooling) -> Result<(f64, Settled<WarmPart>), RunError> {
    let mut tooling = waiting.clone();
    let mut start_c = f64::NEG_INFINITY;
    for kept in tooling.kept.iter_mut().filter(|kept| kept.gripper.is_none()) {
        if let Some(dies) = dies(shift.plan, kept.stage) {
            start_c = start_c.max(dies.tempering_c);
            let cells = kept.ground.cells();
            kept.ground.set_temperatures(&vec![dies.tempering_c; cells]);
        }
    }
    // The first parts change so much that only real ones tell which places stay hot.
    for _ in 0..HOT_PARTS {
        shift.part(0, &mut tooling)?;
        shift.idle(&mut tooling, 0.0)?;
    }
    Ok((start_c, repeating(shift, &tooling)?))
}

/// A break on top of the takt, then parts until one is good.
fn after_break(shift: &Shift<'_>, waiting: &Tooling, minutes: f64, most: u32) -> Result<AfterBreak, RunError> {
    let mut tooling = waiting.clone();
    for kept in &mut tooling.kept {
        let air = kept.air.clone();
        kept.ground
            .rest(60.0 * minutes, &air, shift.step_k())
            .map_err(|source| RunError::Solve {
                stage: shift.plan.stages[kept.stage].name.clone(),
                source,
            })?;
    }
    let mut parts = Vec::new();
    let mut first_good = None;
    for number in 1..=most {
        let part = shift.part(number, &mut tooling)?;
        shift.idle(&mut tooling, 0.0)?;
        let good = part.good;
        parts.push(part);
        if good {
            first_good = Some(number);
            break;
        }
    }
    Ok(AfterBreak {
        minutes,
        parts,
        first_good,
    })
}

/// Warnings for faces above the tempering limit.
fn tempering(names: &[super::DieName], parts: &[WarmPart], steady: Option<&Steady>) -> Vec<Warning> {
    let mut warnings = Vec::new();
    for (index, name) in names.iter().enumerate() {
        let Some(limit) = name.tempering_c else { continue };
        let first = parts.iter().find(|part| part.faces[index].peak_c > limit);
        let peak = steady
            .map(|s| s.part.faces[index].peak_c)
            .or(parts.last().map(|p| p.faces[index].peak_c));
        let Some(peak) = peak.filter(|peak| first.is_some() || *peak > limit) else {
            continue;
        };
        let since = first.map_or_else(
            || "in steady work".to_owned(),
            |part| format!("from part {} on", part.number),
        );
        let message = format!(
            "{} of `{}`: the hottest place of the face goes above the tempering limit of {limit:.0} degC {since}; \
             {peak:.0} degC at the end. Repeated, that softens the steel",
            name.body, name.stage
        );
        let mut warning = Warning::new("die-above-tempering", message);
        warning
            .tell("tool", Datum::Term(name.body.clone()))
            .tell("stage", Datum::Name(name.stage.clone()))
            .tell("limit", Datum::Celsius(limit))
            .tell("peak", Datum::Celsius(peak));
        warnings.push(warning);
    }
    warnings
}
