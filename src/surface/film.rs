//! The film coefficient of a hot face in air, and its table for the solver.

use super::air::{self, Air};
use super::convection::{
    cylinder_forced, cylinder_free, mixed, plate_down_free, plate_forced, plate_free, plate_up_free, rayleigh, reynolds,
};
use super::error::{SurfaceError, quantity};
use crate::conduction::OfSurface;

/// Position and size of a face in air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Geometry {
    /// The side of a lying bar; for a square bar its side length.
    HorizontalCylinder {
        /// Diameter, m.
        diameter_m: f64,
    },
    /// An upright face: the end of a lying bar, the side of a standing billet.
    VerticalPlate {
        /// Height, m.
        height_m: f64,
    },
    /// A horizontal face that looks up.
    HorizontalPlateUp {
        /// Area over perimeter, m (a quarter of the diameter for a disc).
        length_m: f64,
    },
    /// A horizontal face that looks down.
    HorizontalPlateDown {
        /// Area over perimeter, m (a quarter of the diameter for a disc).
        length_m: f64,
    },
}

const LAW: &str = "film coefficient in air";

impl Geometry {
    /// Length on which the natural-convection Nusselt number is formed, m.
    pub fn length_m(self) -> f64 {
        match self {
            Geometry::HorizontalCylinder { diameter_m } => diameter_m,
            Geometry::VerticalPlate { height_m } => height_m,
            Geometry::HorizontalPlateUp { length_m } | Geometry::HorizontalPlateDown { length_m } => length_m,
        }
    }

    /// Natural-convection Nusselt number; `above` says that the surface is hotter than the air.
    fn natural(self, ra: f64, pr: f64, above: bool) -> f64 {
        match (self, above) {
            (Geometry::HorizontalCylinder { .. }, _) => cylinder_free(ra, pr),
            (Geometry::VerticalPlate { .. }, _) => plate_free(ra, pr),
            // A cold face looking down is the mirror image of a hot face looking up.
            (Geometry::HorizontalPlateUp { .. }, true) | (Geometry::HorizontalPlateDown { .. }, false) => {
                plate_up_free(ra)
            }
            _ => plate_down_free(ra),
        }
    }

    /// Forced coefficient, W/m²K, and the exponent for joining it with the natural one.
    fn forced(self, film: &Air, speed: f64) -> (f64, f64) {
        let pr = film.prandtl();
        match self {
            Geometry::HorizontalCylinder { diameter_m } => {
                let nu = cylinder_forced(reynolds(film, speed, diameter_m), pr);
                (nu * film.conductivity / diameter_m, 4.0)
            }
            _ => {
                // The stream length of a disc or square with area/perimeter L is 4 L.
                let along = match self {
                    Geometry::VerticalPlate { height_m } => height_m,
                    other => 4.0 * other.length_m(),
                };
                let nu = plate_forced(reynolds(film, speed, along), pr);
                (nu * film.conductivity / along, 3.0)
            }
        }
    }
}

/// Film coefficient of a face in air, W/m²K, without radiation.
///
/// Natural convection by Churchill and Chu (cylinder, vertical plate), Goldstein and McAdams
/// (horizontal plates); with an air speed above zero also forced convection by Churchill and
/// Bernstein (cylinder) or Pohlhausen (plates), joined by [`mixed`] with n = 4 for the cylinder and
/// 3 for plates. Properties of dry air at film temperature. The laws are continued below their
/// published Rayleigh range (small plates looking down, no temperature difference), where the
/// coefficient is a few W/m²K.
///
/// Allowed: length 0.1 mm to 10 m, air speed 0 to 100 m/s, film temperature in
/// [`air::RANGE_C`].
///
/// ```
/// use billet_thermal::surface::{Geometry, film_coefficient};
/// // A bar of 50 mm at 1100 degC in still air of 25 degC: 10.1 W/m²K (calculated from Churchill
/// // and Chu), at 2 m/s about twice that.
/// let bar = Geometry::HorizontalCylinder { diameter_m: 0.05 };
/// let still = film_coefficient(bar, 1100.0, 25.0, 0.0)?;
/// assert!((still - 10.1).abs() < 0.3);
/// assert!(film_coefficient(bar, 1100.0, 25.0, 2.0)? > 1.8 * still);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn film_coefficient(
    geometry: Geometry,
    surface_c: f64,
    air_c: f64,
    air_speed_m_s: f64,
) -> Result<f64, SurfaceError> {
    let length = geometry.length_m();
    quantity("length of the face", "m", LAW).within(length, 1e-4, 10.0)?;
    quantity("air speed", "m/s", LAW).within(air_speed_m_s, 0.0, 100.0)?;
    quantity("surface temperature", "degC", LAW).within(surface_c, -273.15, 3000.0)?;
    quantity("air temperature", "degC", LAW).within(air_c, -50.0, 1500.0)?;
    let film = air::properties(air::film_temperature(surface_c, air_c))?;
    let difference = surface_c - air_c;
    let ra = rayleigh(&film, difference, length);
    let nu = geometry.natural(ra, film.prandtl(), difference >= 0.0);
    let natural = nu * film.conductivity / length;
    if air_speed_m_s == 0.0 {
        return Ok(natural);
    }
    let (forced, exponent) = geometry.forced(&film, air_speed_m_s);
    Ok(mixed(forced, natural, exponent))
}

/// Film coefficient against surface temperature on a uniform raster, for the solver's inner loop.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmTable {
    /// Surface temperature of the first value, degC.
    pub low_c: f64,
    /// Raster, K.
    pub step_k: f64,
    /// Coefficients, W/m²K; at least two.
    pub values: Vec<f64>,
    /// Smallest and largest Rayleigh number met (both zero for a constant table).
    pub rayleigh: (f64, f64),
}

/// Raster of the table, K.
const RASTER_K: f64 = 10.0;

impl FilmTable {
    /// Tabulates [`film_coefficient`] from `low_c` to at least `high_c` every 10 K.
    ///
    /// ```
    /// use billet_thermal::surface::{FilmTable, Geometry};
    /// let bar = Geometry::HorizontalCylinder { diameter_m: 0.06 };
    /// let table = FilmTable::in_air(bar, (0.0, 1300.0), 25.0, 0.0)?;
    /// let (h, slope) = table.at(1234.5);
    /// assert!(h > 9.0 && h < 11.0 && slope.abs() < 0.01);
    /// # Ok::<(), billet_thermal::surface::SurfaceError>(())
    /// ```
    pub fn in_air(
        geometry: Geometry,
        range_c: (f64, f64),
        air_c: f64,
        air_speed_m_s: f64,
    ) -> Result<FilmTable, SurfaceError> {
        let (low_c, high_c) = range_c;
        let span = high_c - low_c;
        if !(span > 0.0 && span <= 1e4) {
            return Err(SurfaceError::EmptyRange {
                low: low_c,
                high: high_c,
                unit: "degC",
                law: "surface temperatures of a film table",
            });
        }
        let steps = (span / RASTER_K - 1e-9).ceil().max(1.0) as usize;
        let mut values = Vec::with_capacity(steps + 1);
        let mut met = (f64::INFINITY, 0.0_f64);
        for i in 0..=steps {
            let surface_c = low_c + RASTER_K * i as f64;
            values.push(film_coefficient(geometry, surface_c, air_c, air_speed_m_s)?);
            let film = air::properties(air::film_temperature(surface_c, air_c))?;
            let ra = rayleigh(&film, surface_c - air_c, geometry.length_m());
            met = (met.0.min(ra), met.1.max(ra));
        }
        Ok(FilmTable {
            low_c,
            step_k: RASTER_K,
            values,
            rayleigh: met,
        })
    }

    /// The same coefficient [W/m²K] at every temperature.
    pub fn constant(film_w_m2k: f64) -> Result<FilmTable, SurfaceError> {
        quantity("film coefficient", "W/m2K", "fixed film coefficient").within(film_w_m2k, 0.0, 1e6)?;
        Ok(FilmTable {
            low_c: 0.0,
            step_k: RASTER_K,
            values: vec![film_w_m2k; 2],
            rayleigh: (0.0, 0.0),
        })
    }

    /// Coefficient [W/m²K] and its slope [W/m²K²] at a surface temperature: linear inside the
    /// raster. Outside, the end value holds with zero slope, so choose the range wide enough.
    #[inline]
    pub fn at(&self, temp_c: f64) -> (f64, f64) {
        let x = (temp_c - self.low_c) / self.step_k;
        let last = self.values.len() - 1;
        if x <= 0.0 {
            return (self.values[0], 0.0);
        }
        let i = x as usize;
        if i >= last {
            return (self.values[last], 0.0);
        }
        let rise = self.values[i + 1] - self.values[i];
        (self.values[i] + (x - i as f64) * rise, rise / self.step_k)
    }
}

impl From<FilmTable> for OfSurface {
    /// The table as the solver takes it.
    fn from(table: FilmTable) -> OfSurface {
        OfSurface::raster(table.low_c, table.step_k, table.values)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn table_agrees_with_the_function_between_its_points() {
        for geometry in [
            Geometry::HorizontalCylinder { diameter_m: 0.06 },
            Geometry::VerticalPlate { height_m: 0.06 },
            Geometry::HorizontalPlateUp { length_m: 0.015 },
            Geometry::HorizontalPlateDown { length_m: 0.015 },
        ] {
            for speed in [0.0, 1.5] {
                let table = FilmTable::in_air(geometry, (100.0, 1300.0), 25.0, speed).unwrap();
                for t in [103.0, 555.5, 1244.9] {
                    let exact = film_coefficient(geometry, t, 25.0, speed).unwrap();
                    let (h, slope) = table.at(t);
                    assert!((h / exact - 1.0).abs() < 2e-3, "{geometry:?} {t} {h} {exact}");
                    let rise = table.at(t + 0.01).0 - h;
                    assert!((rise - 0.01 * slope).abs() < 1e-9);
                }
            }
        }
    }

    #[test]
    fn odd_numbers_are_refused_not_answered() {
        let bar = Geometry::HorizontalCylinder { diameter_m: 0.06 };
        for (geometry, surface, air, speed) in [
            (bar, f64::NAN, 25.0, 0.0),
            (bar, 1000.0, 25.0, -1.0),
            (bar, 1000.0, 1600.0, 0.0),
            (bar, 2999.0, 25.0, 0.0),
            (Geometry::VerticalPlate { height_m: 0.0 }, 900.0, 25.0, 0.0),
        ] {
            assert!(film_coefficient(geometry, surface, air, speed).is_err());
        }
        let table = FilmTable::in_air(bar, (100.0, 1300.0), 25.0, 0.0).unwrap();
        let same = OfSurface::from(table.clone());
        for t in [50.0, 100.0, 777.7, 1300.0, 1400.0] {
            let ((a, da), (b, db)) = (table.at(t), same.at(t));
            assert!((a - b).abs() < 1e-12 * a && (da - db).abs() < 1e-12, "{t}: {a} {b}");
        }
        assert!(FilmTable::in_air(bar, (900.0, 900.0), 25.0, 0.0).is_err());
        assert!(FilmTable::constant(f64::INFINITY).is_err());
        let no_difference = film_coefficient(bar, 25.0, 25.0, 0.0).unwrap();
        assert!(no_difference > 0.0 && no_difference < 1.0);
    }

    #[test]
    fn cold_face_down_is_hot_face_up() {
        let up = Geometry::HorizontalPlateUp { length_m: 0.02 };
        let down = Geometry::HorizontalPlateDown { length_m: 0.02 };
        // Same film temperature and same difference, mirrored.
        let hot = film_coefficient(up, 400.0, 100.0, 0.0).unwrap();
        let cold = film_coefficient(down, 100.0, 400.0, 0.0).unwrap();
        assert!((hot - cold).abs() < 1e-12);
        assert!(film_coefficient(down, 400.0, 100.0, 0.0).unwrap() < hot);
    }
}
