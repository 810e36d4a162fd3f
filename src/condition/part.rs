//! What a traced history did to the metal, node by node.

use serde::Serialize;

use super::{ConditionError, ScaleLaw, cooling_rate, decarburisation, grain::CARBON_MANGANESE, scale, time_above};
use crate::line::Trace;
use crate::line::trace::Sample;
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

/// The metal at one node, from heater exit on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NodeCondition {
    /// Node name.
    pub node: String,
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
        if history.len() < 2 || node.ends_with("coldest") || node.ends_with("hottest") {
            continue;
        }
        let at_face = node == "edge" || node.ends_with("surface") || node.ends_with("_end");
        let mut condition = NodeCondition {
            node: node.clone(),
            scale_um: None,
            metal_loss_um: None,
            decarburised_um: None,
            above_1200_c_s: time_above(&history, COARSE_C)?,
            coarse_grain: CARBON_MANGANESE.after(&history, GRAIN_UM.0, GRAIN_UM.1)?.coarse,
            rate_800_500_k_s: cooling_rate(&history, TRANSFORM_C.0, TRANSFORM_C.1)?.map(|rate| rate.rate_k_s),
        };
        if let Some(composition) = ferrous.filter(|_| at_face) {
            let (mut loss, mut last) = (0.0, None);
            for piece in pieces(&history, &removed) {
                let grown = scale(ScaleLaw::default(), &piece, 0.0)?;
                loss += 1e6 * grown.metal_loss_m;
                last = Some(grown);
            }
            condition.scale_um = last.map(|grown| Spread {
                low: 1e6 * grown.thickness_low_m,
                typical: 1e6 * grown.thickness_m,
                high: 1e6 * grown.thickness_high_m,
            });
            // The kinetics are uncertain by a factor of two either way.
            condition.metal_loss_um = Some(Spread {
                low: 0.5 * loss,
                typical: loss,
                high: 2.0 * loss,
            });
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

/// The history of a node from heater exit on. Until the shape has the zone of a node, the metal that it
/// will be made of is followed by the same node of the whole part.
fn history(trace: &Trace, column: usize, node: &str) -> Vec<(f64, f64)> {
    let value = |s: &Sample, column: usize| s.temps_c.get(column).copied().flatten();
    let after_exit = || trace.samples.iter().filter(|s| s.time_s >= 0.0);
    let mut history = Vec::new();
    let of_zone = node.rsplit_once('.').map(|(_, word)| word);
    if let Some(whole) = of_zone.and_then(|word| trace.nodes.iter().position(|n| n == word)) {
        let before = after_exit().take_while(|s| value(s, column).is_none());
        history.extend(before.filter_map(|s| Some((s.time_s, value(s, whole)?))));
    }
    let own: Vec<(f64, f64)> = after_exit()
        .filter_map(|s| Some((s.time_s, value(s, column)?)))
        .collect();
    if own.len() < 2 {
        return Vec::new();
    }
    history.extend(own);
    history
}

/// Times at which scale comes off: the end of each descaling, and the first blow of all.
fn removals(trace: &Trace) -> Vec<f64> {
    let mut times: Vec<f64> = trace
        .stages
        .iter()
        .filter(|s| s.kind == "descale")
        .map(|s| s.end_s)
        .collect();
    let first_blow = trace
        .moments
        .iter()
        .find(|m| m.label == "blow 1" && trace.stages.get(m.stage).is_some_and(|s| s.kind == "forge"));
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
