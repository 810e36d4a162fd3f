//! The exact solution of a stage's linear system in long steps.
//!
//! The product of one tridiagonal factor per axis stands for the true matrix. In a step that is long
//! against the diffusion times of the cells on two axes at once the product is far stiffer than the
//! matrix: what differs from its neighbours both ways, as the rim of an end does, then keeps its
//! value (or swings about its rest) although it should have come to rest, and the error estimate,
//! made with the same product, does not see it. Short steps do no harm, for heat does not go far in
//! them.
//!
//! Long steps therefore solve the true system, `M x + γτ L x = b`, by conjugate directions. Their
//! preconditioners are products made with a larger mass, μM, which is the product for a step
//! shorter by μ: each damps what settles in that time, and a geometric sequence of them damps all
//! of it (alternating directions with a sequence of parameters: Wachspress, The ADI Model Problem,
//! Springer 2013, chapter 1; the scaling is left to the conjugate directions, as in the flexible
//! method of Notay, SIAM Journal on Scientific Computing 22 (2000) 1444-1460; from memory).
//! The plain product then takes what is left and books its energies, so that the ledger closes as
//! in any other step.

use super::column::Columns;
use super::directions::Directions;
use super::solver::Solver;
use crate::body::Face;

/// Steps longer than this many times the time in which heat crosses the body where it is thinnest are long. On billets
/// that cool or are heated for a day no cell passes its start or its surroundings by more than 0.033 K with 3 to 6 (0.052 K
/// with 1, for every solution adds what its directions leave; 0.053 K with 10; 0.53 K with the product alone), and the
/// examples take up to a tenth fewer line solves with 4 than with 1. A flash counts as a body of its thickness: counted
/// with the whole part, its root was off by up to 2.4 K after half a minute of carrying; that costs stepped parts up to a
/// quarter more time.
const LONG: f64 = 4.0;

/// Ratio of neighbouring masses μ; with 20 the lines with the longest steps take a tenth fewer line solves than with 8
/// or 60.
const RATIO: f64 = 20.0;

/// Most directions of one solution.
const MOST: usize = 24;

/// The solution ends when a direction changes no cell by more than this share of the tolerance. With 0.1 the nodes err no
/// more, but by tenths of a kelvin from one time asked for to the next, and the ends of long waits lie beside their limits.
const ENOUGH: f64 = 0.01;

impl Columns {
    /// The matrix of the columns times their direction; reports what each contact adds to the row of
    /// the body's face cell. `body` gives the body's direction there.
    fn times(&mut self, faces: &[Face], body: &[f64], mut add: impl FnMut(usize, f64)) {
        let n = self.count;
        let w = &mut self.work;
        let p = std::mem::take(&mut w.exact.p);
        for k in 0..p.len() {
            let mut q = w.diagonal[k] * p[k];
            if k >= n {
                q -= w.scale * w.coupling[k - n] * p[k - n];
            }
            if k + n < p.len() {
                q -= w.scale * w.coupling[k] * p[k + n];
            }
            w.exact.q[k] = q;
        }
        for (c, contact) in self.contact.iter().enumerate() {
            if let Some(contact) = contact {
                let cell = faces[contact.face].cell;
                let (jb, jt) = (w.joint[c] * w.per_k_body[c], w.joint[c] * w.per_k_tool[c]);
                w.exact.q[c] -= jb * body[cell];
                add(cell, jb * body[cell] - jt * p[c]);
            }
        }
        w.exact.p = p;
    }

    /// Books the heat that the linear part of `x` carries; `joint` takes that into the body \[J\].
    fn book_linear(&mut self, faces: &[Face], body: &[f64], mut joint: impl FnMut(f64)) {
        let w = &mut self.work;
        let x = &w.exact.x;
        let heat = &mut w.heat[w.stage];
        let last = x.len() - self.count;
        for (slope, x) in w.deep_slope.iter().zip(&x[last..]) {
            heat.deep -= w.scale * slope * x;
        }
        for (c, contact) in self.contact.iter().enumerate() {
            match contact {
                Some(contact) => {
                    let cell = faces[contact.face].cell;
                    joint(-w.joint[c] * (w.per_k_body[c] * body[cell] - w.per_k_tool[c] * x[c]));
                }
                None => heat.open -= w.scale * w.open_slope[c] * x[c],
            }
        }
    }

    /// Factors of the columns with the mass times `mu`; reports what each adds to the diagonal of
    /// its face cell.
    fn factor_level(&mut self, level: usize, mu: f64, mut add: impl FnMut(usize, f64)) {
        let lines = self.lines();
        let w = &mut self.work;
        let cells = w.diagonal.len();
        let mut heavy = std::mem::take(&mut w.exact.z);
        heavy.clear();
        heavy.extend(w.diagonal.iter().zip(&w.pivot_mass).map(|(d, m)| d + (mu - 1.0) * m));
        let factors = &mut w.exact.level(level, 1, cells)[0];
        factors.factor_from_high(&lines, &heavy, &w.coupling, w.scale);
        for (c, contact) in self.contact.iter().enumerate() {
            if let Some(contact) = contact {
                let j = w.joint[c];
                let (kb, kt) = (w.per_k_body[c], w.per_k_tool[c]);
                add(contact.face, j * kb - (j * kt) * (j * kb) * factors.pivot_inverse(c));
            }
        }
        w.exact.z = heavy;
    }
}

impl Solver {
    /// Whether a step of `tau` is solved exactly; along one axis the product is the matrix itself.
    pub(super) fn solves_exactly(&self, tau: f64) -> bool {
        self.grid.axes().len() > 1 && tau > LONG * self.scratch.thinnest_crossing_s
    }

    /// Makes ready for exact solutions of a step, before its factors are made.
    pub(super) fn prepare_exact(&mut self) {
        let s = &mut self.scratch;
        s.bare.clone_from(&s.diagonal);
        let spare = (s.bare.len() - 1) as f64;
        s.whole.clear();
        s.whole.extend(s.pivot_mass.iter().map(|m| -spare * m));
        for diagonal in &s.bare {
            s.whole.iter_mut().zip(diagonal).for_each(|(whole, d)| *whole += d);
        }
        s.levels_made = 0;
        for columns in &mut self.columns {
            let (count, w) = (columns.count, &mut columns.work);
            let weight = (0..count).map(|c| match columns.contact[c] {
                Some(_) => w.per_k_tool[c] / w.per_k_body[c],
                None => 1.0,
            });
            w.exact.weight.clear();
            w.exact.weight.extend(weight);
        }
    }

    /// Number of masses μ that the stiffness of the second stiffest axis asks for.
    fn levels_wanted(&self) -> usize {
        let s = &self.scratch;
        let mut stiff: Vec<f64> = (s.bare.iter())
            .map(|d| {
                let ratio = d.iter().zip(&s.pivot_mass).map(|(d, m)| d / m - 1.0);
                ratio.filter(|x| x.is_finite()).fold(0.0, f64::max)
            })
            .collect();
        stiff.sort_by(f64::total_cmp);
        let second = stiff[stiff.len() - 2].max(1.0);
        1 + (second.ln() / RATIO.ln()).floor() as usize
    }

    /// Solves the system whose right-hand sides stand in `x`; the solution goes to the directions,
    /// what is left of the right-hand sides stays. Energies of the solution are booked.
    pub(super) fn solve_exactly(&mut self, stage: usize, gamma_tau: f64) {
        let levels = self.levels_wanted();
        self.scratch.exact.start(&self.scratch.x);
        for columns in &mut self.columns {
            let w = &mut columns.work;
            w.exact.start(&w.x);
        }
        let enough = ENOUGH * self.tolerance.step_k;
        let mut last_pq = 0.0;
        for k in 0..MOST {
            self.precondition(k % levels);
            let beta = if last_pq > 0.0 {
                -self.over(|d| d.dot(&d.z, &d.q)) / last_pq
            } else {
                0.0
            };
            self.over_mut(|d| d.turn(beta));
            self.times(gamma_tau);
            let pq = self.over(|d| d.dot(&d.p, &d.q));
            let pr = self.over(|d| d.dot(&d.p, &d.r));
            if pq <= 0.0 || pq.is_nan() || !pr.is_finite() {
                break;
            }
            last_pq = pq;
            let alpha = pr / pq;
            let s = &mut self.scratch;
            let kelvin = |c: usize| s.pivot_mass[c] * s.per_mass[c] * s.dtemp[c];
            let mut most = s.exact.go(alpha, kelvin);
            for columns in &mut self.columns {
                let mut exact = std::mem::take(&mut columns.work.exact);
                let w = &columns.work;
                most = most.max(exact.go(alpha, |k| w.pivot_mass[k] * w.per_mass[k] * w.dtemp[k]));
                columns.work.exact = exact;
            }
            if most < enough {
                break;
            }
        }
        self.book_exact(stage, gamma_tau);
    }

    fn over(&self, of: impl Fn(&Directions) -> f64) -> f64 {
        let body = of(&self.scratch.exact);
        body + self.columns.iter().map(|c| of(&c.work.exact)).sum::<f64>()
    }

    fn over_mut(&mut self, of: impl Fn(&mut Directions)) {
        of(&mut self.scratch.exact);
        for columns in &mut self.columns {
            of(&mut columns.work.exact);
        }
    }

    /// z = the product with mass μ, inverted, times r.
    fn precondition(&mut self, level: usize) {
        let mu = RATIO.powi(level as i32);
        while self.scratch.levels_made <= level {
            let made = self.scratch.levels_made;
            self.factor_level(made, RATIO.powi(made as i32));
            self.scratch.levels_made += 1;
        }
        let axes = self.grid.axes().len();
        let faces = self.grid.faces();
        let s = &mut self.scratch;
        let exact = &mut s.exact;
        exact.z.copy_from_slice(&exact.r);
        for columns in &mut self.columns {
            let exact = &mut columns.work.exact;
            exact.z.copy_from_slice(&exact.r);
        }
        for axis in 0..axes {
            for columns in self.columns.iter_mut().filter(|c| c.axis(faces) == axis) {
                let lines = columns.lines();
                let w = &mut columns.work;
                let factors = &w.exact.levels[level][0];
                factors.eliminate_from_high(&lines, &mut w.exact.z);
                for (c, contact) in columns.contact.iter().enumerate() {
                    if let Some(contact) = contact {
                        exact.z[faces[contact.face].cell] +=
                            w.joint[c] * w.per_k_tool[c] * w.exact.z[c] * factors.pivot_inverse(c);
                    }
                }
            }
            exact.levels[level][axis].solve(&s.lines[axis], &mut exact.z);
            self.work.line_solves += 1;
            for columns in self.columns.iter_mut().filter(|c| c.axis(faces) == axis) {
                let lines = columns.lines();
                let w = &mut columns.work;
                for (c, contact) in columns.contact.iter().enumerate() {
                    if let Some(contact) = contact {
                        w.exact.z[c] += w.joint[c] * w.per_k_body[c] * exact.z[faces[contact.face].cell];
                    }
                }
                let factors = &w.exact.levels[level][0];
                factors.substitute_to_high(&lines, &mut w.exact.z);
            }
            if axis + 1 < axes {
                for (z, m) in exact.z.iter_mut().zip(&s.pivot_mass) {
                    *z *= mu * m;
                }
            }
        }
    }

    fn factor_level(&mut self, level: usize, mu: f64) {
        let s = &mut self.scratch;
        let faces = self.grid.faces();
        let (axes, cells) = (self.grid.axes().len(), s.x.len());
        let mut heavy = s.bare.clone();
        for diagonal in &mut heavy {
            for (d, m) in diagonal.iter_mut().zip(&s.pivot_mass) {
                *d += (mu - 1.0) * m;
            }
        }
        for columns in &mut self.columns {
            columns.factor_level(level, mu, |face, add| heavy[faces[face].axis][faces[face].cell] += add);
        }
        let gamma_tau = s.gamma_tau;
        let factors = s.exact.level(level, axes, cells);
        for axis in 0..axes {
            factors[axis].factor(&s.lines[axis], &heavy[axis], self.grid.between(axis), gamma_tau);
        }
    }

    /// q = the matrix times p.
    fn times(&mut self, gamma_tau: f64) {
        let s = &mut self.scratch;
        let faces = self.grid.faces();
        let axes = self.grid.axes().len();
        let Directions { p, q, .. } = &mut s.exact;
        for ((q, p), whole) in q.iter_mut().zip(&*p).zip(&s.whole) {
            *q = whole * p;
        }
        for axis in 0..axes {
            let g = self.grid.between(axis);
            let stride = self.grid.stride()[axis];
            let n = g.len() - stride;
            for ((q, g), p) in q[..n].iter_mut().zip(g).zip(&p[stride..]) {
                *q -= gamma_tau * g * p;
            }
            for ((q, g), p) in q[stride..].iter_mut().zip(g).zip(&*p) {
                *q -= gamma_tau * g * p;
            }
        }
        for columns in &mut self.columns {
            columns.times(faces, p, |cell, add| q[cell] += add);
        }
    }

    /// Books what the solution carries through faces, contacts and far ends, and puts what is left
    /// of the right-hand sides where the plain product expects it.
    fn book_exact(&mut self, stage: usize, gamma_tau: f64) {
        let s = &mut self.scratch;
        let faces = self.grid.faces();
        for (k, face) in faces.iter().enumerate() {
            if let Some(account) = s.face_account[k] {
                s.accounts[stage][account] -= gamma_tau * s.face_slope[k] * s.exact.x[face.cell];
            }
        }
        s.x.copy_from_slice(&s.exact.r);
        for columns in &mut self.columns {
            let account = columns.account;
            let booked = &mut s.accounts[stage][account];
            columns.book_linear(faces, &s.exact.x, |q| *booked += q);
            let w = &mut columns.work;
            w.x.copy_from_slice(&w.exact.r);
        }
    }

    /// Adds the solution of the directions to what the plain product made of the rest.
    pub(super) fn add_exact(&mut self) {
        let s = &mut self.scratch;
        for (x, more) in s.x.iter_mut().zip(&s.exact.x) {
            *x += more;
        }
        for columns in &mut self.columns {
            let w = &mut columns.work;
            for (x, more) in w.x.iter_mut().zip(&w.exact.x) {
                *x += more;
            }
        }
    }
}
