//! Solid cylinder and sphere of radius R.

use super::plane::terms;
use super::special::roots;
use libm::{j0, j1};

/// Eigenvalues of a cylinder with convection: ζ J1(ζ) = Bi J0(ζ).
pub fn cylinder_eigenvalues(biot: f64, count: usize) -> Vec<f64> {
    roots(count, |z| z * j1(z) - biot * j0(z))
}

/// Coefficient of the cylinder series at an eigenvalue.
pub fn cylinder_coefficient(zeta: f64) -> f64 {
    let (a, b) = (j0(zeta), j1(zeta));
    2.0 / zeta * b / (a * a + b * b)
}

/// (T - T∞)/(T0 - T∞) in a cylinder at r/R, Biot number h R/k.
pub fn cylinder_convection(biot: f64, fourier: f64, place: f64) -> f64 {
    cylinder_eigenvalues(biot, terms(fourier))
        .into_iter()
        .map(|z| cylinder_coefficient(z) * j0(z * place) * (-z * z * fourier).exp())
        .sum()
}

/// The same with the side held at T∞.
pub fn cylinder_fixed(fourier: f64, place: f64) -> f64 {
    roots(terms(fourier), j0)
        .into_iter()
        .map(|z| 2.0 / (z * j1(z)) * j0(z * place) * (-z * z * fourier).exp())
        .sum()
}

/// (T - T0) k/(q R) with a constant flux q entering at the side.
pub fn cylinder_flux(fourier: f64, place: f64) -> f64 {
    let series: f64 = roots(terms(fourier), j1)
        .into_iter()
        .map(|z| (-z * z * fourier).exp() * j0(z * place) / (z * z * j0(z)))
        .sum();
    2.0 * fourier + 0.5 * place * place - 0.25 - 2.0 * series
}

/// Eigenvalues of a sphere with convection: 1 - ζ cot ζ = Bi.
pub fn sphere_eigenvalues(biot: f64, count: usize) -> Vec<f64> {
    roots(count, |z| (1.0 - biot) * z.sin() - z * z.cos())
}

/// Coefficient of the sphere series at an eigenvalue.
pub fn sphere_coefficient(zeta: f64) -> f64 {
    4.0 * (zeta.sin() - zeta * zeta.cos()) / (2.0 * zeta - (2.0 * zeta).sin())
}

/// (T - T∞)/(T0 - T∞) in a sphere at r/R, Biot number h R/k.
pub fn sphere_convection(biot: f64, fourier: f64, place: f64) -> f64 {
    sphere_eigenvalues(biot, terms(fourier))
        .into_iter()
        .map(|z| {
            let x = z * place;
            let shape = if x < 1e-8 { 1.0 } else { x.sin() / x };
            sphere_coefficient(z) * shape * (-z * z * fourier).exp()
        })
        .sum()
}
