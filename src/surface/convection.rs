//! Nusselt numbers of natural and forced convection, and the numbers they take.
//!
//! Every function is named by geometry and author and checks its published range. The working
//! coefficient of a hot part, which has to answer for every temperature, is
//! [`film_coefficient`](super::film::film_coefficient).

use super::air::Air;
use super::error::{SurfaceError, quantity};

/// Standard gravity, m/s² (by definition).
const GRAVITY: f64 = 9.806_65;

/// Grashof number g β |ΔT| L³/ν², with the properties at film temperature.
///
/// ```
/// // A vertical plate of 0.5 m at 100 degC in air of 40 degC, ν = 20.02e-6 m²/s: Gr = 5.352e8
/// // (Sukhatme, A Textbook on Heat Transfer, Ex. 6.1, with g = 9.81).
/// use billet_thermal::surface::{air::Air, convection::grashof};
/// let film = Air { temp_k: 343.15, density: 1.0, specific_heat: 1030.0, viscosity: 20.02e-6, conductivity: 0.0297 };
/// assert!((grashof(&film, 60.0, 0.5) / 5.352e8 - 1.0).abs() < 1e-3);
/// ```
pub fn grashof(film: &Air, difference_k: f64, length_m: f64) -> f64 {
    let nu = film.kinematic_viscosity();
    GRAVITY * film.expansion() * difference_k.abs() * length_m.powi(3) / (nu * nu)
}

/// Rayleigh number Gr Pr.
pub fn rayleigh(film: &Air, difference_k: f64, length_m: f64) -> f64 {
    grashof(film, difference_k, length_m) * film.prandtl()
}

/// Reynolds number w L/ν.
pub fn reynolds(film: &Air, speed_m_s: f64, length_m: f64) -> f64 {
    speed_m_s * length_m / film.kinematic_viscosity()
}

fn check_prandtl(pr: f64, law: &'static str) -> Result<f64, SurfaceError> {
    quantity("Prandtl number", "", law).within(pr, 1e-3, 1e5)
}

/// Natural convection at a horizontal cylinder, on the diameter:
/// `Nu = {0.60 + 0.387 Ra^(1/6) / [1 + (0.559/Pr)^(9/16)]^(8/27)}²`, 1e-5 to 1e12 in Ra.
/// S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975) 1049.
///
/// ```
/// let nu = billet_thermal::surface::convection::horizontal_cylinder_churchill_chu(0.69 * 2.63e9, 0.69)?;
/// assert!((nu - 139.135).abs() < 1e-3); // tabulated value of an open correlation library
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn horizontal_cylinder_churchill_chu(ra: f64, pr: f64) -> Result<f64, SurfaceError> {
    const LAW: &str = "horizontal cylinder, Churchill and Chu";
    quantity("Rayleigh number", "", LAW).within(ra, 1e-5, 1e12)?;
    Ok(cylinder_free(ra, check_prandtl(pr, LAW)?))
}

pub(super) fn cylinder_free(ra: f64, pr: f64) -> f64 {
    let f = (1.0 + (0.559 / pr).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    (0.60 + 0.387 * ra.powf(1.0 / 6.0) / f).powi(2)
}

/// Natural convection at a vertical plate, on the height:
/// `Nu = {0.825 + 0.387 Ra^(1/6) / [1 + (0.492/Pr)^(9/16)]^(8/27)}²`, Ra to 1e12.
/// S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975) 1323.
///
/// ```
/// let nu = billet_thermal::surface::convection::vertical_plate_churchill_chu(0.69 * 2.63e9, 0.69)?;
/// assert!((nu - 147.162).abs() < 1e-3); // Incropera and DeWitt, Ex. 9.2: 147
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn vertical_plate_churchill_chu(ra: f64, pr: f64) -> Result<f64, SurfaceError> {
    const LAW: &str = "vertical plate, Churchill and Chu";
    quantity("Rayleigh number", "", LAW).within(ra, 0.0, 1e12)?;
    Ok(plate_free(ra, check_prandtl(pr, LAW)?))
}

pub(super) fn plate_free(ra: f64, pr: f64) -> f64 {
    let f = (1.0 + (0.492 / pr).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    (0.825 + 0.387 * ra.powf(1.0 / 6.0) / f).powi(2)
}

/// Natural convection at a horizontal cylinder, on the diameter: C Ra^n with (C, n) by range:
/// (1.02, 0.148) 1e-2..1e2, (0.85, 0.188) to 1e4, (0.48, 1/4) to 1e7, (0.125, 1/3) to 1e12.
/// V. T. Morgan, Adv. Heat Transfer 11 (1975) 199 (constants from memory).
///
/// ```
/// let nu = billet_thermal::surface::convection::horizontal_cylinder_morgan(0.69 * 2.63e9)?;
/// assert!((nu - 152.468).abs() < 1e-3); // a library with the exponent 0.333 gives 151.388
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn horizontal_cylinder_morgan(ra: f64) -> Result<f64, SurfaceError> {
    quantity("Rayleigh number", "", "horizontal cylinder, Morgan").within(ra, 1e-2, 1e12)?;
    Ok(match ra {
        r if r <= 1e2 => 1.02 * r.powf(0.148),
        r if r <= 1e4 => 0.85 * r.powf(0.188),
        r if r <= 1e7 => 0.48 * r.powf(0.25),
        r => 0.125 * r.cbrt(),
    })
}

/// Natural convection at the upper side of a hot horizontal plate, on L = area/perimeter: 0.96 Ra^(1/6)
/// for 1..200 and 0.59 Ra^(1/4) for 200..1e4 (R. J. Goldstein, E. M. Sparrow and D. C. Jones, Int. J. Heat
/// Mass Transfer 16 (1973) 1025), 0.54 Ra^(1/4) for 1e4..1e7 and 0.15 Ra^(1/3) for 1e7..1e11 (W. H. McAdams,
/// Heat Transmission, 1954), all from memory; continued on both sides.
pub(super) fn plate_up_free(ra: f64) -> f64 {
    match ra {
        r if r < 200.0 => 0.96 * r.powf(1.0 / 6.0),
        r if r < 1e4 => 0.59 * r.powf(0.25),
        r if r < 1e7 => 0.54 * r.powf(0.25),
        r => 0.15 * r.cbrt(),
    }
}

/// Natural convection at the lower side of a hot horizontal plate, on L = area/perimeter: 0.27 Ra^(1/4),
/// 1e5 to 1e11 (W. H. McAdams, Heat Transmission, 1954, from memory); continued on both sides.
pub(super) fn plate_down_free(ra: f64) -> f64 {
    0.27 * ra.powf(0.25)
}

/// Cross flow over a cylinder, on the diameter:
/// `Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3) / [1 + (0.4/Pr)^(2/3)]^(1/4) · [1 + (Re/282000)^(5/8)]^(4/5)`,
/// Re Pr > 0.2. S. W. Churchill and M. Bernstein, J. Heat Transfer 99 (1977) 300.
///
/// ```
/// let nu = billet_thermal::surface::convection::cylinder_cross_flow_churchill_bernstein(6071.0, 0.70)?;
/// assert!((nu - 40.63709).abs() < 1e-4); // Incropera and DeWitt, Ex. 7.3: 40.6
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn cylinder_cross_flow_churchill_bernstein(re: f64, pr: f64) -> Result<f64, SurfaceError> {
    const LAW: &str = "cylinder in cross flow, Churchill and Bernstein";
    check_prandtl(pr, LAW)?;
    quantity("Reynolds number times Prandtl number", "", LAW).within(re * pr, 0.2, 1e7)?;
    Ok(cylinder_forced(re, pr))
}

pub(super) fn cylinder_forced(re: f64, pr: f64) -> f64 {
    let laminar = 0.62 * re.sqrt() * pr.cbrt() / (1.0 + (0.4 / pr).powf(2.0 / 3.0)).powf(0.25);
    0.3 + laminar * (1.0 + (re / 282_000.0).powf(0.625)).powf(0.8)
}

/// Flow along a plate from its leading edge, mean value: laminar 0.664 Re^(1/2) Pr^(1/3) to Re = 5e5
/// (E. Pohlhausen, Z. angew. Math. Mech. 1 (1921) 115), above that (0.037 Re^(4/5) - 871) Pr^(1/3) to 1e8
/// (mixed layer of the textbooks, from memory).
pub(super) fn plate_forced(re: f64, pr: f64) -> f64 {
    if re <= 5e5 {
        0.664 * re.sqrt() * pr.cbrt()
    } else {
        (0.037 * re.powf(0.8) - 871.0) * pr.cbrt()
    }
}

/// Natural and forced convection together: (Nu_f^n + Nu_n^n)^(1/n), n = 3 in general, 4 for a
/// cylinder in cross flow (common practice; from memory after Churchill, 1977).
///
/// ```
/// let nu = billet_thermal::surface::convection::mixed(3.0, 4.0, 2.0);
/// assert!((nu - 5.0).abs() < 1e-12);
/// ```
pub fn mixed(forced: f64, natural: f64, exponent: f64) -> f64 {
    (forced.powf(exponent) + natural.powf(exponent)).powf(1.0 / exponent)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Plates: tabulated values of an open correlation library (up, down), the formula (small, along).
    #[test]
    fn plates_have_their_tabulated_values() {
        let ra = 5.54 * 3.21e8;
        assert!((plate_up_free(ra) - 181.731).abs() < 1e-3);
        assert!((plate_down_free(ra) - 55.446).abs() < 1e-3);
        assert!((plate_up_free(2401.0) - 0.59 * 7.0).abs() < 1e-9);
        assert!((plate_forced(1e4, 0.729) - 66.4 * 0.9).abs() < 0.01);
    }

    #[test]
    fn every_correlation_refuses_numbers_outside_its_range() {
        assert!(horizontal_cylinder_churchill_chu(1e13, 0.7).is_err());
        assert!(vertical_plate_churchill_chu(-1.0, 0.7).is_err());
        assert!(horizontal_cylinder_morgan(1e-3).is_err());
        assert!(cylinder_cross_flow_churchill_bernstein(0.1, 0.7).is_err());
        assert!(horizontal_cylinder_churchill_chu(1e5, 0.0).is_err());
    }
}
