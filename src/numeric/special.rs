//! Special functions of statistics: what the crates of the field have, at the accuracy asked of it.
//!
//! The complementary error function is libm's, its inverse statrs', the incomplete beta and gamma
//! functions are special's. Quantiles of beta and chi-square are inverted here by halving, to the last
//! bit: statrs' own give NaN at one degree of freedom, and its beta function loses digits above some
//! 1e5 counts.

use std::f64::consts::{FRAC_1_SQRT_2, SQRT_2, TAU};

use special::{Beta, Gamma};

use super::boundary::boundary;

/// Density of the standard normal distribution at `x`.
pub(crate) fn normal_density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / TAU.sqrt()
}

/// Probability that a standard normal variable is at most `x`; keeps its relative accuracy in
/// the lower tail. Abramowitz and Stegun 26.2.29 with the complementary error function.
pub(crate) fn normal_cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x * FRAC_1_SQRT_2)
}

/// Value below which a standard normal variable falls with probability `p`: minus infinity at
/// 0, plus infinity at 1, NaN outside 0 to 1. Relative accuracy about 1e-15, in the lower tail too.
pub(crate) fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    -SQRT_2 * statrs::function::erf::erfc_inv(2.0 * p)
}

/// Value x with I_x(a, b) = p, I being the regularised incomplete beta function; a, b > 0.
pub(crate) fn incomplete_beta_inverse(a: f64, b: f64, p: f64) -> f64 {
    let ln_beta = a.ln_beta(b);
    boundary(0.0, 1.0, |x| x.inc_beta(a, b, ln_beta) < p)
}

/// Quantile of the chi-square distribution with `degrees` > 0 degrees of freedom.
pub(crate) fn chi_square_quantile(degrees: f64, p: f64) -> f64 {
    let below = |x: f64| (0.5 * x).inc_gamma(0.5 * degrees) < p;
    let mut high = degrees + 10.0;
    while below(high) && high < 1e12 {
        high *= 2.0;
    }
    boundary(0.0, high, below)
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
        assert!(normal_quantile(1.1).is_nan() && normal_quantile(f64::NAN).is_nan());
        assert_eq!(normal_quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(normal_quantile(1.0), f64::INFINITY);
        assert_eq!(normal_quantile(0.5), 0.0);
    }

    /// Closed forms: I_x(1, b) = 1 - (1-x)^b, I_x(2, 2) = 3x² - 2x³; I_x(a, a) = 1/2 at 1/2, however
    /// large a is.
    #[test]
    fn beta_quantiles_agree_with_closed_forms() {
        for &p in &[1e-6_f64, 0.03, 0.4, 0.77, 0.999] {
            let exact = -(f64::ln_1p(-p) / 7.5).exp_m1();
            assert_relative_eq!(incomplete_beta_inverse(1.0, 7.5, p), exact, max_relative = 1e-10);
            let x = incomplete_beta_inverse(2.0, 2.0, p);
            assert_relative_eq!(x * x * (3.0 - 2.0 * x), p, max_relative = 1e-12);
        }
        for a in [0.5, 30.0, 1e5, 1e6] {
            assert_relative_eq!(incomplete_beta_inverse(a, a, 0.5), 0.5, max_relative = 1e-10);
        }
    }

    /// With 2 degrees of freedom the quantile is -2 ln(1 - p), with 1 the square of the normal's; for
    /// many that of Wilson and Hilferty (Proc. Nat. Acad. Sci. 17 (1931) 684) is good to 1e-6.
    #[test]
    fn chi_square_quantiles_agree_with_closed_forms() {
        for p in [0.005, 0.025, 0.5, 0.95, 0.999] {
            let two = -2.0 * f64::ln_1p(-p);
            assert_relative_eq!(chi_square_quantile(2.0, p), two, max_relative = 1e-12);
            let one = normal_quantile(0.5 + 0.5 * p).powi(2);
            assert_relative_eq!(chi_square_quantile(1.0, p), one, max_relative = 1e-10);
            let n = 1e5_f64;
            let many = n * (1.0 - 2.0 / (9.0 * n) + normal_quantile(p) * (2.0 / (9.0 * n)).sqrt()).powi(3);
            assert_relative_eq!(chi_square_quantile(n, p), many, max_relative = 1e-6);
        }
    }
}
