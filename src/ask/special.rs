//! Special functions of statistics: normal distribution, incomplete beta and gamma functions.

use std::f64::consts::{FRAC_1_SQRT_2, TAU};

/// Density of the standard normal distribution at `x`.
#[must_use]
pub fn normal_density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / TAU.sqrt()
}

/// Probability that a standard normal variable is at most `x`; keeps its relative accuracy in
/// the lower tail. Abramowitz and Stegun 26.2.29 with the complementary error function.
#[must_use]
pub fn normal_cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x * FRAC_1_SQRT_2)
}

/// Value below which a standard normal variable falls with probability `p`: minus infinity at
/// 0, plus infinity at 1, NaN outside 0 to 1. M. J. Wichura, "Algorithm AS 241: the percentage
/// points of the normal distribution", Applied Statistics 37 (1988), routine PPND16, relative
/// accuracy about 1e-16.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * ratio(&CENTRE_UP, &CENTRE_DOWN, r);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    if tail == 0.0 {
        return if q < 0.0 { f64::NEG_INFINITY } else { f64::INFINITY };
    }
    let r = (-tail.ln()).sqrt();
    let z = if r <= 5.0 {
        ratio(&MIDDLE_UP, &MIDDLE_DOWN, r - 1.6)
    } else {
        ratio(&FAR_UP, &FAR_DOWN, r - 5.0)
    };
    z.copysign(q)
}

fn ratio(up: &[f64; 8], down: &[f64; 8], r: f64) -> f64 {
    let horner = |c: &[f64; 8]| c.iter().rev().fold(0.0, |sum, &a| sum * r + a);
    horner(up) / horner(down)
}

// AS 241, rounded to double precision; coefficients a and b (centre), c and d (middle), e and f (far tail), lowest power first.
const CENTRE_UP: [f64; 8] = [
    3.387_132_872_796_366_5,
    133.141_667_891_784_38,
    1_971.590_950_306_551_3,
    13_731.693_765_509_46,
    45_921.953_931_549_87,
    67_265.770_927_008_7,
    33_430.575_583_588_13,
    2_509.080_928_730_122_7,
];
const CENTRE_DOWN: [f64; 8] = [
    1.0,
    42.313_330_701_600_91,
    687.187_007_492_057_9,
    5_394.196_021_424_751,
    21_213.794_301_586_597,
    39_307.895_800_092_71,
    28_729.085_735_721_943,
    5_226.495_278_852_854,
];
const MIDDLE_UP: [f64; 8] = [
    1.423_437_110_749_683_5,
    4.630_337_846_156_546,
    5.769_497_221_460_691,
    3.647_848_324_763_204_5,
    1.270_458_252_452_368_4,
    0.241_780_725_177_450_6,
    2.272_384_498_926_918_4e-2,
    7.745_450_142_783_414e-4,
];
const MIDDLE_DOWN: [f64; 8] = [
    1.0,
    2.053_191_626_637_759,
    1.676_384_830_183_803_8,
    0.689_767_334_985_1,
    0.148_103_976_427_480_08,
    1.519_866_656_361_645_7e-2,
    5.475_938_084_995_345e-4,
    1.050_750_071_644_416_9e-9,
];
const FAR_UP: [f64; 8] = [
    6.657_904_643_501_103,
    5.463_784_911_164_114,
    1.784_826_539_917_291_3,
    0.296_560_571_828_504_87,
    2.653_218_952_657_612_4e-2,
    1.242_660_947_388_078_4e-3,
    2.711_555_568_743_487_6e-5,
    2.010_334_399_292_288_1e-7,
];
const FAR_DOWN: [f64; 8] = [
    1.0,
    0.599_832_206_555_888,
    0.136_929_880_922_735_8,
    1.487_536_129_085_061_5e-2,
    7.868_691_311_456_133e-4,
    1.846_318_317_510_054_8e-5,
    1.421_511_758_316_446e-7,
    2.044_263_103_389_939_8e-15,
];

/// Regularised incomplete beta function I_x(a, b) for a, b > 0 and 0 <= x <= 1, by the continued
/// fraction DLMF 8.17.22 evaluated with the modified Lentz method.
pub(crate) fn incomplete_beta(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    // The fraction converges fast below the mean; above it the symmetry is used.
    if x > (a + 1.0) / (a + b + 2.0) {
        return 1.0 - incomplete_beta(b, a, 1.0 - x);
    }
    let front = (libm::lgamma(a + b) - libm::lgamma(a) - libm::lgamma(b) + a * x.ln() + b * (-x).ln_1p()).exp() / a;
    let fraction = lentz(1.0, |m| {
        let k = f64::from(m / 2);
        if m % 2 == 0 {
            k * (b - k) * x / ((a + 2.0 * k - 1.0) * (a + 2.0 * k))
        } else {
            -(a + k) * (a + b + k) * x / ((a + 2.0 * k) * (a + 2.0 * k + 1.0))
        }
    });
    front / fraction
}

/// 1 + d(1)/(1 + d(2)/(1 + ...)) scaled by `first`, stopped when the last factor is 1 to 1e-15.
fn lentz(first: f64, term: impl Fn(u32) -> f64) -> f64 {
    const TINY: f64 = 1e-300;
    let (mut value, mut c, mut d) = (first, first, 0.0);
    for m in 1..5000 {
        let a = term(m);
        d = 1.0 + a * d;
        c = 1.0 + a / c;
        if d.abs() < TINY {
            d = TINY;
        }
        if c.abs() < TINY {
            c = TINY;
        }
        d = 1.0 / d;
        let factor = c * d;
        value *= factor;
        if (factor - 1.0).abs() < 1e-15 {
            break;
        }
    }
    value
}

/// Value x with I_x(a, b) = p, by bisection to the last bit (about 60 halvings).
pub(crate) fn incomplete_beta_inverse(a: f64, b: f64, p: f64) -> f64 {
    bisect(0.0, 1.0, |x| incomplete_beta(a, b, x) < p)
}

/// Regularised lower incomplete gamma function P(a, x): series DLMF 8.11.4 below a + 1, otherwise
/// one minus the continued fraction DLMF 8.9.2 in Lentz form.
pub(crate) fn incomplete_gamma(a: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let front = (a * x.ln() - x - libm::lgamma(a)).exp();
    if x < a + 1.0 {
        let (mut term, mut sum, mut k) = (1.0 / a, 1.0 / a, a);
        for _ in 0..100_000 {
            k += 1.0;
            term *= x / k;
            sum += term;
            if term < sum * 1e-17 {
                break;
            }
        }
        return front * sum;
    }
    let mut b = x + 1.0 - a;
    let (mut c, mut d) = (1e300, 1.0 / b);
    let mut h = d;
    for i in 1..100_000 {
        let n = f64::from(i);
        let an = -n * (n - a);
        b += 2.0;
        d = 1.0 / (an * d + b);
        c = b + an / c;
        let factor = c * d;
        h *= factor;
        if (factor - 1.0).abs() < 1e-15 {
            break;
        }
    }
    1.0 - front * h
}

/// Quantile of the chi-square distribution with `degrees` degrees of freedom.
pub(crate) fn chi_square_quantile(degrees: f64, p: f64) -> f64 {
    let mut high = degrees + 10.0;
    while incomplete_gamma(0.5 * degrees, 0.5 * high) < p && high < 1e12 {
        high *= 2.0;
    }
    bisect(0.0, high, |x| incomplete_gamma(0.5 * degrees, 0.5 * x) < p)
}

fn bisect(mut low: f64, mut high: f64, below: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if below(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Abramowitz and Stegun, table 26.1 (cdf) and table 26.5 (percentage points), with more
    /// digits from the same definitions.
    #[test]
    fn normal_distribution_agrees_with_tables() {
        assert_relative_eq!(normal_cdf(1.0), 0.841_344_746_068_543, max_relative = 1e-14);
        assert_relative_eq!(normal_cdf(-4.753_424_308_822_899), 1e-6, max_relative = 1e-12);
        assert_relative_eq!(normal_quantile(0.975), 1.959_963_984_540_054, max_relative = 1e-14);
        assert_relative_eq!(normal_quantile(1e-6), -4.753_424_308_822_899, max_relative = 1e-14);
        assert_relative_eq!(normal_quantile(1e-20), -9.262_340_089_798_408, max_relative = 1e-14);
    }

    #[test]
    fn quantile_undoes_cdf() {
        for k in -60..=60 {
            let x = f64::from(k) * 0.1;
            let p = normal_cdf(x);
            // Above zero 1 - p loses digits, so the tolerance follows the density there.
            let tolerance = 1e-13 + 2e-16 / normal_density(x);
            assert!((normal_quantile(p) - x).abs() < tolerance, "at {x}");
        }
        assert!(normal_quantile(1.1).is_nan());
        assert_eq!(normal_quantile(0.0), f64::NEG_INFINITY);
    }

    /// Closed forms: I_x(1, b) = 1 - (1-x)^b, I_x(2, 2) = 3x^2 - 2x^3; P(1, x) = 1 - exp(-x);
    /// chi-square with 2 degrees has quantile -2 ln(1 - p); with 1 the square of the normal's.
    #[test]
    fn incomplete_functions_agree_with_closed_forms() {
        for &x in &[1e-6_f64, 0.03, 0.4, 0.77, 0.999] {
            assert_relative_eq!(
                incomplete_beta(1.0, 7.5, x),
                1.0 - (1.0 - x).powf(7.5),
                max_relative = 1e-10
            );
            assert_relative_eq!(
                incomplete_beta(2.0, 2.0, x),
                x * x * (3.0 - 2.0 * x),
                max_relative = 1e-12
            );
        }
        for &x in &[0.01, 0.9, 3.0, 20.0] {
            assert_relative_eq!(incomplete_gamma(1.0, x), 1.0 - (-x).exp(), max_relative = 1e-12);
        }
        assert_relative_eq!(
            chi_square_quantile(2.0, 0.95),
            -2.0 * 0.05_f64.ln(),
            max_relative = 1e-12
        );
        assert_relative_eq!(
            chi_square_quantile(1.0, 0.95),
            normal_quantile(0.975).powi(2),
            max_relative = 1e-10
        );
        assert_relative_eq!(incomplete_beta_inverse(2.0, 2.0, 0.5), 0.5, max_relative = 1e-12);
    }
}
