//! One implicit step of slow conduction in a tool: columns and the ways sideways together, solved directly.
//!
//! Ways sideways make no loop, so whole columns are eliminated from the leaves on: the column is a small
//! symmetric positive matrix, of which a Cholesky factor is kept, and what it leaves in its neighbour is full.

use crate::conduction::Link;

/// The factored step. Vectors are [column][depth].
#[derive(Debug, Clone)]
pub struct Slow {
    depth: usize,
    links: Vec<Link>,
    /// Cholesky factor of each column as it is when its turn comes, lower, row by row.
    factors: Vec<f64>,
    /// L⁻¹G for the link that leads away from a column, lower, row by row; by link.
    ways: Vec<f64>,
}

impl Slow {
    /// The matrix with this diagonal \[W/K\], `deeper` \[W/K\] from each cell to the next of its column, and the
    /// links with their conductances \[W/K\] [link][layer], which are added to the diagonal here.
    pub fn new(depth: usize, diagonal: Vec<f64>, deeper: &[f64], links: &[Link], conductance: &[f64]) -> Slow {
        let d = depth;
        let columns = diagonal.len() / d;
        let mut factors = vec![0.0; columns * d * d];
        for (c, matrix) in factors.chunks_mut(d * d).enumerate() {
            for i in 0..d {
                matrix[i * d + i] = diagonal[c * d + i];
                if i > 0 {
                    matrix[i * d + i - 1] = -deeper[c * d + i - 1];
                }
            }
        }
        let way = |link: usize, layer: usize| conductance[link * d + layer];
        for (number, link) in links.iter().enumerate() {
            for i in 0..d {
                for column in [link.from, link.to] {
                    factors[column * d * d + i * d + i] += way(number, i);
                }
            }
        }
        let mut slow = Slow {
            depth,
            links: links.to_vec(),
            factors,
            ways: vec![0.0; links.len() * d * d],
        };
        let mut leads_away = vec![false; columns];
        for (number, link) in links.iter().enumerate() {
            leads_away[link.from] = true;
            slow.eliminate(number, *link, |layer| way(number, layer));
        }
        for (c, _) in leads_away.iter().enumerate().filter(|(_, away)| !**away) {
            cholesky(d, &mut slow.factors[c * d * d..][..d * d]);
        }
        slow
    }

    /// Factors the column that a link leads away from and takes what it leaves from the other.
    fn eliminate(&mut self, number: usize, link: Link, way: impl Fn(usize) -> f64) {
        let d = self.depth;
        cholesky(d, &mut self.factors[link.from * d * d..][..d * d]);
        let way_of = &mut self.ways[number * d * d..][..d * d];
        let factor = &self.factors[link.from * d * d..][..d * d];
        for i in 0..d {
            let (above, here) = way_of.split_at_mut(i * d);
            let here = &mut here[..=i];
            here[i] = way(i);
            for (k, l) in factor[i * d..i * d + i].iter().enumerate() {
                for (x, y) in here.iter_mut().zip(&above[k * d..=k * d + k]) {
                    *x -= l * y;
                }
            }
            let pivot = factor[i * d + i];
            here.iter_mut().for_each(|x| *x /= pivot);
        }
        let to = &mut self.factors[link.to * d * d..][..d * d];
        for row in way_of.chunks(d) {
            for (i, x) in row.iter().enumerate().filter(|(_, x)| **x != 0.0) {
                for (t, y) in to[i * d..=i * d + i].iter_mut().zip(row) {
                    *t -= x * y;
                }
            }
        }
    }

    /// Solves for x in place.
    pub fn solve(&self, x: &mut [f64]) {
        let d = self.depth;
        let mut work = vec![0.0; d];
        let mut roots = vec![true; x.len() / d];
        for (link, way) in self.links.iter().zip(self.ways.chunks(d * d)) {
            roots[link.from] = false;
            let from = &mut x[link.from * d..][..d];
            forward(d, self.factor(link.from), from);
            work.copy_from_slice(from);
            let to = &mut x[link.to * d..][..d];
            for (row, y) in way.chunks(d).zip(&work) {
                for (t, w) in to.iter_mut().zip(row) {
                    *t += w * y;
                }
            }
        }
        for (c, _) in roots.iter().enumerate().filter(|(_, root)| **root) {
            forward(d, self.factor(c), &mut x[c * d..][..d]);
            backward(d, self.factor(c), &mut x[c * d..][..d]);
        }
        for (link, way) in self.links.iter().zip(self.ways.chunks(d * d)).rev() {
            work.copy_from_slice(&x[link.to * d..][..d]);
            let from = &mut x[link.from * d..][..d];
            for (y, row) in from.iter_mut().zip(way.chunks(d)) {
                *y += row.iter().zip(&work).map(|(w, x)| w * x).sum::<f64>();
            }
            backward(d, self.factor(link.from), from);
        }
    }

    fn factor(&self, column: usize) -> &[f64] {
        &self.factors[column * self.depth * self.depth..][..self.depth * self.depth]
    }
}

/// Lower Cholesky factor of a symmetric positive matrix given by its lower part, in place.
fn cholesky(d: usize, matrix: &mut [f64]) {
    for i in 0..d {
        let (above, here) = matrix.split_at_mut(i * d);
        for j in 0..i {
            let row = &above[j * d..=j * d + j];
            let sum: f64 = here[..j].iter().zip(row).map(|(a, b)| a * b).sum();
            here[j] = (here[j] - sum) / row[j];
        }
        let sum: f64 = here[..i].iter().map(|a| a * a).sum();
        here[i] = (here[i] - sum).max(f64::MIN_POSITIVE).sqrt();
    }
}

fn forward(d: usize, factor: &[f64], x: &mut [f64]) {
    for i in 0..d {
        let sum: f64 = factor[i * d..i * d + i].iter().zip(&*x).map(|(l, x)| l * x).sum();
        x[i] = (x[i] - sum) / factor[i * d + i];
    }
}

fn backward(d: usize, factor: &[f64], x: &mut [f64]) {
    for i in (0..d).rev() {
        x[i] /= factor[i * d + i];
        let (above, here) = x.split_at_mut(i);
        for (x, l) in above.iter_mut().zip(&factor[i * d..]) {
            *x -= l * here[0];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three columns, two of which lead to the third, against the product of the matrix with the answer.
    #[test]
    fn the_answer_fits_the_matrix() {
        let d = 4;
        let link = |from, to| Link {
            from,
            to,
            width_over_length: 1.0,
        };
        let links = [link(0, 1), link(1, 2), link(3, 2)];
        let deeper: Vec<f64> = (0..16)
            .map(|i| if i % d == d - 1 { 0.0 } else { 1.0 + 0.3 * i as f64 })
            .collect();
        let mut diagonal: Vec<f64> = (0..16).map(|i| 0.2 + 0.05 * i as f64).collect();
        for i in 0..15 {
            diagonal[i] += deeper[i];
            diagonal[i + 1] += deeper[i];
        }
        let ways: Vec<f64> = (0..12).map(|i| 2.0 + 0.4 * i as f64).collect();
        let right: Vec<f64> = (0..16).map(|i| (i as f64 * 0.7).sin()).collect();
        let mut x = right.clone();
        Slow::new(d, diagonal.clone(), &deeper, &links, &ways).solve(&mut x);
        let mut product: Vec<f64> = x.iter().zip(&diagonal).map(|(x, a)| x * a).collect();
        for i in 0..15 {
            product[i] -= deeper[i] * x[i + 1];
            product[i + 1] -= deeper[i] * x[i];
        }
        for (number, link) in links.iter().enumerate() {
            for layer in 0..d {
                let q = ways[number * d + layer] * (x[link.from * d + layer] - x[link.to * d + layer]);
                product[link.from * d + layer] += q;
                product[link.to * d + layer] -= q;
            }
        }
        for (a, b) in product.iter().zip(&right) {
            assert!((a - b).abs() < 1e-12, "{product:?} {right:?}");
        }
    }
}
