//! What a field solution leaves in the cells, and its correction for properties that changed since.

use num_complex::Complex64;

use super::medium::Medium;
use super::options::FieldOptions;
use crate::heater::error::{HeaterError, positive};

/// Share of the reactive power of saturated magnetisation that linear cells have too much of.
const REACTIVE_EXCESS: f64 = 0.18;

/// Properties and powers of the cells in the latest solution of a section.
#[derive(Debug, Clone)]
pub(super) struct Solution {
    pub resistivity: Vec<f64>,
    pub permeability: Vec<f64>,
    /// Active and reactive power of each cell per H₀².
    pub active: Vec<f64>,
    pub reactive: Vec<f64>,
    /// The same with J² and H² in place of |J|² and |H|²: derivatives of the flux.
    pub resistive_slope: Vec<Complex64>,
    pub inductive_slope: Vec<Complex64>,
    /// Flux of the solution through the surface of the section, per H₀².
    pub flux: Complex64,
    /// Share of the reactive power that the linear cells have too much of.
    pub excess: f64,
    /// Frequency of the solution; 0 when there is none.
    pub frequency_hz: f64,
    /// Field solutions and permeability iterations made, and solutions reused.
    pub solves: u64,
    pub iterations: u64,
    pub reused: u64,
}

impl Solution {
    pub fn new(cells: usize) -> Solution {
        let zero = Complex64::new(0.0, 0.0);
        Solution {
            resistivity: vec![0.0; cells],
            permeability: vec![1.0; cells],
            active: vec![0.0; cells],
            reactive: vec![0.0; cells],
            resistive_slope: vec![zero; cells],
            inductive_slope: vec![zero; cells],
            flux: zero,
            excess: 0.0,
            frequency_hz: 0.0,
            solves: 0,
            iterations: 0,
            reused: 0,
        }
    }

    /// The flux corrected to first order for the properties at other temperatures, or `None` where that
    /// could move the power by more than [`FieldOptions::reuse`]. `field` is the RMS field of a cell, A/m.
    pub fn corrected<M: Medium + ?Sized>(
        &self,
        medium: &M,
        temps_c: &[f64],
        frequency_hz: f64,
        options: &FieldOptions,
        field: impl Fn(usize) -> f64,
    ) -> Option<Complex64> {
        if self.frequency_hz != frequency_hz || options.reuse <= 0.0 {
            return None;
        }
        let allowed = options.reuse * self.flux.re;
        let mut change = 0.0;
        let mut slope = Complex64::new(0.0, 0.0);
        for (c, &temp) in temps_c.iter().enumerate() {
            let rho = medium.resistivity_ohm_m(temp) / self.resistivity[c] - 1.0;
            let mu = medium.relative_permeability(field(c), temp) / self.permeability[c] - 1.0;
            change += rho.abs() * self.active[c] + mu.abs() * self.reactive[c];
            slope += rho * self.resistive_slope[c] + mu * self.inductive_slope[c];
        }
        // A property that is not a number must reach the new solution, which reports it.
        (change <= allowed).then(|| self.flux + slope)
    }

    /// How much too large the reactive power of saturated cells is. A cell of a linear material has its flux in
    /// phase with its field; in saturated steel the flux hardly follows the crest of the field, and the wave is
    /// steeper, so that the fundamental needs less reactive power. What the magnetisation takes of it, times the
    /// degree of saturation −∂ln(µ−1)/∂ln H, is [`REACTIVE_EXCESS`] too much: fitted to nonlinear solutions in
    /// time of a half-space (30 to 200 kA/m, µ 4 to 50; calculated, see `tests/outside/eddy_time.rs`), whose power factor it
    /// then meets within 2 %; at 5 kA/m it is 3.5 % too low. The active power is left as it is (within 2 %).
    pub fn find_excess<M: Medium + ?Sized>(&mut self, medium: &M, temps_c: &[f64], field: impl Fn(usize) -> f64) {
        let (mut excess, mut whole) = (0.0, 0.0);
        for (c, &temp) in temps_c.iter().enumerate() {
            whole += self.reactive[c];
            let mu = self.permeability[c];
            let beyond = medium.relative_permeability(2.0 * field(c), temp) - 1.0;
            if mu > 1.0 && beyond > 0.0 {
                let here = medium.relative_permeability(field(c), temp) - 1.0;
                let saturation = (here / beyond).log2().clamp(0.0, 1.0);
                excess += self.reactive[c] * (mu - 1.0) / mu * saturation;
            }
        }
        self.excess = if whole > 0.0 {
            REACTIVE_EXCESS * excess / whole
        } else {
            0.0
        };
    }

    /// Begins a new solution with the properties at the given temperatures and fields.
    pub fn begin<M: Medium + ?Sized>(
        &mut self,
        medium: &M,
        temps_c: &[f64],
        field: impl Fn(usize) -> f64,
    ) -> Result<(), HeaterError> {
        self.solves += 1;
        self.frequency_hz = 0.0;
        for (c, &temp) in temps_c.iter().enumerate() {
            self.resistivity[c] = positive("resistivity in ohm m", medium.resistivity_ohm_m(temp))?;
            self.permeability[c] = positive("relative permeability", medium.relative_permeability(field(c), temp))?;
        }
        Ok(())
    }

    /// Takes the permeabilities towards those of the fields just found; gives by how much reactive power
    /// that can move the flux.
    pub fn follow<M: Medium + ?Sized>(
        &mut self,
        medium: &M,
        temps_c: &[f64],
        relaxation: f64,
        field: impl Fn(usize) -> f64,
    ) -> f64 {
        let mut change = 0.0;
        for (c, &temp) in temps_c.iter().enumerate() {
            let old = self.permeability[c];
            let new = medium.relative_permeability(field(c), temp);
            if new != old {
                change += (new / old - 1.0).abs() * self.reactive[c];
                self.permeability[c] = old + relaxation * (new - old);
            }
        }
        change
    }
}
