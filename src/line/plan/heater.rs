//! How the billet gets hot.

use super::induction::{CoilLine, StaticCoil};
use crate::heater::SectionField;
use crate::numeric::interpolate::{linear, locate};

/// The heater of a plan.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Heater {
    /// The state at heater exit is known.
    Measured(StartField),
    /// A furnace at one temperature for a time; heating from cold is computed.
    Furnace {
        /// Temperature of furnace gas and walls, degC.
        furnace_c: f64,
        /// Time in the furnace, s.
        seconds: f64,
        /// Temperature of the billet when it goes in, degC.
        start_c: f64,
        /// Emissivity of the exchange between furnace and billet.
        emissivity: f64,
        /// Film coefficient of the furnace gas, W/m²K.
        film_w_m2k: f64,
        /// Further zones after the first, in order.
        zones: Vec<FurnaceZone>,
    },
    /// A row of coils.
    CoilLine(Box<CoilLine>),
    /// One charge in a static coil.
    StaticCoil(Box<StaticCoil>),
}

/// A zone of a furnace after the first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FurnaceZone {
    /// Temperature of gas and walls, degC.
    pub furnace_c: f64,
    /// Time in the zone, s.
    pub seconds: f64,
}

/// Temperatures over the section at heater exit; the same at every length position.
#[derive(Debug, Clone, PartialEq)]
pub enum StartField {
    /// One temperature.
    Uniform {
        /// Temperature, degC.
        temp_c: f64,
    },
    /// Quadratic in the distance from the axis: T = core + (surface - core) s², with s = r/R for a
    /// round bar and the larger of |x|/(w/2), |y|/(h/2) for the others.
    Parabolic {
        /// Surface temperature at heater exit, degC.
        surface_c: f64,
        /// Core temperature at heater exit, degC.
        core_c: f64,
    },
    /// Straight lines between points of (s, degC), s rising from 0 at the core to 1 at the surface.
    Points(Vec<(f64, f64)>),
    /// Such points at several places along the billet (0 at the free end, 1 at the gripped end, which
    /// leaves the heater first), straight lines between them, level beyond the first and last.
    Along(Vec<(f64, Vec<(f64, f64)>)>),
    /// Quarters of a rectangular section at such places along the billet.
    Sections(Vec<(f64, SectionField)>),
}

impl StartField {
    /// Temperature in degC at the relative distance `s` from the axis (0) to the surface (1), at
    /// mid-length.
    pub fn temp_c(&self, s: f64) -> f64 {
        self.temp_at_c((s, 0.0), 0.5)
    }

    /// Temperature in degC at the relative distances from the axis (0) to the surface (1) across and
    /// up (a round section has only the first) and the place `along` from the free end (0) to the
    /// gripped end (1).
    pub fn temp_at_c(&self, (across, up): (f64, f64), along: f64) -> f64 {
        let s = across.max(up);
        match self {
            StartField::Uniform { temp_c } => *temp_c,
            StartField::Parabolic { surface_c, core_c } => core_c + (surface_c - core_c) * s * s,
            StartField::Points(points) => between(points, s),
            StartField::Along(profiles) => lengthwise(profiles, along, |points| between(points, s)),
            StartField::Sections(sections) => lengthwise(sections, along, |section| section.at(across, up)),
        }
    }
}

/// Straight lines between places along the billet, level beyond the first and last.
fn lengthwise<T>(places: &[(f64, T)], along: f64, value: impl Fn(&T) -> f64) -> f64 {
    locate(places, |p| p.0, along).map_or(f64::NAN, |between| between.of(|k| value(&places[k].1)))
}

fn between(points: &[(f64, f64)], s: f64) -> f64 {
    linear(points, s).unwrap_or(f64::NAN)
}
