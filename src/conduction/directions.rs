//! Conjugate directions: what the iteration keeps of one field, the body or a set of columns.

use super::kernel;
use super::sweep::Factors;

/// One field of the linear system: solution, residual, direction, the matrix times it, and the
/// preconditioned residual, with the factors of each preconditioner.
#[derive(Debug, Clone, Default)]
pub(super) struct Directions {
    pub x: Vec<f64>,
    pub r: Vec<f64>,
    pub p: Vec<f64>,
    pub q: Vec<f64>,
    pub z: Vec<f64>,
    /// Factors of each preconditioner, of each axis.
    pub levels: Vec<Vec<Factors>>,
    /// Weight of a cell's equation in scalar products, which makes the matrix symmetric.
    pub weight: Vec<f64>,
}

impl Directions {
    /// Starts from x = 0 with the right-hand side.
    pub fn start(&mut self, right: &[f64]) {
        let n = right.len();
        self.r.clear();
        self.r.extend_from_slice(right);
        for v in [&mut self.x, &mut self.p, &mut self.q, &mut self.z] {
            v.clear();
            v.resize(n, 0.0);
        }
    }

    pub fn dot(&self, a: &[f64], b: &[f64]) -> f64 {
        if self.weight.is_empty() {
            return kernel::dot(a, b);
        }
        let rows = a.chunks(self.weight.len()).zip(b.chunks(self.weight.len()));
        let of_row = |(a, b): (&[f64], &[f64])| -> f64 {
            let cells = a.iter().zip(b).zip(&self.weight);
            cells.map(|((a, b), weight)| weight * a * b).sum()
        };
        rows.map(of_row).sum()
    }

    /// p = z + βp.
    pub fn turn(&mut self, beta: f64) {
        for (p, z) in self.p.iter_mut().zip(&self.z) {
            *p = z + beta * *p;
        }
    }

    /// x += αp, r −= αq; the largest change of x in terms of `scale`.
    pub fn go(&mut self, alpha: f64, scale: impl Fn(usize) -> f64) -> f64 {
        let mut most = 0.0_f64;
        for k in 0..self.x.len() {
            let change = alpha * self.p[k];
            self.x[k] += change;
            self.r[k] -= alpha * self.q[k];
            most = most.max((change * scale(k)).abs());
        }
        most
    }

    pub fn level(&mut self, level: usize, axes: usize, cells: usize) -> &mut Vec<Factors> {
        while self.levels.len() <= level {
            self.levels.push(vec![Factors::new(cells); axes]);
        }
        &mut self.levels[level]
    }
}
