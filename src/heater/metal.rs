//! The metal of a billet in a heater: thermal table, resistivity, permeability, emissivity.

use std::fmt;
use std::sync::Arc;

use super::error::{HeaterError, positive, share};
use super::field::Medium;
use crate::steel::{Steel, ThermalTable};

/// Raster of the resistivity table, K, and its range, degC.
const RASTER_K: f64 = 2.0;
const LOW_C: f64 = -60.0;
const HIGH_C: f64 = 1600.0;

/// Relative permeability of the RMS field strength (A/m) and the temperature (degC).
pub type Permeability = Arc<dyn Fn(f64, f64) -> f64 + Send + Sync>;

/// What the heater must know of the metal, with resistivity looked up in O(1).
#[derive(Clone)]
pub struct Metal {
    thermal: Arc<ThermalTable>,
    resistivity: Vec<f64>,
    permeability: Option<(f64, Permeability)>,
    emissivity: f64,
}

impl fmt::Debug for Metal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Metal")
            .field("curie_c", &self.permeability.as_ref().map(|p| p.0))
            .field("emissivity", &self.emissivity)
            .finish_non_exhaustive()
    }
}

impl Metal {
    /// From a thermal table, the resistivity (Ω m) as a function of temperature (degC), the Curie
    /// temperature (degC) with the permeability below it (`None` when not ferromagnetic), and the
    /// emissivity of the surface while it is heated.
    ///
    /// # Errors
    /// A resistivity that is not positive somewhere in -60 to 1600 degC, an emissivity outside 0 to 1.
    pub fn new(
        thermal: Arc<ThermalTable>,
        resistivity: &dyn Fn(f64) -> f64,
        permeability: Option<(f64, Permeability)>,
        emissivity: f64,
    ) -> Result<Metal, HeaterError> {
        let n = ((HIGH_C - LOW_C) / RASTER_K) as usize;
        let table = (0..=n)
            .map(|i| positive("resistivity in ohm m", resistivity(LOW_C + RASTER_K * i as f64)))
            .collect::<Result<Vec<f64>, _>>()?;
        Ok(Metal {
            thermal,
            resistivity: table,
            permeability,
            emissivity: share("emissivity of the billet", emissivity)?,
        })
    }

    /// From a steel of the library or of the user, with an emissivity in place of its own where
    /// given. The steel's own emissivity is taken for the hot surface, at
    /// 1000 degC, held for all temperatures: while the billet is colder it radiates little.
    ///
    /// # Errors
    /// A steel without resistivity data.
    pub fn of(steel: &Steel, emissivity: Option<f64>) -> Result<Metal, HeaterError> {
        let Some(curve) = &steel.resistivity_ohm_m else {
            return Err(HeaterError::NoResistivity {
                steel: steel.name.clone(),
            });
        };
        let permeability = steel.magnetic.clone().map(|m| {
            let law: Permeability = Arc::new({
                let m = m.clone();
                move |h, t| m.relative_permeability(h, t)
            });
            (m.curie_c, law)
        });
        Metal::new(
            steel.thermal(),
            &|t| curve.at(t),
            permeability,
            emissivity.unwrap_or_else(|| steel.emissivity.at(1000.0)),
        )
    }

    /// The thermal table.
    pub fn thermal(&self) -> &Arc<ThermalTable> {
        &self.thermal
    }

    /// Emissivity of the surface while it is heated.
    pub fn emissivity(&self) -> f64 {
        self.emissivity
    }

    /// Curie temperature in degC, where the metal is ferromagnetic.
    pub fn curie_c(&self) -> Option<f64> {
        self.permeability.as_ref().map(|p| p.0)
    }
}

impl Medium for Metal {
    #[inline]
    fn resistivity_ohm_m(&self, temp_c: f64) -> f64 {
        let x = (temp_c - LOW_C) / RASTER_K;
        let last = self.resistivity.len() - 2;
        let i = (x.max(0.0) as usize).min(last);
        let f = (x - i as f64).clamp(0.0, 1.0);
        self.resistivity[i] + f * (self.resistivity[i + 1] - self.resistivity[i])
    }

    #[inline]
    fn relative_permeability(&self, field_a_m: f64, temp_c: f64) -> f64 {
        match &self.permeability {
            Some((curie_c, law)) if temp_c < *curie_c => law(field_a_m, temp_c),
            _ => 1.0,
        }
    }
}
