//! The reference case: a round billet 60 x 140 mm of EN 1993-1-2 carbon steel cools from 1240 degC
//! for 60 s in still surroundings of 25 degC, emissivity 0.8, film 10 W/m²K.

use std::error::Error;
use std::fmt::Write as _;
use std::sync::Arc;

use billet_thermal::body::{Axis, AxisKind, Grid};
use billet_thermal::conduction::{Exchange, Law, Solver, Tolerance};
use billet_thermal::steel::{Branch, Library, ThermalTable};

/// Temperatures are compared at these times, s.
pub const TIMES_S: [f64; 6] = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0];

const START_C: f64 = 1240.0;
const AMBIENT_C: f64 = 25.0;
const FILM: f64 = 10.0;
const EMISSIVITY: f64 = 0.8;
/// Largest over smallest cell on each axis.
const GRADING: f64 = 10.0;
/// Intervals of the property table handed to the other solvers: those of the library.
const INTERVALS: usize = 4096;

/// Grid and metal.
pub struct Case {
    /// Cells along the radius and along the axis.
    pub cells: (usize, usize),
    /// The grid; radius runs fastest.
    pub grid: Arc<Grid>,
    /// The metal.
    pub medium: Arc<ThermalTable>,
}

/// Share of the length at share `s` of the cells: cells shrink exponentially towards 1.
fn graded(s: f64) -> f64 {
    (1.0 - GRADING.powf(-s)) / (1.0 - 1.0 / GRADING)
}

impl Case {
    /// The case on `nr` cells along the radius and `nz` along the axis.
    pub fn new(nr: usize, nz: usize) -> Result<Case, Box<dyn Error>> {
        let radius = (0..=nr).map(|i| 0.03 * graded(i as f64 / nr as f64)).collect();
        let height = (0..=nz)
            .map(|i| {
                let s = 2.0 * i as f64 / nz as f64 - 1.0;
                0.07 + 0.07 * s.signum() * graded(s.abs())
            })
            .collect();
        let grid = Grid::new(vec![
            Axis::new(AxisKind::Linear, height)?,
            Axis::new(AxisKind::Radial, radius)?,
        ])?;
        Ok(Case {
            cells: (nr, nz),
            grid: Arc::new(grid),
            medium: Library::builtin()?.find("EN1993-1-2-carbon")?.thermal(),
        })
    }

    /// The relation that austenite follows on cooling.
    pub fn branch(&self) -> &Branch {
        self.medium.branch(true)
    }

    /// Enthalpy at the start, J/kg.
    pub fn start(&self) -> f64 {
        self.branch().enthalpy(START_C)
    }

    /// The law of all faces.
    pub fn air(&self) -> Exchange {
        Exchange::air(FILM, EMISSIVITY, AMBIENT_C)
    }

    /// Mass of each cell, kg.
    pub fn mass(&self) -> Vec<f64> {
        self.grid.volume().iter().map(|v| v * self.medium.density).collect()
    }

    /// Grid and table as numbers in text, for solvers in other languages.
    pub fn export(&self) -> String {
        let grid = &self.grid;
        let (nr, nz) = self.cells;
        let (low, high) = self.branch().range();
        let step = (high - low) / INTERVALS as f64;
        let mut out = String::new();
        let _ = writeln!(out, "{nz} {nr} {} {INTERVALS}", grid.faces().len());
        let _ = writeln!(
            out,
            "{low:e} {:e} {:e} {FILM} {EMISSIVITY} {AMBIENT_C}",
            1.0 / step,
            self.start()
        );
        let mut row = |values: &[f64]| {
            for v in values {
                let _ = write!(out, "{v:e} ");
            }
            out.push('\n');
        };
        row(&self.mass());
        row(grid.between(0));
        row(grid.between(1));
        for face in grid.faces() {
            row(&[face.cell as f64, face.area, face.depth]);
        }
        for i in 0..INTERVALS {
            let s = self.branch().at(low + (i as f64 + 0.5) * step);
            let (dtemp, dtheta) = (s.dtemp_dh * step, s.dpotential_dh * step);
            row(&[s.temp_c - 0.5 * dtemp, dtemp, s.potential - 0.5 * dtheta, dtheta]);
        }
        out
    }

    /// Runs this crate's solver at a step tolerance; temperatures at [`TIMES_S`] and steps taken.
    pub fn ours(&self, step_k: f64) -> Result<(Vec<f64>, u64), Box<dyn Error>> {
        let mut solver = Solver::uniform(
            self.grid.clone(),
            self.medium.clone(),
            START_C,
            Tolerance::kelvin(step_k),
        );
        let account = solver.account("air");
        for group in 0..self.grid.groups() {
            let law = Law::Exchange {
                exchange: self.air(),
                share: 1.0,
                account,
            };
            solver.set_law(group, law);
        }
        let mut out = Vec::new();
        for t in TIMES_S {
            solver.advance(t, &mut |_| {})?;
            out.extend(solver.temperatures());
        }
        Ok((out, solver.work().steps))
    }
}
