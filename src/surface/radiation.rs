//! Radiation between a grey face and its surroundings.

use super::error::{SurfaceError, quantity};
use crate::units::{STEFAN_BOLTZMANN, kelvin};

const LAW: &str = "grey radiation";

fn check_share(name: &'static str, value: f64, low: f64) -> Result<f64, SurfaceError> {
    quantity(name, "", LAW).within(value, low, 1.0)
}

/// Net flux leaving a grey face, W/m²: ε σ F (T⁴ - T_s⁴), with emissivity ε in 0..1, view factor F
/// in 0..1 and both temperatures in degC.
///
/// ```
/// // Scaled steel at 1100 degC in surroundings of 25 degC, ε = 0.8: 160.9 kW/m² (calculated from
/// // the formula).
/// let q = billet_thermal::surface::radiation::flux(0.8, 1.0, 1100.0, 25.0)?;
/// assert!((q / 160.9e3 - 1.0).abs() < 1e-3);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn flux(emissivity: f64, view_factor: f64, surface_c: f64, surroundings_c: f64) -> Result<f64, SurfaceError> {
    check_share("emissivity", emissivity, 0.0)?;
    check_share("view factor", view_factor, 0.0)?;
    let temperature = quantity("temperature", "degC", LAW);
    temperature.within(surface_c, -273.15, 1e4)?;
    temperature.within(surroundings_c, -273.15, 1e4)?;
    let (t, s) = (kelvin(surface_c), kelvin(surroundings_c));
    Ok(emissivity * view_factor * STEFAN_BOLTZMANN * (t.powi(4) - s.powi(4)))
}

/// The coefficient h_r with which h_r (T - T_s) is exactly the net flux, W/m²K:
/// ε σ F (T² + T_s²)(T + T_s).
///
/// ```
/// // 181.5 W/m²K at 1200 degC, ε = 0.8, 25 degC (calculated from the formula).
/// let h = billet_thermal::surface::radiation::coefficient(0.8, 1.0, 1200.0, 25.0)?;
/// assert!((h - 181.5).abs() < 0.1);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn coefficient(
    emissivity: f64,
    view_factor: f64,
    surface_c: f64,
    surroundings_c: f64,
) -> Result<f64, SurfaceError> {
    flux(emissivity, view_factor, surface_c, surroundings_c)?;
    let (t, s) = (kelvin(surface_c), kelvin(surroundings_c));
    Ok(emissivity * view_factor * STEFAN_BOLTZMANN * (t * t + s * s) * (t + s))
}

/// Emissivity that two parallel grey faces act with towards each other: 1/(1/ε₁ + 1/ε₂ - 1)
/// (standard theory of grey enclosures). Both in (0, 1].
///
/// ```
/// let e = billet_thermal::surface::radiation::between_parallel(0.8, 0.8)?;
/// assert!((e - 2.0 / 3.0).abs() < 1e-12);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn between_parallel(first: f64, second: f64) -> Result<f64, SurfaceError> {
    enclosed(first, second, 1.0)
}

/// Emissivity, on the inner area, of a grey body inside a grey enclosure:
/// 1/(1/ε₁ + (A₁/A₂)(1/ε₂ - 1)), `area_ratio` = inner area over outer area in 0..1 (standard theory
/// of grey enclosures). A small part in a large room acts with its own emissivity.
///
/// ```
/// let e = billet_thermal::surface::radiation::enclosed(0.8, 0.3, 0.0)?;
/// assert!((e - 0.8).abs() < 1e-12);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn enclosed(inner: f64, outer: f64, area_ratio: f64) -> Result<f64, SurfaceError> {
    check_share("emissivity", inner, 1e-3)?;
    check_share("emissivity", outer, 1e-3)?;
    check_share("area ratio", area_ratio, 0.0)?;
    Ok(1.0 / (1.0 / inner + area_ratio * (1.0 / outer - 1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coefficient_times_difference_is_the_flux() {
        let q = flux(0.75, 0.6, 1234.0, 80.0).unwrap();
        let h = coefficient(0.75, 0.6, 1234.0, 80.0).unwrap();
        assert!((h * (1234.0 - 80.0) / q - 1.0).abs() < 1e-12);
        // Finite where the difference vanishes.
        let h = coefficient(1.0, 1.0, 20.0, 20.0).unwrap();
        assert!((h - 4.0 * STEFAN_BOLTZMANN * 293.15_f64.powi(3)).abs() < 1e-9);
    }

    #[test]
    fn impossible_emissivities_are_refused() {
        assert!(flux(1.2, 1.0, 1000.0, 20.0).is_err());
        assert!(flux(0.8, -0.1, 1000.0, 20.0).is_err());
        assert!(flux(0.8, 1.0, -300.0, 20.0).is_err());
        assert!(between_parallel(0.0, 0.8).is_err());
        assert!(enclosed(0.8, 0.8, f64::NAN).is_err());
    }
}
