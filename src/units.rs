//! Constants, temperature scales and display units.
//!
//! Inside the library every number is SI, with temperatures in degrees Celsius (`_c`) or kelvin
//! (`_k`) as the name says.

/// Stefan-Boltzmann constant in W/m²K⁴ (exact from the 2019 SI constants: 5.670374419e-8).
pub const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;

/// Zero of the Celsius scale in kelvin (by definition).
const ZERO_CELSIUS_K: f64 = 273.15;

/// Molar gas constant in J/mol K (exact from the 2019 SI constants).
pub const GAS_CONSTANT: f64 = 8.314_462_618;

/// Magnetic constant in H/m (the value 4π·10⁻⁷ that handbooks use; CODATA differs in the tenth digit).
pub const MU_0: f64 = 4.0e-7 * std::f64::consts::PI;

/// Reference temperature of all enthalpies in degrees Celsius.
pub const ENTHALPY_ZERO_C: f64 = 20.0;

/// Kelvin from degrees Celsius.
#[inline]
pub fn kelvin(temp_c: f64) -> f64 {
    temp_c + ZERO_CELSIUS_K
}

/// Degrees Celsius from kelvin.
#[inline]
pub fn celsius(temp_k: f64) -> f64 {
    temp_k - ZERO_CELSIUS_K
}

/// The units in which results are shown. Files are always metric.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Display {
    /// degC, K, mm, kg.
    #[default]
    Metric,
    /// degF, F°, in, lb.
    Us,
}

impl Display {
    /// A temperature in the display scale.
    pub fn temperature(self, temp_c: f64) -> f64 {
        match self {
            Display::Metric => temp_c,
            Display::Us => temp_c * 1.8 + 32.0,
        }
    }

    /// A temperature difference in the display scale.
    pub fn difference(self, diff_k: f64) -> f64 {
        match self {
            Display::Metric => diff_k,
            Display::Us => diff_k * 1.8,
        }
    }

    /// A length in the display unit (mm or in) from metres.
    pub fn length(self, metres: f64) -> f64 {
        match self {
            Display::Metric => metres * 1e3,
            Display::Us => metres / 0.0254,
        }
    }

    /// A mass in the display unit (kg or lb).
    pub fn mass(self, kg: f64) -> f64 {
        match self {
            Display::Metric => kg,
            Display::Us => kg / 0.453_592_37,
        }
    }

    /// Name of the temperature unit.
    pub fn temperature_unit(self) -> &'static str {
        match self {
            Display::Metric => "\u{b0}C",
            Display::Us => "\u{b0}F",
        }
    }

    /// Name of the temperature difference unit.
    pub fn difference_unit(self) -> &'static str {
        match self {
            Display::Metric => "K",
            Display::Us => "F\u{b0}",
        }
    }

    /// Name of the length unit.
    pub fn length_unit(self) -> &'static str {
        match self {
            Display::Metric => "mm",
            Display::Us => "in",
        }
    }

    /// Name of the mass unit.
    pub fn mass_unit(self) -> &'static str {
        match self {
            Display::Metric => "kg",
            Display::Us => "lb",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_meet_at_known_points() {
        assert_eq!(kelvin(0.0), 273.15);
        assert_eq!(celsius(kelvin(1200.0)), 1200.0);
        assert!((Display::Us.temperature(1_204.444_444_444_444_5) - 2200.0).abs() < 1e-9);
        assert!((Display::Us.length(0.0254) - 1.0).abs() < 1e-15);
    }
}
