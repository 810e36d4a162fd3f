//! The winding and its own loss.

use std::f64::consts::PI;

use crate::heater::error::{HeaterError, fraction, positive};
use crate::heater::field::skin_depth;

/// Winding space factor k_s where none is given (practice 0.7 to 0.9, from memory).
const DEFAULT_FILL: f64 = 0.85;

/// Copper temperature where none is given, degC: water-cooled copper at work (common practice).
const DEFAULT_COPPER_C: f64 = 50.0;

/// Resistivity of copper in Ω m at a temperature in degC: 1.7241e-8 Ω m at 20 degC and
/// 0.00393 /K (IEC 60028, annealed copper).
///
/// ```
/// let rho = billet_thermal::inside::heater::coil::copper_resistivity(20.0);
/// assert_eq!(rho, 1.7241e-8);
/// ```
pub fn copper_resistivity(temp_c: f64) -> f64 {
    1.7241e-8 * (1.0 + 0.00393 * (temp_c - 20.0))
}

/// A single-layer winding of copper tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coil {
    /// Length of the winding, m.
    pub length_m: f64,
    /// Inner diameter of the winding, m (not of its lining).
    pub bore_m: f64,
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Turns; they set volts and amperes but no power. 1 where they do not matter.
    pub turns: f64,
    /// Winding space factor k_s: copper over pitch.
    pub fill: f64,
    /// Resistivity of the copper at its working temperature, Ω m.
    pub copper_resistivity: f64,
}

impl Coil {
    /// A coil of one turn with the default fill and copper temperature.
    pub fn new(length_m: f64, bore_m: f64, frequency_hz: f64) -> Result<Coil, HeaterError> {
        let coil = Coil {
            length_m,
            bore_m,
            frequency_hz,
            turns: 1.0,
            fill: DEFAULT_FILL,
            copper_resistivity: copper_resistivity(DEFAULT_COPPER_C),
        };
        coil.check()?;
        Ok(coil)
    }

    /// Refuses a coil that cannot be.
    pub fn check(&self) -> Result<(), HeaterError> {
        positive("coil length in m", self.length_m)?;
        positive("coil bore in m", self.bore_m)?;
        positive("frequency in Hz", self.frequency_hz)?;
        positive("turns", self.turns)?;
        fraction("winding fill", self.fill)?;
        positive("copper resistivity in ohm m", self.copper_resistivity)?;
        Ok(())
    }

    /// Loss in the winding per square of N I/l, W (m/A)²: l π D_c ρ_c/(δ_c k_s).
    pub fn winding_loss_per_field2(&self) -> f64 {
        let skin = skin_depth(self.copper_resistivity, 1.0, self.frequency_hz);
        self.length_m * PI * self.bore_m * self.copper_resistivity / (skin * self.fill)
    }

    /// Loss in the winding in W at a load field of `h0` [A/m RMS] and a short-coil factor.
    pub fn winding_loss(&self, h0: f64, k_sc: f64) -> f64 {
        self.winding_loss_per_field2() * h0 * h0 / (k_sc * k_sc)
    }
}
