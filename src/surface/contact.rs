//! Heat transfer coefficients between a hot part and the tool or support it touches.
//!
//! The published values scatter by about a factor of three, more than everything else in a
//! forging line; so each situation has a low, a typical and a high value, and the spread is part
//! of every answer.

use super::air;
use super::error::{SurfaceError, quantity};
use super::radiation;

/// What the part is doing to the body it touches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Situation {
    /// Lying on a die under its own weight, scaled (below 0.1 MPa).
    Resting,
    /// Lying on rails, V-blocks or rollers; on the true contact area only.
    Rails,
    /// Held by a gripper, ejector or clamp (0.1 to 1 MPa); on the true contact area only.
    Gripped,
    /// Under a blow or press stroke, scaled and lubricated with graphite (50 to 150 MPa).
    Blow,
    /// Under a blow, descaled, dry, with large growth of the surface.
    BlowClean,
    /// In the flash land: as [`Situation::BlowClean`].
    FlashLand,
    /// Lifted by 0.1 to 0.5 mm after a blow: conduction through air and radiation.
    Gap,
}

/// A coefficient with the spread of the publications, all in W/m²K.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coefficient {
    /// Lowest published order.
    pub low: f64,
    /// Working value of this program.
    pub typical: f64,
    /// Band of the values usually taken as typical.
    pub typical_band: (f64, f64),
    /// Highest published order.
    pub high: f64,
    /// Where the numbers come from.
    pub source: &'static str,
}

/// Every situation, in the order of the table.
pub const SITUATIONS: [Situation; 7] = [
    Situation::Resting,
    Situation::Rails,
    Situation::Gripped,
    Situation::Blow,
    Situation::BlowClean,
    Situation::FlashLand,
    Situation::Gap,
];

impl Situation {
    /// The working coefficient and its spread.
    ///
    /// ```
    /// use billet_thermal::surface::Situation;
    /// let blow = Situation::Blow.coefficient();
    /// assert!(blow.low < blow.typical && blow.typical < blow.high);
    /// assert_eq!(Situation::Blow.published_range(), (4000.0, 20000.0));
    /// ```
    pub const fn coefficient(self) -> Coefficient {
        let (low, band, typical, high, source) = match self {
            Situation::Resting => (
                200.0,
                (500.0, 1000.0),
                750.0,
                2000.0,
                "resting under own weight, scaled: typical 500 to 1000, spread 200 to 2000 W/m2K; about 1000 near zero pressure in Semiatin et al. 1987, J. Eng. Ind. 109, 49 (from memory)",
            ),
            Situation::Rails => (
                200.0,
                (500.0, 1000.0),
                700.0,
                2000.0,
                "order of the literature on scaled contact under own weight (from memory)",
            ),
            Situation::Gripped => (
                500.0,
                (1000.0, 2000.0),
                1500.0,
                4000.0,
                "light clamping at 0.1 to 1 MPa: typical 1000 to 2000, spread 500 to 4000 W/m2K; Burte et al. 1990, J. Eng. Ind. 112, 332: about 4000 at 0.85 MPa (from memory)",
            ),
            Situation::Blow => (
                4000.0,
                (7000.0, 12000.0),
                10000.0,
                20000.0,
                "under a blow, scaled, graphite lubricated: typical 7000 to 12000, spread 4000 to 20000 W/m2K (Semiatin et al. 1987, Burte et al. 1990: plateau of about 7500 above 14 MPa, from memory)",
            ),
            Situation::BlowClean | Situation::FlashLand => (
                10000.0,
                (20000.0, 30000.0),
                25000.0,
                50000.0,
                "dry with large surface growth: typical 20000 to 30000, spread 10000 to 50000 W/m2K (Semiatin et al. 1987, Burte et al. 1990: class of 20000 in upset rings, from memory)",
            ),
            Situation::Gap => (
                50.0,
                (100.0, 400.0),
                200.0,
                800.0,
                "0.1 to 0.5 mm of air and radiation: typical 100 to 400, spread 50 to 800 W/m2K (order of magnitude, from memory)",
            ),
        };
        Coefficient {
            low,
            typical,
            typical_band: band,
            high,
            source,
        }
    }

    /// Lowest and highest published order, W/m²K. A user's value outside deserves a warning.
    pub fn published_range(self) -> (f64, f64) {
        let c = self.coefficient();
        (c.low, c.high)
    }

    /// Whether a coefficient [W/m²K] lies inside the published span.
    pub fn covers(self, film_w_m2k: f64) -> bool {
        let (low, high) = self.published_range();
        film_w_m2k >= low && film_w_m2k <= high
    }

    /// The situation in words.
    pub fn name(self) -> &'static str {
        match self {
            Situation::Resting => "resting on a die under own weight",
            Situation::Rails => "on rails or rollers",
            Situation::Gripped => "gripped",
            Situation::Blow => "under a blow, scaled and lubricated",
            Situation::BlowClean => "under a blow, clean and dry",
            Situation::FlashLand => "in the flash land",
            Situation::Gap => "lifted by a small gap",
        }
    }
}

const LAW: &str = "contact coefficient";

/// Constants of the pressure law [`with_pressure`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressureLaw {
    /// Coefficient at zero pressure, W/m²K.
    pub at_zero: f64,
    /// Plateau at high pressure, W/m²K.
    pub plateau: f64,
    /// Pressure that closes 63 % of the way to the plateau, MPa.
    pub pressure_mpa: f64,
}

impl PressureLaw {
    /// 1000 and 7500 W/m²K, 5 MPa: engineering fit to the flat-die values of Semiatin et al. 1987
    /// and Burte et al. 1990 (from memory); the plateau is published between 7500 and 12000.
    pub const FITTED: PressureLaw = PressureLaw {
        at_zero: 1000.0,
        plateau: 7500.0,
        pressure_mpa: 5.0,
    };
}

impl Default for PressureLaw {
    fn default() -> Self {
        PressureLaw::FITTED
    }
}

/// Coefficient against mean contact pressure (MPa), W/m²K:
/// h = h₀ + (h_∞ - h₀)(1 - exp(-p/p₀)). Engineering fit, see [`PressureLaw::default`]; 0 to 500 MPa.
///
/// ```
/// use billet_thermal::surface::contact::{PressureLaw, with_pressure};
/// let law = PressureLaw::default();
/// assert_eq!(with_pressure(&law, 0.0)?, 1000.0);
/// assert!(with_pressure(&law, 14.0)? > 0.93 * 7500.0); // plateau from about 14 MPa
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn with_pressure(law: &PressureLaw, pressure_mpa: f64) -> Result<f64, SurfaceError> {
    quantity("contact pressure", "MPa", LAW).within(pressure_mpa, 0.0, 500.0)?;
    quantity("coefficient at zero pressure", "W/m2K", LAW).within(law.at_zero, 0.0, 1e6)?;
    quantity("plateau coefficient", "W/m2K", LAW).within(law.plateau, law.at_zero, 1e6)?;
    quantity("pressure constant", "MPa", LAW).within(law.pressure_mpa, 1e-3, 1e3)?;
    let closed = -(-pressure_mpa / law.pressure_mpa).exp_m1();
    Ok(law.at_zero + (law.plateau - law.at_zero) * closed)
}

/// Conductivity of a porous scale layer, W/mK: dense scale without free iron has 3 to 6 W/mK, less
/// 15 to 35 % for real porosity (Beygelzimer and Beygelzimer, doi 10.48550/arXiv.2110.11632);
/// this is the usual effective value at its lower end.
pub const SCALE_CONDUCTIVITY: f64 = 2.5;

/// Where that conductivity comes from, for lists of inputs.
pub(crate) const POROUS_SCALE: &str = "porous scale: dense scale 3 to 6 W/mK less 15 to 35 % for pores (Beygelzimer and Beygelzimer, doi 10.48550/arXiv.2110.11632)";

/// A layer between part and tool.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    /// Thickness, m.
    pub thickness_m: f64,
    /// Conductivity, W/mK.
    pub conductivity: f64,
}

/// Bare contact in series with layers of scale and lubricant, W/m²K: 1/h = 1/h_c + Σ d/k.
///
/// ```
/// use billet_thermal::surface::contact::{Layer, SCALE_CONDUCTIVITY, through_layers};
/// // 100 um of scale alone let 25 kW/m²K through (calculated from d/k).
/// let scale = Layer { thickness_m: 100e-6, conductivity: SCALE_CONDUCTIVITY };
/// let h = through_layers(1e6, &[scale])?;
/// assert!((1.0 / (1.0 / h - 1e-6) - 25_000.0).abs() < 1e-6);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn through_layers(bare_w_m2k: f64, layers: &[Layer]) -> Result<f64, SurfaceError> {
    quantity("bare contact coefficient", "W/m2K", LAW).within(bare_w_m2k, 1e-3, 1e7)?;
    let mut resistance = 1.0 / bare_w_m2k;
    for layer in layers {
        quantity("layer thickness", "m", LAW).within(layer.thickness_m, 0.0, 0.1)?;
        quantity("layer conductivity", "W/mK", LAW).within(layer.conductivity, 1e-3, 1e3)?;
        resistance += layer.thickness_m / layer.conductivity;
    }
    Ok(1.0 / resistance)
}

/// Coefficient across an air gap between two near faces, W/m²K: k_air/δ at the mean temperature plus
/// the radiation between the two grey faces. Gap 0.01 to 10 mm (no convection inside).
///
/// ```
/// // 0.5 mm between 1100 and 200 degC: air about 119, radiation about 130 W/m²K.
/// let h = billet_thermal::surface::contact::across_gap(0.5e-3, 1100.0, 200.0, 0.8, 0.8)?;
/// assert!(h > 200.0 && h < 300.0);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn across_gap(
    gap_m: f64,
    part_c: f64,
    tool_c: f64,
    part_emissivity: f64,
    tool_emissivity: f64,
) -> Result<f64, SurfaceError> {
    quantity("air gap", "m", "air gap").within(gap_m, 1e-5, 1e-2)?;
    let film = air::properties(air::film_temperature(part_c, tool_c))?;
    let both = radiation::between_parallel(part_emissivity, tool_emissivity)?;
    Ok(film.conductivity / gap_m + radiation::coefficient(both, 1.0, part_c, tool_c)?)
}

/// Share of interface heat (friction) that flows into the part: e₁/(e₁ + e₂) by the effusivities
/// √(k ρ c) of part and tool, W s^½/m²K (two half-spaces; Carslaw and Jaeger).
///
/// ```
/// // Hot steel 11660 against warm hot-work steel 10831: 52 % into the part.
/// let share = billet_thermal::surface::contact::interface_share(11_660.0, 10_831.0)?;
/// assert!((share - 0.518).abs() < 1e-3);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn interface_share(part_effusivity: f64, tool_effusivity: f64) -> Result<f64, SurfaceError> {
    let effusivity = quantity("effusivity", "W s^0.5/m2K", LAW);
    effusivity.within(part_effusivity, 1.0, 1e6)?;
    effusivity.within(tool_effusivity, 1.0, 1e6)?;
    Ok(part_effusivity / (part_effusivity + tool_effusivity))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_in_order() {
        for s in SITUATIONS {
            let c = s.coefficient();
            let (a, b) = c.typical_band;
            assert!(c.low < a && a <= c.typical && c.typical <= b && b < c.high, "{s:?}");
            assert!(s.covers(c.typical) && !s.covers(c.high * 1.01) && !s.covers(f64::NAN));
            assert!(!c.source.is_empty() && !s.name().is_empty());
        }
    }

    #[test]
    fn harder_contact_conducts_better() {
        let typical = |s: Situation| s.coefficient().typical;
        assert!(typical(Situation::Gap) < typical(Situation::Resting));
        assert!(typical(Situation::Resting) < typical(Situation::Gripped));
        assert!(typical(Situation::Gripped) < typical(Situation::Blow));
        assert!(typical(Situation::Blow) < typical(Situation::FlashLand));
    }

    #[test]
    fn nonsense_is_refused() {
        let law = PressureLaw::default();
        assert!(with_pressure(&law, -1.0).is_err());
        assert!(with_pressure(&law, f64::NAN).is_err());
        let upside_down = PressureLaw { plateau: 10.0, ..law };
        assert!(with_pressure(&upside_down, 1.0).is_err());
        assert!(through_layers(0.0, &[]).is_err());
        assert!(across_gap(0.0, 1100.0, 200.0, 0.8, 0.8).is_err());
        assert!(interface_share(0.0, 1.0).is_err());
    }
}
