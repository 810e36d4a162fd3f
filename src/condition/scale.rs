//! Growth of oxide scale in air and the metal it costs.

use super::error::{ConditionError, within};
use super::history::{check, integrate};
pub use crate::surface::oxide::{PUBLISHED_C, parabolic_paidassi, recession_birks_jackson};

/// Metal consumed over scale formed: the volume of FeO is about 1.77 times that of its iron
/// (Pilling-Bedworth ratio, from memory), so 0.56.
pub(super) const METAL_OVER_SCALE: f64 = 0.56;
/// Density of FeO, kg/m³, and its mass fraction of oxygen (handbook values, from memory).
const FEO_DENSITY: f64 = 5700.0;
const FEO_OXYGEN: f64 = 0.2227;
/// Factor by which published kinetics differ from each other.
const UNCERTAINTY: f64 = 2.0;

/// Which kinetics to use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ScaleLaw {
    /// x² = k_p t, k_p = 6.1 exp(-169452/RT) cm²/s for the scale thickness. Paidassi 1958, iron and
    /// low-carbon steel in air, 700 to 1250 degC; reviewed by Chen and Yuen, Oxid. Met. 59 (2003)
    /// 433 (constants from memory).
    #[default]
    Paidassi,
    /// X² = 2 k_c t, k_c = 0.571 exp(-21720/T) cm²/s for the metal recession. Birks and Jackson,
    /// JISI 208 (1970) 81, as used in the textbook of Birks, Meier and Pettit (from memory). Gives
    /// about half of the recession of the other law.
    BirksJackson,
}

/// Scale on a surface after a history, with a factor of two either way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GrownScale {
    /// Thickness of the scale, m.
    pub thickness_m: f64,
    /// Half the thickness: lower end of the uncertainty.
    pub thickness_low_m: f64,
    /// Twice the thickness: upper end of the uncertainty.
    pub thickness_high_m: f64,
    /// Metal turned into scale, m of depth (0.56 of the thickness).
    pub metal_loss_m: f64,
    /// Oxygen taken up, kg/m².
    pub mass_gain_kg_m2: f64,
    /// Time spent above the published range of the kinetics, s; above zero deserves a warning.
    pub seconds_above_range: f64,
}

/// Scale thickness after a history, from `start_m` of scale at its beginning (0 on clean metal; a
/// descaled surface starts a new history). x² = x₀² + ∫k_p(T) dt; below 700 degC the formula is
/// continued, where it adds next to nothing. Diffusion-controlled growth only: the first tens of
/// micrometres grow slower where air is short.
///
/// ```
/// use billet_thermal::inside::condition::{ScaleLaw, scale};
/// // 0.60 mm after 600 s at 1200 degC, calculated from the formula.
/// let s = scale(ScaleLaw::Paidassi, &[(0.0, 1200.0), (600.0, 1200.0)], 0.0)?;
/// assert!((s.thickness_m * 1e3 - 0.60).abs() < 0.005);
/// # Ok::<(), billet_thermal::inside::condition::ConditionError>(())
/// ```
pub fn scale(law: ScaleLaw, history: &[(f64, f64)], start_m: f64) -> Result<GrownScale, ConditionError> {
    check(history)?;
    within("scale at the start", "m", start_m, 0.0, 0.05)?;
    let grown_squared = match law {
        ScaleLaw::Paidassi => integrate(history, -273.15, parabolic_paidassi),
        ScaleLaw::BirksJackson => {
            2.0 * integrate(history, -273.15, recession_birks_jackson) / (METAL_OVER_SCALE * METAL_OVER_SCALE)
        }
    };
    let thickness_m = (start_m * start_m + grown_squared).sqrt();
    Ok(GrownScale {
        thickness_m,
        thickness_low_m: thickness_m / UNCERTAINTY,
        thickness_high_m: thickness_m * UNCERTAINTY,
        metal_loss_m: METAL_OVER_SCALE * thickness_m,
        mass_gain_kg_m2: FEO_DENSITY * FEO_OXYGEN * thickness_m,
        seconds_above_range: integrate(history, PUBLISHED_C.1 + 1e-9, |_| 1.0),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_history_in_two_pieces_is_the_history() {
        let whole = [(0.0, 900.0), (40.0, 1240.0), (100.0, 1240.0)];
        let first = scale(ScaleLaw::Paidassi, &whole[..2], 0.0).unwrap();
        let second = scale(ScaleLaw::Paidassi, &whole[1..], first.thickness_m).unwrap();
        let all = scale(ScaleLaw::Paidassi, &whole, 0.0).unwrap();
        assert!((second.thickness_m / all.thickness_m - 1.0).abs() < 1e-12);
        assert_eq!(all.seconds_above_range, 0.0);
        assert!(scale(ScaleLaw::Paidassi, &whole, -1.0).is_err());
    }
}
