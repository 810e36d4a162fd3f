//! Semi-infinite bodies.

use super::special::{integral_erfc, scaled_erfc};
use std::f64::consts::PI;

/// Rise over the start temperature at depth x [m] after t [s] of a constant flux [W/m²].
pub fn flux(q: f64, k: f64, alpha: f64, x: f64, t: f64) -> f64 {
    let length = (alpha * t).sqrt();
    2.0 * q / k * length * integral_erfc(x / (2.0 * length))
}

/// (T - T0)/(T∞ - T0) at depth x [m] after t [s] of convection with h [W/m²K].
pub fn convection(h: f64, k: f64, alpha: f64, x: f64, t: f64) -> f64 {
    let length = (alpha * t).sqrt();
    let z = x / (2.0 * length);
    let a = h * length / k;
    // exp(h x/k + a²) erfc(z + a) = exp(-z²) · scaled_erfc(z + a)
    libm::erfc(z) - (-z * z).exp() * scaled_erfc(z + a)
}

/// Two half-spaces that touch at t = 0 with a contact coefficient.
#[derive(Debug, Clone, Copy)]
pub struct Pair {
    /// Effusivities √(k ρ c), W s^½/m²K.
    pub effusivity: [f64; 2],
    /// Start temperatures, degC.
    pub start_c: [f64; 2],
    /// Contact coefficient, W/m²K.
    pub h: f64,
}

impl Pair {
    fn rate(&self) -> f64 {
        self.h * (1.0 / self.effusivity[0] + 1.0 / self.effusivity[1])
    }

    /// Temperature of both faces under perfect contact, degC.
    pub fn perfect_c(&self) -> f64 {
        let [a, b] = self.effusivity;
        (a * self.start_c[0] + b * self.start_c[1]) / (a + b)
    }

    /// Face temperatures after t [s], degC.
    pub fn faces_c(&self, t: f64) -> [f64; 2] {
        let [a, b] = self.effusivity;
        let difference = self.start_c[0] - self.start_c[1];
        let closed = 1.0 - scaled_erfc(self.rate() * t.sqrt());
        [
            self.start_c[0] - difference * closed * b / (a + b),
            self.start_c[1] + difference * closed * a / (a + b),
        ]
    }

    /// Heat from the first to the second in t [s], J/m².
    pub fn heat(&self, t: f64) -> f64 {
        let z = self.rate() * t.sqrt();
        let difference = self.start_c[0] - self.start_c[1];
        self.h * difference / self.rate().powi(2) * (scaled_erfc(z) - 1.0 + 2.0 * z / PI.sqrt())
    }
}
