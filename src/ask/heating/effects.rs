//! What moves the exit of a row of coils, by how much.

use crate::heater::line::{HeaterLine, Target};
use crate::heater::{Bar, HeaterError};
use crate::line::plan::{CoilLine, Piece, Plan, Resolution, Section};

/// Something that an operator sets or a bar brings.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Cause {
    /// One kilowatt more at the terminals of the coil, or the converter, of this name.
    Power(String),
    /// One second more between billets.
    Takt,
    /// Billets one kelvin warmer when they go in.
    Start,
    /// A bar one millimetre thicker.
    Size,
}

/// What a cause does to the exit.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// The cause.
    pub cause: Cause,
    /// Change of the target's temperature at the exit, K.
    pub exit_k: f64,
    /// Change of the difference between surface and core, K.
    pub difference_k: f64,
}

/// Steps of the differences: share of a power and of the takt, K, m. Wide against what the field solver keeps, narrow
/// against the curvature.
const SHARE: f64 = 0.02;
const START_K: f64 = 20.0;
const SIZE_M: f64 = 0.5e-3;

/// Temperature of the target and difference of surface and core at an exit.
type State = (f64, f64);

struct Works<'a> {
    plan: &'a Plan,
    heater: &'a CoilLine,
    powers_w: &'a [f64],
    target: Target,
    bar: Bar,
}

/// Every effect, on the quick grid at these powers (W); those whose neighbours cannot be settled are left out.
pub(super) fn effects(
    plan: &Plan,
    heater: &CoilLine,
    powers_w: &[f64],
    target: Target,
) -> Result<Vec<Effect>, HeaterError> {
    let bar = heater.bar(&plan.piece, &plan.metal, Resolution::Quick)?;
    let works = Works {
        plan,
        heater,
        powers_w,
        target,
        bar,
    };
    let channels = heater.line.channels();
    let powers = channels.iter().enumerate();
    let powers = powers.map(|(index, channel)| works.power(index, &channel.name));
    // A neighbour that does not settle, or a thicker bar that does not fit, is left out: nobody asked for it.
    let rest = [works.takt(), works.start(), works.size()];
    Ok(powers.chain(rest).filter_map(Result::ok).collect())
}

fn effect(cause: Cause, step: f64, low: State, high: State) -> Effect {
    Effect {
        cause,
        exit_k: (high.0 - low.0) / step,
        difference_k: (high.1 - low.1) / step,
    }
}

impl Works<'_> {
    fn exit(&self, line: &HeaterLine, bar: &Bar, powers_w: &[f64]) -> Result<State, HeaterError> {
        let exit = line.steady(bar, &line.at_powers(powers_w), 1)?.exit;
        Ok((self.target.among(&exit.nodes()), exit.surface_c - exit.core_c))
    }

    fn power(&self, index: usize, name: &str) -> Result<Effect, HeaterError> {
        let step_w = SHARE * self.powers_w[index].max(1e3);
        let at = |to_w: f64| {
            let mut powers = self.powers_w.to_vec();
            powers[index] = to_w;
            self.exit(&self.heater.line, &self.bar, &powers)
        };
        let (low_w, high_w) = ((self.powers_w[index] - step_w).max(0.0), self.powers_w[index] + step_w);
        let cause = Cause::Power(name.to_owned());
        Ok(effect(cause, 1e-3 * (high_w - low_w), at(low_w)?, at(high_w)?))
    }

    fn takt(&self) -> Result<Effect, HeaterError> {
        let line = &self.heater.line;
        let at = |share: f64| {
            let takt_s = line.takt_s * (1.0 + share);
            let other = HeaterLine { takt_s, ..line.clone() };
            self.exit(&other, &self.bar, self.powers_w)
        };
        Ok(effect(Cause::Takt, 2.0 * SHARE * line.takt_s, at(-SHARE)?, at(SHARE)?))
    }

    fn start(&self) -> Result<Effect, HeaterError> {
        let line = &self.heater.line;
        let at = |warmer: f64| {
            let start_c = line.start_c + warmer;
            self.exit(
                &HeaterLine {
                    start_c,
                    ..line.clone()
                },
                &self.bar,
                self.powers_w,
            )
        };
        Ok(effect(Cause::Start, START_K, at(0.0)?, at(START_K)?))
    }

    fn size(&self) -> Result<Effect, HeaterError> {
        let at = |change_m: f64| {
            let piece = Piece {
                section: thicker(self.plan.piece.section, change_m),
                ..self.plan.piece
            };
            let bar = self.heater.bar(&piece, &self.plan.metal, Resolution::Quick)?;
            self.exit(&self.heater.line, &bar, self.powers_w)
        };
        Ok(effect(Cause::Size, 2e3 * SIZE_M, at(-SIZE_M)?, at(SIZE_M)?))
    }
}

fn thicker(section: Section, by_m: f64) -> Section {
    match section {
        Section::Round { radius_m } => Section::Round {
            radius_m: radius_m + 0.5 * by_m,
        },
        Section::Square { side_m } => Section::Square { side_m: side_m + by_m },
        Section::Rectangle { width_m, height_m } => Section::Rectangle {
            width_m: width_m + by_m,
            height_m: height_m + by_m,
        },
        other => other,
    }
}
