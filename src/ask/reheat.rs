//! A part set aside and heated again: what it costs in scale, carbon and grain, and how often it may be done.
//!
//! The part is set aside in a hand-over, cools there, and goes through the heater once more: its surface rises evenly from what
//! it has to the exit temperature. Every time it then goes to the same place again at most. Rules are common practice, and
//! named so.

use serde::Serialize;

use super::failure::Failure;
use super::line_model::LineModel;
use super::model::{Change, Model};
use crate::condition::grain::CARBON_MANGANESE;
use crate::condition::part::COARSE_C;
use crate::condition::{ConditionError, ScaleLaw, decarburisation, scale, time_above};
use crate::line::{RunOptions, Trace};

/// Austenite grain before, and what counts as coarse, um: ASTM 8 and about ASTM 3.5 (common practice).
const GRAIN_UM: (f64, f64) = (22.0, 100.0);
/// Reheats that heating instructions allow at most (common practice).
pub const MOST_REHEATS: u32 = 2;
/// Above this a part that is put back meets a heater set for cold ones, degC (common practice: below the Curie point and the
/// transformation).
pub const PUT_BACK_C: f64 = 600.0;

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct ReheatOptions {
    /// The hand-over in which the part is set aside.
    pub stage: String,
    /// How long it cools there, s.
    pub cool_s: f64,
    /// How long heating takes, s.
    pub heat_s: f64,
    /// Reheats that are looked at.
    pub most: u32,
    /// Depth that machining takes off, m.
    pub allowance_m: f64,
}

/// A number of reheats.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reheated {
    /// Reheats.
    pub reheats: u32,
    /// Depth of metal lost to scale, m: typical, and at most (twice it).
    pub metal_loss_m: (f64, f64),
    /// Depth to which half the carbon is gone, m: typical and high; `None` where the metal has no carbon to lose.
    pub decarburised_m: Option<(f64, f64)>,
    /// Time above 1200 degC, s.
    pub above_s: f64,
    /// Grain by a law for carbon-manganese steel, um; an order of magnitude, without what forging refines.
    pub grain_um: f64,
    /// Whether loss and decarburised depth together stay within what machining takes off, at the high end.
    pub within_allowance: bool,
    /// Whether the number is one that heating instructions allow.
    pub usual: bool,
    /// Whether the grain stays fine without a further forging.
    pub fine: bool,
}

/// What reheating does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reheats {
    /// Surface and core when it is put back, degC.
    pub put_back_c: (f64, f64),
    /// Surface at the exit, degC.
    pub exit_c: f64,
    /// None, one, two, ... reheats.
    pub heats: Vec<Reheated>,
}

impl Reheats {
    /// Most reheats that every rule allows but that of the grain, which a further forging mends.
    #[must_use]
    pub fn allowed(&self) -> Option<u32> {
        let good = self.heats.iter().take_while(|h| h.within_allowance && h.usual);
        good.last().map(|h| h.reheats)
    }

    /// Whether it may go into a heater that is set for cold parts.
    #[must_use]
    pub fn is_cold_enough(&self) -> bool {
        self.put_back_c.0.max(self.put_back_c.1) < PUT_BACK_C
    }
}

/// Looks at reheats.
///
/// # Errors
/// A stage that is no hand-over, runs that fail, histories outside the laws.
pub fn reheats(model: &LineModel, options: &ReheatOptions) -> Result<Reheats, Failure> {
    let hand_over = model.handovers().iter().find(|h| h.stage == options.stage);
    let known: Vec<&str> = model.handovers().iter().map(|h| h.stage.as_str()).collect();
    let hand_over = hand_over.ok_or_else(|| {
        Failure::NothingToDo(format!(
            "`{}` is no hand-over; parts are set aside in one of: {}",
            options.stage,
            known.join(", ")
        ))
    })?;
    let change = Change::new(hand_over.path.clone(), hand_over.seconds + options.cool_s);
    let trace = model.trace(&[change], &RunOptions::default())?;
    let missing = |what: &str| Failure::Line(format!("the run has no {what}"));
    let end_s = trace.stages.iter().find(|s| s.name == options.stage).map(|s| s.end_s);
    let end_s = end_s.ok_or_else(|| missing("such stage"))?;
    let node = ["surface", "body.surface", "mean"]
        .into_iter()
        .find_map(|node| trace.node(node));
    let surface = course(&trace, node.ok_or_else(|| missing("surface"))?, end_s);
    let core = trace
        .node("core")
        .map(|k| course(&trace, k, end_s))
        .and_then(|c| c.last().copied());
    let (first, last) = surface
        .first()
        .zip(surface.last())
        .ok_or_else(|| missing("history of the surface"))?;
    let exit_c = surface.iter().find(|(t, _)| *t >= 0.0).map_or(first.1, |p| p.1);
    let ambient_c = model.document().plan().surroundings.ambient_c;
    let wrong = |error: ConditionError| Failure::Line(error.to_string());
    let hot: Vec<(f64, f64)> = surface.iter().copied().filter(|(t, _)| *t >= 0.0).collect();
    let computed = first.0 < 0.0;
    let mut history: Vec<(f64, f64)> = match computed {
        true => surface.clone(),
        false => std::iter::once((-options.heat_s, ambient_c))
            .chain(hot.iter().copied())
            .collect(),
    };
    let steel = &model.document().plan().metal;
    let carbon = steel.composition.as_ref().filter(|c| c.scales_like_iron()).map(|c| c.c);
    let mut heats = Vec::new();
    // Scale comes off as the part cools, so every heat begins with bare metal.
    let again: Vec<(f64, f64)> = std::iter::once((-options.heat_s, last.1))
        .chain(hot.iter().copied())
        .collect();
    let mut loss_m = lost(&history, carbon).map_err(wrong)?;
    let more_m = lost(&again, carbon).map_err(wrong)?;
    for reheats in 0..=options.most {
        if reheats > 0 {
            let from = history.last().map_or(0.0, |p| p.0) + options.heat_s;
            history.extend(hot.iter().map(|(t, c)| (from + t, *c)));
            loss_m += more_m;
        }
        heats.push(after((&history, loss_m), reheats, carbon, options.allowance_m).map_err(wrong)?);
    }
    Ok(Reheats {
        put_back_c: (last.1, core.map_or(last.1, |p| p.1)),
        exit_c,
        heats,
    })
}

/// A node up to a time; where it is not there, nothing.
fn course(trace: &Trace, node: usize, end_s: f64) -> Vec<(f64, f64)> {
    let until = trace.samples.iter().filter(|s| s.time_s <= end_s + 1e-9);
    until
        .filter_map(|s| Some((s.time_s, s.temps_c.get(node).copied().flatten()?)))
        .collect()
}

/// Metal that one heat takes as scale, m.
fn lost(heat: &[(f64, f64)], carbon: Option<f64>) -> Result<f64, ConditionError> {
    match carbon {
        Some(_) => Ok(scale(ScaleLaw::default(), heat, 0.0)?.metal_loss_m),
        None => Ok(0.0),
    }
}

fn after(
    (history, loss): (&[(f64, f64)], f64),
    reheats: u32,
    carbon: Option<f64>,
    allowance_m: f64,
) -> Result<Reheated, ConditionError> {
    let mut depth = None;
    if let Some(carbon) = carbon.filter(|c| (0.01..=2.0).contains(c)) {
        let lost = decarburisation(history, carbon, 0.5)?;
        depth = Some((lost.depth_m, lost.depth_high_m));
    }
    let grain = CARBON_MANGANESE.after(history, GRAIN_UM.0, GRAIN_UM.1)?;
    let high = 2.0 * loss + depth.map_or(0.0, |d| d.1);
    Ok(Reheated {
        reheats,
        metal_loss_m: (loss, 2.0 * loss),
        decarburised_m: depth,
        above_s: time_above(history, COARSE_C)?,
        grain_um: grain.size_um,
        within_allowance: high <= allowance_m,
        usual: reheats <= MOST_REHEATS,
        fine: !grain.coarse,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::file::Document;
    use std::path::Path;

    /// A part that has gone cold is heated again as the first time: each reheat takes as much metal and as much time
    /// above 1200 degC as the first heat, and none takes that of one heat.
    #[test]
    fn every_reheat_costs_another_heat() {
        let line = "title = \"x\"\nresolution = \"quick\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 30\n\
            [heater]\nkind = \"measured\"\ntemperature_c = 1240\n\
            [[stage]]\nkind = \"wait\"\nname = \"aside\"\nseconds = 3\n";
        let model = LineModel::new(Document::parse(line, Path::new("x.toml")).unwrap());
        let options = ReheatOptions {
            stage: "aside".to_owned(),
            cool_s: 7200.0,
            heat_s: 600.0,
            most: 3,
            allowance_m: 1e-3,
        };
        let found = reheats(&model, &options).unwrap();
        assert!(found.put_back_c.0 < 60.0, "{:?}", found.put_back_c);
        let (loss, above) = (found.heats[0].metal_loss_m.0, found.heats[0].above_s);
        assert!(loss > 0.0 && above > 0.0);
        for heat in &found.heats {
            let heats = f64::from(heat.reheats) + 1.0;
            assert!((heat.metal_loss_m.0 / (heats * loss) - 1.0).abs() < 0.01, "{heat:?}");
            assert!((heat.above_s / (heats * above) - 1.0).abs() < 0.02, "{heat:?}");
        }
    }
}
