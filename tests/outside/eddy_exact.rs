//! Exact fields of the uniform cylinder, plate and square prism, written down independently of
//! the solver. Standard theory: Davies, Conduction and Induction Heating, 1990, eq. 9.10; Lupi,
//! Fundamentals of Electroheat, 2017, ch. 6.

use std::f64::consts::PI;

use num_complex::Complex64;

pub const MU_0: f64 = 4.0e-7 * PI;

/// Modified Bessel functions I0 and I1 of a complex argument by their power series.
pub fn bessel_i01(z: Complex64) -> (Complex64, Complex64) {
    let q = z * z / 4.0;
    let mut term0 = Complex64::new(1.0, 0.0);
    let mut term1 = z / 2.0;
    let (mut i0, mut i1) = (term0, term1);
    for k in 1..400 {
        let k = k as f64;
        term0 = term0 * q / (k * k);
        term1 = term1 * q / (k * (k + 1.0));
        i0 += term0;
        i1 += term1;
        if term0.norm() < 1e-18 * i0.norm() && term1.norm() < 1e-18 * i1.norm() {
            break;
        }
    }
    (i0, i1)
}

pub fn skin(rho: f64, mu: f64, f: f64) -> f64 {
    (2.0 * rho / (2.0 * PI * f * MU_0 * mu)).sqrt()
}

/// Propagation constant g = (1+j)/delta.
pub fn propagation(rho: f64, mu: f64, f: f64) -> Complex64 {
    Complex64::new(1.0, 1.0) / skin(rho, mu, f)
}

/// K_T + jK_X of a cylinder of radius R.
pub fn cylinder_factors(rho: f64, mu: f64, f: f64, radius: f64) -> Complex64 {
    let g = propagation(rho, mu, f);
    let (i0, i1) = bessel_i01(g * radius);
    g * i1 / i0 * skin(rho, mu, f)
}

/// H/H0 in a cylinder.
pub fn cylinder_field(rho: f64, mu: f64, f: f64, radius: f64, r: f64) -> Complex64 {
    let g = propagation(rho, mu, f);
    bessel_i01(g * r).0 / bessel_i01(g * radius).0
}

/// Loss density over H0^2 in a cylinder.
pub fn cylinder_loss(rho: f64, mu: f64, f: f64, radius: f64, r: f64) -> f64 {
    let g = propagation(rho, mu, f);
    let d = skin(rho, mu, f);
    rho * 2.0 / (d * d) * bessel_i01(g * r).1.norm_sqr() / bessel_i01(g * radius).0.norm_sqr()
}

/// K_T + jK_X of a plate of half thickness b.
pub fn plate_factors(rho: f64, mu: f64, f: f64, half: f64) -> Complex64 {
    let g = propagation(rho, mu, f);
    g * (g * half).tanh() * skin(rho, mu, f)
}

/// Loss density over H0^2 in a plate at x from the mid-plane.
pub fn plate_loss(rho: f64, mu: f64, f: f64, half: f64, x: f64) -> f64 {
    let g = propagation(rho, mu, f);
    rho * (g * (g * x).sinh() / (g * half).cosh()).norm_sqr()
}

/// K_T + jK_X of a square prism of side a, mean over the perimeter: Fourier series.
pub fn square_factors(rho: f64, mu: f64, f: f64, side: f64) -> Complex64 {
    let g = propagation(rho, mu, f);
    let mut mean = Complex64::new(0.0, 0.0);
    // Terms fall with m^-4.
    for m in (1..4001).step_by(2) {
        let mp = m as f64 * PI;
        let q = (Complex64::new((mp / side).powi(2), 0.0) + g * g).sqrt();
        let half = q * side / 2.0;
        let tanh = if half.re > 300.0 {
            Complex64::new(1.0, 0.0)
        } else {
            half.tanh()
        };
        mean += 8.0 * g * g / (mp * mp * q * q) * (1.0 - tanh / half);
    }
    g * g * side * side * (1.0 - mean) / (4.0 * side) * skin(rho, mu, f)
}
