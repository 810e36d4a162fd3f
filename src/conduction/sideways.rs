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
/// only after all links that lead to it. All layers are solved side by side.
#[derive(Debug, Clone, Default)]
pub struct Sideways {
    links: Vec<Link>,
    /// One over the pivots [column][layer], and the share that a link carries on [link][layer].
    inverse: Vec<f64>,
    carried: Vec<f64>,
    /// Unknown and diagonal [column][layer], conductance [link][layer].
    x: Vec<f64>,
    diagonal: Vec<f64>,
    conductance: Vec<f64>,
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

    /// Solves (diagonal + Laplacian of conductances) x = x in place for all layers: diagonal and x are
    /// `[column][layer]`, conductances `[link][layer]`.
    pub fn solve(&mut self, layers: usize, diagonal: &[f64], conductance: &[f64], x: &mut [f64]) {
        self.factor(layers, diagonal, conductance);
        self.solve_factored(layers, x);
    }

    fn factor(&mut self, layers: usize, diagonal: &[f64], conductance: &[f64]) {
        self.inverse.clear();
        self.inverse.extend_from_slice(diagonal);
        self.carried.clear();
        self.carried.extend_from_slice(conductance);
        for (link, g) in self.links.iter().zip(conductance.chunks_exact(layers)) {
            for column in [link.from, link.to] {
                let pivots = &mut self.inverse[column * layers..][..layers];
                pivots.iter_mut().zip(g).for_each(|(pivot, g)| *pivot += g);
            }
        }
        for (link, carried) in self.links.iter().zip(self.carried.chunks_exact_mut(layers)) {
            let (from, to) = two(&mut self.inverse, layers, link.from, link.to);
            for ((share, from), to) in carried.iter_mut().zip(&*from).zip(to) {
                let g = *share;
                *share = g / from;
                *to -= g * *share;
            }
        }
        self.inverse.iter_mut().for_each(|pivot| *pivot = 1.0 / *pivot);
    }

    fn solve_factored(&self, layers: usize, x: &mut [f64]) {
        for (link, carried) in self.links.iter().zip(self.carried.chunks_exact(layers)) {
            let (from, to) = two(x, layers, link.from, link.to);
            for ((share, from), to) in carried.iter().zip(&*from).zip(to) {
                *to += share * from;
            }
        }
        for (x, inverse) in x.iter_mut().zip(&self.inverse) {
            *x *= inverse;
        }
        for (link, carried) in self.links.iter().zip(self.carried.chunks_exact(layers)).rev() {
            let (from, to) = two(x, layers, link.from, link.to);
            for ((share, from), to) in carried.iter().zip(from).zip(&*to) {
                *from += share * to;
            }
        }
    }

    /// Adds what passes sideways at the present stage to the powers of the cells.
    pub(super) fn add_flow(&self, [first, second]: [&mut Columns; 2]) {
        let n = first.count;
        for (layer, size) in first.size.iter().enumerate() {
            let (own, beside) = (layer * n, layer * second.count);
            for link in &self.links {
                let potential = |column: usize| match column.checked_sub(n) {
                    None => first.work.potential[own + column],
                    Some(column) => second.work.potential[beside + column],
                };
                let q = size * link.width_over_length * (potential(link.to) - potential(link.from));
                for (column, q) in [(link.from, q), (link.to, -q)] {
                    match column.checked_sub(n) {
                        None => first.work.x[own + column] += q,
                        Some(column) => second.work.x[beside + column] += q,
                    }
                }
            }
        }
    }

    /// Factors the part of a step's matrix that leads across the columns, D + γτ L.
    pub(super) fn factor_step(&mut self, [first, second]: [&mut Columns; 2], gamma_tau: f64) {
        let layers = first.size.len();
        let mut diagonal = std::mem::take(&mut self.diagonal);
        let mut conductance = std::mem::take(&mut self.conductance);
        diagonal.resize((first.count + second.count) * layers, 0.0);
        gather(&mut diagonal, layers, [&first.work.pivot_mass, &second.work.pivot_mass]);
        self.conductances(&mut conductance, &first.size, gamma_tau);
        self.factor(layers, &diagonal, &conductance);
        (self.diagonal, self.conductance) = (diagonal, conductance);
    }

    /// Solves that for a stage: x = D (D + γτ L)⁻¹ x.
    pub(super) fn solve_stage(&mut self, [first, second]: [&mut Columns; 2]) {
        let layers = first.size.len();
        let mut x = std::mem::take(&mut self.x);
        x.resize(self.diagonal.len(), 0.0);
        gather(&mut x, layers, [&first.work.x, &second.work.x]);
        self.solve_factored(layers, &mut x);
        for (x, d) in x.iter_mut().zip(&self.diagonal) {
            *x *= d;
        }
        for (column, x) in x.chunks_exact(layers).enumerate() {
            let (into, stride, at) = match column.checked_sub(first.count) {
                None => (&mut first.work.x, first.count, column),
                Some(column) => (&mut second.work.x, second.count, column),
            };
            for (layer, x) in x.iter().enumerate() {
                into[layer * stride + at] = *x;
            }
        }
        self.x = x;
    }

    fn conductances(&self, out: &mut Vec<f64>, sizes: &[f64], seconds: f64) {
        out.clear();
        for link in &self.links {
            out.extend(sizes.iter().map(|size| seconds * size * link.width_over_length));
        }
    }

    /// Lets heat pass sideways for `seconds` between the columns of two sets, which count on from one another
    /// and have equal layers and metal: a linearly implicit Euler step, `steps` times.
    pub fn pass(&mut self, [first, second]: [&mut Columns; 2], seconds: f64, steps: usize) {
        let layers = first.size.len();
        let cells = (first.count + second.count) * layers;
        let mut x = std::mem::take(&mut self.x);
        let mut conductance = std::mem::take(&mut self.conductance);
        let (mut diagonal, mut potential) = (vec![0.0; cells], vec![0.0; cells]);
        self.conductances(&mut conductance, &first.size, seconds / steps as f64);
        for _ in 0..steps {
            for set in 0..2 {
                let (columns, before) = if set == 0 {
                    (&*first, 0)
                } else {
                    (&*second, first.count)
                };
                for (at, (h, mass)) in columns.h.iter().zip(columns.masses()).enumerate() {
                    let state = columns.medium.heating.at(*h);
                    let slot = (before + at % columns.count) * layers + at / columns.count;
                    potential[slot] = state.potential;
                    diagonal[slot] = mass / state.dpotential_dh;
                }
            }
            x.clear();
            x.resize(cells, 0.0);
            for (link, g) in self.links.iter().zip(conductance.chunks_exact(layers)) {
                for (layer, g) in g.iter().enumerate() {
                    let (from, to) = (link.from * layers + layer, link.to * layers + layer);
                    let q = g * (potential[to] - potential[from]);
                    x[from] += q;
                    x[to] -= q;
                }
            }
            self.solve(layers, &diagonal, &conductance, &mut x);
            for (link, g) in self.links.iter().zip(conductance.chunks_exact(layers)) {
                for (layer, g) in g.iter().enumerate() {
                    let (from, to) = (link.from * layers + layer, link.to * layers + layer);
                    let q = g * (potential[to] + x[to] - potential[from] - x[from]);
                    for (column, heat) in [(link.from, q), (link.to, -q)] {
                        let (own, beside) = (first.count, second.count);
                        let (set, at) = match column.checked_sub(own) {
                            None => (&mut *first, layer * own + column),
                            Some(column) => (&mut *second, layer * beside + column),
                        };
                        set.h[at] += heat / set.work.mass[at];
                    }
                }
            }
        }
        (self.x, self.conductance) = (x, conductance);
    }
}

/// The rows of two different columns.
fn two(rows: &mut [f64], layers: usize, a: usize, b: usize) -> (&mut [f64], &mut [f64]) {
    let (low, high) = rows.split_at_mut(a.max(b) * layers);
    let (low, high) = (&mut low[a.min(b) * layers..][..layers], &mut high[..layers]);
    if a < b { (low, high) } else { (high, low) }
}

/// Rows [layer][column] of two sets as [column][layer].
fn gather(out: &mut [f64], layers: usize, sets: [&[f64]; 2]) {
    let mut out = out.chunks_exact_mut(layers);
    for set in sets {
        let count = set.len() / layers;
        for (column, out) in out.by_ref().take(count).enumerate() {
            for (out, value) in out.iter_mut().zip(set[column..].iter().step_by(count)) {
                *out = *value;
            }
        }
    }
}
