//! A quadratic in what varies, fitted to runs: what a run would give, for the many looks of a fit. It is only the way to the
//! answer: the answer itself is corrected by runs of the parts.

use ndarray::{Array1, Array2};

use crate::numeric::dense::Svd;

/// A coordinate: where it lies and how it is counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Coordinate {
    /// Lowest and highest value over which runs are made.
    pub range: (f64, f64),
    /// Whether its logarithm is counted (coefficients).
    pub log: bool,
}

/// What a list spans without its outermost `share` at either end, widened by `beyond` of that at both.
pub(super) fn range_of(values: impl Iterator<Item = f64>, share: f64, beyond: f64) -> (f64, f64) {
    let mut list: Vec<f64> = values.filter(|v| v.is_finite()).collect();
    list.sort_by(f64::total_cmp);
    let at = |share: f64| {
        list.get((share * (list.len().max(1) - 1) as f64).round() as usize)
            .copied()
            .unwrap_or(0.0)
    };
    let (low, high) = (at(share), at(1.0 - share));
    (low - beyond * (high - low), high + beyond * (high - low))
}

impl Coordinate {
    fn counted(&self, value: f64) -> f64 {
        if self.log { value.max(1e-12).ln() } else { value }
    }

    /// Whether it varies at all.
    pub fn varies(&self) -> bool {
        self.range.1 > self.range.0
    }

    /// From −1 to 1 over its range.
    pub fn scaled(&self, value: f64) -> f64 {
        let (low, high) = (self.counted(self.range.0), self.counted(self.range.1));
        if high > low {
            (2.0 * self.counted(value) - low - high) / (high - low)
        } else {
            0.0
        }
    }

    /// The value at a share of its range.
    pub fn at(&self, share: f64) -> f64 {
        let (low, high) = (self.counted(self.range.0), self.counted(self.range.1));
        let value = low + share * (high - low);
        if self.log { value.exp() } else { value }
    }
}

/// Quadratics of all slots.
#[derive(Debug, Clone)]
pub(super) struct Surface {
    coordinates: Vec<Coordinate>,
    coefficients: Vec<Vec<f64>>,
}

/// Number of terms of a quadratic.
pub(super) fn count_of_terms(coordinates: usize) -> usize {
    (coordinates + 1) * (coordinates + 2) / 2
}

/// 1, xᵢ, xᵢxⱼ.
fn terms(x: &[f64], out: &mut Vec<f64>) {
    out.clear();
    out.push(1.0);
    for (i, a) in x.iter().enumerate() {
        out.push(*a);
        out.extend(x[i..].iter().map(|b| a * b));
    }
}

/// The coordinates that vary, from −1 to 1.
fn scaled(coordinates: &[Coordinate], x: &[f64]) -> Vec<f64> {
    let pairs = coordinates.iter().zip(x).filter(|(c, _)| c.varies());
    pairs.map(|(c, v)| c.scaled(*v)).collect()
}

impl Surface {
    /// Fits runs: values of the coordinates, and of every slot.
    pub fn fit(coordinates: Vec<Coordinate>, runs: &[(Vec<f64>, Vec<f64>)]) -> Option<Surface> {
        let slots = runs.first()?.1.len();
        let active = coordinates.iter().filter(|c| c.varies()).count();
        let mut a = Array2::zeros((runs.len(), count_of_terms(active)));
        let mut row = Vec::new();
        for (i, (x, _)) in runs.iter().enumerate() {
            terms(&scaled(&coordinates, x), &mut row);
            row.iter().enumerate().for_each(|(k, term)| a[[i, k]] = *term);
        }
        let svd = Svd::of(a.view())?;
        let of_slot = |slot: usize| {
            let b: Array1<f64> = runs.iter().map(|(_, values)| values[slot]).collect();
            Some(svd.solve(b.view())?.to_vec())
        };
        let coefficients = (0..slots).map(of_slot).collect::<Option<Vec<_>>>()?;
        Some(Surface {
            coordinates,
            coefficients,
        })
    }

    /// Values of some slots.
    pub fn at(&self, x: &[f64], slots: impl Iterator<Item = usize>) -> Vec<f64> {
        let mut row = Vec::new();
        terms(&scaled(&self.coordinates, x), &mut row);
        slots
            .map(|slot| self.coefficients[slot].iter().zip(&row).map(|(c, t)| c * t).sum())
            .collect()
    }
}
