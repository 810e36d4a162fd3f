//! Functions and root finding for the series.

/// Probability that a standard normal variable is at most `x` (Abramowitz and Stegun 26.2.29).
pub fn normal_cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x * std::f64::consts::FRAC_1_SQRT_2)
}

/// Where [`normal_cdf`] is `p`.
pub fn normal_quantile(p: f64) -> f64 {
    bisect(-40.0, 40.0, |x| normal_cdf(x) - p)
}

/// exp(z²) erfc(z) for z >= 0, without overflow.
pub fn scaled_erfc(z: f64) -> f64 {
    if z < 4.0 {
        return (z * z).exp() * libm::erfc(z);
    }
    // Continued fraction (Abramowitz and Stegun 7.1.14), evaluated from the back.
    let mut tail = 0.0;
    for k in (1..=60).rev() {
        tail = 0.5 * k as f64 / (z + tail);
    }
    1.0 / (std::f64::consts::PI.sqrt() * (z + tail))
}

/// First integral of erfc from z to infinity.
pub fn integral_erfc(z: f64) -> f64 {
    (-z * z).exp() / std::f64::consts::PI.sqrt() - z * libm::erfc(z)
}

/// Root of `f` in a bracket, by bisection to the last bit.
pub fn bisect(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let rising = f(high) > f(low);
    loop {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            return middle;
        }
        if (f(middle) > 0.0) == rising {
            high = middle;
        } else {
            low = middle;
        }
    }
}

/// The first `count` positive roots of a continuous `f`, found by scanning and bisecting.
pub fn roots(count: usize, f: impl Fn(f64) -> f64) -> Vec<f64> {
    const STEP: f64 = 0.02;
    let mut found = Vec::with_capacity(count);
    let (mut x, mut before) = (1e-9, f(1e-9));
    while found.len() < count {
        let after = f(x + STEP);
        if (before > 0.0) != (after > 0.0) {
            found.push(bisect(x, x + STEP, &f));
        }
        x += STEP;
        before = after;
    }
    found
}
