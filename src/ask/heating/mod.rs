//! What a row of coils does: the powers that hit its target, start-up, stops, a change of pace, and
//! what a tonne of good billets costs.

mod effects;
mod frequency;
mod pace;
mod panel;
mod question;
mod stops;

pub use effects::{Cause, Effect};
pub use frequency::{Frequencies, OtherFrequency};
pub use pace::Pace;
pub use panel::{ConverterState, Cooling, Electrics, Overload, When};
pub use question::CoilQuestion;
pub use stops::Stop;

use crate::heater::advice::{Advice, frequency_advice};
use crate::heater::coil::Drive;
use crate::heater::energy::EnergyTable;
use crate::heater::line::{
    Course, Criteria, Filling, HeaterLine, Highest, HoldTime, Origin, Steady, Study, Target, hold_powers, hold_time,
    run_out, standing_powers, start_empty,
};
use crate::heater::search::{Missed, Remedy, SetPoints, Status, misses, remedies};
use crate::heater::{Bar, HeaterError};
use crate::line::plan::{CoilLine, Plan};
use stops::{Running, events};

/// Longest hold that is looked at, s: after half an hour a coil is emptied, whatever it holds.
const LONGEST_HOLD_S: f64 = 1800.0;
/// Half the width of the sort gate where the file gives none, K (common practice).
const HALF_GATE_K: f64 = 30.0;
/// Never-exceed temperature where the steel gives none, degC (common practice for steel).
const NEVER_ABOVE_C: f64 = 1300.0;

/// What a row of coils does.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct CoilAnswer {
    /// The search, where the powers were searched.
    pub found: Option<SetPoints>,
    /// What the powers given miss of the target.
    pub missed: Vec<Missed>,
    /// What would make an impossible target possible.
    pub remedies: Vec<Remedy>,
    /// The periodic state.
    pub steady: Steady,
    /// What billets are sorted by.
    pub criteria: Criteria,
    /// Where the energy goes.
    pub energy: EnergyTable,
    /// Power of each channel that holds the temperatures while the line stands, W into the billets.
    pub hold_w: Vec<f64>,
    /// The same at the terminals, W.
    pub hold_terminals_w: Vec<f64>,
    /// How long a hold may last, where stops were asked about.
    pub lasting: Option<HoldTime>,
    /// A cold start.
    pub cold: Option<Course>,
    /// An empty start.
    pub empty: Option<Study>,
    /// Running out.
    pub run_out: Option<Study>,
    /// A change of pace.
    pub pace: Option<Pace>,
    /// What moves the exit, by how much.
    pub effects: Vec<Effect>,
    /// Stops.
    pub stops: Vec<Stop>,
    /// Which frequency suits the bar.
    pub advice: Option<Advice>,
    /// Mass of a billet, kg.
    pub billet_kg: f64,
    /// Where the steel loses its magnetism, degC.
    pub curie_c: Option<f64>,
    /// Converters, limits reached, and cooling water.
    pub electrics: Electrics,
    /// Limits of coils and converters that are passed.
    pub overloads: Vec<Overload>,
    /// What another frequency would cost.
    pub frequencies: Frequencies,
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
            (Some(f), Some(goal))
                if matches!(f.status, Status::Impossible(_)) && (question.search || !heater.is_partly_set()) =>
            {
                remedies(&heater.line, &bar, &goal, f, slices)?
            }
            _ => Vec::new(),
        };
        let missed = match (&found, &heater.goal) {
            (None, Some(goal)) => misses(&heater.line, &bar, goal, &steady)?,
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
        let line = &heater.line;
        let hold_w = line.by_channel(&hold_powers(line, &bar, &drives, slices)?);
        let hold = line.spread(&hold_w.iter().map(|p| Drive::Load(*p)).collect::<Vec<_>>());
        let hold_terminals_w = line.by_channel(&standing_powers(line, &bar, (&drives, &hold), slices)?);
        let powers_w = channel_powers(line, &steady);
        let running = Running {
            heater,
            bar: &bar,
            drives: &drives,
            hold: &hold,
            hold_w: &hold_w,
            criteria: &criteria,
            slices,
            powers_w: &powers_w,
        };
        let cold = question.start_up.then(|| cold_start(&running)).transpose()?;
        let kept = line.kept(&steady.coils);
        let empty = question
            .start_empty
            .then(|| start_empty(line, &bar, &kept, slices, &criteria));
        let out = question
            .run_out
            .then(|| run_out(line, &bar, &drives, &kept, slices, &criteria));
        let (empty, out) = (empty.transpose()?, out.transpose()?);
        let effects = effects::effects(plan, heater, &powers_w, criteria.at_least.0)?;
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
        let searched = found.is_some() && heater.goal.is_some();
        let frequencies = frequency::frequencies(plan, heater, &powers_w, (searched, criteria.at_least.0))?;
        let mut answer = CoilAnswer {
            electrics: Electrics::of(heater, &steady),
            overloads: Vec::new(),
            frequencies,
            found,
            missed,
            remedies,
            steady,
            criteria,
            energy,
            hold_w,
            hold_terminals_w,
            lasting,
            cold,
            empty,
            run_out: out,
            pace,
            effects,
            stops,
            advice,
            billet_kg,
            curie_c: bar.metal().curie_c(),
        };
        answer.overloads = panel::overloads(heater, &answer.highest(&heater.line));
        Ok(answer)
    }

    /// Highest readings in the settled state and in all that was asked about.
    fn highest(&self, line: &HeaterLine) -> Vec<(When, Highest)> {
        let mut seen = vec![(When::Settled, line.readings(&self.steady.coils))];
        let of = |study: &Study| study.highest.clone();
        seen.extend(self.cold.iter().map(|c| (When::Start, of(&c.study))));
        seen.extend(self.empty.iter().map(|s| (When::Empty, of(s))));
        seen.extend(self.run_out.iter().map(|s| (When::RunOut, of(s))));
        seen.extend(self.pace.iter().map(|p| (When::Pace, of(&p.course.study))));
        let stops = self.stops.iter();
        seen.extend(stops.map(|s| (When::Stop(s.seconds, s.way), of(s.study()))));
        seen
    }

    /// Whether the target is met, no billet is ever too hot and no limit of a coil or a converter passed.
    pub fn holds(&self) -> bool {
        let impossible = |f: &SetPoints| matches!(f.status, Status::Impossible(_));
        !self.found.as_ref().is_some_and(impossible)
            && self.missed.is_empty()
            && self.steady.exit.peak_c <= self.criteria.never_above_c + 1.0
            && self.cold_end().is_none()
            && self.overloads.is_empty()
    }

    /// The colder end of a billet, where it is below the exit gate though the middle is not, degC.
    pub fn cold_end(&self) -> Option<f64> {
        let (target, low) = self.criteria.at_least;
        let end = self.steady.exit.colder_end(target)?;
        (end.value_c < low && target.among(&self.steady.exit.nodes()) >= low).then_some(end.value_c)
    }
}

/// Power at the terminals of each channel of a settled line, W.
fn channel_powers(line: &HeaterLine, steady: &Steady) -> Vec<f64> {
    let coils: Vec<f64> = steady.coils.iter().map(|c| c.terminals_w).collect();
    line.by_channel(&coils)
}

/// The periodic state, at the powers of the file or at those that hit the target.
fn settle(
    question: &CoilQuestion,
    plan: &Plan,
    heater: &CoilLine,
    bar: &Bar,
) -> Result<(Option<SetPoints>, Vec<Drive>, Steady), HeaterError> {
    if question.search || !heater.is_set() {
        let found = match question.search {
            true => heater.search(bar, plan.resolution)?,
            false => heater.search_missing(bar, plan.resolution)?,
        };
        let drives = heater.line.at_powers(&found.powers_w);
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
    let goal = running.heater.goal;
    let drop_k = goal.map_or(HALF_GATE_K, |g| g.value_c - running.criteria.at_least.1);
    hold_time(
        &running.heater.line,
        running.bar,
        (running.drives, running.hold),
        running.slices,
        (LONGEST_HOLD_S, drop_k),
        running.criteria,
    )
}
