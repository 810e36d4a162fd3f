//! The programme of a static coil that reaches a target: power, then a soak without it.

use serde::Serialize;

use super::goal::{Goal, Missed};
use crate::heater::bar::Bar;
use crate::heater::coil::Drive;
use crate::heater::error::{HeaterError, positive};
use crate::heater::fixed::{FixedCoil, FixedResult, PowerStep};
use crate::heater::line::{PANEL_W, set as panel};

/// Shares of the time that the soak is tried with; more heat is lost than evened out beyond.
const SOAKS: [f64; 5] = [0.0, 0.1, 0.2, 0.3, 0.4];
/// Ratio of the times tried, and how many.
const LONGER: f64 = 1.2;
const TIMES: usize = 16;
/// How near the target is met, K, and runs for it.
const NEAR_K: f64 = 0.5;
const RUNS: usize = 6;
/// Kept from the limits on the quick grid, K: the one asked for differs by less.
const MARGIN_K: f64 = 1.0;

/// A programme with what it gives.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Programme {
    /// Length of each step, s, and power at the terminals in it, W.
    pub steps: Vec<(f64, f64)>,
    /// What of the goal it misses.
    pub missed: Vec<Missed>,
    /// What it gives.
    #[serde(skip)]
    pub result: FixedResult,
}

fn with_steps(set: &FixedCoil, steps: &[(f64, f64)]) -> FixedCoil {
    FixedCoil {
        steps: steps
            .iter()
            .map(|&(seconds, power_w)| PowerStep {
                seconds,
                drive: Drive::Terminals(power_w),
            })
            .collect(),
        ..set.clone()
    }
}

struct Search<'a> {
    set: &'a FixedCoil,
    goal: &'a Goal,
    highest_w: f64,
    margin_k: f64,
}

impl Search<'_> {
    fn run(&self, bar: &Bar, seconds: f64, soak: f64, power_w: f64) -> Result<Programme, HeaterError> {
        let mut steps = vec![((1.0 - soak) * seconds, power_w)];
        if soak > 0.0 {
            steps.push((soak * seconds, 0.0));
        }
        let result = with_steps(self.set, &steps).heat(bar)?;
        let (difference_k, never_above_c) = self.goal.aimed(self.margin_k);
        let goal = Goal {
            difference_k,
            never_above_c,
            ..*self.goal
        };
        let missed = goal.missed_by(&result.exit.nodes(), result.exit.peak_c);
        Ok(Programme { steps, missed, result })
    }

    /// The power that meets the target in a time with a soak, from a first guess of it (W).
    fn power(&self, bar: &Bar, seconds: f64, soak: f64, first_w: f64) -> Result<Programme, HeaterError> {
        let set = |w: f64| panel(w).max(PANEL_W).min(self.highest_w);
        let off = |p: &Programme| self.goal.target.among(&p.result.exit.nodes()) - self.goal.value_c;
        let mut power = set(first_w);
        let mut tried = self.run(bar, seconds, soak, power)?;
        // All of the rise scales with the power at first.
        let mut slope = (self.goal.value_c - self.set.start_c) / power;
        for _ in 0..RUNS {
            let miss = off(&tried);
            let next = set(power - (miss / slope).clamp(-0.4 * power, 0.4 * power));
            if miss.abs() <= NEAR_K || next == power {
                break;
            }
            let again = self.run(bar, seconds, soak, next)?;
            let found = (off(&again) - miss) / (next - power);
            if found > 0.0 {
                slope = found;
            }
            (power, tried) = (next, again);
        }
        Ok(tried)
    }
}

/// Finds a programme of one power and a soak that reaches the goal, on a quick grid, and its power on the one asked for:
/// the first of the times and soaks tried that does. A programme of more powers may be shorter.
///
/// The times tried begin at half of ρ Δh R² Ψ/(4 k ΔT) with Ψ = 0.8: the time in which constant power leaves the
/// difference ΔT between surface and core (from the regular regime T_s − T_c = Ψ q″R/2k, Carslaw and Jaeger).
///
/// # Errors
/// Contradicting goals, a coil that cannot be computed.
pub fn find_programme(set: &FixedCoil, bar: &Bar, goal: &Goal, highest_w: f64) -> Result<Programme, HeaterError> {
    set.check(bar)?;
    goal.check()?;
    positive("highest coil power in W", highest_w)?;
    let search = Search {
        set,
        goal,
        highest_w,
        margin_k: MARGIN_K,
    };
    let thermal = bar.metal().thermal();
    let heating = &thermal.heating;
    let rise = positive(
        "enthalpy rise to the target in J/kg",
        heating.enthalpy(goal.value_c) - heating.enthalpy(set.start_c),
    )?;
    const HOT_W_MK: f64 = 28.0;
    const PSI: f64 = 0.8;
    let apart = goal.difference_k.unwrap_or(50.0);
    let radius = bar.radius_m();
    let regular_s = thermal.density * rise * radius * radius * PSI / (4.0 * HOT_W_MK * apart);
    let mass = bar.mass_kg_m() * set.billet_m * set.billets as f64;
    let coarse = bar.coarser()?;
    let quick = coarse.as_ref().unwrap_or(bar);
    let mut nearest: Option<(f64, f64, Programme)> = None;
    'times: for n in 0..TIMES {
        let seconds = (0.5 * regular_s * LONGER.powi(n as i32)).round().max(1.0);
        let mut power = mass * rise / 0.6 / seconds;
        for soak in SOAKS {
            let tried = search.power(quick, seconds, soak, power / (1.0 - soak))?;
            power = tried.steps[0].1 * (1.0 - soak);
            let met = tried.missed.is_empty();
            if nearest.as_ref().is_none_or(|(.., p)| worst(&tried) < worst(p)) {
                nearest = Some((seconds, soak, tried));
            }
            if met {
                break 'times;
            }
        }
    }
    let Some((seconds, soak, found)) = nearest else {
        return Err(HeaterError::NoGoal);
    };
    let exact = Search {
        margin_k: 0.0,
        ..search
    };
    exact.power(bar, seconds, soak, found.steps[0].1)
}

/// Largest miss, K.
fn worst(programme: &Programme) -> f64 {
    let misses = programme.missed.iter().map(|m| (m.value - m.wanted).abs());
    misses.fold(0.0, f64::max)
}
