//! What a traced history did to the metal, node by node.

use crate::judge::{Kind, Moment};
use serde::Serialize;

use super::{ConditionError, ScaleLaw, cooling_rate, decarburisation, grain::CARBON_MANGANESE, scale, time_above};
use crate::body::Place;
use crate::line::Trace;
use crate::line::trace::{Sample, ScaleRecord};
use crate::steel::Steel;

/// Temperature above which grains of most steels grow within a minute, degC (common practice).
pub const COARSE_C: f64 = 1200.0;
/// Range in which most steels transform, degC.
pub const TRANSFORM_C: (f64, f64) = (800.0, 500.0);
/// Austenite grain before and limit after, um: ASTM 8 and about ASTM 3.5 (common practice).
const GRAIN_UM: (f64, f64) = (22.0, 100.0);

/// A number with the ends of its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spread {
    /// Lower end.
    pub low: f64,
    /// Best value.
    pub typical: f64,
    /// Upper end.
    pub high: f64,
}

/// The metal at one node: from the cold billet on where the heater was computed, else from heater exit on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NodeCondition {
    /// Node name.
    pub node: String,
    /// Time from which on it was followed, s after heater exit.
    pub from_s: f64,
    /// Scale at the end, um, grown since it was last taken off by descaling or by the first blow;
    /// surface nodes of steel only.
    pub scale_um: Option<Spread>,
    /// Depth of metal turned into scale altogether, um.
    pub metal_loss_um: Option<Spread>,
    /// Depth at which the carbon is half that of the steel, um.
    pub decarburised_um: Option<Spread>,
    /// Time above 1200 degC, s.
    pub above_1200_c_s: f64,
    /// Whether grain growth by a law for carbon-manganese steel reaches 100 um from 22 um; an order of
    /// magnitude, without the refinement that forging brings afterwards.
    pub coarse_grain: bool,
    /// Mean cooling rate from 800 to 500 degC, K/s, when it goes through both.
    pub rate_800_500_k_s: Option<f64>,
}

/// The condition at every node that the trace followed, but for coldest and hottest, which wander. What a zone
/// went through before the shape had it is that of the same node of the whole part.
///
/// # Errors
/// A history outside the range of a law.
pub fn of_trace(trace: &Trace, steel: &Steel) -> Result<Vec<NodeCondition>, ConditionError> {
    let ferrous = steel.composition.as_ref().filter(|c| c.scales_like_iron());
    let removed = removals(trace);
    let mut out = Vec::new();
    for (column, node) in trace.nodes.iter().enumerate() {
        let history = history(trace, column, node);
        let Some((_, place)) = Place::of(node).filter(|(_, place)| !place.is_extreme() && history.len() > 1) else {
            continue;
        };
        let at_face = place.is_on_skin();
        let mut condition = NodeCondition {
            node: node.clone(),
            from_s: history[0].0,
            scale_um: None,
            metal_loss_um: None,
            decarburised_um: None,
            above_1200_c_s: time_above(&history, COARSE_C)?,
            coarse_grain: CARBON_MANGANESE.after(&history, GRAIN_UM.0, GRAIN_UM.1)?.coarse,
            rate_800_500_k_s: cooling_rate(&history, TRANSFORM_C.0, TRANSFORM_C.1)?.map(|rate| rate.rate_k_s),
        };
        if let Some(composition) = ferrous.filter(|_| at_face) {
            let (mut loss, mut last) = (0.0, None);
            // Scale that a measured exit brings was grown before anything was followed.
            let mut start_m = trace.scale.first().map_or(0.0, |s| 1e-6 * s.side_um);
            if condition.from_s < 0.0 {
                start_m = 0.0;
            }
            for piece in pieces(&history, &removed) {
                let grown = scale(ScaleLaw::default(), &piece, std::mem::take(&mut start_m))?;
                loss += 1e6 * grown.metal_loss_m;
                last = Some(grown);
            }
            let followed = trace.scale.last().map(|record| followed(record, node));
            condition.scale_um = last.map(|grown| within_two(followed.unwrap_or(1e6 * grown.thickness_m)));
            condition.metal_loss_um = Some(within_two(loss));
            if (0.01..=2.0).contains(&composition.c) {
                let lost = decarburisation(&history, composition.c, 0.5)?;
                condition.decarburised_um = Some(Spread {
                    low: 1e6 * lost.depth_low_m,
                    typical: 1e6 * lost.depth_m,
                    high: 1e6 * lost.depth_high_m,
                });
            }
        }
        out.push(condition);
    }
    Ok(out)
}

/// A value with the factor of two either way by which kinetics of scaling differ.
fn within_two(typical: f64) -> Spread {
    Spread {
        low: 0.5 * typical,
        typical,
        high: 2.0 * typical,
    }
}

/// The scale that the run followed on the surface of a node, um.
fn followed(record: &ScaleRecord, node: &str) -> f64 {
    match Place::of(node) {
        Some((None, Place::GripEnd)) => record.lower_um,
        Some((None, Place::FreeEnd)) => record.upper_um,
        _ => record.side_um,
    }
}

/// The history of a node. Until the shape has the zone of a node, the metal that it will be made of is
/// followed by the same node of the whole part; in a heater that tells of the surface alone, ends and edge
/// are followed by that.
fn history(trace: &Trace, column: usize, node: &str) -> Vec<(f64, f64)> {
    let value = |s: &Sample, column: usize| s.temps_c.get(column).copied().flatten();
    let stand_in = match Place::of(node) {
        Some((None, place)) if place.is_of_ends() => Some(Place::Surface),
        Some((Some(_), place)) => Some(place),
        _ => None,
    };
    let stand_in = stand_in.and_then(|place| trace.nodes.iter().position(|n| n == place.word()));
    // A zone that was cut off does not go on as something else.
    let there = trace
        .samples
        .iter()
        .position(|s| s.time_s >= 0.0 && value(s, column).is_some());
    let samples = trace.samples.iter().enumerate();
    let history: Vec<(f64, f64)> = samples
        .filter_map(|(i, s)| {
            let other = stand_in.filter(|_| there.is_some_and(|first| i < first));
            let temp_c = value(s, column).or_else(|| value(s, other?))?;
            Some((s.time_s, temp_c))
        })
        .collect();
    let own = trace.samples.iter().filter(|s| value(s, column).is_some());
    if own.count() < 2 { Vec::new() } else { history }
}

/// Times at which scale comes off: the end of each descaling, and the first blow of all.
fn removals(trace: &Trace) -> Vec<f64> {
    let mut times: Vec<f64> = trace
        .stages
        .iter()
        .filter(|s| s.kind == Kind::Descale)
        .map(|s| s.end_s)
        .collect();
    let first_blow = trace
        .moments
        .iter()
        .find(|m| m.moment == Moment::Blow(1) && trace.stages.get(m.stage).is_some_and(|s| s.kind == Kind::Forge));
    times.extend(first_blow.map(|m| m.time_s));
    times.sort_by(f64::total_cmp);
    times
}

/// The history cut where scale comes off.
fn pieces(history: &[(f64, f64)], cuts: &[f64]) -> Vec<Vec<(f64, f64)>> {
    let mut pieces = vec![Vec::new()];
    let mut cuts = cuts.iter().peekable();
    for point in history {
        while cuts.next_if(|cut| **cut < point.0).is_some() {
            pieces.push(Vec::new());
        }
        if let Some(piece) = pieces.last_mut() {
            piece.push(*point);
        }
    }
    pieces.retain(|piece| piece.len() > 1);
    pieces
}
