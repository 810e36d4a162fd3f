//! The field along one radius or across half a plate.

use num_complex::Complex64;

use super::medium::Medium;
use super::mesh::{Mesh, skin_depth};
use super::options::FieldOptions;
use super::solution::Solution;
use crate::heater::error::{HeaterError, not_negative, positive};
use crate::units::MU_0;

/// How the section continues beyond the line on which the field is solved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Symmetry {
    /// A long cylinder; the line is a radius.
    Radial,
    /// A wide plate with the same field on both faces; the line is half its thickness.
    Planar,
}

/// Ratio of successive residuals of the permeability iteration from which on it is relaxed.
pub(super) const SLOW: f64 = 0.6;

/// Surface impedance E/H of the section, Ω per square.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurfaceImpedance {
    /// Real part: active power per area is this times H₀².
    pub resistance: f64,
    /// Imaginary part: reactive power per area is this times H₀².
    pub reactance: f64,
}

impl SurfaceImpedance {
    /// Active power into the surface, W/m², at a surface field of `h0` [A/m RMS].
    pub fn power(&self, h0: f64) -> f64 {
        self.resistance * h0 * h0
    }

    /// Reactive power into the surface, var/m², at a surface field of `h0` [A/m RMS].
    pub fn reactive(&self, h0: f64) -> f64 {
        self.reactance * h0 * h0
    }

    /// The pair (K_T, K_X) with Z = (ρ/δ)(K_T + jK_X), for reference properties in Ω m and 1, and
    /// a frequency in Hz.
    pub fn factors(&self, resistivity: f64, permeability: f64, frequency_hz: f64) -> (f64, f64) {
        let scale = skin_depth(resistivity, permeability, frequency_hz) / resistivity;
        (self.resistance * scale, self.reactance * scale)
    }
}

/// Work space and the latest solution of one section; nothing is allocated in repeated solves.
#[derive(Debug, Clone)]
pub struct FieldWorkspace {
    /// H/H₀ at the nodes.
    pub(super) field: Vec<Complex64>,
    /// Admittance and pivot of the elimination, per cell.
    pub(super) pivot: Vec<Complex64>,
    /// Properties and powers per cell (per radian of the circle when radial, per square metre of the plate's
    /// face when planar).
    cells: Solution,
    /// Impedance as corrected for properties changed since.
    pub(super) impedance: SurfaceImpedance,
    /// Corrected over stored resistance; multiplies the cells' losses.
    pub(super) scale: f64,
}

impl FieldWorkspace {
    /// H/H₀ at the grid nodes, from the middle to the surface.
    pub fn relative_field(&self) -> &[Complex64] {
        &self.field
    }

    /// Resistivity of each cell in the latest solution, Ω m.
    pub fn resistivity(&self) -> &[f64] {
        &self.cells.resistivity
    }

    /// Relative permeability of each cell in the latest solution.
    pub fn permeability(&self) -> &[f64] {
        &self.cells.permeability
    }

    /// Surface impedance of the latest solution.
    pub fn impedance(&self) -> SurfaceImpedance {
        self.impedance
    }

    /// Loss of a cell per H₀², in W (m/A)² per radian of a circle and metre of length when radial,
    /// per square metre of the plate's face when planar.
    #[inline]
    pub fn cell_loss(&self, cell: usize) -> f64 {
        self.cells.active[cell] * self.scale
    }

    /// Forgets the stored solution, so that the next call solves.
    pub fn forget(&mut self) {
        self.cells.frequency_hz = 0.0;
    }

    /// (full solutions, permeability iterations in them, solutions reused) so far.
    pub fn counts(&self) -> (u64, u64, u64) {
        (self.cells.solves, self.cells.iterations, self.cells.reused)
    }
}

/// A section reduced to one line by symmetry, with its grid.
#[derive(Debug, Clone)]
pub struct LineSection {
    symmetry: Symmetry,
    nodes: Vec<f64>,
    /// Middle of each cell over its width (radial: times the middle radius).
    stiff: Vec<f64>,
    /// Width of each cell (radial: times the middle radius).
    measure: Vec<f64>,
    /// Share of each cell's measure that belongs to its inner node: up to the middle.
    inner: Vec<f64>,
    /// Surface belonging to the line: the radius when radial, 1 when planar.
    surface: f64,
}

impl LineSection {
    /// A section on a grid.
    pub fn new(symmetry: Symmetry, mesh: &Mesh) -> LineSection {
        let nodes = mesh.nodes().to_vec();
        let weight = |w: &[f64]| match symmetry {
            Symmetry::Radial => 0.5 * (w[0] + w[1]),
            Symmetry::Planar => 1.0,
        };
        let stiff = nodes.windows(2).map(|w| weight(w) / (w[1] - w[0])).collect();
        let measure = nodes.windows(2).map(|w| weight(w) * (w[1] - w[0])).collect();
        let inner = nodes
            .windows(2)
            .map(|w| match symmetry {
                Symmetry::Radial => 0.5 - 0.25 * (w[1] - w[0]) / (w[0] + w[1]),
                Symmetry::Planar => 0.5,
            })
            .collect();
        let half = nodes[nodes.len() - 1];
        LineSection {
            symmetry,
            nodes,
            stiff,
            measure,
            inner,
            surface: match symmetry {
                Symmetry::Radial => half,
                Symmetry::Planar => 1.0,
            },
        }
    }

    /// The symmetry.
    pub fn symmetry(&self) -> Symmetry {
        self.symmetry
    }

    /// Node positions from the middle to the surface, m.
    pub fn nodes(&self) -> &[f64] {
        &self.nodes
    }

    /// Number of cells.
    pub fn cells(&self) -> usize {
        self.stiff.len()
    }

    /// Positions of the cell middles, m.
    pub fn middles(&self) -> Vec<f64> {
        self.nodes.windows(2).map(|w| 0.5 * (w[0] + w[1])).collect()
    }

    /// Loss density of cell `cell` in W/m³ at a surface field of `h0` [A/m RMS].
    pub fn loss_density(&self, work: &FieldWorkspace, cell: usize, h0: f64) -> f64 {
        work.cell_loss(cell) * h0 * h0 / self.measure[cell]
    }

    /// Ψ in Ts − Tc = Ψ q″R/(2k), the steady difference between surface and core under a heat flux
    /// q″ that enters as this loss: 2∫(s² − F)/s ds on a radius, 2∫(s − F) ds on half a plate, with the
    /// share F of the power inside the relative place s (Carslaw and Jaeger; Davies and Simpson,
    /// Induction Heating Handbook, 1979, eq. 13.9 for the thin skin, Ψ = 1).
    pub fn difference_factor(&self, work: &FieldWorkspace) -> f64 {
        let half = self.nodes[self.nodes.len() - 1];
        let total: f64 = work.cells.active.iter().sum();
        let mut inside = 0.0;
        let mut sum = 0.0;
        for (c, w) in self.nodes.windows(2).enumerate() {
            let (a, b) = (w[0] / half, w[1] / half);
            let share = work.cells.active[c] / total;
            sum += match self.symmetry {
                Symmetry::Radial => {
                    // F runs linearly in s² inside a cell.
                    let slope = share / (b * b - a * a);
                    let offset = inside - slope * a * a;
                    let log = if a > 0.0 { (b / a).ln() } else { 0.0 };
                    (1.0 - slope) * 0.5 * (b * b - a * a) - offset * log
                }
                Symmetry::Planar => 0.5 * (b * b - a * a) - (b - a) * (inside + 0.5 * share),
            };
            inside += share;
        }
        2.0 * sum
    }

    /// Work space for this section.
    pub fn workspace(&self) -> FieldWorkspace {
        let n = self.cells();
        FieldWorkspace {
            field: vec![Complex64::new(1.0, 0.0); n + 1],
            pivot: vec![Complex64::new(0.0, 0.0); n],
            cells: Solution::new(n),
            impedance: SurfaceImpedance {
                resistance: 0.0,
                reactance: 0.0,
            },
            scale: 1.0,
        }
    }

    /// Solves for the field at `frequency_hz` and a surface field of `h0` [A/m RMS], with the
    /// temperature of each cell in degC, or keeps the stored solution where that is close enough
    /// (see [`FieldOptions::reuse`]).
    ///
    /// Behind the reuse: the surface impedance is a stationary value of Z = ∫(ρJ² + jωμH²), so to
    /// first order δZ = ∫(δρ J² + jωδμ H²) with the old field, and |δR| ≤ ∫(|δρ/ρ|·p + |δμ/μ|·q) with
    /// the active and reactive power densities p, q. What remains is of second order.
    pub fn solve<M: Medium + ?Sized>(
        &self,
        medium: &M,
        temps_c: &[f64],
        frequency_hz: f64,
        h0: f64,
        options: &FieldOptions,
        work: &mut FieldWorkspace,
    ) -> Result<SurfaceImpedance, HeaterError> {
        positive("frequency in Hz", frequency_hz)?;
        not_negative("surface field in A/m", h0)?;
        if temps_c.len() != self.cells() || work.field.len() != self.nodes.len() {
            return Err(HeaterError::BadGrid {
                name: "field",
                problem: format!(
                    "{} cells, but {} temperatures and a work space for {}",
                    self.cells(),
                    temps_c.len(),
                    work.field.len().saturating_sub(1)
                ),
            });
        }
        let field = |c: usize| h0 * mean_field(&self.inner, &work.field, c);
        if let Some(flux) = work.cells.corrected(medium, temps_c, frequency_hz, options, field) {
            work.scale = flux.re / work.cells.flux.re;
            work.impedance = self.impedance_of(flux, work.cells.excess);
            work.cells.reused += 1;
            return Ok(work.impedance);
        }
        self.solve_anew(medium, temps_c, frequency_hz, h0, options, work)
    }

    fn impedance_of(&self, flux: Complex64, excess: f64) -> SurfaceImpedance {
        SurfaceImpedance {
            resistance: flux.re / self.surface,
            reactance: (1.0 - excess) * flux.im / self.surface,
        }
    }

    fn solve_anew<M: Medium + ?Sized>(
        &self,
        medium: &M,
        temps_c: &[f64],
        frequency_hz: f64,
        h0: f64,
        options: &FieldOptions,
        work: &mut FieldWorkspace,
    ) -> Result<SurfaceImpedance, HeaterError> {
        let omega = 2.0 * std::f64::consts::PI * frequency_hz;
        let field = |c: usize| h0 * mean_field(&self.inner, &work.field, c);
        work.cells.begin(medium, temps_c, field)?;
        let mut residual = f64::INFINITY;
        let mut relaxation = 1.0;
        for _ in 0..options.max_iterations {
            let last = residual;
            work.cells.iterations += 1;
            self.eliminate(omega, work);
            let field = |c: usize| h0 * mean_field(&self.inner, &work.field, c);
            let change = work.cells.follow(medium, temps_c, relaxation, field);
            residual = change / work.cells.flux.re;
            // Saturated steel converges fastest without relaxation; half of it is safe everywhere.
            if residual > SLOW * last {
                relaxation = 0.5;
            }
            if change == 0.0 || residual <= options.tolerance {
                work.cells.frequency_hz = frequency_hz;
                let field = |c: usize| h0 * mean_field(&self.inner, &work.field, c);
                work.cells.find_excess(medium, temps_c, field);
                work.impedance = self.impedance_of(work.cells.flux, work.cells.excess);
                return Ok(work.impedance);
            }
        }
        Err(HeaterError::FieldNotConverged {
            frequency_hz,
            field_a_m: h0,
            iterations: options.max_iterations,
            residual,
        })
    }

    /// One linear solution by the box scheme: ρ and μ constant in a cell, E at the nodes, and the
    /// cell's mean H in the induction term, shared to the nodes as the cell's measure is. On a plate
    /// its characteristic impedance is exactly √(jωμρ) for any cell size, so a change of cell size
    /// reflects nothing and the impedance of a half space is exact on any grid; on a radius the
    /// curvature at the axis is exact.
    ///
    /// `inner` is the admittance looking inwards from a node. A cell with series term s = ρ·stiff,
    /// shunt term m = jωμ·measure and shares f₀ + f₁ = 1 turns it into
    /// (m s + (s + m f₁²)·inner)/(s + m f₀² + inner); no difference of large numbers occurs.
    fn eliminate(&self, omega: f64, work: &mut FieldWorkspace) {
        let n = self.cells();
        let mut inner = Complex64::new(0.0, 0.0);
        for c in 0..n {
            let s = work.cells.resistivity[c] * self.stiff[c];
            let m = omega * MU_0 * work.cells.permeability[c] * self.measure[c];
            let (f0, f1) = (self.inner[c], 1.0 - self.inner[c]);
            let inverse = (inner + Complex64::new(s, m * f0 * f0)).inv();
            // Ratio H_inner/H_outer across the cell, to go back with.
            work.pivot[c] = Complex64::new(s, -m * f0 * f1) * inverse;
            inner = (Complex64::new(0.0, m * s) + inner * Complex64::new(s, m * f1 * f1)) * inverse;
        }
        let mut h = Complex64::new(1.0, 0.0);
        work.field[n] = h;
        for c in (0..n).rev() {
            let outer = h;
            h *= work.pivot[c];
            work.field[c] = h;
            let s = work.cells.resistivity[c] * self.stiff[c];
            let m = omega * MU_0 * work.cells.permeability[c] * self.measure[c];
            let current = outer - h;
            let mean = self.inner[c] * h + (1.0 - self.inner[c]) * outer;
            work.cells.active[c] = s * current.norm_sqr();
            work.cells.reactive[c] = m * mean.norm_sqr();
            work.cells.resistive_slope[c] = s * current * current;
            work.cells.inductive_slope[c] = Complex64::new(0.0, m) * mean * mean;
        }
        work.cells.flux = inner;
        work.scale = 1.0;
        work.impedance = self.impedance_of(inner, 0.0);
    }
}

/// Mean field of a cell, relative to H₀.
#[inline]
fn mean_field(inner: &[f64], field: &[Complex64], cell: usize) -> f64 {
    let mean = inner[cell] * field[cell] + (1.0 - inner[cell]) * field[cell + 1];
    mean.norm_sqr().sqrt()
}
