//! Magnetic saturation law below the Curie temperature.

use crate::units::MU_0;

/// Saturating magnetisation law with a Curie temperature.
///
/// B(H) = µ0 H + J_s H/(H + a), so that µ_r = 1 + J_s/(µ0 (H + a)), times the temperature factor
/// 1 − (θ/θ_C)² on the susceptibility.
#[derive(Debug, Clone, PartialEq)]
pub struct Magnetic {
    /// Saturation polarisation J_s at 20 degC in T.
    pub saturation_t: f64,
    /// Field of the knee, a, in A/m.
    pub knee_a_m: f64,
    /// Curie temperature in degC.
    pub curie_c: f64,
    /// Where the numbers come from.
    pub source: String,
    /// Who owns them.
    pub provenance: super::Provenance,
}

impl Magnetic {
    /// Relative permeability B/(µ0 H) at a field strength (A/m) and a temperature (degC).
    ///
    /// The fit holds for fields of 2 kA/m and more: for carbon steel within 2.1 % of the data of
    /// Metals Handbook 8th ed. vol. 1 (1966) p. 792 from 5 kA/m. Below 0 degC the value at
    /// 0 degC is held. The temperature factor is within 5 % of a textbook table (40, 36, 30, 15, 1 at
    /// 30, 200, 400, 600, 760 degC).
    pub fn relative_permeability(&self, h_rms_a_m: f64, temp_c: f64) -> f64 {
        if temp_c >= self.curie_c {
            return 1.0;
        }
        let ratio = temp_c.max(0.0) / self.curie_c;
        let susceptibility = self.saturation_t / (MU_0 * (h_rms_a_m.abs() + self.knee_a_m));
        1.0 + susceptibility * (1.0 - ratio * ratio)
    }

    /// Flux density (T) at a field strength (A/m) and a temperature (degC).
    pub fn flux_density_t(&self, h_a_m: f64, temp_c: f64) -> f64 {
        MU_0 * self.relative_permeability(h_a_m, temp_c) * h_a_m
    }
}
