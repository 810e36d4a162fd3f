//! Which frequency suits a bar.

use serde::Serialize;

use super::bar::Bar;
use super::coil::{Coil, long_coil_efficiency};
use super::error::HeaterError;
use super::field::{FieldOptions, LineSection, Medium, Mesh, Symmetry, skin_depth};

/// Temperature that stands for the hot state, degC.
const HOT_C: f64 = 1200.0;

/// Field strength that stands for the cold, saturated state, A/m RMS: typical of billet coils.
const COLD_FIELD_A_M: f64 = 1e5;

/// One frequency.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AdvicePoint {
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Diameter over skin depth, hot.
    pub diameter_over_skin: f64,
    /// Electrical efficiency of a long coil on the hot bar.
    pub efficiency_hot: f64,
    /// The same on the cold bar at 100 kA/m.
    pub efficiency_cold: f64,
    /// Ψ of the hot bar: surface-core difference over q″R/(2k), between 0.5 (heated throughout) and 1
    /// (heated in a thin skin).
    pub difference_factor: f64,
}

/// Advice for one bar in one coil.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Advice {
    /// Lowest sensible frequency, Hz: hot diameter four skin depths; below it the efficiency falls
    /// steeply (common practice).
    pub low_hz: f64,
    /// Highest sensible frequency, Hz: hot diameter six skin depths; above it only the
    /// surface-core difference grows.
    pub high_hz: f64,
    /// Against frequency, from a quarter of the lowest to ten times the highest.
    pub points: Vec<AdvicePoint>,
}

/// Efficiency and surface-core difference against frequency for a bar in a coil. A rectangular bar is
/// taken as the round one inside it: the short side is its diameter (trade practice; on a square the
/// surface resistance is then within 7 % at side over skin depth 3 to 5, exact solutions).
pub fn frequency_advice(bar: &Bar, coil: &Coil) -> Result<Advice, HeaterError> {
    let metal = bar.metal();
    let diameter = 2.0 * bar.radius_m();
    let hot = metal.resistivity_ohm_m(HOT_C);
    // delta falls with the root of the frequency.
    let at_ratio = |ratio: f64| (ratio * skin_depth(hot, 1.0, 1.0) / diameter).powi(2);
    let (low_hz, high_hz) = (at_ratio(4.0), at_ratio(6.0));
    let mut points = Vec::new();
    const STEPS: usize = 48;
    let (from, to) = ((0.25 * low_hz).ln(), (10.0 * high_hz).ln());
    for i in 0..=STEPS {
        let frequency_hz = (from + (to - from) * i as f64 / STEPS as f64).exp();
        let skin = skin_depth(hot, 1.0, frequency_hz);
        let cold_mu = metal.relative_permeability(COLD_FIELD_A_M, 20.0);
        let thinnest = skin_depth(metal.resistivity_ohm_m(20.0), cold_mu, frequency_hz);
        let mesh = Mesh::for_skin(bar.radius_m(), thinnest.min(skin), 8.0)?;
        let section = LineSection::new(Symmetry::Radial, &mesh);
        let mut work = section.workspace();
        let options = FieldOptions::default();
        let efficiency = |resistance: f64| {
            // The long-coil formula with K_T in terms of the surface resistance.
            let k_t = resistance * skin / hot;
            long_coil_efficiency(
                coil.bore_m / bar.surface_diameter_m(),
                coil.copper_resistivity,
                hot,
                1.0,
                k_t,
                coil.fill,
            )
        };
        let cold = vec![20.0; section.cells()];
        let z = section.solve(&**metal, &cold, frequency_hz, COLD_FIELD_A_M, &options, &mut work)?;
        let efficiency_cold = efficiency(z.resistance);
        work.forget();
        let temps = vec![HOT_C; section.cells()];
        let z = section.solve(&**metal, &temps, frequency_hz, COLD_FIELD_A_M, &options, &mut work)?;
        points.push(AdvicePoint {
            frequency_hz,
            diameter_over_skin: diameter / skin,
            efficiency_hot: efficiency(z.resistance),
            efficiency_cold,
            difference_factor: section.difference_factor(&work),
        });
    }
    Ok(Advice {
        low_hz,
        high_hz,
        points,
    })
}
