//! The field over a rectangular section, solved on one quarter of it.

use num_complex::Complex64;

use super::section::SLOW;
use super::solution::Solution;
use super::transfer::Overlap;
use super::{FieldOptions, Medium, Mesh, SurfaceImpedance};
use crate::heater::error::{HeaterError, not_negative, positive};
use crate::units::MU_0;

/// A rectangular section with the same field on all four faces. Bilinear elements on the product
/// of two graded meshes; the complex symmetric band matrix is factorised directly.
#[derive(Debug, Clone)]
pub struct Rectangle {
    x: Vec<f64>,
    y: Vec<f64>,
}

/// Work space and latest solution of a [`Rectangle`].
#[derive(Debug, Clone)]
pub struct RectangleWorkspace {
    /// Cells across.
    across: usize,
    /// H/H₀ at the nodes, x running fastest.
    field: Vec<Complex64>,
    /// Lower band of the matrix, then of its factor, row by row.
    band: Vec<Complex64>,
    rhs: Vec<Complex64>,
    /// Properties and powers of the cells, x running fastest, per metre of length; its flux is that through
    /// the faces of the quarter.
    cells: Solution,
    /// |H|/H₀ in the middle of each cell.
    middle: Vec<f64>,
    impedance: SurfaceImpedance,
    /// Corrected over stored resistance; multiplies the cells' losses.
    scale: f64,
    power_sum: f64,
}

impl RectangleWorkspace {
    /// H/H₀ at the nodes, x running fastest, from the middle outwards.
    pub fn relative_field(&self) -> &[Complex64] {
        &self.field
    }

    /// Loss of each cell in W (m/A)² per metre of length and H₀², x running fastest, of the latest
    /// full solution.
    pub fn cell_loss(&self) -> &[f64] {
        &self.cells.active
    }

    /// Forgets the stored solution, so that the next call solves.
    pub fn forget(&mut self) {
        self.cells.frequency_hz = 0.0;
    }

    /// (full solutions, permeability iterations in them, solutions reused) so far.
    pub fn counts(&self) -> (u64, u64, u64) {
        (self.cells.solves, self.cells.iterations, self.cells.reused)
    }

    /// Resistivity (Ω m) and relative permeability at the middle of the face across.
    pub fn face_medium(&self) -> (f64, f64) {
        let cell = self.across - 1;
        (self.cells.resistivity[cell], self.cells.permeability[cell])
    }

    /// Surface impedance, mean over the perimeter, from the flux through the faces.
    pub fn impedance(&self) -> SurfaceImpedance {
        self.impedance
    }
}

/// Element matrices on a cell of hx by hy: stiffness K = ∫grad·grad and mass M = ∫N N, corners in
/// the order (0,0), (1,0), (0,1), (1,1).
fn element(hx: f64, hy: f64) -> ([[f64; 4]; 4], [[f64; 4]; 4]) {
    let k1 = [[1.0, -1.0], [-1.0, 1.0]];
    let m1 = [[1.0 / 3.0, 1.0 / 6.0], [1.0 / 6.0, 1.0 / 3.0]];
    let mut k = [[0.0; 4]; 4];
    let mut m = [[0.0; 4]; 4];
    for a in 0..4 {
        for b in 0..4 {
            let (ax, ay, bx, by) = (a % 2, a / 2, b % 2, b / 2);
            k[a][b] = k1[ax][bx] * m1[ay][by] * hy / hx + m1[ax][bx] * k1[ay][by] * hx / hy;
            m[a][b] = m1[ax][bx] * m1[ay][by] * hx * hy;
        }
    }
    (k, m)
}

impl Rectangle {
    /// A section whose quarter has the given meshes (half width, half height).
    pub fn new(x: &Mesh, y: &Mesh) -> Rectangle {
        Rectangle {
            x: x.nodes().to_vec(),
            y: y.nodes().to_vec(),
        }
    }

    /// Cells of the quarter across and up.
    pub fn cells(&self) -> (usize, usize) {
        (self.x.len() - 1, self.y.len() - 1)
    }

    /// Nodes across and up (m), from the middle outwards.
    pub fn nodes(&self) -> (&[f64], &[f64]) {
        (&self.x, &self.y)
    }

    /// Perimeter of the whole section in m.
    pub fn perimeter(&self) -> f64 {
        4.0 * (self.x[self.x.len() - 1] + self.y[self.y.len() - 1])
    }

    /// Work space for this section.
    pub fn workspace(&self) -> RectangleWorkspace {
        let (nx, ny) = self.cells();
        let zero = Complex64::new(0.0, 0.0);
        RectangleWorkspace {
            across: nx,
            field: vec![Complex64::new(1.0, 0.0); (nx + 1) * (ny + 1)],
            band: vec![zero; nx * ny * (nx + 2)],
            rhs: vec![zero; nx * ny],
            cells: Solution::new(nx * ny),
            impedance: SurfaceImpedance {
                resistance: 0.0,
                reactance: 0.0,
            },
            middle: vec![1.0; nx * ny],
            scale: 1.0,
            power_sum: 0.0,
        }
    }

    /// Solves for the field at `frequency_hz` and a surface field of `h0` [A/m RMS], with the
    /// temperature of each quarter cell in degC (x running fastest), or keeps the stored solution
    /// where that is close enough (as [`super::LineSection::solve`]).
    pub fn solve<M: Medium + ?Sized>(
        &self,
        medium: &M,
        temps_c: &[f64],
        frequency_hz: f64,
        h0: f64,
        options: &FieldOptions,
        work: &mut RectangleWorkspace,
    ) -> Result<SurfaceImpedance, HeaterError> {
        positive("frequency in Hz", frequency_hz)?;
        not_negative("surface field in A/m", h0)?;
        let (nx, ny) = self.cells();
        if temps_c.len() != nx * ny || work.field.len() != (nx + 1) * (ny + 1) {
            return Err(HeaterError::BadGrid {
                name: "field",
                problem: format!("{} cells, but {} temperatures", nx * ny, temps_c.len()),
            });
        }
        let middle = &work.middle;
        let field = |c: usize| h0 * middle[c];
        if let Some(flux) = work.cells.corrected(medium, temps_c, frequency_hz, options, field) {
            work.scale = flux.re / work.cells.flux.re;
            work.impedance = self.impedance_of(flux, work.cells.excess);
            work.cells.reused += 1;
            return Ok(work.impedance);
        }
        work.cells.begin(medium, temps_c, field)?;
        let omega = 2.0 * std::f64::consts::PI * frequency_hz;
        let mut residual = f64::INFINITY;
        let mut relaxation = 1.0;
        for _ in 0..options.max_iterations {
            let last = residual;
            work.cells.iterations += 1;
            self.solve_linear(omega, work);
            let middle = &work.middle;
            let change = work.cells.follow(medium, temps_c, relaxation, |c| h0 * middle[c]);
            residual = change / work.power_sum;
            if residual > SLOW * last {
                relaxation = 0.5;
            }
            if residual <= options.tolerance {
                work.cells.frequency_hz = frequency_hz;
                work.cells.find_excess(medium, temps_c, |c| h0 * middle[c]);
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

    fn impedance_of(&self, flux: Complex64, excess: f64) -> SurfaceImpedance {
        let quarter = 0.25 * self.perimeter();
        SurfaceImpedance {
            resistance: flux.re / quarter,
            reactance: (1.0 - excess) * flux.im / quarter,
        }
    }

    /// Nodes of a cell in the order of [`element`].
    #[inline]
    fn corners(&self, cell: usize) -> [usize; 4] {
        let nx = self.x.len() - 1;
        let (i, j) = (cell % nx, cell / nx);
        let n = j * (nx + 1) + i;
        [n, n + 1, n + nx + 1, n + nx + 2]
    }

    /// One linear solution. Unknowns are the nodes off the two outer faces, where H = H₀.
    fn solve_linear(&self, omega: f64, work: &mut RectangleWorkspace) {
        let (nx, ny) = self.cells();
        // Unknown (i, j) has number j·nx + i; a cell couples numbers up to nx + 1 apart.
        let width = nx + 2;
        let zero = Complex64::new(0.0, 0.0);
        work.band.fill(zero);
        work.rhs.fill(zero);
        for cell in 0..nx * ny {
            let (i, j) = (cell % nx, cell / nx);
            let (k, m) = element(self.x[i + 1] - self.x[i], self.y[j + 1] - self.y[j]);
            let reluctance = omega * MU_0 * work.cells.permeability[cell];
            for a in 0..4 {
                let (ia, ja) = (i + a % 2, j + a / 2);
                if ia == nx || ja == ny {
                    continue;
                }
                let row = ja * nx + ia;
                for b in 0..4 {
                    let value = Complex64::new(work.cells.resistivity[cell] * k[a][b], reluctance * m[a][b]);
                    let (ib, jb) = (i + b % 2, j + b / 2);
                    if ib == nx || jb == ny {
                        work.rhs[row] -= value;
                    } else {
                        let column = jb * nx + ib;
                        if column <= row {
                            work.band[row * width + (width - 1) - (row - column)] += value;
                        }
                    }
                }
            }
        }
        factorise_and_solve(&mut work.band, width, &mut work.rhs);
        for j in 0..=ny {
            for i in 0..=nx {
                work.field[j * (nx + 1) + i] = if i == nx || j == ny {
                    Complex64::new(1.0, 0.0)
                } else {
                    work.rhs[j * nx + i]
                };
            }
        }
        self.powers(omega, work);
    }

    /// Power of each cell, and the flux through the outer faces as the reaction of their nodes.
    fn powers(&self, omega: f64, work: &mut RectangleWorkspace) {
        let (nx, ny) = self.cells();
        let mut flux = Complex64::new(0.0, 0.0);
        work.power_sum = 0.0;
        for cell in 0..nx * ny {
            let (i, j) = (cell % nx, cell / nx);
            let (k, m) = element(self.x[i + 1] - self.x[i], self.y[j + 1] - self.y[j]);
            let corners = self.corners(cell);
            let reluctance = omega * MU_0 * work.cells.permeability[cell];
            let (mut active, mut reactive) = (0.0, 0.0);
            let (mut square_j, mut square_h) = (Complex64::new(0.0, 0.0), Complex64::new(0.0, 0.0));
            let sum: Complex64 = corners.iter().map(|&n| work.field[n]).sum();
            work.middle[cell] = 0.25 * sum.norm_sqr().sqrt();
            for a in 0..4 {
                let on_face = i + a % 2 == nx || j + a / 2 == ny;
                let ha = work.field[corners[a]];
                for b in 0..4 {
                    let hb = work.field[corners[b]];
                    let pair = (ha.conj() * hb).re;
                    active += k[a][b] * pair;
                    reactive += m[a][b] * pair;
                    square_j += k[a][b] * (ha * hb);
                    square_h += m[a][b] * (ha * hb);
                    if on_face {
                        flux += Complex64::new(work.cells.resistivity[cell] * k[a][b], reluctance * m[a][b]) * hb;
                    }
                }
            }
            // Four quarters make the section.
            work.cells.active[cell] = work.cells.resistivity[cell] * active;
            work.cells.reactive[cell] = reluctance * reactive;
            work.cells.resistive_slope[cell] = work.cells.resistivity[cell] * square_j;
            work.cells.inductive_slope[cell] = Complex64::new(0.0, reluctance) * square_h;
            work.power_sum += work.cells.active[cell];
        }
        work.cells.flux = flux;
        work.scale = 1.0;
        work.impedance = self.impedance_of(flux, 0.0);
    }
}

/// Solves a complex symmetric band system in place by LDLᵀ without pivoting, which is stable for
/// matrices whose real part is positive definite and whose imaginary part is not negative (Higham,
/// Math. Comp. 67 (1998) 1591, "Factorizing complex symmetric matrices with positive definite real
/// and imaginary parts"). Row r of the lower band ends with its diagonal.
fn factorise_and_solve(band: &mut [Complex64], width: usize, rhs: &mut [Complex64]) {
    let n = rhs.len();
    let half = width - 1;
    let at = |row: usize, column: usize| row * width + half - (row - column);
    for row in 0..n {
        let first = row.saturating_sub(half);
        let (done, rest) = band.split_at_mut(row * width);
        // Entry (row, k) lies at k - row + half of its row.
        let this = &mut rest[..width];
        // The row becomes L·D before the diagonal, then L.
        for column in first..row {
            let start = first.max(column.saturating_sub(half));
            let lower = &done[at(column, start)..at(column, column)];
            let upper = &this[start + half - row..column + half - row];
            let mut sum = this[column + half - row];
            for (l, u) in lower.iter().zip(upper) {
                sum -= l * u;
            }
            this[column + half - row] = sum;
        }
        let mut diagonal = this[half];
        for column in first..row {
            let value = this[column + half - row];
            let factor = value / done[at(column, column)];
            diagonal -= factor * value;
            this[column + half - row] = factor;
        }
        this[half] = diagonal;
    }
    for row in 0..n {
        let mut sum = rhs[row];
        for k in row.saturating_sub(half)..row {
            sum -= band[at(row, k)] * rhs[k];
        }
        rhs[row] = sum;
    }
    for row in 0..n {
        rhs[row] /= band[at(row, row)];
    }
    for row in (0..n).rev() {
        let value = rhs[row];
        for k in row.saturating_sub(half)..row {
            rhs[k] -= band[at(row, k)] * value;
        }
    }
}

/// Hands the loss of a [`Rectangle`] to the cells of a rectangular thermal grid by exact overlap.
#[derive(Debug, Clone)]
pub struct RectangleTransfer {
    across: Overlap,
    up: Overlap,
    nx: usize,
}

impl RectangleTransfer {
    /// Prepares the transfer to the product of two lines of cell faces (m) with the given centres.
    /// Each line may cover one side of its centre or both.
    pub fn new(
        section: &Rectangle,
        across: (&[f64], f64),
        up: (&[f64], f64),
    ) -> Result<RectangleTransfer, HeaterError> {
        let length = |a: f64, b: f64| b - a;
        Ok(RectangleTransfer {
            across: Overlap::new(&section.x, across.0, across.1, length)?,
            up: Overlap::new(&section.y, up.0, up.1, length)?,
            nx: section.x.len() - 1,
        })
    }

    /// Heat of each thermal cell in W per metre of length at a surface field of `h0` [A/m RMS],
    /// the across axis running fastest. The sum is that of the sides covered: a quarter of the
    /// section's power for one side each, all of it for both.
    pub fn heat(&self, work: &RectangleWorkspace, h0: f64, out: &mut [f64]) {
        let columns = self.across.targets();
        for (k, value) in out.iter_mut().enumerate().take(columns * self.up.targets()) {
            let mut sum = 0.0;
            for (j, share_y) in self.up.of(k / columns) {
                for (i, share_x) in self.across.of(k % columns) {
                    sum += share_x * share_y * work.cells.active[j * self.nx + i];
                }
            }
            *value = sum * work.scale * h0 * h0;
        }
    }
}
