//! What a row of coils does: the powers that hit its target, start-up, stops, a change of pace, and
//! what a tonne of good billets costs.

mod effects;
mod frequency;
mod order;
mod pace;
mod panel;
mod question;
mod settled;
mod stops;

pub use effects::{Cause, Effect};
pub use frequency::{Frequencies, OtherFrequency};
pub use order::{Following, WARMEST_C, Warm};
pub use pace::Pace;
pub use panel::{ConverterState, Cooling, Electrics, Overload, When};
pub use question::CoilQuestion;
pub use stops::Stop;

use crate::heater::advice::{Advice, frequency_advice};
use crate::heater::coil::Drive;
use crate::heater::energy::EnergyTable;
use crate::heater::line::{
    Course, Criteria, Exit, Filling, HeaterLine, Highest, HoldTime, Origin, Shift, Steady, Study, Target, TrackPoint,
    hold_powers, hold_time, run_out, standing_powers, start_empty,
};
use crate::heater::search::{Means, Miss, Missed, Remedy, SetPoints, Status, misses, remedies};
use crate::heater::{Bar, HeaterError};
use crate::line::plan::{CoilLine, Plan, Resolution};
use settled::{HALF_GATE_K, criteria, settle};
use stops::{Running, events};

/// Longest hold that is looked at, s: after half an hour a coil is emptied, whatever it holds.
const LONGEST_HOLD_S: f64 = 1800.0;
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
    /// The periodic state, as shown with the offset of the exit.
    pub steady: Steady,
    /// The billet as it leaves and its way there as they are computed, without that offset.
    pub computed: (Exit, Vec<TrackPoint>),
    /// What billets are sorted by.
    pub criteria: Criteria,
    /// Whether the gate is about the exit itself.
    pub gated: bool,
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
    /// The next order.
    pub next: Option<Following>,
    /// A warm billet among the others.
    pub warm: Option<Warm>,
    /// What moves the exit, by how much.
    pub effects: Vec<Effect>,
    /// Stops.
    pub stops: Vec<Stop>,
    /// Which frequency suits the bar.
    pub advice: Option<Advice>,
    /// Mass of a billet, kg.
    pub billet_kg: f64,
    /// Where the metal begins to melt, degC, where that is known, and its name.
    pub solidus: Option<(f64, String)>,
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
    /// What the exit shows above what is computed is taken off the target and the gate before anything is computed, and
    /// added to every temperature of the answer afterwards, so that it counts in all of it.
    ///
    /// # Errors
    /// What the heater says.
    pub fn of(question: &CoilQuestion, plan: &Plan, heater: &CoilLine) -> Result<CoilAnswer, HeaterError> {
        let mut answer = CoilAnswer::computed(question, plan, &heater.as_computed(plan.exit_offset_k))?;
        if plan.exit_offset_k != 0.0 || question.next.as_ref().is_some_and(|next| next.exit_offset_k != 0.0) {
            answer.shift(heater.line.start_c, plan.exit_offset_k);
        }
        Ok(answer)
    }

    fn computed(question: &CoilQuestion, plan: &Plan, heater: &CoilLine) -> Result<CoilAnswer, HeaterError> {
        let bar = heater.bar(&plan.piece, &plan.metal, plan.resolution)?;
        let slices = heater.slices(plan.resolution);
        let (found, drives, steady) = settle(question, plan, heater, &bar)?;
        let remedies = ways_out(question, heater, found.as_ref(), (&bar, slices));
        let missed = match (&found, &heater.goal) {
            (None, Some(goal)) => misses(&heater.line, &bar, goal, &steady)?,
            _ => Vec::new(),
        };
        let mut criteria = criteria(plan, heater, &steady);
        let mut energy = energy(&bar, heater, &steady);
        // A column of quarters is followed on the quick grid, at the middle of its billets.
        let (bar, slices) = match (bar.is_round(), bar.coarser()?) {
            (true, _) => (bar, slices),
            (false, Some(coarse)) => (coarse, 1),
            (false, None) => (bar, 1),
        };
        if !bar.is_round() {
            let followed = heater.line.steady(&bar, &drives, slices)?;
            criteria.difference_k = on_grid(criteria.difference_k, &steady.exit, &followed.exit);
        }
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
        let next = question.next.as_ref();
        let next = next.map(|next| Following::of(question, &running, next)).transpose()?;
        let warm = question.warm_c.map(|start_c| Warm::of(&running, start_c)).transpose()?;
        let events = events(cold.as_ref().map(|c| &c.study), &stops);
        energy.add_events(&events, question.shift_s, &heater.line, &bar, heater.supply_efficiency);
        let billet_kg = bar.mass_kg_m() * heater.line.billet_m;
        let searched = found.is_some() && heater.goal.is_some();
        let frequencies = frequency::frequencies(plan, heater, &powers_w, (searched, criteria.at_least.0));
        let mut answer = CoilAnswer {
            electrics: Electrics::of(heater, &steady),
            overloads: Vec::new(),
            frequencies,
            found,
            missed,
            remedies,
            computed: (steady.exit.clone(), steady.track.clone()),
            steady,
            criteria,
            gated: heater.goal.is_none_or(|goal| goal.after_s == 0.0),
            energy,
            hold_w,
            hold_terminals_w,
            lasting,
            cold,
            empty,
            run_out: out,
            pace,
            next,
            warm,
            effects,
            stops,
            advice,
            billet_kg,
            solidus: plan
                .metal
                .solidus_c
                .as_ref()
                .map(|s| (s.value, plan.metal.name.clone())),
            curie_c: bar.metal().curie_c(),
        };
        answer.overloads = panel::overloads(heater, &answer.highest(&heater.line));
        Ok(answer)
    }

    /// What moves the exit of the heater of a plan at the powers of the file, or at those found for its target.
    ///
    /// # Errors
    /// What the heater says.
    pub fn effects_on_exit(plan: &Plan, heater: &CoilLine) -> Result<Vec<Effect>, HeaterError> {
        let heater = heater.as_computed(plan.exit_offset_k);
        let bar = heater.bar(&plan.piece, &plan.metal, Resolution::Quick)?;
        let drives = heater.drives(&bar, Resolution::Quick)?;
        let steady = heater.line.steady(&bar, &drives, 1)?;
        let powers_w = channel_powers(&heater.line, &steady);
        let target = heater.goal.map_or(Target::Mean, |goal| goal.target);
        effects::effects(plan, &heater, &powers_w, target)
    }

    /// Adds what the exit shows to every temperature.
    fn shift(&mut self, start_c: f64, by_k: f64) {
        let own = Shift::new(by_k, start_c, self.steady.exit.mean_c);
        own.steady(&mut self.steady);
        self.criteria = own.criteria(&self.criteria);
        for missed in &mut self.missed {
            *missed = missed.shifted(by_k);
        }
        for other in &mut self.frequencies.rows {
            other.peak_c = own.on_the_way(other.peak_c);
        }
        if let Some(found) = &mut self.found {
            own.steady(&mut found.steady);
            own.nodes(&mut found.at_target);
            if let Status::Impossible(missed) = &mut found.status {
                missed.iter_mut().for_each(|m| *m = m.shifted(by_k));
            }
        }
        let courses = self
            .cold
            .iter_mut()
            .chain(self.stops.iter_mut().map(|s| &mut s.restart));
        let courses = courses.chain(self.pace.iter_mut().map(|p| &mut p.course));
        let alone = courses.flat_map(|c| [&mut c.study, &mut c.at_once]);
        let alone = alone.chain(self.empty.iter_mut()).chain(self.run_out.iter_mut());
        let alone = alone.chain(self.warm.iter_mut().map(|w| &mut w.study));
        for study in alone {
            Shift::study(&[own], study);
        }
        if let Some(pace) = &mut self.pace {
            Shift::study(&[own], &mut pace.scaled);
        }
        if let Some(next) = &mut self.next {
            next.shift(own);
        }
    }

    /// The hottest point of all that was followed, where the metal would begin to melt, and where that is, degC.
    pub fn melts(&self) -> Option<(f64, f64, &str)> {
        let courses = self.cold.iter().chain(self.stops.iter().map(|s| &s.restart));
        let courses = courses.chain(self.pace.iter().map(|p| &p.course));
        let courses = courses.chain(self.next.iter().map(|n| &n.course));
        let studies = courses.map(|c| &c.study).chain(&self.empty).chain(&self.run_out);
        let peaks = studies.chain(self.warm.iter().map(|w| &w.study)).map(|s| s.peak_c);
        let peak_c = peaks.fold(self.steady.exit.peak_c, f64::max);
        let (solidus_c, metal) = self.solidus.as_ref()?;
        (peak_c > *solidus_c).then_some((peak_c, *solidus_c, metal.as_str()))
    }

    /// Highest readings in the settled state and in all that was asked about.
    fn highest(&self, line: &HeaterLine) -> Vec<(When, Highest)> {
        let mut seen = vec![(When::Settled, line.readings(&self.steady.coils))];
        let of = |study: &Study| study.highest.clone();
        seen.extend(self.cold.iter().map(|c| (When::Start, of(&c.study))));
        seen.extend(self.empty.iter().map(|s| (When::Empty, of(s))));
        seen.extend(self.run_out.iter().map(|s| (When::RunOut, of(s))));
        seen.extend(self.pace.iter().map(|p| (When::Pace, of(&p.course.study))));
        seen.extend(self.next.iter().map(|n| (When::Next, of(&n.course.study))));
        seen.extend(self.warm.iter().map(|w| (When::Warm, of(&w.study))));
        let stops = self.stops.iter();
        seen.extend(stops.map(|s| {
            let when = When::Stop {
                seconds: s.seconds,
                way: s.way,
            };
            (when, of(s.study()))
        }));
        seen
    }

    /// Whether the target is met, no billet is ever too hot and no limit of a coil or a converter passed.
    pub fn holds(&self) -> bool {
        let impossible = |f: &SetPoints| matches!(f.status, Status::Impossible(_));
        !self.found.as_ref().is_some_and(impossible)
            && !self.missed.iter().any(|m| self.counts(m))
            && self.steady.exit.peak_c <= self.criteria.never_above_c
            && self.outside_gate().is_none()
            && self.cold_end().is_none()
            && self.overloads.is_empty()
    }

    /// Whether a miss of the powers given is more than a remark: off the aim an exit gate judges, where there is one.
    fn counts(&self, missed: &Missed) -> bool {
        let off = matches!(missed.miss, Miss::TooCold | Miss::TooHot);
        !(off && self.gated)
    }

    /// The exit temperature that is gated, where the gate rejects it, degC. A target that counts later says nothing of the
    /// exit.
    pub fn outside_gate(&self) -> Option<f64> {
        let value_c = self.criteria.at_least.0.among(&self.steady.exit.nodes());
        (self.gated && !self.criteria.admits(value_c)).then_some(value_c)
    }

    /// The colder end of a billet, where it is below the exit gate though the middle is not, degC.
    pub fn cold_end(&self) -> Option<f64> {
        let (target, low) = self.criteria.at_least;
        let end = self.steady.exit.colder_end(target)?;
        (end.value_c < low && target.among(&self.steady.exit.nodes()) >= low).then_some(end.value_c)
    }
}

/// What would make an impossible target possible; nothing where given powers are in its way.
fn ways_out(question: &CoilQuestion, heater: &CoilLine, found: Option<&SetPoints>, grid: (&Bar, usize)) -> Vec<Remedy> {
    let means = Means {
        highest_w: &heater.highest_w,
        ratings: &heater.ratings,
        gives_hz: &heater.gives_hz,
    };
    match (found, heater.goal) {
        (Some(f), Some(goal))
            if matches!(f.status, Status::Impossible(_)) && (question.search || !heater.is_partly_set()) =>
        {
            remedies(&heater.line, grid, &goal, f, &means)
        }
        _ => Vec::new(),
    }
}

/// The difference that billets may have on the grid on which they are followed, where the settled state has it within on
/// its own: as much more as the grids differ.
fn on_grid(allowed_k: Option<f64>, exit: &Exit, followed: &Exit) -> Option<f64> {
    let apart = |exit: &Exit| (exit.surface_c - exit.core_c).abs();
    allowed_k.map(|k| k + (apart(followed) - apart(exit)).max(0.0))
}

/// Power at the terminals of each channel of a settled line, W.
fn channel_powers(line: &HeaterLine, steady: &Steady) -> Vec<f64> {
    let coils: Vec<f64> = steady.coils.iter().map(|c| c.terminals_w).collect();
    line.by_channel(&coils)
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
