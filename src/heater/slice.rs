//! A thin slice of a bar: its temperatures over the section, and what a coil puts into it.

use std::sync::Arc;

use serde::Serialize;

use super::bar::{Bar, BarField};
use super::error::HeaterError;
use super::field::SurfaceImpedance;
use super::section_field::SectionField;
use crate::conduction::{Exchange, Law, Solver, Tolerance};

/// Temperatures of a slice at one moment, degC.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Nodes {
    /// At the axis.
    pub core_c: f64,
    /// Of the surface itself.
    pub surface_c: f64,
    /// Temperature of the mean enthalpy.
    pub mean_c: f64,
    /// Highest anywhere in the section.
    pub hottest_c: f64,
}

/// Stored state of a slice: enthalpies and branch flags.
#[derive(Debug, Clone, PartialEq)]
pub struct State {
    pub(super) h: Vec<f64>,
    pub(super) cooled: Vec<bool>,
}

/// Ledger names of a slice.
const INDUCTION: &str = "induction";
const LOSS: &str = "loss";

/// One metre of bar that stands for a thin slice.
#[derive(Clone)]
pub struct Slice {
    solver: Solver,
    /// One for each coil that the slice lies in at once.
    fields: Vec<BarField>,
    induction: usize,
    loss: usize,
    /// Temperatures at the places now, at the last look, and in the field cells.
    now: Vec<f64>,
    before: Vec<f64>,
    cells: Vec<f64>,
    heat: Vec<f64>,
    /// Length of the last look, 0 after a change.
    last_s: f64,
    heated: bool,
}

impl Slice {
    /// A slice at one temperature, degC.
    pub fn new(bar: &Bar, start_c: f64) -> Slice {
        let mut solver = Solver::uniform(
            Arc::clone(bar.grid()),
            Arc::clone(bar.metal().thermal()),
            start_c,
            Tolerance::kelvin(bar.fineness().step_k),
        );
        let induction = solver.account(INDUCTION);
        let loss = solver.account(LOSS);
        let n = bar.places();
        Slice {
            solver,
            fields: vec![bar.workspace()],
            induction,
            loss,
            now: vec![start_c; n],
            before: vec![start_c; n],
            cells: vec![start_c; bar.cells().1],
            heat: vec![0.0; bar.cells().0],
            last_s: 0.0,
            heated: false,
        }
    }

    /// Changes what the surface exchanges with.
    pub fn set_exchange(&mut self, exchange: &Exchange) {
        let law = Law::Exchange {
            exchange: exchange.clone(),
            share: 1.0,
            account: self.loss,
        };
        // The group of all outer faces; planes of symmetry have the other.
        self.solver.set_law(1, law);
        self.last_s = 0.0;
    }

    /// Forgets the stored field, so that the result does not depend on what was computed before.
    pub fn forget_field(&mut self) {
        self.fields.iter_mut().for_each(BarField::forget);
    }

    /// Skin depth in m of the outermost field cell in the latest solution for coil `of` of those that the
    /// slice lies in.
    pub fn surface_skin_m(&self, of: usize, frequency_hz: f64) -> f64 {
        self.fields.get(of).map_or(f64::NAN, |f| f.surface_skin_m(frequency_hz))
    }

    /// The next look does not carry the last one's rate on: the slice goes from one zone to another.
    pub fn break_off(&mut self) {
        self.last_s = 0.0;
    }

    /// The state, to come back to.
    pub fn state(&self) -> State {
        State {
            h: self.solver.enthalpy().to_vec(),
            cooled: self.solver.cooled().to_vec(),
        }
    }

    /// Puts the slice into a stored state at a time (s).
    pub fn restore(&mut self, bar: &Bar, state: &State, time_s: f64) {
        self.solver.set_state(&state.h, &state.cooled, time_s);
        self.last_s = 0.0;
        self.read(bar);
    }

    /// The energies booked so far, to come back to with [`Slice::set_booked`].
    pub(super) fn booked(&self) -> [f64; 3] {
        let ledger = self.solver.ledger();
        [ledger.energy(INDUCTION), ledger.energy(LOSS), ledger.stored()]
    }

    /// Takes back what was booked since.
    pub(super) fn set_booked(&mut self, to: [f64; 3]) {
        let [induction, loss, stored] = self.booked();
        let ledger = self.solver.ledger_mut();
        ledger.add(self.induction, to[0] - induction);
        ledger.add(self.loss, to[1] - loss);
        ledger.add_stored(to[2] - stored);
    }

    /// Energy that induction has put in and that has left through the surface so far, J per metre.
    pub fn energies(&self) -> (f64, f64) {
        let ledger = self.solver.ledger();
        (ledger.energy(INDUCTION), -ledger.energy(LOSS))
    }

    /// Largest imbalance of the slice's ledger.
    pub fn imbalance(&self) -> f64 {
        self.solver.ledger().imbalance()
    }

    /// Mean specific enthalpy, J/kg.
    pub fn mean_enthalpy(&self) -> f64 {
        self.solver.total_enthalpy() / self.solver.total_mass()
    }

    /// Reads the temperatures off the solver.
    fn read(&mut self, bar: &Bar) {
        bar.read(&self.solver, &mut self.now);
    }

    /// Node temperatures.
    pub fn nodes(&self, bar: &Bar) -> Nodes {
        let thermal = self.solver.medium();
        // Both branches agree where a billet leaves the heater; below, the axis cell's one is taken.
        let branch = thermal.branch(self.solver.cooled()[0]);
        let core = bar.core(&self.now);
        Nodes {
            core_c: core,
            surface_c: bar.surface(&self.now),
            mean_c: branch.at(self.mean_enthalpy()).temp_c,
            hottest_c: self.now.iter().copied().fold(core, f64::max),
        }
    }

    /// Points (relative distance, degC) from the axis to the surface: along the radius, or to the
    /// middle of the upright face.
    pub fn profile(&self, bar: &Bar) -> Vec<(f64, f64)> {
        bar.profile(&self.now)
    }

    /// The whole section, where it is not round.
    pub fn section(&self, bar: &Bar) -> Option<SectionField> {
        bar.section_field(&self.now)
    }

    /// Heat density of each thermal cell in the last look, W/m³, at the relative distance from the
    /// axis: along the radius, or to the middle of the upright face.
    pub fn heat_density(&self, bar: &Bar) -> Vec<(f64, f64)> {
        bar.heat_density(&self.heat)
    }

    /// Surface impedance for the next `dt` (s) in coil `of` of those that the slice lies in, of
    /// `frequency_hz` at a field of about `h0` [A/m]: the temperatures are carried forward to the middle of the interval by the rate of
    /// the last one, which makes the exchange between field and heat second order in time.
    pub fn impedance(
        &mut self,
        bar: &Bar,
        of: usize,
        frequency_hz: f64,
        h0: f64,
        dt: f64,
    ) -> Result<SurfaceImpedance, HeaterError> {
        if self.last_s > 0.0 {
            let ahead = 0.5 * dt / self.last_s;
            for (b, n) in self.before.iter_mut().zip(&self.now) {
                *b = n + ahead * (n - *b);
            }
            bar.sample(&self.before, &mut self.cells);
        } else {
            bar.sample(&self.now, &mut self.cells);
        }
        while self.fields.len() <= of {
            self.fields.push(bar.workspace());
        }
        bar.solve(&self.cells, frequency_hz, h0, &mut self.fields[of])
    }

    /// Advances by `dt` (s) with the heat of the field found by [`Slice::impedance`] for coil `of` of
    /// those that it lies in, at `h0` (A/m), or without induction when there is none.
    pub fn advance(&mut self, bar: &Bar, on: Option<(usize, f64)>, dt: f64) -> Result<(), HeaterError> {
        match on {
            Some((of, h0)) => {
                bar.heat(&self.fields[of], h0, &mut self.heat);
                if self.heated && self.last_s > 0.0 {
                    self.solver.drift_source(self.induction, &self.heat);
                } else {
                    self.solver.set_source(self.induction, &self.heat);
                }
                self.heated = true;
            }
            None => {
                if self.heated {
                    self.solver.clear_source();
                    self.heat.fill(0.0);
                }
                self.heated = false;
            }
        }
        let until = self.solver.time_s() + dt;
        self.solver.advance(until, &mut |_| {})?;
        self.before.copy_from_slice(&self.now);
        self.read(bar);
        self.last_s = dt;
        Ok(())
    }

    /// Steps of the conduction solver so far.
    pub fn steps(&self) -> u64 {
        self.solver.work().steps
    }

    /// (field solutions, permeability iterations, reused solutions) so far.
    pub fn field_counts(&self) -> (u64, u64, u64) {
        let counts = self.fields.iter().map(BarField::counts);
        counts.fold((0, 0, 0), |a, c| (a.0 + c.0, a.1 + c.1, a.2 + c.2))
    }
}
