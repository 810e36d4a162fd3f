//! A thin slice of a round bar: its temperatures over the radius, and what a coil puts into it.

use std::f64::consts::PI;
use std::sync::Arc;

use serde::Serialize;

use super::error::{HeaterError, positive};
use super::field::{
    FieldOptions, FieldWorkspace, LineSection, Mesh, Sampler, SurfaceImpedance, Symmetry, Transfer, skin_depth,
};
use super::metal::Metal;
use crate::body::{Axis, AxisKind, Grid};
use crate::conduction::{Exchange, Law, Solver, Tolerance};

/// How finely the heater is resolved, in space and time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fineness {
    /// Field grid: cells per skin depth at the surface, and over the radius in the middle.
    pub per_skin: f64,
    /// Thermal grid: surface cell as a share of the radius.
    pub surface_share: f64,
    /// Thermal grid: largest cell as a share of the radius.
    pub inner_share: f64,
    /// Time between two looks at the field, as a share of R²/a with a = 6e-6 m²/s.
    pub look_share: f64,
    /// Error tolerance of a time step, K.
    pub step_k: f64,
    /// Field solver.
    pub field: FieldOptions,
}

impl Fineness {
    /// For searches.
    pub fn quick() -> Fineness {
        Fineness {
            per_skin: 4.0,
            surface_share: 0.06,
            inner_share: 0.16,
            look_share: 1.0 / 60.0,
            step_k: 1.0,
            field: FieldOptions {
                tolerance: 3e-4,
                ..FieldOptions::default()
            },
        }
    }

    /// The default.
    pub fn standard() -> Fineness {
        Fineness {
            per_skin: 6.0,
            surface_share: 0.03,
            inner_share: 0.1,
            look_share: 1.0 / 150.0,
            step_k: 0.3,
            field: FieldOptions::default(),
        }
    }

    /// For checking the others.
    pub fn fine() -> Fineness {
        Fineness {
            per_skin: 16.0,
            surface_share: 0.01,
            inner_share: 0.04,
            look_share: 1.0 / 600.0,
            step_k: 0.03,
            field: FieldOptions {
                reuse: 2e-3,
                tolerance: 1e-5,
                ..FieldOptions::default()
            },
        }
    }
}

/// What all slices of one bar in one heater share: grids, transfer, metal.
#[derive(Debug, Clone)]
pub struct Bar {
    radius_m: f64,
    metal: Arc<Metal>,
    grid: Arc<Grid>,
    section: LineSection,
    sampler: Sampler,
    transfer: Transfer,
    fineness: Fineness,
    /// Relative radius of the thermal cell middles and of the surface.
    places: Vec<f64>,
}

impl Bar {
    /// A round bar of `radius_m` (m) for coils of up to `highest_hz` (Hz).
    pub fn round(radius_m: f64, metal: Arc<Metal>, highest_hz: f64, fineness: Fineness) -> Result<Bar, HeaterError> {
        use super::field::Medium;
        positive("billet radius in m", radius_m)?;
        positive("frequency in Hz", highest_hz)?;
        let axis = Axis::graded(
            AxisKind::Radial,
            0.0,
            radius_m,
            None,
            Some(fineness.surface_share * radius_m),
            1.3,
            fineness.inner_share * radius_m,
        )?;
        let faces = axis.faces().to_vec();
        let mut places: Vec<f64> = (0..axis.cells()).map(|i| axis.centre(i)).collect();
        places.push(radius_m);
        let grid = Grid::new(vec![axis])?;
        // The thinnest skin: cold steel in a field as strong as billet coils make it.
        let thinnest = skin_depth(
            metal.resistivity_ohm_m(20.0),
            metal.relative_permeability(1e5, 20.0),
            highest_hz,
        );
        let mesh = Mesh::for_skin(radius_m, thinnest, fineness.per_skin)?;
        let section = LineSection::new(Symmetry::Radial, &mesh);
        let sampler = Sampler::new(&places, &section.middles())?;
        let transfer = Transfer::new(&section, &faces, 0.0)?;
        for p in &mut places {
            *p /= radius_m;
        }
        Ok(Bar {
            radius_m,
            metal,
            grid: Arc::new(grid),
            section,
            sampler,
            transfer,
            fineness,
            places,
        })
    }

    /// Radius in m.
    pub fn radius_m(&self) -> f64 {
        self.radius_m
    }

    /// Area of the section, m².
    pub fn area_m2(&self) -> f64 {
        PI * self.radius_m * self.radius_m
    }

    /// Perimeter of the section, m.
    pub fn perimeter_m(&self) -> f64 {
        2.0 * PI * self.radius_m
    }

    /// Mass per metre of length, kg/m.
    pub fn mass_kg_m(&self) -> f64 {
        self.area_m2() * self.metal.thermal().density
    }

    /// The metal.
    pub fn metal(&self) -> &Arc<Metal> {
        &self.metal
    }

    /// Time between two looks at the field in s.
    pub fn look_s(&self) -> f64 {
        self.fineness.look_share * self.radius_m * self.radius_m / 6e-6
    }

    /// How finely it is resolved.
    pub fn fineness(&self) -> &Fineness {
        &self.fineness
    }

    /// Faces of the thermal cells along the radius, m.
    pub(super) fn faces(&self) -> &[f64] {
        self.grid.axes()[0].faces()
    }

    pub(super) fn section(&self) -> &LineSection {
        &self.section
    }

    pub(super) fn sampler(&self) -> &Sampler {
        &self.sampler
    }

    pub(super) fn transfer(&self) -> &Transfer {
        &self.transfer
    }

    /// Cells of the thermal and of the field grid.
    pub fn cells(&self) -> (usize, usize) {
        (self.grid.cells(), self.section.cells())
    }
}

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
pub struct Slice {
    solver: Solver,
    field: FieldWorkspace,
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
            Arc::clone(&bar.grid),
            Arc::clone(bar.metal.thermal()),
            start_c,
            Tolerance::kelvin(bar.fineness.step_k),
        );
        let induction = solver.account(INDUCTION);
        let loss = solver.account(LOSS);
        let n = bar.places.len();
        Slice {
            solver,
            field: bar.section.workspace(),
            induction,
            loss,
            now: vec![start_c; n],
            before: vec![start_c; n],
            cells: vec![start_c; bar.section.cells()],
            heat: vec![0.0; n - 1],
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
        // A radial axis from 0 has faces on its high side only.
        self.solver.set_law(1, law);
        self.last_s = 0.0;
    }

    /// Forgets the stored field, so that the result does not depend on what was computed before.
    pub fn forget_field(&mut self) {
        self.field.forget();
    }

    /// Skin depth in m of the outermost field cell in the latest field solution.
    pub fn surface_skin_m(&self, frequency_hz: f64) -> f64 {
        let last = self.field.resistivity().len() - 1;
        skin_depth(
            self.field.resistivity()[last],
            self.field.permeability()[last],
            frequency_hz,
        )
    }

    /// The state, to come back to.
    pub fn state(&self) -> State {
        State {
            h: self.solver.enthalpy().to_vec(),
            cooled: self.solver.cooled().to_vec(),
        }
    }

    /// Puts the slice into a stored state at a time (s).
    pub fn restore(&mut self, state: &State, time_s: f64) {
        self.solver.set_state(&state.h, &state.cooled, time_s);
        self.last_s = 0.0;
        self.read();
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

    /// Forgets the energies so far.
    pub fn clear_energies(&mut self) {
        self.solver.ledger_mut().clear();
    }

    /// Mean specific enthalpy, J/kg.
    pub fn mean_enthalpy(&self) -> f64 {
        self.solver.total_enthalpy() / self.solver.total_mass()
    }

    /// Reads the temperatures off the solver.
    fn read(&mut self) {
        let n = self.heat.len();
        for c in 0..n {
            self.now[c] = self.solver.temperature(c);
        }
        self.now[n] = self.solver.free_face_temperature(0, 1);
    }

    /// Node temperatures.
    pub fn nodes(&self) -> Nodes {
        let n = self.heat.len();
        let thermal = self.solver.medium();
        // Both branches agree where a billet leaves the heater; below, the axis cell's one is taken.
        let branch = thermal.branch(self.solver.cooled()[0]);
        // Zero slope at the axis: the parabola through the two innermost cells.
        let (a, b) = (
            self.solver.grid().axes()[0].centre(0),
            self.solver.grid().axes()[0].centre(1),
        );
        let core = self.now[0] - (self.now[1] - self.now[0]) * a * a / (b * b - a * a);
        Nodes {
            core_c: core,
            surface_c: self.now[n],
            mean_c: branch.at(self.mean_enthalpy()).temp_c,
            hottest_c: self.now.iter().copied().fold(core, f64::max),
        }
    }

    /// Points (r/R, degC) from the axis to the surface.
    pub fn profile(&self, bar: &Bar) -> Vec<(f64, f64)> {
        let mut points = vec![(0.0, self.nodes().core_c)];
        points.extend(bar.places.iter().copied().zip(self.now.iter().copied()));
        points
    }

    /// Heat density of each thermal cell in the last look, W/m³, at (r/R).
    pub fn heat_density(&self, bar: &Bar) -> Vec<(f64, f64)> {
        let volume = bar.grid.volume();
        (0..self.heat.len())
            .map(|c| (bar.places[c], self.heat[c] / volume[c]))
            .collect()
    }

    /// Surface impedance for the next `dt` (s) in a coil of `frequency_hz` at a field of about
    /// `h0` [A/m]: the temperatures are carried forward to the middle of the interval by the rate of
    /// the last one, which makes the exchange between field and heat second order in time.
    pub fn impedance(
        &mut self,
        bar: &Bar,
        frequency_hz: f64,
        h0: f64,
        dt: f64,
    ) -> Result<SurfaceImpedance, HeaterError> {
        if self.last_s > 0.0 {
            let ahead = 0.5 * dt / self.last_s;
            for (b, n) in self.before.iter_mut().zip(&self.now) {
                *b = n + ahead * (n - *b);
            }
            bar.sampler.sample(&self.before, &mut self.cells);
        } else {
            bar.sampler.sample(&self.now, &mut self.cells);
        }
        bar.section.solve(
            &*bar.metal,
            &self.cells,
            frequency_hz,
            h0,
            &bar.fineness.field,
            &mut self.field,
        )
    }

    /// Advances by `dt` (s) with the heat of the field found by [`Slice::impedance`] at `h0` (A/m), or
    /// without induction when `h0` is `None`.
    pub fn advance(&mut self, bar: &Bar, h0: Option<f64>, dt: f64) -> Result<(), HeaterError> {
        match h0 {
            Some(h0) => {
                bar.transfer.heat(&self.field, h0, &mut self.heat);
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
        self.read();
        self.last_s = dt;
        Ok(())
    }

    /// Steps of the conduction solver so far.
    pub fn steps(&self) -> u64 {
        self.solver.work().steps
    }

    /// (field solutions, permeability iterations, reused solutions) so far.
    pub fn field_counts(&self) -> (u64, u64, u64) {
        self.field.counts()
    }
}
