//! Dry air at 1 atm against temperature, for the correlations of [`convection`](super::convection).
//!
//! Transport properties: the dilute-gas part of E. W. Lemmon and R. T Jacobsen, "Viscosity and
//! Thermal Conductivity Equations for Nitrogen, Oxygen, Argon, and Air", Int. J. Thermophys. 25
//! (2004) 21-69. Specific heat: the ideal-gas part of E. W. Lemmon, R. T Jacobsen, S. G. Penoncello
//! and D. G. Friend, J. Phys. Chem. Ref. Data 29 (2000) 331-385, valid to 2000 K. Density: ideal
//! gas. At 1 atm and above -50 degC the neglected real-gas parts are below 0.5 %.

use super::error::{SurfaceError, quantity};
use crate::units::{celsius, kelvin};

/// Temperatures for which [`properties`] answers, degC.
pub const RANGE_C: (f64, f64) = (-50.0, 1500.0);

/// Standard atmosphere, Pa (by definition).
const PRESSURE: f64 = 101_325.0;
/// Molar mass in kg/mol and gas constant in J/mol K of the 2000 formulation.
const MOLAR_MASS: f64 = 0.028_965_46;
const GAS_CONSTANT: f64 = 8.314_51;
/// Critical temperature that scales the conductivity terms, K (2004 formulation).
const T_CRITICAL: f64 = 132.6312;

/// Properties of dry air at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Temperature, K.
    pub temp_k: f64,
    /// Density, kg/m³.
    pub density: f64,
    /// Specific heat at constant pressure, J/kgK.
    pub specific_heat: f64,
    /// Dynamic viscosity, Pa s.
    pub viscosity: f64,
    /// Thermal conductivity, W/mK.
    pub conductivity: f64,
}

impl Air {
    /// Kinematic viscosity, m²/s.
    pub fn kinematic_viscosity(&self) -> f64 {
        self.viscosity / self.density
    }

    /// Thermal diffusivity, m²/s.
    pub fn diffusivity(&self) -> f64 {
        self.conductivity / (self.density * self.specific_heat)
    }

    /// Prandtl number.
    pub fn prandtl(&self) -> f64 {
        self.viscosity * self.specific_heat / self.conductivity
    }

    /// Volumetric expansion coefficient of an ideal gas, 1/T, in 1/K.
    pub fn expansion(&self) -> f64 {
        1.0 / self.temp_k
    }
}

/// Dry air at 1 atm and `temp_c` (for correlations: the film temperature, the mean of surface and
/// air). Range [`RANGE_C`].
///
/// Published value: the 2004 formulation gives 18.5230 uPa s and 26.3529 mW/mK for the dilute gas
/// at 300 K.
///
/// ```
/// let air = billet_thermal::surface::air::properties(26.85)?;
/// assert!((air.viscosity * 1e6 - 18.5230).abs() < 1e-4);
/// assert!((air.conductivity * 1e3 - 26.3529).abs() < 1e-4);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn properties(temp_c: f64) -> Result<Air, SurfaceError> {
    quantity("air temperature", "degC", "dry air, Lemmon and Jacobsen").within(temp_c, RANGE_C.0, RANGE_C.1)?;
    let t = kelvin(temp_c);
    let viscosity = viscosity(t);
    Ok(Air {
        temp_k: t,
        density: PRESSURE * MOLAR_MASS / (GAS_CONSTANT * t),
        specific_heat: specific_heat(t),
        viscosity,
        conductivity: conductivity(t, viscosity),
    })
}

/// The temperature of the film between a surface and the air, degC: their mean.
pub fn film_temperature(surface_c: f64, air_c: f64) -> f64 {
    celsius(0.5 * (kelvin(surface_c) + kelvin(air_c)))
}

/// Dilute-gas viscosity, Pa s: 2.66958e-8 sqrt(M T)/(σ² Ω(T*)), M in g/mol, σ = 0.36 nm,
/// T* = T/103.3 K.
fn viscosity(t: f64) -> f64 {
    const M: f64 = 28.9586;
    const SIGMA_NM: f64 = 0.360;
    const B: [f64; 5] = [0.431, -0.4623, 0.08406, 0.005_341, -0.003_31];
    let x = (t / 103.3).ln();
    let omega = B.iter().rev().fold(0.0, |sum, b| sum * x + b).exp();
    2.669_58e-8 * (M * t).sqrt() / (SIGMA_NM * SIGMA_NM * omega)
}

/// Dilute-gas conductivity, W/mK: 1.308 η + 1.405 τ^-1.1 - 1.036 τ^-0.3 in mW/mK with η in uPa s
/// and τ = Tc/T.
fn conductivity(t: f64, viscosity: f64) -> f64 {
    let tau = T_CRITICAL / t;
    1e-3 * (1.308 * viscosity * 1e6 + 1.405 * tau.powf(-1.1) - 1.036 * tau.powf(-0.3))
}

/// Ideal-gas specific heat, J/kgK.
fn specific_heat(t: f64) -> f64 {
    let polynomial = 3.490_888_032
        + t * (2.395_525_583e-6 + t * (7.172_111_248e-9 - t * 3.115_413_101e-13))
        + 0.223_806_688 * t.powf(-1.5);
    let vibration = |weight: f64, theta: f64| {
        let u = theta / t;
        let e = (-u).exp();
        weight * u * u * e / ((1.0 - e) * (1.0 - e))
    };
    let u = 11_580.4 / t;
    let e = (-u).exp();
    let electronic = 0.197_938_904 * u * u * (2.0 / 3.0) * e / (1.0 + 2.0 / 3.0 * e).powi(2);
    let sum = polynomial + vibration(0.791_309_509, 3_364.011) + vibration(0.212_236_768, 2_242.45) + electronic;
    sum * GAS_CONSTANT / MOLAR_MASS
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn refuses_what_the_formulation_does_not_cover() {
        for bad in [-50.1, 1500.1, f64::NAN, f64::INFINITY] {
            assert!(properties(bad).is_err(), "{bad}");
        }
        let text = properties(1600.0).unwrap_err().to_string();
        assert!(text.contains("1600") && text.contains("1500"), "{text}");
    }
}
