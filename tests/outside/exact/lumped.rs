//! Bodies of one temperature.

use super::special::bisect;

/// Temperature [K] of a lumped body after t [s] of grey radiation to surroundings, started hotter.
/// `rate` = ε σ A/(ρ c V) in 1/(s K³). Closed form of dT/dt = -rate (T⁴ - Ts⁴).
pub fn radiation_k(start_k: f64, surroundings_k: f64, rate: f64, t: f64) -> f64 {
    let s = surroundings_k;
    let target = primitive(start_k, s) + rate * t;
    bisect(s * (1.0 + 1e-12), start_k, |x| primitive(x, s) - target)
}

/// P with dP/dT = -1/(T⁴ - s⁴).
fn primitive(x: f64, s: f64) -> f64 {
    (((x + s) / (x - s)).ln() + 2.0 * (x / s).atan()) / (4.0 * s.powi(3))
}

/// Time for a lumped body to fall from one temperature to another by a film coefficient, s.
pub fn convection_s(start: f64, end: f64, air: f64, h: f64, heat_capacity_per_area: f64) -> f64 {
    heat_capacity_per_area / h * ((start - air) / (end - air)).ln()
}
