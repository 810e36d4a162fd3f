//! The state that repeats: x = G(x), where G takes a die through one takt.
//!
//! A die settles slowly: after a takt short against the diffusion time of its depth, the slowest
//! mode keeps most of its distance, so repeating G takes hundreds of parts. Anderson's iteration
//! (D. G. Anderson, J. ACM 12 (1965) 547; in the form of H. F. Walker and P. Ni, SIAM J. Numer.
//! Anal. 49 (2011) 1715) combines the last few states so that the residual becomes least; for a
//! nearly linear G it is as good as GMRES.

/// Growth of the residual in one step that calls for a new start.
const WORSE: f64 = 3.0;
/// Plain steps before one.
const PLAIN_STEPS: usize = 3;

/// Longest leap once G has shown a bend, in residuals.
const LEAP: f64 = 10.0;

/// What the iteration found.
#[derive(Debug, Clone, PartialEq)]
pub struct FixedPoint {
    /// The best state met, before its last G.
    pub state: Vec<f64>,
    /// Largest |G(x) − x| of it.
    pub residual: f64,
    /// Evaluations of G.
    pub evaluations: usize,
    /// Whether the residual is within the tolerance.
    pub converged: bool,
}

/// Bounds of the iteration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// States that are combined.
    pub memory: usize,
    /// Most evaluations of G.
    pub evaluations: usize,
    /// Largest |G(x) − x| wanted.
    pub tolerance: f64,
}

/// Iterates to x = G(x) from `start`. `weights` are those of the least squares (masses).
///
/// # Errors
/// Those of G.
///
/// ```
/// use billet_thermal::die::fixed_point::{Bounds, anderson};
/// // A linear map with a slow mode (factor 0.97) settles in a few evaluations instead of hundreds.
/// let map = |x: &[f64]| Ok::<_, ()>(vec![0.97 * x[0] + 3.0, 0.5 * x[1] + 0.1 * x[0]]);
/// let bounds = Bounds { memory: 5, evaluations: 20, tolerance: 1e-9 };
/// let found = anderson(&[0.0, 0.0], &[1.0, 1.0], bounds, map).unwrap();
/// assert!(found.converged && found.evaluations <= 6);
/// assert!((found.state[0] - 100.0).abs() < 1e-6 && (found.state[1] - 20.0).abs() < 1e-6);
/// ```
pub fn anderson<E>(
    start: &[f64],
    weights: &[f64],
    bounds: Bounds,
    mut map: impl FnMut(&[f64]) -> Result<Vec<f64>, E>,
) -> Result<FixedPoint, E> {
    let mut x = start.to_vec();
    let mut best = FixedPoint {
        state: x.clone(),
        residual: f64::INFINITY,
        evaluations: 0,
        converged: false,
    };
    // Differences of residuals and of images, newest last.
    let mut df: Vec<Vec<f64>> = Vec::new();
    let mut dg: Vec<Vec<f64>> = Vec::new();
    let mut last: Option<(Vec<f64>, Vec<f64>)> = None;
    let (mut latest, mut plain, mut bent) = (f64::INFINITY, 0_usize, false);
    for evaluation in 1..=bounds.evaluations {
        let g = map(&x)?;
        let f: Vec<f64> = g.iter().zip(&x).map(|(g, x)| g - x).collect();
        let residual = f
            .iter()
            .fold(0.0_f64, |m, v| if v.is_nan() { f64::NAN } else { m.max(v.abs()) });
        best.evaluations = evaluation;
        if residual < best.residual {
            best.residual = residual;
            best.state.clone_from(&x);
        }
        if residual <= bounds.tolerance {
            best.converged = true;
            break;
        }
        if plain > 0 || residual.is_nan() || residual > WORSE * latest {
            // Where G bends, as a spray does when a face gets too hot to wet, the combination leads
            // astray: some plain steps, then a new start.
            plain = if plain > 0 { plain - 1 } else { PLAIN_STEPS };
            bent = true;
            latest = residual;
            last = None;
            df.clear();
            dg.clear();
            x = g;
            continue;
        }
        latest = residual;
        if let Some((f_last, g_last)) = &last {
            df.push(difference(&f, f_last));
            dg.push(difference(&g, g_last));
            if df.len() > bounds.memory {
                df.remove(0);
                dg.remove(0);
            }
        }
        let gamma = least_squares(&df, &f, weights);
        let mut leap = vec![0.0; x.len()];
        for (c, d) in gamma.iter().zip(&dg) {
            for (leap, d) in leap.iter_mut().zip(d) {
                *leap -= c * d;
            }
        }
        let longest = leap.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        let share = if bent && longest > LEAP * residual {
            LEAP * residual / longest
        } else {
            1.0
        };
        for ((x, g), leap) in x.iter_mut().zip(&g).zip(&leap) {
            *x = g + share * leap;
        }
        last = Some((f, g));
    }
    Ok(best)
}

fn difference(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}

/// Coefficients c that make |f − Σ cᵢ dᵢ| least in the weighted norm, by modified Gram-Schmidt.
/// Directions that say nothing new get zero.
fn least_squares(columns: &[Vec<f64>], f: &[f64], weights: &[f64]) -> Vec<f64> {
    let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).zip(weights).map(|((a, b), w)| a * b * w).sum() };
    let n = columns.len();
    let mut q: Vec<Vec<f64>> = Vec::with_capacity(n);
    let mut r = vec![vec![0.0; n]; n];
    let mut rhs = vec![0.0; n];
    let mut rest = f.to_vec();
    // Newest first: the old ones are the ones to drop.
    for (j, column) in columns.iter().rev().enumerate() {
        let mut v = column.clone();
        let size = dot(&v, &v).sqrt();
        for (i, q) in q.iter().enumerate() {
            r[i][j] = dot(q, &v);
            for (v, q) in v.iter_mut().zip(q) {
                *v -= r[i][j] * q;
            }
        }
        let length = dot(&v, &v).sqrt();
        if length > 1e-8 * size {
            r[j][j] = length;
            v.iter_mut().for_each(|v| *v /= length);
            rhs[j] = dot(&v, &rest);
            for (f, v) in rest.iter_mut().zip(&v) {
                *f -= rhs[j] * v;
            }
        } else {
            v.fill(0.0);
        }
        q.push(v);
    }
    let mut c = vec![0.0; n];
    for j in (0..n).rev() {
        if r[j][j] > 0.0 {
            let sum: f64 = (j + 1..n).map(|k| r[j][k] * c[k]).sum();
            c[j] = (rhs[j] - sum) / r[j][j];
        }
    }
    c.reverse();
    c
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bend_does_not_stop_it() {
        // Slow towards 400 up to 300, beyond that towards 700, as when a spray no longer wets.
        let map = |x: &[f64]| {
            let goal = 400.0 + 300.0 * ((x[0] - 300.0) / 40.0).clamp(0.0, 1.0);
            Ok::<_, ()>(vec![x[0] + 0.02 * (goal - x[0]), 0.9 * x[1] + 0.05 * x[0]])
        };
        let bounds = Bounds {
            memory: 8,
            evaluations: 150,
            tolerance: 1e-6,
        };
        let found = anderson(&[100.0, 0.0], &[1.0, 1.0], bounds, map).unwrap();
        assert!(found.converged, "{found:?}");
        assert!((found.state[0] - 700.0).abs() < 1e-3 && (found.state[1] - 350.0).abs() < 1e-3);
    }
}
