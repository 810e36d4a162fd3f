//! Laws of the faces that touch nothing.

use std::sync::Arc;

use super::company::among;
use super::part::Part;
use super::{RunError, Runner};
use crate::body::{Layout, Skin};
use crate::conduction::{Exchange, Law, OfSurface};
use crate::line::plan::{Company, Pose, Section, Surroundings};
use crate::steel::Steel;
use crate::surface::{Geometry, film_coefficient};

/// Ledger name of what faces exchange with air and surroundings.
pub(super) const AIR: &str = "radiation and convection";

/// No skin covered.
pub(super) const BARE: [f64; Skin::ALL.len()] = [0.0; Skin::ALL.len()];

/// Surface temperatures between which laws are tabulated, degC.
const RANGE_C: (f64, f64) = (0.0, 1500.0);

impl Runner<'_> {
    /// Sets the air law on all skins. `covered` is the share of each skin that is in contact.
    pub(super) fn set_air(
        &mut self,
        surroundings: &Surroundings,
        covered: &[f64; Skin::ALL.len()],
    ) -> Result<(), RunError> {
        self.set_air_among(surroundings, covered, &Company::Alone)
    }

    /// As [`Runner::set_air`], with parts of the same kind about.
    pub(super) fn set_air_among(
        &mut self,
        surroundings: &Surroundings,
        covered: &[f64; Skin::ALL.len()],
        company: &Company,
    ) -> Result<(), RunError> {
        let emissivity = self.films.emissivity(&self.plan.metal, surroundings);
        for skin in Skin::ALL {
            if !self.part.has_skin(skin) {
                continue;
            }
            let film = match surroundings.film_w_m2k {
                Some(h) => OfSurface::Constant(h),
                None => self
                    .films
                    .get(self.part.geometry(skin, self.plan.piece.section), surroundings)
                    .map_err(|source| RunError::Surface {
                        stage: self.recorder.stage_name().to_owned(),
                        source,
                    })?,
            };
            let exchange = Exchange {
                film,
                fluid_c: surroundings.ambient_c.into(),
                emissivity: emissivity.clone(),
                view: surroundings.view_factor,
                radiant_c: surroundings.surroundings_c.into(),
                ..Exchange::none()
            };
            let exchange = among(
                company,
                (skin, self.part.mesh.layout),
                exchange,
                surroundings.surroundings_c,
            );
            self.set_exchange(skin, exchange, AIR, 1.0 - covered[skin as usize]);
        }
        Ok(())
    }

    /// Sets one exchange on all skins.
    pub(super) fn set_everywhere(&mut self, exchange: &Exchange, account: &str) {
        for skin in Skin::ALL {
            if self.part.has_skin(skin) {
                self.set_exchange(skin, exchange.clone(), account, 1.0);
            }
        }
    }

    fn set_exchange(&mut self, skin: Skin, mut exchange: Exchange, account: &str, share: f64) {
        exchange.layer_m2k_w = self.scale_resistance(skin);
        // The faces are those of the cold part; what leaves a hot one goes through its hot surface.
        let metal = &self.plan.metal;
        if metal.composition.is_some() {
            let raster_c = (RANGE_C.0, 50.0, RANGE_C.1);
            exchange.film = exchange.film.times(raster_c, |t| metal.surface_growth(t));
            exchange.emissivity = exchange.emissivity.times(raster_c, |t| metal.surface_growth(t));
        }
        let account = self.part.solver.account(account);
        let law = if share <= 0.0 {
            Law::Insulated
        } else {
            Law::Exchange {
                exchange,
                share,
                account,
            }
        };
        self.part.solver.set_law(skin as usize, law);
    }
}

/// Film tables already made in this run; most stages meet the same ones again.
#[derive(Clone, Default)]
pub(super) struct Films {
    films: Vec<(Geometry, f64, f64, OfSurface)>,
    emissivity: Option<OfSurface>,
}

impl Films {
    /// Film coefficients against surface temperature every 50 K; they vary by less than 1 % between.
    fn get(&mut self, geometry: Geometry, s: &Surroundings) -> Result<OfSurface, crate::surface::SurfaceError> {
        const STEPS: usize = 30;
        let same =
            |f: &&(Geometry, f64, f64, OfSurface)| f.0 == geometry && f.1 == s.ambient_c && f.2 == s.air_speed_m_s;
        if let Some(known) = self.films.iter().find(same) {
            return Ok(known.3.clone());
        }
        let step_k = (RANGE_C.1 - RANGE_C.0) / STEPS as f64;
        let values: Result<Vec<f64>, _> = (0..=STEPS)
            .map(|i| film_coefficient(geometry, RANGE_C.0 + step_k * i as f64, s.ambient_c, s.air_speed_m_s))
            .collect();
        let film = OfSurface::raster(RANGE_C.0, step_k, values?);
        self.films.push((geometry, s.ambient_c, s.air_speed_m_s, film.clone()));
        Ok(film)
    }

    /// Emissivity of the part: the override of the line file, or the metal's own curve.
    pub fn emissivity(&mut self, metal: &Arc<Steel>, surroundings: &Surroundings) -> OfSurface {
        match surroundings.emissivity {
            Some(e) => OfSurface::Constant(e),
            None => self
                .emissivity
                .get_or_insert_with(|| OfSurface::sampled(RANGE_C.0, RANGE_C.1, 60, |t| metal.emissivity.at(t)))
                .clone(),
        }
    }
}

impl Part {
    /// Whether the part has free faces of this skin (planes of symmetry are not skin).
    pub fn has_skin(&self, skin: Skin) -> bool {
        let bore_is_symmetry = self.mesh.layout != Layout::Axisymmetric;
        (skin as usize) < self.mesh.grid.groups() && !(skin == Skin::Bore && bore_is_symmetry)
    }

    /// Position and size of a skin for natural convection.
    fn geometry(&self, skin: Skin, section: Section) -> Geometry {
        let (diameter, height) = match &self.shape {
            Some(shape) => (2.0 * shape.outer_m(), shape.height_m()),
            None => match section {
                Section::Round { radius_m } => (2.0 * radius_m, 2.0 * radius_m),
                Section::Square { side_m } => (side_m, side_m),
                Section::Rectangle { width_m, height_m } => (width_m.max(height_m), height_m),
                Section::Plate { .. } => (1.0, 1.0),
            },
        };
        match (self.pose, skin, section) {
            // A long part lies; the area of a strip over its edge is half its width.
            (_, Skin::Bottom, _) if self.mesh.layout == Layout::Strips => Geometry::HorizontalPlateDown {
                length_m: 0.25 * diameter,
            },
            (_, Skin::Top, _) if self.mesh.layout == Layout::Strips => Geometry::HorizontalPlateUp {
                length_m: 0.25 * diameter,
            },
            (_, _, _) if self.mesh.layout == Layout::Strips => Geometry::VerticalPlate { height_m: height },
            (_, Skin::Side, Section::Plate { .. }) => Geometry::VerticalPlate { height_m: 1.0 },
            (Pose::Lying, Skin::Bottom | Skin::Top, _) => Geometry::VerticalPlate { height_m: diameter },
            (Pose::Lying, _, _) => Geometry::HorizontalCylinder { diameter_m: diameter },
            (Pose::Standing, Skin::Bottom, _) => Geometry::HorizontalPlateDown {
                length_m: 0.25 * diameter,
            },
            (Pose::Standing, Skin::Top, _) => Geometry::HorizontalPlateUp {
                length_m: 0.25 * diameter,
            },
            (Pose::Standing, _, _) => Geometry::VerticalPlate { height_m: height },
        }
    }
}
