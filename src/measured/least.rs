//! Nonlinear least squares: the method of Levenberg and Marquardt on the singular values of the scaled Jacobian.
//!
//! Levenberg, Q. Appl. Math. 2 (1944) 164; Marquardt, J. SIAM 11 (1963) 431; scaling of the columns after Moré,
//! Lecture Notes in Mathematics 630 (1978) 105 (from memory). The end is called converged only when the gradient
//! vanishes against residuals and columns and no column of the Jacobian is zero: a step that has become small
//! proves neither.

use ndarray::{Array1, Array2};

use crate::numeric::dense::Svd;

/// Why a search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// The residuals are at right angles to every column, and none is zero.
    Converged,
    /// No shorter sum of squares was found, but the gradient does not vanish.
    Stuck,
    /// The most steps were made.
    Steps,
    /// The residuals do not depend on an unknown there.
    NoInfluence,
}

/// Where a search ended.
#[derive(Debug, Clone)]
pub struct Found {
    /// The unknowns.
    pub x: Vec<f64>,
    /// Residuals there.
    pub residuals: Vec<f64>,
    /// Jacobian there \[residual, unknown\].
    pub jacobian: Array2<f64>,
    /// Sum of squares.
    pub squares: f64,
    /// Steps made.
    pub steps: usize,
    /// Why it ended.
    pub end: End,
}

/// Most steps of one search.
const STEPS: usize = 400;
/// Largest cosine between the residuals and a column that counts as a right angle.
const RIGHT_ANGLE: f64 = 1e-9;
/// The same where no step is any better: what rounding leaves of it.
const NEARLY: f64 = 1e-5;
/// Share of the residuals of the start below which those of an end are rounding.
const NO_RESIDUAL: f64 = 1e-12;
/// Relative change of every unknown below which a step is nothing.
const NO_STEP: f64 = 1e-13;
/// Share of its length by which an unknown is moved for a central difference: the cube root of the rounding error.
const MOVE: f64 = 6e-6;

/// Residuals of unknowns; `None` where they cannot be computed.
pub type Residuals<'a> = dyn Fn(&[f64]) -> Option<Vec<f64>> + Sync + 'a;

/// Jacobian by central differences; `scale` is a usual size of each unknown. An end that cannot be computed is
/// replaced by the middle.
fn jacobian(of: &Residuals, x: &[f64], at: &[f64], scale: &[f64]) -> Option<Array2<f64>> {
    let mut out = Array2::zeros((at.len(), x.len()));
    for j in 0..x.len() {
        let step = MOVE * x[j].abs().max(scale[j].abs()).max(f64::MIN_POSITIVE);
        let moved = |by: f64| {
            let mut x = x.to_vec();
            x[j] += by;
            let value = of(&x).filter(|r| r.iter().all(|v| v.is_finite()))?;
            Some((x[j], value))
        };
        let middle = || (x[j], at.to_vec());
        let (high, low) = (moved(step).unwrap_or_else(middle), moved(-step).unwrap_or_else(middle));
        let width = high.0 - low.0;
        if width <= 0.0 {
            return None;
        }
        for i in 0..at.len() {
            out[[i, j]] = (high.1[i] - low.1[i]) / width;
        }
    }
    Some(out)
}

fn squares(r: &[f64]) -> f64 {
    r.iter().map(|v| v * v).sum()
}

/// Finds unknowns that make the sum of squares least, from `start`; `None` where the residuals of the start cannot be
/// computed.
#[must_use]
pub fn search(of: &Residuals, start: &[f64], scale: &[f64]) -> Option<Found> {
    let finite = |x: &[f64]| of(x).filter(|r| r.iter().all(|v| v.is_finite()));
    let mut x = start.to_vec();
    let mut r = finite(&x)?;
    let nothing = NO_RESIDUAL * NO_RESIDUAL * squares(&r);
    let mut damping = 1e-3;
    let mut length = vec![0.0_f64; x.len()];
    let mut steps = 0;
    loop {
        let j = jacobian(of, &x, &r, scale)?;
        for (k, length) in length.iter_mut().enumerate() {
            *length = length.max(j.column(k).dot(&j.column(k)).sqrt());
        }
        let end = |end: End, x: Vec<f64>, r: Vec<f64>, j: Array2<f64>, steps: usize| {
            Some(Found {
                squares: squares(&r),
                end: if has_zero_column(&j, &length) {
                    End::NoInfluence
                } else {
                    end
                },
                residuals: r,
                jacobian: j,
                x,
                steps,
            })
        };
        if at_right_angles(&j, &r) {
            return end(End::Converged, x, r, j, steps);
        }
        if steps >= STEPS {
            return end(End::Steps, x, r, j, steps);
        }
        let size: Vec<f64> = length.iter().map(|l| if *l > 0.0 { *l } else { 1.0 }).collect();
        let scaled = Array2::from_shape_fn(j.raw_dim(), |(i, k)| j[[i, k]] / size[k]);
        let svd = Svd::of(scaled.view())?;
        let down: Array1<f64> = r.iter().map(|v| -v).collect();
        let mut better = None;
        // A step that is no better is made shorter until it is nothing.
        for _ in 0..60 {
            let step = svd.damped(down.view(), damping)?;
            let next: Vec<f64> = x.iter().zip(&step).zip(&size).map(|((x, s), l)| x + s / l).collect();
            let moved = x
                .iter()
                .zip(&next)
                .any(|(a, b)| (a - b).abs() > NO_STEP * (a.abs() + NO_STEP));
            if !moved {
                break;
            }
            match finite(&next).filter(|n| squares(n) < squares(&r)) {
                Some(found) => {
                    better = Some((next, found));
                    break;
                }
                None => damping = (damping * 4.0).max(1e-12),
            }
        }
        match better {
            Some((next, found)) => {
                (x, r) = (next, found);
                damping = (damping * 0.2).max(1e-14);
                steps += 1;
            }
            None => {
                let nearly = cosine(&j, &r) < NEARLY || squares(&r) <= nothing;
                return end(if nearly { End::Converged } else { End::Stuck }, x, r, j, steps);
            }
        }
    }
}

/// The largest cosine between the residuals and a column.
fn cosine(j: &Array2<f64>, r: &[f64]) -> f64 {
    let r = Array1::from_vec(r.to_vec());
    let size = r.dot(&r).sqrt();
    if size == 0.0 {
        return 0.0;
    }
    let of = |c: ndarray::ArrayView1<f64>| match c.dot(&c).sqrt() {
        0.0 => 0.0,
        length => (c.dot(&r) / (length * size)).abs(),
    };
    j.columns().into_iter().map(of).fold(0.0, f64::max)
}

fn at_right_angles(j: &Array2<f64>, r: &[f64]) -> bool {
    cosine(j, r) < RIGHT_ANGLE
}

/// Whether an unknown has lost its influence: a column that is zero, or nearly so against what it was on the way.
fn has_zero_column(j: &Array2<f64>, length: &[f64]) -> bool {
    j.columns()
        .into_iter()
        .zip(length)
        .any(|(c, most)| c.dot(&c).sqrt() <= 1e-9 * most || *most == 0.0)
}

/// The best of several searches; `true` beside it where a second one ended there too (1e-5 of every unknown).
#[must_use]
pub fn from_starts(of: &Residuals, starts: &[Vec<f64>], scale: &[f64]) -> Option<(Found, bool)> {
    let mut ends: Vec<Found> = starts.iter().filter_map(|start| search(of, start, scale)).collect();
    ends.sort_by(|a, b| {
        let late = |f: &Found| f.end != End::Converged;
        late(a).cmp(&late(b)).then(a.squares.total_cmp(&b.squares))
    });
    let mut ends = ends.into_iter();
    let best = ends.next()?;
    let same = |other: &Found| {
        let near = |((a, b), s): ((&f64, &f64), &f64)| (a - b).abs() <= 1e-5 * (a.abs() + s.abs());
        other.end == End::Converged && best.x.iter().zip(&other.x).zip(scale).all(near)
    };
    let agree = best.end == End::Converged && ends.any(|other| same(&other));
    Some((best, agree))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Known answer: the plane through four points, and an unknown that does nothing.
    #[test]
    fn an_unknown_without_influence_is_told() {
        let line = |x: &[f64]| Some([0.0, 1.0, 2.0, 3.0].map(|t| x[0] + x[1] * t - (1.0 + 2.0 * t)).to_vec());
        let found = search(&line, &[0.0, 0.0], &[1.0, 1.0]).unwrap();
        assert_eq!(found.end, End::Converged);
        assert!((found.x[0] - 1.0).abs() < 1e-9 && (found.x[1] - 2.0).abs() < 1e-9);
        let idle = |x: &[f64]| Some(vec![x[0] - 1.0, 2.0 * x[0]]);
        assert_eq!(search(&idle, &[5.0, 5.0], &[1.0, 1.0]).unwrap().end, End::NoInfluence);
    }
}
