//! Heat that passes sideways between tool columns.
//!
//! Links between columns make no loop, so each layer is solved exactly by elimination from the leaves, and what one
//! column gives another takes: heat is kept to rounding. Columns that rest pass heat sideways in every stage of their
//! steps ([`super::Together`]); those that a part touches conduct along their depth with the steps of the
//! solver, and [`Sideways::pass`] follows in a step of its own (a splitting, first order in its length).

use super::column::Columns;

/// A way for heat between two columns of equal layers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Link {
    /// The column on the side of the leaves.
    pub from: usize,
    /// The column on the other side.
    pub to: usize,
    /// Width of the way over its length, m/m: times a layer's thickness and the conductivity it is a
    /// conductance.
    pub width_over_length: f64,
}

/// The links of some columns. Each column has at most one link that leads away from it, and comes as `from`
/// only after all links that lead to it.
#[derive(Debug, Clone, Default)]
pub struct Sideways {
    links: Vec<Link>,
    /// Elimination of one layer: the matrix diagonal, then one over the pivots; the share carried on; x.
    inverse: Vec<f64>,
    carried: Vec<f64>,
    x: Vec<f64>,
    potential: Vec<f64>,
}

impl Sideways {
    /// The links, ordered as said above.
    pub fn new(links: Vec<Link>) -> Sideways {
        Sideways {
            links,
            ..Sideways::default()
        }
    }

    /// The links in the order of elimination.
    pub fn links(&self) -> &[Link] {
        &self.links
    }

    /// Solves (diagonal + Laplacian of conductances) x = x in place, with one conductance per link.
    pub fn solve(&mut self, diagonal: &[f64], conductance: &[f64], x: &mut [f64]) {
        self.inverse.clear();
        self.inverse.extend_from_slice(diagonal);
        for (link, g) in self.links.iter().zip(conductance) {
            self.inverse[link.from] += g;
            self.inverse[link.to] += g;
        }
        self.carried.clear();
        for (link, g) in self.links.iter().zip(conductance) {
            let share = g / self.inverse[link.from];
            self.inverse[link.to] -= g * share;
            self.carried.push(share);
            x[link.to] += share * x[link.from];
        }
        for (x, pivot) in x.iter_mut().zip(&self.inverse) {
            *x /= pivot;
        }
        for (link, share) in self.links.iter().zip(&self.carried).rev() {
            x[link.from] += share * x[link.to];
        }
    }

    /// Adds what passes sideways at the present stage to the powers of the cells.
    pub(super) fn add_flow(&self, [first, second]: [&mut Columns; 2]) {
        let (n, m) = (first.count, second.count);
        for (layer, size) in first.size.iter().enumerate() {
            for link in &self.links {
                let potential = |column: usize| match column.checked_sub(n) {
                    None => first.work.potential[layer * n + column],
                    Some(beside) => second.work.potential[layer * m + beside],
                };
                let q = size * link.width_over_length * (potential(link.to) - potential(link.from));
                for (column, q) in [(link.from, q), (link.to, -q)] {
                    match column.checked_sub(n) {
                        None => first.work.x[layer * n + column] += q,
                        Some(beside) => second.work.x[layer * m + beside] += q,
                    }
                }
            }
        }
    }

    /// Solves the part of a stage's matrix that leads across the columns: x = D (D + γτ L)⁻¹ x.
    pub(super) fn solve_stage(&mut self, [first, second]: [&mut Columns; 2], gamma_tau: f64) {
        let (n, m) = (first.count, second.count);
        let mut x = std::mem::take(&mut self.x);
        let mut diagonal = std::mem::take(&mut self.potential);
        let mut conductance = vec![0.0; self.links.len()];
        for (layer, size) in first.size.iter().enumerate() {
            let (own, beside) = (layer * n..(layer + 1) * n, layer * m..(layer + 1) * m);
            diagonal.clear();
            diagonal.extend_from_slice(&first.work.pivot_mass[own.clone()]);
            diagonal.extend_from_slice(&second.work.pivot_mass[beside.clone()]);
            x.clear();
            x.extend_from_slice(&first.work.x[own.clone()]);
            x.extend_from_slice(&second.work.x[beside.clone()]);
            for (g, link) in conductance.iter_mut().zip(&self.links) {
                *g = gamma_tau * size * link.width_over_length;
            }
            self.solve(&diagonal, &conductance, &mut x);
            for (x, d) in x.iter_mut().zip(&diagonal) {
                *x *= d;
            }
            first.work.x[own].copy_from_slice(&x[..n]);
            second.work.x[beside].copy_from_slice(&x[n..]);
        }
        self.x = x;
        self.potential = diagonal;
    }

    /// Lets heat pass sideways for `seconds` between the columns of two sets, which count on from one another
    /// and have equal layers and metal: a linearly implicit Euler step, `steps` times.
    pub fn pass(&mut self, sets: [&mut Columns; 2], seconds: f64, steps: usize) {
        if self.links.is_empty() {
            return;
        }
        let [first, second] = sets;
        let count = first.count + second.count;
        let tau = seconds / steps as f64;
        let mut x = std::mem::take(&mut self.x);
        let mut potential = std::mem::take(&mut self.potential);
        let (mut diagonal, mut conductance) = (vec![0.0; count], vec![0.0; self.links.len()]);
        for _ in 0..steps {
            for layer in 0..first.size.len() {
                potential.clear();
                let mut slot = 0;
                for set in [&*first, &*second] {
                    let own = layer * set.count..(layer + 1) * set.count;
                    for (h, mass) in set.h[own.clone()].iter().zip(&set.masses()[own]) {
                        let at = set.medium.heating.at(*h);
                        potential.push(at.potential);
                        diagonal[slot] = mass / at.dpotential_dh;
                        slot += 1;
                    }
                }
                for (g, link) in conductance.iter_mut().zip(&self.links) {
                    *g = tau * first.size[layer] * link.width_over_length;
                }
                x.clear();
                x.resize(count, 0.0);
                for (link, g) in self.links.iter().zip(&conductance) {
                    let q = g * (potential[link.to] - potential[link.from]);
                    x[link.from] += q;
                    x[link.to] -= q;
                }
                self.solve(&diagonal, &conductance, &mut x);
                let (n, m) = (first.count, second.count);
                let mut take = |column: usize, heat: f64| {
                    let (set, at) = if column < n {
                        (&mut *first, layer * n + column)
                    } else {
                        (&mut *second, layer * m + column - n)
                    };
                    set.h[at] += heat / set.masses()[at];
                };
                for (link, g) in self.links.iter().zip(&conductance) {
                    let (a, b) = (link.from, link.to);
                    let q = g * (potential[b] + x[b] - potential[a] - x[a]);
                    take(a, q);
                    take(b, -q);
                }
            }
        }
        self.x = x;
        self.potential = potential;
    }
}
