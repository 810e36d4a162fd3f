//! Diffusion of carbon in austenite.

use super::error::{ConditionError, within};
use crate::units::{GAS_CONSTANT, kelvin};

/// Temperatures for which the diffusivities are meant, degC (austenite).
const RANGE_C: (f64, f64) = (700.0, 1450.0);

/// Mole fraction of carbon from mass per cent, iron being the rest (0 to 2 %).
///
/// ```
/// let x = billet_thermal::inside::condition::carbon::mole_fraction(0.45)?;
/// assert!((x - 0.02058).abs() < 1e-4);
/// # Ok::<(), billet_thermal::inside::condition::ConditionError>(())
/// ```
pub fn mole_fraction(carbon_percent: f64) -> Result<f64, ConditionError> {
    let w = within("carbon content", "mass %", carbon_percent, 0.0, 2.0)? / 100.0;
    let carbon = w / 12.011;
    Ok(carbon / (carbon + (1.0 - w) / 55.845))
}

/// Diffusivity of carbon in austenite, m²/s:
/// `D = 4.53e-7 [1 + y(1-y) 8339.9/T] exp{-(1/T - 2.221e-4)(17767 - 26436 y)}`, y = x/(1-x).
/// J. Ågren, Scr. Metall. 20 (1986) 1507. Range 700 to 1450 degC, 0 to 2 % C.
///
/// ```
/// // 1.95e-10 m²/s for 0.45 % C at 1200 degC, calculated from the formula.
/// let d = billet_thermal::inside::condition::carbon::diffusivity_agren(1200.0, 0.45)?;
/// assert!((d / 19.5e-11 - 1.0).abs() < 0.01);
/// # Ok::<(), billet_thermal::inside::condition::ConditionError>(())
/// ```
pub fn diffusivity_agren(temp_c: f64, carbon_percent: f64) -> Result<f64, ConditionError> {
    within("temperature", "degC", temp_c, RANGE_C.0, RANGE_C.1)?;
    let x = mole_fraction(carbon_percent)?;
    Ok(agren(temp_c, x / (1.0 - x)))
}

pub(super) fn agren(temp_c: f64, y: f64) -> f64 {
    let t = kelvin(temp_c);
    4.53e-7 * (1.0 + y * (1.0 - y) * 8339.9 / t) * (-(1.0 / t - 2.221e-4) * (17_767.0 - 26_436.0 * y)).exp()
}

/// Diffusivity of carbon in dilute austenite, m²/s: 2.3e-5 exp(-148000/RT), the textbook value of
/// Callister. Range 700 to 1450 degC.
///
/// ```
/// let d = billet_thermal::inside::condition::carbon::diffusivity_callister(1000.0)?;
/// assert!((d / 1.95e-11 - 1.0).abs() < 0.01);
/// # Ok::<(), billet_thermal::inside::condition::ConditionError>(())
/// ```
pub fn diffusivity_callister(temp_c: f64) -> Result<f64, ConditionError> {
    within("temperature", "degC", temp_c, RANGE_C.0, RANGE_C.1)?;
    Ok(2.3e-5 * (-148_000.0 / (GAS_CONSTANT * kelvin(temp_c))).exp())
}
