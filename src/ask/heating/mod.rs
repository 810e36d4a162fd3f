//! What a row of coils does: the powers that hit its target, start-up, stops, a change of pace, and
//! what a tonne of good billets costs.

mod pace;
mod stops;

pub use pace::Pace;
pub use stops::Stop;

use crate::heater::advice::{Advice, frequency_advice};
use crate::heater::coil::Drive;
use crate::heater::energy::{EnergyTable, StopWay};
use crate::heater::line::{
    Course, Criteria, Filling, HoldTime, Origin, Steady, Target, hold_powers, hold_time, standing_powers,
};
use crate::heater::search::{Remedy, SetPoints, Status, remedies};
use crate::heater::{Bar, HeaterError};
use crate::line::plan::{CoilLine, Plan};
use stops::{Running, events};

/// Longest hold that is looked at, s: after half an hour a coil is emptied, whatever it holds.
const LONGEST_HOLD_S: f64 = 1800.0;
/// Half the width of the sort gate where the file gives none, K (common practice).
const HALF_GATE_K: f64 = 30.0;
/// Never-exceed temperature where the steel gives none, degC (common practice for steel).
const NEVER_ABOVE_C: f64 = 1300.0;

/// What is asked of a row of coils.
#[derive(Debug, Clone, PartialEq)]
pub struct CoilQuestion {
    /// Search the powers even where the file gives them.
    pub search: bool,
    /// A cold start: the heater full of cold billets, full power from the first takt.
    pub start_up: bool,
    /// Lengths of the stops, s.
    pub stops_s: Vec<f64>,
    /// What the heater does in each stop.
    pub ways: Vec<StopWay>,
    /// Time between billets while the heater runs on, s; twice the takt when not given.
    pub run_on_takt_s: Option<f64>,
    /// Power while it runs on over the running one; in proportion to the throughput when not given.
    pub run_on_share: Option<f64>,
    /// Time over which start-up and stops are spread in the energy of good billets, s.
    pub shift_s: f64,
    /// A change of pace to this takt, s.
    pub takt_s: Option<f64>,
}

/// What a row of coils does.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct CoilAnswer {
    /// The search, where the powers were searched.
    pub found: Option<SetPoints>,
    /// What would make an impossible target possible.
    pub remedies: Vec<Remedy>,
    /// The periodic state.
    pub steady: Steady,
    /// What billets are sorted by.
    pub criteria: Criteria,
    /// Where the energy goes.
    pub energy: EnergyTable,
    /// Power of each coil that holds the temperatures while the line stands, W into the billets.
    pub hold_w: Vec<f64>,
    /// The same at the terminals, W.
    pub hold_terminals_w: Vec<f64>,
    /// How long a hold may last, where stops were asked about.
    pub lasting: Option<HoldTime>,
    /// A cold start.
    pub cold: Option<Course>,
    /// A change of pace.
    pub pace: Option<Pace>,
    /// Stops.
    pub stops: Vec<Stop>,
    /// Which frequency suits the bar.
    pub advice: Option<Advice>,
    /// Mass of a billet, kg.
    pub billet_kg: f64,
}

impl CoilAnswer {
    /// Answers a question about the heater of a plan.
    ///
    /// # Errors
    /// What the heater says.
    pub fn of(question: &CoilQuestion, plan: &Plan, heater: &CoilLine) -> Result<CoilAnswer, HeaterError> {
        let bar = heater.bar(&plan.piece, &plan.metal, plan.resolution)?;
        let slices = heater.slices(plan.resolution);
        let (found, drives, steady) = settle(question, plan, heater, &bar)?;
        let remedies = match (&found, heater.goal) {
            (Some(f), Some(goal)) if matches!(f.status, Status::Impossible(_)) => {
                remedies(&heater.line, &bar, &goal, f, slices)?
            }
            _ => Vec::new(),
        };
        let criteria = criteria(plan, heater, &steady);
        let mut energy = energy(&bar, heater, &steady);
        // A column of quarters is followed on the quick grid, at the middle of its billets.
        let (bar, slices) = match (bar.is_round(), bar.coarser()?) {
            (true, _) => (bar, slices),
            (false, Some(coarse)) => (coarse, 1),
            (false, None) => (bar, 1),
        };
        let hold_w = hold_powers(&heater.line, &bar, &drives, slices)?;
        let hold: Vec<Drive> = hold_w.iter().map(|p| Drive::Load(*p)).collect();
        let hold_terminals_w = standing_powers(&heater.line, &bar, (&drives, &hold), slices)?;
        let powers_w: Vec<f64> = steady.coils.iter().map(|c| c.terminals_w).collect();
        let running = Running {
            heater,
            bar: &bar,
            drives: &drives,
            hold: &hold_w,
            criteria: &criteria,
            slices,
            powers_w: &powers_w,
        };
        let cold = question.start_up.then(|| cold_start(&running)).transpose()?;
        let stops = stops::stops(question, &running)?;
        let lasting = (!stops.is_empty()).then(|| lasting(&running)).transpose()?;
        let advice = match heater.line.coils().last() {
            Some((_, coil)) => Some(frequency_advice(&bar, coil)?),
            None => None,
        };
        let pace = question
            .takt_s
            .map(|takt_s| Pace::of(&running, &steady, takt_s))
            .transpose()?;
        let events = events(cold.as_ref().map(|c| &c.study), &stops);
        energy.add_events(&events, question.shift_s, &heater.line, &bar, heater.supply_efficiency);
        let billet_kg = bar.mass_kg_m() * heater.line.billet_m;
        Ok(CoilAnswer {
            found,
            remedies,
            steady,
            criteria,
            energy,
            hold_w,
            hold_terminals_w,
            lasting,
            cold,
            pace,
            stops,
            advice,
            billet_kg,
        })
    }

    /// Whether the target is met and no billet is ever too hot.
    pub fn holds(&self) -> bool {
        let impossible = |f: &SetPoints| matches!(f.status, Status::Impossible(_));
        !self.found.as_ref().is_some_and(impossible) && self.steady.exit.peak_c <= self.criteria.never_above_c + 1.0
    }
}

/// The periodic state, at the powers of the file or at those that hit the target.
fn settle(
    question: &CoilQuestion,
    plan: &Plan,
    heater: &CoilLine,
    bar: &Bar,
) -> Result<(Option<SetPoints>, Vec<Drive>, Steady), HeaterError> {
    if question.search || !heater.is_set() {
        let found = heater.search(bar, plan.resolution)?;
        let drives = found.powers_w.iter().map(|p| Drive::Terminals(*p)).collect();
        let steady = found.steady.clone();
        return Ok((Some(found), drives, steady));
    }
    let drives = heater.drives(bar, plan.resolution)?;
    let steady = heater.line.steady(bar, &drives, heater.slices(plan.resolution))?;
    Ok((None, drives, steady))
}

/// The criteria of the file's target; without one, 30 K about the steady exit and the steel's limit.
fn criteria(plan: &Plan, heater: &CoilLine, steady: &Steady) -> Criteria {
    heater.criteria.unwrap_or_else(|| {
        let never = plan.metal.limits.never_exceed_c.as_ref();
        Criteria {
            at_least: (Target::Mean, steady.exit.mean_c - HALF_GATE_K),
            at_most_c: Some(steady.exit.mean_c + HALF_GATE_K),
            never_above_c: never.map_or(NEVER_ABOVE_C, |s| s.value),
            difference_k: None,
        }
    })
}

fn energy(bar: &Bar, heater: &CoilLine, steady: &Steady) -> EnergyTable {
    let heating = &bar.metal().thermal().heating;
    let target = heater.goal.map_or(steady.exit.mean_c, |g| g.value_c);
    let rise = heating.enthalpy(target) - heating.enthalpy(heater.line.start_c);
    EnergyTable::of(steady, heater.supply_efficiency, rise * steady.balance.kg_s)
}

fn cold_start(running: &Running) -> Result<Course, HeaterError> {
    let line = &running.heater.line;
    running
        .transition(Origin::Filled(Filling::Uniform(line.start_c)), None, running.powers_w)
        .plan()
}

fn lasting(running: &Running) -> Result<HoldTime, HeaterError> {
    let hold: Vec<Drive> = running.hold.iter().map(|p| Drive::Load(*p)).collect();
    let goal = running.heater.goal;
    let drop_k = goal.map_or(HALF_GATE_K, |g| g.value_c - running.criteria.at_least.1);
    hold_time(
        &running.heater.line,
        running.bar,
        (running.drives, &hold),
        running.slices,
        (LONGEST_HOLD_S, drop_k),
        running.criteria,
    )
}
