//! Closed forms of EN 1993-1-2:2005 for carbon steel (clause 3.4.1) and stainless steel (annex C).
//!
//! The standard gives them for 20 to 1200 degC. The functions follow the formulas wherever they are
//! defined; holding the end values outside the range is the business of [`crate::steel::Curve`].

/// Temperature of the peak of c(T), where two branches of the formula meet at 5000 J/kgK.
const PEAK_C: f64 = 735.0;

/// Lower and upper end of the transformation peak in the specific heat of carbon steel, degC.
pub const PEAK_WINDOW_C: (f64, f64) = (600.0, 900.0);

/// Specific heat of carbon steel (J/kgK) at `temp_c` (degC), 20 to 1200 degC.
///
/// EN 1993-1-2:2005 3.4.1.2.
///
/// ```
/// use billet_thermal::steel::en1993::carbon_specific_heat;
/// assert!((carbon_specific_heat(735.0) - 5000.0).abs() < 1e-9);
/// assert_eq!(carbon_specific_heat(1000.0), 650.0);
/// ```
pub fn carbon_specific_heat(temp_c: f64) -> f64 {
    let t = temp_c;
    if t < 600.0 {
        425.0 + t * (7.73e-1 + t * (-1.69e-3 + t * 2.22e-6))
    } else if t < PEAK_C {
        666.0 + 13002.0 / (738.0 - t)
    } else if t < 900.0 {
        545.0 + 17820.0 / (t - 731.0)
    } else {
        650.0
    }
}

/// Thermal conductivity of carbon steel (W/mK) at `temp_c` (degC), 20 to 1200 degC.
///
/// EN 1993-1-2:2005 3.4.1.3.
pub fn carbon_conductivity(temp_c: f64) -> f64 {
    if temp_c < 800.0 { 54.0 - 3.33e-2 * temp_c } else { 27.3 }
}

/// Exact integral of [`carbon_specific_heat`] from 20 degC (J/kg), with c(20) held below 20 degC.
///
/// Calculated branch by branch from the antiderivatives of EN 1993-1-2:2005 3.4.1.2.
///
/// ```
/// let h = billet_thermal::steel::en1993::carbon_enthalpy(1200.0);
/// assert!((h - 827.1e3).abs() < 50.0);
/// ```
pub fn carbon_enthalpy(temp_c: f64) -> f64 {
    let ferrite = |t: f64| t * (425.0 + t * (7.73e-1 / 2.0 + t * (-1.69e-3 / 3.0 + t * 2.22e-6 / 4.0)));
    let rising = |t: f64| 666.0 * t - 13002.0 * (738.0 - t).ln();
    let falling = |t: f64| 545.0 * t + 17820.0 * (t - 731.0).ln();
    if temp_c < 20.0 {
        return carbon_specific_heat(20.0) * (temp_c - 20.0);
    }
    let mut h = ferrite(temp_c.min(600.0)) - ferrite(20.0);
    if temp_c > 600.0 {
        h += rising(temp_c.min(PEAK_C)) - rising(600.0);
    }
    if temp_c > PEAK_C {
        h += falling(temp_c.min(900.0)) - falling(PEAK_C);
    }
    if temp_c > 900.0 {
        h += 650.0 * (temp_c - 900.0);
    }
    h
}

/// Specific heat of austenitic stainless steel (J/kgK), 20 to 1200 degC.
///
/// EN 1993-1-2:2005 annex C.
pub fn stainless_specific_heat(temp_c: f64) -> f64 {
    let t = temp_c;
    450.0 + t * (0.280 + t * (-2.91e-4 + t * 1.34e-7))
}

/// Thermal conductivity of austenitic stainless steel (W/mK), 20 to 1200 degC.
///
/// EN 1993-1-2:2005 annex C.
pub fn stainless_conductivity(temp_c: f64) -> f64 {
    14.6 + 1.27e-2 * temp_c
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn branches_meet_where_the_standard_says() {
        assert!((carbon_specific_heat(735.0 - 1e-9) - 5000.0).abs() < 1e-4);
        assert!((carbon_specific_heat(900.0 - 1e-9) - 650.4).abs() < 0.1);
        assert!((carbon_conductivity(800.0 - 1e-9) - 27.36).abs() < 1e-6);
        assert_eq!(carbon_conductivity(800.0), 27.3);
    }

    #[test]
    fn closed_integral_agrees_with_a_fine_sum() {
        let (n, low, high) = (400_000, 20.0, 1200.0);
        let step = (high - low) / n as f64;
        let sum: f64 = (0..n)
            .map(|i| carbon_specific_heat(low + (i as f64 + 0.5) * step) * step)
            .sum();
        assert!((sum / carbon_enthalpy(high) - 1.0).abs() < 1e-7);
    }
}
