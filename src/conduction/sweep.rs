//! Batched symmetric tridiagonal line solves along one axis of a field.
//!
//! All lines along an axis are factored and solved together. Where the axis is not the last one,
//! neighbouring lines lie side by side in memory and the inner loop runs across them; along the
//! last axis several lines are interleaved, so that their recursions overlap.

/// Lines interleaved along the last axis.
const WIDTH: usize = 8;

/// Layout of the lines along one axis.
#[derive(Debug, Clone, Copy)]
pub struct Lines {
    /// Cells along a line.
    pub length: usize,
    /// Index distance of neighbours along a line; also the number of lines side by side.
    pub stride: usize,
}

/// Factors of (diagonal, −coupling) for all lines: `l` multiplies the neighbour below, `inverse`
/// is one over the pivot.
#[derive(Debug, Clone, Default)]
pub struct Factors {
    lower: Vec<f64>,
    inverse: Vec<f64>,
}

impl Factors {
    /// Room for a field of `cells`.
    pub fn new(cells: usize) -> Factors {
        Factors {
            lower: vec![0.0; cells],
            inverse: vec![0.0; cells],
        }
    }

    /// Factors the matrices with `diagonal` and off-diagonals `−scale·coupling`, where
    /// `coupling[i]` joins cell i and its higher neighbour and is zero at the end of a line.
    pub fn factor(&mut self, lines: Lines, diagonal: &[f64], coupling: &[f64], scale: f64) {
        let Lines { length, stride } = lines;
        let block = length * stride;
        if stride == 1 && length > 1 {
            self.factor_interleaved(length, diagonal, coupling, scale);
            return;
        }
        for start in (0..diagonal.len()).step_by(block) {
            for j in start..start + stride {
                self.lower[j] = 0.0;
                self.inverse[j] = 1.0 / diagonal[j];
            }
            for i in 1..length {
                let at = start + i * stride;
                let (below, here) = self.inverse.split_at_mut(at);
                let below = &below[at - stride..];
                let here = &mut here[..stride];
                let lower = &mut self.lower[at..at + stride];
                let g = &coupling[at - stride..at];
                let d = &diagonal[at..at + stride];
                for j in 0..stride {
                    let c = scale * g[j];
                    let l = c * below[j];
                    lower[j] = l;
                    here[j] = 1.0 / (d[j] - c * l);
                }
            }
        }
    }

    fn factor_interleaved(&mut self, n: usize, diagonal: &[f64], coupling: &[f64], scale: f64) {
        for (((lower, inverse), d), g) in self
            .lower
            .chunks_mut(n * WIDTH)
            .zip(self.inverse.chunks_mut(n * WIDTH))
            .zip(diagonal.chunks(n * WIDTH))
            .zip(coupling.chunks(n * WIDTH))
        {
            let lines = d.len() / n;
            let mut pivot = [0.0; WIDTH];
            for (k, p) in pivot.iter_mut().enumerate().take(lines) {
                *p = 1.0 / d[k * n];
                lower[k * n] = 0.0;
                inverse[k * n] = *p;
            }
            for i in 1..n {
                for (k, p) in pivot.iter_mut().enumerate().take(lines) {
                    let at = k * n + i;
                    let c = scale * g[at - 1];
                    let l = c * *p;
                    lower[at] = l;
                    *p = 1.0 / (d[at] - c * l);
                    inverse[at] = *p;
                }
            }
        }
    }

    /// Solves in place for all lines.
    pub fn solve(&self, lines: Lines, x: &mut [f64]) {
        let Lines { length, stride } = lines;
        if stride == 1 && length > 1 {
            for ((x, lower), inverse) in x
                .chunks_mut(length * WIDTH)
                .zip(self.lower.chunks(length * WIDTH))
                .zip(self.inverse.chunks(length * WIDTH))
            {
                if x.len() == length * WIDTH {
                    solve_interleaved::<WIDTH>(length, x, lower, inverse);
                } else {
                    for ((x, lower), inverse) in x
                        .chunks_mut(length)
                        .zip(lower.chunks(length))
                        .zip(inverse.chunks(length))
                    {
                        solve_interleaved::<1>(length, x, lower, inverse);
                    }
                }
            }
            return;
        }
        let block = length * stride;
        for ((x, lower), inverse) in x
            .chunks_mut(block)
            .zip(self.lower.chunks(block))
            .zip(self.inverse.chunks(block))
        {
            for i in 1..length {
                let (below, here) = x.split_at_mut(i * stride);
                let below = &below[(i - 1) * stride..];
                let here = &mut here[..stride];
                let l = &lower[i * stride..(i + 1) * stride];
                for j in 0..stride {
                    here[j] += l[j] * below[j];
                }
            }
            let last = (length - 1) * stride;
            for (x, inv) in x[last..].iter_mut().zip(&inverse[last..]) {
                *x *= inv;
            }
            for i in (0..length - 1).rev() {
                let (here, above) = x.split_at_mut((i + 1) * stride);
                let here = &mut here[i * stride..];
                let above = &above[..stride];
                let l = &lower[(i + 1) * stride..(i + 2) * stride];
                let inv = &inverse[i * stride..(i + 1) * stride];
                for j in 0..stride {
                    here[j] = here[j] * inv[j] + l[j] * above[j];
                }
            }
        }
    }
}

impl Factors {
    /// As [`Factors::factor`], but from the high end of the lines down; `lower[i]` then multiplies
    /// the neighbour above. For lines side by side only.
    pub fn factor_from_high(&mut self, lines: Lines, diagonal: &[f64], coupling: &[f64], scale: f64) {
        let Lines { length, stride } = lines;
        let last = (length - 1) * stride;
        for (inv, d) in self.inverse[last..].iter_mut().zip(&diagonal[last..]) {
            *inv = 1.0 / d;
        }
        for at in (0..last).rev() {
            let c = scale * coupling[at];
            let u = c * self.inverse[at + stride];
            self.lower[at] = u;
            self.inverse[at] = 1.0 / (diagonal[at] - c * u);
        }
    }

    /// One over the pivot of a cell.
    pub fn pivot_inverse(&self, cell: usize) -> f64 {
        self.inverse[cell]
    }

    /// First half of a solve after [`Factors::factor_from_high`].
    pub fn eliminate_from_high(&self, lines: Lines, x: &mut [f64]) {
        let Lines { length, stride } = lines;
        for at in (0..(length - 1) * stride).rev() {
            x[at] += self.lower[at] * x[at + stride];
        }
    }

    /// Second half of a solve after [`Factors::factor_from_high`].
    pub fn substitute_to_high(&self, lines: Lines, x: &mut [f64]) {
        let Lines { stride, .. } = lines;
        for (x, inv) in x.iter_mut().zip(&self.inverse) {
            *x *= inv;
        }
        for at in stride..x.len() {
            x[at] += self.lower[at - stride] * x[at - stride];
        }
    }
}

#[inline]
fn solve_interleaved<const W: usize>(n: usize, x: &mut [f64], lower: &[f64], inverse: &[f64]) {
    let (x, lower, inverse) = (&mut x[..n * W], &lower[..n * W], &inverse[..n * W]);
    let mut carry: [f64; W] = std::array::from_fn(|k| x[k * n]);
    for i in 1..n {
        for (k, c) in carry.iter_mut().enumerate() {
            let at = k * n + i;
            *c = x[at] + lower[at] * *c;
            x[at] = *c;
        }
    }
    for (k, c) in carry.iter_mut().enumerate() {
        let at = k * n + n - 1;
        *c *= inverse[at];
        x[at] = *c;
    }
    for i in (0..n - 1).rev() {
        for (k, c) in carry.iter_mut().enumerate() {
            let at = k * n + i;
            *c = x[at] * inverse[at] + lower[at + 1] * *c;
            x[at] = *c;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The product of the matrix and the solution gives the right-hand side back, along each axis.
    #[test]
    fn solves_along_every_axis() {
        let shape = [5usize, 4, 11];
        let cells = 220;
        let strides = [44, 11, 1];
        for axis in 0..3 {
            let lines = Lines {
                length: shape[axis],
                stride: strides[axis],
            };
            let coupling: Vec<f64> = (0..cells)
                .map(|c| {
                    let i = (c / strides[axis]) % shape[axis];
                    if i + 1 == shape[axis] {
                        0.0
                    } else {
                        1.0 + (c % 7) as f64 * 0.3
                    }
                })
                .collect();
            let scale = 0.7;
            let diagonal: Vec<f64> = (0..cells)
                .map(|c| {
                    let below = if c >= strides[axis] {
                        coupling[c - strides[axis]]
                    } else {
                        0.0
                    };
                    1.0 + (c % 3) as f64 + scale * (coupling[c] + below)
                })
                .collect();
            let rhs: Vec<f64> = (0..cells).map(|c| ((c * 37) % 19) as f64 - 9.0).collect();
            let mut factors = Factors::new(cells);
            factors.factor(lines, &diagonal, &coupling, scale);
            let mut x = rhs.clone();
            factors.solve(lines, &mut x);
            for c in 0..cells {
                let mut sum = diagonal[c] * x[c];
                if coupling[c] > 0.0 {
                    sum -= scale * coupling[c] * x[c + strides[axis]];
                }
                if c >= strides[axis] && coupling[c - strides[axis]] > 0.0 {
                    sum -= scale * coupling[c - strides[axis]] * x[c - strides[axis]];
                }
                assert!((sum - rhs[c]).abs() < 1e-12, "axis {axis} cell {c}");
            }
        }
    }
}
