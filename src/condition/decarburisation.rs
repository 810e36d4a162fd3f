//! Depth of the layer that lost carbon while the surface was scaling.

use super::carbon::{agren, mole_fraction};
use super::error::{ConditionError, within};
use super::history::{check, integrate};
use super::scale::{METAL_OVER_SCALE, parabolic_paidassi};
use crate::numeric::boundary::boundary;

/// Below this the model has no meaning, degC: it holds for austenite only.
pub const AUSTENITE_C: f64 = 910.0;

/// Decarburised layer after a history.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Decarburisation {
    /// Depth below the present metal surface at which the carbon content is the chosen fraction of
    /// the bulk, m.
    pub depth_m: f64,
    /// Metal that scaling removed meanwhile, m: 0.56 of the scale that Paidassi 1958 gives.
    pub recession_m: f64,
    /// Diffusion length √(∫D dt), m.
    pub diffusion_length_m: f64,
    /// Depth with half the recession: upper end of the uncertainty, m.
    pub depth_high_m: f64,
    /// Depth with twice the recession (not below zero): lower end of the uncertainty, m.
    pub depth_low_m: f64,
}

/// Depth of decarburisation with simultaneous scaling, by N. Birks and W. Jackson, JISI 208 (1970)
/// 81 (from memory). With the interface at X = √(2 k_c t), no carbon at it, and x measured from the
/// original surface,
///
/// `(C0 - C)/C0 = erfc[x/(2√(D t))] / erfc[√(k_c/(2D))]`, x ≥ X,
///
/// and the depth is x* - X where C/C0 is `fraction` (0.92 to 0.96 is usual; 0.5 gives a mean
/// depth). The formula is exact at constant temperature. Over a history, D t becomes ∫D dt and
/// k_c t becomes ∫k_c dt, which is exact only if k_c/D is constant; it grows by a factor of 1.7
/// from 950 to 1250 degC, and most of both integrals comes from the hottest minute. Time below 910 degC
/// does not count. D is Ågren's at the bulk carbon content. The metal loss is that of
/// [`scale`](super::scale::scale): 2 k_c = 0.56² k_p with k_p of Paidassi 1958, some twice the recession that
/// Birks and Jackson took with their formula; 401 µm of measured scale after 15 min at 1000 degC and heating at
/// 5 K/min side with Paidassi. The kinetics of scaling are uncertain by a factor of two, given as low and high.
///
/// ```
/// use billet_thermal::inside::condition::decarburisation;
/// let d = decarburisation(&[(0.0, 1200.0), (600.0, 1200.0)], 0.45, 0.5)?;
/// assert!((d.diffusion_length_m * 1e3 - 0.34).abs() < 0.005);
/// # Ok::<(), billet_thermal::inside::condition::ConditionError>(())
/// ```
pub fn decarburisation(
    history: &[(f64, f64)],
    carbon_percent: f64,
    fraction: f64,
) -> Result<Decarburisation, ConditionError> {
    check(history)?;
    within("carbon fraction", "", fraction, 0.01, 0.999)?;
    within("carbon content", "mass %", carbon_percent, 0.01, 2.0)?;
    for &(_, temp_c) in history {
        within("temperature", "degC", temp_c, -273.15, 1450.0)?;
    }
    let x = mole_fraction(carbon_percent)?;
    let y = x / (1.0 - x);
    let spread = integrate(history, AUSTENITE_C, |t| agren(t, y));
    let recession = METAL_OVER_SCALE * integrate(history, AUSTENITE_C, parabolic_paidassi).sqrt();
    Ok(Decarburisation {
        depth_m: depth(spread, recession, fraction),
        recession_m: recession,
        diffusion_length_m: spread.sqrt(),
        depth_high_m: depth(spread, 0.5 * recession, fraction),
        depth_low_m: depth(spread, 2.0 * recession, fraction),
    })
}

/// Depth below the moving interface for ∫D dt [m²] and recession X \[m\].
fn depth(spread: f64, recession: f64, fraction: f64) -> f64 {
    if spread <= 0.0 {
        return 0.0;
    }
    let width = 2.0 * spread.sqrt();
    let interface = recession / width;
    let target = (1.0 - fraction) * libm::erfc(interface);
    // erfc falls monotonically; at interface + 6 it is below any target of a fraction <= 0.999.
    let place = boundary(interface, interface + 6.0, |z| libm::erfc(z) > target);
    (place - interface) * width
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_happens_below_austenite() {
        let d = decarburisation(&[(0.0, 800.0), (3600.0, 900.0)], 0.45, 0.95).unwrap();
        assert_eq!((d.depth_m, d.recession_m), (0.0, 0.0));
    }

    #[test]
    fn without_scaling_the_depth_is_that_of_the_error_function() {
        // erf(z) = 0.5 at z = 0.476936.
        let depth = depth(1e-8, 0.0, 0.5);
        assert!((depth / 2e-4 - 0.476_936_276).abs() < 1e-8);
    }

    #[test]
    fn scaling_eats_part_of_the_layer() {
        let d = decarburisation(&[(0.0, 1200.0), (600.0, 1200.0)], 0.45, 0.95).unwrap();
        assert!(d.depth_low_m < d.depth_m && d.depth_m < d.depth_high_m);
        assert!(decarburisation(&[(0.0, 1500.0)], 0.45, 0.95).is_err());
        assert!(decarburisation(&[(0.0, 1200.0)], 0.45, 1.0).is_err());
    }
}
