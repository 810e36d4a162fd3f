//! Kinetics of oxide scale on steel in air.

use crate::units::{GAS_CONSTANT, kelvin};

/// Temperatures for which the parabolic constant was published, degC.
pub const PUBLISHED_C: (f64, f64) = (700.0, 1250.0);

/// Parabolic constant k_p of the scale thickness, m²/s: x² = k_p t, k_p = 6.1 exp(-169452/RT) cm²/s.
/// Paidassi 1958, iron and low-carbon steel in air, 700 to 1250 degC; reviewed by Chen and Yuen, Oxid.
/// Met. 59 (2003) 433 (constants from memory); uncertain by a factor of two in thickness.
///
/// ```
/// // 5.98e-6 cm²/s at 1200 degC, calculated from the formula.
/// let k = billet_thermal::surface::oxide::parabolic_paidassi(1200.0);
/// assert!((k * 1e4 / 5.98e-6 - 1.0).abs() < 2e-3);
/// ```
pub fn parabolic_paidassi(temp_c: f64) -> f64 {
    6.1e-4 * (-169_452.0 / (GAS_CONSTANT * kelvin(temp_c))).exp()
}

/// Constant k_c of the metal recession, m²/s: X² = 2 k_c t, k_c = 0.571 exp(-21720/T) cm²/s. Birks and
/// Jackson, JISI 208 (1970) 81, as used in the textbook of Birks, Meier and Pettit (from memory).
///
/// ```
/// // 165 um of recession in 600 s at 1200 degC, calculated from the formula.
/// let k = billet_thermal::surface::oxide::recession_birks_jackson(1200.0);
/// assert!(((2.0 * k * 600.0_f64).sqrt() * 1e6 - 165.0).abs() < 1.0);
/// ```
pub fn recession_birks_jackson(temp_c: f64) -> f64 {
    0.571e-4 * (-21_720.0 / kelvin(temp_c)).exp()
}
