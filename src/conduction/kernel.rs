//! Element by element loops of a step, written so that the compiler sees equal lengths.

use super::tableau::STAGES;

/// `out = h + (Σ aⱼ Yⱼ) / mass` over the stages that `a` has a coefficient for.
pub(super) fn argument(out: &mut [f64], h: &[f64], per_mass: &[f64], a: &[f64], stages: [&[f64]; STAGES]) {
    let n = out.len();
    let (h, per_mass) = (&h[..n], &per_mass[..n]);
    let [y0, y1, y2, _] = stages.map(|y| &y[..n]);
    match *a {
        [] => out.copy_from_slice(h),
        [a0] => {
            for k in 0..n {
                out[k] = h[k] + a0 * y0[k] * per_mass[k];
            }
        }
        [a0, a1] => {
            for k in 0..n {
                out[k] = h[k] + (a0 * y0[k] + a1 * y1[k]) * per_mass[k];
            }
        }
        [a0, a1, a2, ..] => {
            for k in 0..n {
                out[k] = h[k] + (a0 * y0[k] + a1 * y1[k] + a2 * y2[k]) * per_mass[k];
            }
        }
    }
}

/// `x = scale x + Σ cⱼ Yⱼ` over the stages that `c` has a coefficient for.
pub(super) fn right_side(x: &mut [f64], scale: f64, c: &[f64], stages: [&[f64]; STAGES]) {
    let n = x.len();
    let [y0, y1, y2, _] = stages.map(|y| &y[..n]);
    match *c {
        [] => {
            for v in x {
                *v *= scale;
            }
        }
        [c0] => {
            for k in 0..n {
                x[k] = scale * x[k] + c0 * y0[k];
            }
        }
        [c0, c1] => {
            for k in 0..n {
                x[k] = scale * x[k] + (c0 * y0[k] + c1 * y1[k]);
            }
        }
        [c0, c1, c2, ..] => {
            for k in 0..n {
                x[k] = scale * x[k] + (c0 * y0[k] + c1 * y1[k] + c2 * y2[k]);
            }
        }
    }
}

/// `h += (Σ mⱼ Yⱼ) / mass`; returns the largest `|Σ eⱼ Yⱼ / mass · dT/dh|`, NaN if one is.
pub(super) fn finish(
    h: &mut [f64],
    per_mass: &[f64],
    dtemp: &[f64],
    (m, e): (&[f64; STAGES], &[f64; STAGES]),
    stages: [&[f64]; STAGES],
) -> f64 {
    /// Errors gathered before their maximum is taken, and maxima kept side by side.
    const BLOCK: usize = 64;
    const LANES: usize = 8;
    let n = h.len();
    let (per_mass, dtemp) = (&per_mass[..n], &dtemp[..n]);
    let [y0, y1, y2, y3] = stages.map(|y| &y[..n]);
    let mut worst = [0.0; LANES];
    // A sum that is NaN if any error is, whatever the maxima make of it.
    let mut witness = [0.0; LANES];
    let mut errors = [0.0; BLOCK];
    for start in (0..n).step_by(BLOCK) {
        let end = (start + BLOCK).min(n);
        let (h, per_mass, dtemp) = (&mut h[start..end], &per_mass[start..end], &dtemp[start..end]);
        let [y0, y1, y2, y3] = [y0, y1, y2, y3].map(|y| &y[start..end]);
        let errors = &mut errors[..h.len()];
        for k in 0..errors.len() {
            let step = m[0] * y0[k] + m[1] * y1[k] + m[2] * y2[k] + m[3] * y3[k];
            let error = e[0] * y0[k] + e[1] * y1[k] + e[2] * y2[k] + e[3] * y3[k];
            h[k] += step * per_mass[k];
            errors[k] = (error * per_mass[k] * dtemp[k]).abs();
        }
        for some in errors.chunks(LANES) {
            for ((error, worst), witness) in some.iter().zip(&mut worst).zip(&mut witness) {
                *worst = if *error > *worst { *error } else { *worst };
                *witness += error;
            }
        }
    }
    if witness.iter().any(|w| w.is_nan()) {
        return f64::NAN;
    }
    worst.iter().copied().fold(0.0, f64::max)
}

/// Sum of a field, in lanes that need not wait for each other.
pub(super) fn sum(of: &[f64]) -> f64 {
    const LANES: usize = 8;
    let mut sums = [0.0; LANES];
    for some in of.chunks(LANES) {
        for (sum, v) in sums.iter_mut().zip(some) {
            *sum += v;
        }
    }
    sums.iter().sum()
}

/// Scalar product of two fields, in lanes that need not wait for each other.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    const LANES: usize = 8;
    let mut sums = [0.0; LANES];
    for (a, b) in a.chunks(LANES).zip(b.chunks(LANES)) {
        for ((sum, a), b) in sums.iter_mut().zip(a).zip(b) {
            *sum += a * b;
        }
    }
    sums.iter().sum()
}
