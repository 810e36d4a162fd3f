//! Slab of half-thickness L; x is measured from the middle (or from an insulated back).

use super::special::bisect;
use std::f64::consts::PI;

/// Eigenvalues of a slab with convection: ζ tan ζ = Bi, one in each ((n-1)π, (n-1/2)π).
pub fn eigenvalues(biot: f64, count: usize) -> Vec<f64> {
    (0..count)
        .map(|n| {
            let low = n as f64 * PI;
            bisect(low, low + 0.5 * PI, |z| z * z.sin() - biot * z.cos())
        })
        .collect()
}

/// First coefficient of the series at an eigenvalue: 4 sin ζ/(2ζ + sin 2ζ).
pub fn coefficient(zeta: f64) -> f64 {
    4.0 * zeta.sin() / (2.0 * zeta + (2.0 * zeta).sin())
}

/// (T - T∞)/(T0 - T∞) at x/L after Fourier number α t/L², Biot number h L/k.
pub fn convection(biot: f64, fourier: f64, place: f64) -> f64 {
    eigenvalues(biot, terms(fourier))
        .into_iter()
        .map(|z| coefficient(z) * (z * place).cos() * (-z * z * fourier).exp())
        .sum()
}

/// The same for a face held at T∞ (infinite Biot number).
pub fn fixed(fourier: f64, place: f64) -> f64 {
    (0..terms(fourier))
        .map(|n| {
            let z = (n as f64 + 0.5) * PI;
            2.0 * z.sin() / z * (z * place).cos() * (-z * z * fourier).exp()
        })
        .sum()
}

/// (T - T0) k/(q L) with a constant flux q entering at x = L and the back insulated.
pub fn flux(fourier: f64, place: f64) -> f64 {
    let series: f64 = (1..terms(fourier))
        .map(|n| {
            let z = n as f64 * PI;
            let sign = if n % 2 == 0 { 1.0 } else { -1.0 };
            sign / (z * z) * (-z * z * fourier).exp() * (z * place).cos()
        })
        .sum();
    fourier + (3.0 * place * place - 1.0) / 6.0 - 2.0 * series
}

/// Terms after which exp(-ζ² Fo) is below 1e-17.
pub fn terms(fourier: f64) -> usize {
    (3 + (40.0 / fourier).sqrt().ceil() as usize / 3 * 2).min(2000)
}
