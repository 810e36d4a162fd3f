//! What the field solver needs to know of a metal.

/// Resistivity and permeability of the metal in the field.
pub trait Medium {
    /// Electrical resistivity in Ω m at a temperature in degC.
    fn resistivity_ohm_m(&self, temp_c: f64) -> f64;

    /// Relative permeability B/(μ₀H) at an RMS field strength in A/m and a temperature in degC;
    /// at least 1.
    fn relative_permeability(&self, field_a_m: f64, temp_c: f64) -> f64;
}

/// Constant properties, as in the textbook cases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uniform {
    /// Resistivity in Ω m.
    pub resistivity_ohm_m: f64,
    /// Relative permeability.
    pub relative_permeability: f64,
}

impl Medium for Uniform {
    fn resistivity_ohm_m(&self, _temp_c: f64) -> f64 {
        self.resistivity_ohm_m
    }

    fn relative_permeability(&self, _field_a_m: f64, _temp_c: f64) -> f64 {
        self.relative_permeability
    }
}

/// Properties given as two functions: resistivity of the temperature, and relative permeability
/// of the RMS field strength and the temperature.
#[derive(Debug, Clone, Copy)]
pub struct FnMedium<R, M> {
    /// Resistivity in Ω m as a function of the temperature in degC.
    pub resistivity: R,
    /// Relative permeability as a function of field strength in A/m RMS and temperature in degC.
    pub permeability: M,
}

impl<R: Fn(f64) -> f64, M: Fn(f64, f64) -> f64> Medium for FnMedium<R, M> {
    fn resistivity_ohm_m(&self, temp_c: f64) -> f64 {
        (self.resistivity)(temp_c)
    }

    fn relative_permeability(&self, field_a_m: f64, temp_c: f64) -> f64 {
        (self.permeability)(field_a_m, temp_c)
    }
}

impl<T: Medium + ?Sized> Medium for &T {
    fn resistivity_ohm_m(&self, temp_c: f64) -> f64 {
        (**self).resistivity_ohm_m(temp_c)
    }

    fn relative_permeability(&self, field_a_m: f64, temp_c: f64) -> f64 {
        (**self).relative_permeability(field_a_m, temp_c)
    }
}
