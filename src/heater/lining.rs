//! Heat from the billet through a refractory lining to the water-cooled coil, and from open ends.

use std::f64::consts::PI;

use super::error::{HeaterError, fraction, positive};
use crate::units::{STEFAN_BOLTZMANN, kelvin};

/// A refractory tube between the billet and the water-cooled winding. Heat stored in the lining is
/// neglected: a wall of 8 mm answers within some 15 s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lining {
    /// Clear bore, m.
    pub inner_m: f64,
    /// Outer diameter, m; at most the bore of the winding.
    pub outer_m: f64,
    /// Thermal conductivity, W/mK.
    pub conductivity: f64,
    /// Emissivity of its inner face.
    pub emissivity: f64,
    /// Temperature of the winding behind it, degC.
    pub coil_c: f64,
}

impl Lining {
    /// Refuses a lining that cannot be, or that a billet of `billet_m` (m) does not fit into.
    pub fn check(&self, billet_m: f64) -> Result<(), HeaterError> {
        positive("clear bore of the lining in m", self.inner_m)?;
        positive("conductivity of the lining in W/mK", self.conductivity)?;
        fraction("emissivity of the lining", self.emissivity)?;
        if !(self.outer_m > self.inner_m && self.outer_m.is_finite()) {
            return Err(HeaterError::OutOfRange {
                name: "outer diameter of the lining in m",
                value: self.outer_m,
                allowed: "must be larger than its clear bore",
            });
        }
        if billet_m >= self.inner_m {
            return Err(HeaterError::TooLarge {
                billet_mm: billet_m * 1e3,
                bore_mm: self.inner_m * 1e3,
            });
        }
        Ok(())
    }

    /// Heat conducted per metre of length in W/m from a hot face of `hot_c` (degC) to the coil:
    /// 2πk(T_l − T_w)/ln(r₂/r₁).
    ///
    /// ```
    /// use billet_thermal::inside::heater::lining::Lining;
    /// let lining = Lining { inner_m: 0.060, outer_m: 0.076, conductivity: 1.0, emissivity: 0.8, coil_c: 50.0 };
    /// assert!((lining.conducted(1150.0) - 29.2e3).abs() < 50.0);
    /// ```
    pub fn conducted(&self, hot_c: f64) -> f64 {
        self.conductance() * (hot_c - self.coil_c)
    }

    fn conductance(&self) -> f64 {
        2.0 * PI * self.conductivity / (self.outer_m / self.inner_m).ln()
    }

    /// Heat per metre of length in W/m from a billet of `billet_m` (m) and emissivity
    /// `emissivity` with a surface at `surface_c` (degC), and the temperature of the hot face in
    /// degC. Positive leaves the billet.
    ///
    /// Radiation between concentric cylinders, 1/ε = 1/ε_b + (D_b/D_l)(1/ε_l − 1), in series with
    /// conduction through the wall (standard theory). The hot face follows by Newton's method from
    /// the warmer side, where the balance is concave, so every step approaches it from above.
    pub fn loss(&self, billet_m: f64, emissivity: f64, surface_c: f64) -> (f64, f64) {
        let exchange = 1.0 / (1.0 / emissivity + billet_m / self.inner_m * (1.0 / self.emissivity - 1.0));
        let radiation = exchange * STEFAN_BOLTZMANN * PI * billet_m;
        let conduction = self.conductance();
        let (surface, water) = (kelvin(surface_c), kelvin(self.coil_c));
        let mut face = surface.max(water);
        for _ in 0..60 {
            let balance = radiation * (surface.powi(4) - face.powi(4)) - conduction * (face - water);
            let slope = 4.0 * radiation * face.powi(3) + conduction;
            let step = balance / slope;
            face += step;
            if step.abs() < 1e-10 * face {
                break;
            }
        }
        (conduction * (face - water), face - kelvin(0.0))
    }
}

/// Radiation from an open end face or an unlined stretch in W/m²: εσ(T⁴ − T_s⁴), temperatures in
/// degC.
pub fn open_radiation(emissivity: f64, surface_c: f64, surroundings_c: f64) -> f64 {
    emissivity * STEFAN_BOLTZMANN * (kelvin(surface_c).powi(4) - kelvin(surroundings_c).powi(4))
}
