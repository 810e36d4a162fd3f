//! Batched symmetric tridiagonal line solves along one axis of a field.
//!
//! All lines along an axis are factored and solved together. Where the axis is not the last one,
//! neighbouring lines lie side by side in memory and the inner loop runs across them; along the
//! last axis several lines are interleaved, so that their recursions overlap.

use std::ops::Range;

/// Lines interleaved along the last axis.
const WIDTH: usize = 8;

/// Layout of the lines along one axis.
#[derive(Debug, Clone)]
pub struct Lines {
    /// Cells along a line.
    pub length: usize,
    /// Index distance of neighbours along a line; also the number of lines side by side.
    pub stride: usize,
    /// Where there is metal: of each row of lines side by side the columns, or along the last axis of each
    /// [`WIDTH`] lines the cells. Empty when all is metal.
    spans: Vec<Range<usize>>,
}

impl Lines {
    /// Lines of metal throughout.
    pub fn solid(length: usize, stride: usize) -> Lines {
        Lines {
            length,
            stride,
            spans: Vec::new(),
        }
    }

    /// Lines over a field of which some cells are metal.
    pub fn over(length: usize, stride: usize, metal: &[bool]) -> Lines {
        let (row, of) = if stride == 1 {
            (length * WIDTH, length)
        } else {
            (stride, stride)
        };
        let span = |cells: &[bool]| {
            let places = || {
                cells
                    .iter()
                    .enumerate()
                    .filter(|(_, metal)| **metal)
                    .map(|(k, _)| k % of)
            };
            places().min().unwrap_or(0)..places().max().map_or(0, |last| last + 1)
        };
        Lines {
            length,
            stride,
            spans: metal.chunks(row).map(span).collect(),
        }
    }

    fn span(&self, row: usize) -> Range<usize> {
        let whole = if self.stride == 1 { self.length } else { self.stride };
        self.spans.get(row).cloned().unwrap_or(0..whole)
    }
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
    pub fn factor(&mut self, lines: &Lines, diagonal: &[f64], coupling: &[f64], scale: f64) {
        let Lines { length, stride, .. } = *lines;
        if stride == 1 {
            self.factor_interleaved(lines, diagonal, coupling, scale);
            return;
        }
        for (row, at) in (0..diagonal.len()).step_by(stride).enumerate() {
            let span = lines.span(row);
            let here = at + span.start..at + span.end;
            let d = &diagonal[here.clone()];
            if row % length == 0 {
                self.lower[here.clone()].fill(0.0);
                for (inverse, d) in self.inverse[here].iter_mut().zip(d) {
                    *inverse = 1.0 / d;
                }
                continue;
            }
            let before = here.start - stride..here.end - stride;
            let (below, above) = self.inverse.split_at_mut(here.start);
            let (below, inverse) = (&below[before.clone()], &mut above[..d.len()]);
            let (lower, g) = (&mut self.lower[here], &coupling[before]);
            for j in 0..d.len() {
                let c = scale * g[j];
                let l = c * below[j];
                lower[j] = l;
                inverse[j] = 1.0 / (d[j] - c * l);
            }
        }
    }

    fn factor_interleaved(&mut self, of: &Lines, diagonal: &[f64], coupling: &[f64], scale: f64) {
        let n = of.length;
        let groups = (self.lower.chunks_mut(n * WIDTH)).zip(self.inverse.chunks_mut(n * WIDTH));
        let matrices = diagonal.chunks(n * WIDTH).zip(coupling.chunks(n * WIDTH));
        for (group, ((lower, inverse), (d, g))) in groups.zip(matrices).enumerate() {
            let lines = d.len() / n;
            let span = of.span(group);
            if span.is_empty() {
                continue;
            }
            let mut pivot = [0.0; WIDTH];
            for (k, p) in pivot.iter_mut().enumerate().take(lines) {
                let at = k * n + span.start;
                *p = 1.0 / d[at];
                lower[at] = 0.0;
                inverse[at] = *p;
            }
            for i in span.start + 1..span.end {
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
    pub fn solve(&self, lines: &Lines, x: &mut [f64]) {
        let Lines { length, stride, .. } = *lines;
        if stride == 1 {
            let groups = x.chunks_mut(length * WIDTH).zip(self.lower.chunks(length * WIDTH));
            for (group, ((x, lower), inverse)) in groups.zip(self.inverse.chunks(length * WIDTH)).enumerate() {
                let span = lines.span(group);
                if x.len() == length * WIDTH {
                    solve_interleaved::<WIDTH>(length, span, x, lower, inverse);
                    continue;
                }
                let alone = x.chunks_mut(length).zip(lower.chunks(length));
                for ((x, lower), inverse) in alone.zip(inverse.chunks(length)) {
                    solve_interleaved::<1>(length, span.clone(), x, lower, inverse);
                }
            }
            return;
        }
        let rows = x.len() / stride;
        for row in (0..rows).filter(|row| row % length > 0) {
            let span = lines.span(row);
            let (below, here) = x.split_at_mut(row * stride);
            let below = &below[(row - 1) * stride..][span.clone()];
            let l = &self.lower[row * stride..][span.clone()];
            for ((x, l), below) in here[span].iter_mut().zip(l).zip(below) {
                *x += l * below;
            }
        }
        for row in (0..rows).rev() {
            let span = lines.span(row);
            let inverse = &self.inverse[row * stride..][span.clone()];
            let (here, above) = x.split_at_mut((row + 1) * stride);
            let here = &mut here[row * stride..][span.clone()];
            if row % length + 1 == length {
                here.iter_mut().zip(inverse).for_each(|(x, inverse)| *x *= inverse);
                continue;
            }
            let l = &self.lower[(row + 1) * stride..][span.clone()];
            let above = &above[span];
            for j in 0..here.len() {
                here[j] = here[j] * inverse[j] + l[j] * above[j];
            }
        }
    }
}

impl Factors {
    /// As [`Factors::factor`], but from the high end of the lines down; `lower[i]` then multiplies
    /// the neighbour above. For lines side by side only.
    pub fn factor_from_high(&mut self, lines: &Lines, diagonal: &[f64], coupling: &[f64], scale: f64) {
        let Lines { length, stride, .. } = *lines;
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
    pub fn eliminate_from_high(&self, lines: &Lines, x: &mut [f64]) {
        let Lines { length, stride, .. } = *lines;
        for at in (0..(length - 1) * stride).rev() {
            x[at] += self.lower[at] * x[at + stride];
        }
    }

    /// Second half of a solve after [`Factors::factor_from_high`].
    pub fn substitute_to_high(&self, lines: &Lines, x: &mut [f64]) {
        let stride = lines.stride;
        for (x, inv) in x.iter_mut().zip(&self.inverse) {
            *x *= inv;
        }
        for at in stride..x.len() {
            x[at] += self.lower[at - stride] * x[at - stride];
        }
    }
}

#[inline]
fn solve_interleaved<const W: usize>(n: usize, span: Range<usize>, x: &mut [f64], lower: &[f64], inverse: &[f64]) {
    let Range { start, end } = span;
    if start >= end {
        return;
    }
    let (x, lower, inverse) = (&mut x[..n * W], &lower[..n * W], &inverse[..n * W]);
    let mut carry: [f64; W] = std::array::from_fn(|k| x[k * n + start]);
    for i in start + 1..end {
        for (k, c) in carry.iter_mut().enumerate() {
            let at = k * n + i;
            *c = x[at] + lower[at] * *c;
            x[at] = *c;
        }
    }
    for (k, c) in carry.iter_mut().enumerate() {
        let at = k * n + end - 1;
        *c *= inverse[at];
        x[at] = *c;
    }
    for i in (start..end - 1).rev() {
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
            // No metal at the low corner of all axes: the spans leave some of it out.
            let metal: Vec<bool> = (0..cells)
                .map(|c| (0..3).any(|a| (c / strides[a]) % shape[a] > 1))
                .collect();
            let lines = Lines::over(shape[axis], strides[axis], &metal);
            let coupling: Vec<f64> = (0..cells)
                .map(|c| {
                    let i = (c / strides[axis]) % shape[axis];
                    if i + 1 == shape[axis] || !metal[c] || !metal[c + strides[axis]] {
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
            let rhs: Vec<f64> = (0..cells)
                .map(|c| if metal[c] { ((c * 37) % 19) as f64 - 9.0 } else { 0.0 })
                .collect();
            let mut factors = Factors::new(cells);
            factors.factor(&lines, &diagonal, &coupling, scale);
            let mut x = rhs.clone();
            factors.solve(&lines, &mut x);
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
