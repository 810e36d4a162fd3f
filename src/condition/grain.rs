//! Growth of austenite grains: an order of magnitude, good for a flag only.

use super::error::{ConditionError, within};
use super::history::{check, integrate};
use crate::units::{GAS_CONSTANT, kelvin};

/// Below this the laws are not used, degC.
const AUSTENITE_C: f64 = 850.0;

/// D^n = D0^n + A t exp(-Q/RT), D in um, t in s (form of Sellars and Whiteman, Metal Sci. 13 (1979)
/// 187).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GrainLaw {
    /// Exponent n.
    pub exponent: f64,
    /// Natural logarithm of A, A in um^n/s.
    pub ln_factor: f64,
    /// Activation energy Q, J/mol.
    pub activation: f64,
    /// Steel and source.
    pub source: &'static str,
}

/// Carbon-manganese steel above about 1100 degC: n = 10, A = 3.87e32, Q = 400 kJ/mol.
pub const CARBON_MANGANESE: GrainLaw = GrainLaw {
    exponent: 10.0,
    ln_factor: 75.035_977_48,
    activation: 400_000.0,
    source: "C-Mn steel, Sellars and Whiteman 1979 form (constants from memory)",
};

/// A 0.39 C, 1.04 Cr, 0.19 Mo steel between 800 and 1100 degC: n = 3, ln A = 28.925,
/// Q = 235.63 kJ/mol.
pub const CHROMIUM_MOLYBDENUM: GrainLaw = GrainLaw {
    exponent: 3.0,
    ln_factor: 28.925,
    activation: 235_630.0,
    source: "fit to a published grain growth series of a 0.39C-1.04Cr-0.19Mo steel, rms 3.6 %",
};

/// Estimated grain size after a history.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GrainEstimate {
    /// Mean grain diameter, um.
    pub size_um: f64,
    /// Final size over the size at the start.
    pub growth: f64,
    /// Whether the size is above the limit asked for. Order of magnitude only: grain growth of a
    /// forging grade depends on its aluminium nitride, which can hold 20 um for hours at 1000 degC.
    pub coarse: bool,
}

impl GrainLaw {
    /// Grain size after a history from `start_um`, and whether it exceeds `limit_um`
    /// (100 um is about ASTM grain size 3.5). Time below 850 degC does not count; deformation and
    /// recrystallisation are left out.
    ///
    /// ```
    /// use billet_thermal::inside::condition::grain::CHROMIUM_MOLYBDENUM;
    /// // Published: 45.0 um on reaching 1000 degC, 73.2 um after 479 s.
    /// let g = CHROMIUM_MOLYBDENUM.after(&[(0.0, 1000.0), (479.0, 1000.0)], 45.0, 100.0)?;
    /// assert!((g.size_um / 73.2 - 1.0).abs() < 0.06 && !g.coarse);
    /// # Ok::<(), billet_thermal::inside::condition::ConditionError>(())
    /// ```
    pub fn after(&self, history: &[(f64, f64)], start_um: f64, limit_um: f64) -> Result<GrainEstimate, ConditionError> {
        check(history)?;
        within("grain size at the start", "um", start_um, 0.1, 5000.0)?;
        within("grain size limit", "um", limit_um, 0.1, 5000.0)?;
        within("grain growth exponent", "", self.exponent, 1.0, 20.0)?;
        within("activation energy", "J/mol", self.activation, 1e4, 1e6)?;
        within("ln of the growth factor", "", self.ln_factor, -200.0, 200.0)?;
        for &(_, temp_c) in history {
            within("temperature", "degC", temp_c, -273.15, 1500.0)?;
        }
        // In units of D0^n, so that high exponents cannot overflow.
        let shift = self.exponent * start_um.ln();
        let grown = integrate(history, AUSTENITE_C, |t| {
            (self.ln_factor - shift - self.activation / (GAS_CONSTANT * kelvin(t))).exp()
        });
        let growth = (1.0 + grown).powf(1.0 / self.exponent);
        let size_um = start_um * growth;
        Ok(GrainEstimate {
            size_um,
            growth,
            coarse: size_um > limit_um,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_factor_of_the_carbon_manganese_law() {
        assert!((CARBON_MANGANESE.ln_factor - 3.87e32_f64.ln()).abs() < 1e-6);
    }

    #[test]
    fn cold_metal_keeps_its_grain() {
        let g = CARBON_MANGANESE
            .after(&[(0.0, 20.0), (1e4, 800.0)], 30.0, 100.0)
            .unwrap();
        assert_eq!((g.size_um, g.coarse), (30.0, false));
        assert!(CARBON_MANGANESE.after(&[(0.0, 20.0)], 0.0, 100.0).is_err());
    }
}
