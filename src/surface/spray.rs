//! Water on hot metal: full-cone sprays, descaling jets, die sprays.

use super::error::{SurfaceError, quantity};

const LAW: &str = "full-cone spray, Wendelstorf";

/// Coefficient of a full-cone water spray on a hot surface, W/m²K:
///
/// `h = 190 + tanh(V/8) {140 V [1 - V ΔT/72000] + 3.26 ΔT² [1 - tanh(ΔT/128)]}`
///
/// with the water flux V in kg/m²s (3 to 30) and ΔT = surface - water in K (180 to 1100).
/// J. Wendelstorf, K.-H. Spitzer and R. Wendelstorf, Int. J. Heat Mass Transfer 51 (2008) 4902 (from
/// memory). It falls with temperature: a film of steam shields metal above about 400 degC.
///
/// ```
/// let hot = billet_thermal::surface::spray::full_cone_wendelstorf(15.0, 1020.0, 20.0)?;
/// assert!((hot - 1777.0).abs() < 1.0); // calculated from the formula
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn full_cone_wendelstorf(water_kg_m2s: f64, surface_c: f64, water_c: f64) -> Result<f64, SurfaceError> {
    quantity("water flux", "kg/m2s", LAW).within(water_kg_m2s, 3.0, 30.0)?;
    quantity("water temperature", "degC", LAW).within(water_c, 0.0, 100.0)?;
    let difference = surface_c - water_c;
    quantity("surface minus water temperature", "K", LAW).within(difference, 180.0, 1100.0)?;
    let v = water_kg_m2s;
    let film = 140.0 * v * (1.0 - v * difference / 72_000.0);
    let wetted = 3.26 * difference * difference * (1.0 - (difference / 128.0).tanh());
    Ok(190.0 + (v / 8.0).tanh() * (film + wetted))
}

/// A spray coefficient with its usual span, W/m²K.
#[derive(Debug, Clone, Copy, PartialEq)]
struct SprayCoefficient {
    /// Lower end of the usual span.
    pub low: f64,
    /// Working value of this program.
    pub typical: f64,
    /// Upper end of the usual span.
    pub high: f64,
    /// Where the numbers come from.
    pub source: &'static str,
}

/// Die faces above about 400 degC, where the spray rides on steam.
const DIE_SPRAY_HOT: SprayCoefficient = SprayCoefficient {
    low: 1_000.0,
    typical: 2_000.0,
    high: 3_000.0,
    source: "die spray, mist or film boiling above 400 degC (from memory)",
};

/// Die faces of about 150 to 300 degC, which the spray wets.
const DIE_SPRAY_WETTED: SprayCoefficient = SprayCoefficient {
    low: 5_000.0,
    typical: 10_000.0,
    high: 20_000.0,
    source: "die spray, wetted face of 150 to 300 degC (from memory)",
};

/// Working coefficient of a die spray against the face temperature, W/m²K: the wetted value up to
/// 300 degC, the film value from 400 degC, linear between (10 and 2 kW/m²K, from memory; the join is ours). Below the water temperature the
/// caller's flux changes sign by itself.
///
/// ```
/// use billet_thermal::surface::spray::die_spray;
/// assert_eq!(die_spray(200.0)?, 10_000.0);
/// assert_eq!(die_spray(350.0)?, 6_000.0);
/// assert_eq!(die_spray(550.0)?, 2_000.0);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn die_spray(face_c: f64) -> Result<f64, SurfaceError> {
    quantity("die face temperature", "degC", "die spray").within(face_c, -50.0, 1500.0)?;
    let wet = ((400.0 - face_c) / 100.0).clamp(0.0, 1.0);
    Ok(DIE_SPRAY_HOT.typical + wet * (DIE_SPRAY_WETTED.typical - DIE_SPRAY_HOT.typical))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_in_order() {
        for c in [DIE_SPRAY_HOT, DIE_SPRAY_WETTED] {
            assert!(c.low < c.typical && c.typical < c.high && !c.source.is_empty());
        }
    }

    #[test]
    fn out_of_range_is_refused() {
        assert!(full_cone_wendelstorf(2.0, 1000.0, 20.0).is_err());
        assert!(full_cone_wendelstorf(31.0, 1000.0, 20.0).is_err());
        assert!(full_cone_wendelstorf(10.0, 190.0, 20.0).is_err());
        assert!(full_cone_wendelstorf(10.0, f64::NAN, 20.0).is_err());
        assert!(die_spray(f64::NAN).is_err());
    }
}
