//! How the billet gets hot.

use super::induction::{CoilLine, StaticCoil};
use super::piece::Metal;
use crate::heater::search::Goal;
use crate::heater::{HeaterError, SectionField};
use crate::judge::{Datum, Warning};
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

impl Heater {
    /// Whether heating from cold is computed.
    pub fn is_computed(&self) -> bool {
        !matches!(self, Heater::Measured(_))
    }

    /// The powers are found for an exit that shows so many kelvin more than what is computed.
    pub(crate) fn aim_for(&mut self, shown_k: f64) {
        match self {
            Heater::CoilLine(own) => own.exit_offset_k = shown_k,
            Heater::StaticCoil(own) => own.exit_offset_k = shown_k,
            Heater::Measured(_) | Heater::Furnace { .. } => {}
        }
    }

    /// Nothing in the heater may ever be above this, degC: what searches and plans keep and billets are judged by. A
    /// limit that excludes the target itself leaves the search as it was; billets are judged by it nevertheless.
    pub(crate) fn keep_below(&mut self, never_c: f64) {
        let least = |goal: &mut Goal| {
            if never_c > goal.value_c {
                goal.never_above_c = goal.never_above_c.min(never_c);
            }
        };
        match self {
            Heater::CoilLine(own) => {
                own.goal.as_mut().map(least);
                if let Some(criteria) = &mut own.criteria {
                    criteria.never_above_c = criteria.never_above_c.min(never_c);
                }
            }
            Heater::StaticCoil(own) => {
                own.goal.as_mut().map(least);
                own.never_above_c = Some(own.never_above_c.map_or(never_c, |c| c.min(never_c)));
            }
            Heater::Measured(_) | Heater::Furnace { .. } => {}
        }
    }

    /// Refuses to be the heater of an order that follows in a running one where it cannot.
    ///
    /// # Errors
    /// [`HeaterError::OtherHeater`] where kind, zones, converters or motion differ.
    pub fn follows(&self, running: &CoilLine) -> Result<(), HeaterError> {
        let what = match self {
            Heater::CoilLine(own) => running.line.differs(&own.line),
            _ => Some("the kind, coil_line,"),
        };
        what.map_or(Ok(()), |what| Err(HeaterError::OtherHeater { what }))
    }

    /// Keeps what the powers are found for as it is in another plan of the same line: an offset that is tried there moves
    /// the exit, and no search makes up for it.
    pub(crate) fn keep_aim(&mut self, of: &Heater) {
        match (self, of) {
            (Heater::CoilLine(own), Heater::CoilLine(of)) => own.exit_offset_k = of.exit_offset_k,
            (Heater::StaticCoil(own), Heater::StaticCoil(of)) => own.exit_offset_k = of.exit_offset_k,
            _ => {}
        }
    }
}

/// A remark on a part that would begin to melt at its hottest, degC; `None` where it would not, or nothing is known.
pub(crate) fn above_solidus(metal: &Metal, hottest_c: f64) -> Option<Warning> {
    let solidus = metal.solidus_c.as_ref().filter(|solidus| hottest_c > solidus.value)?;
    let message = format!(
        "the billet leaves the heater at {hottest_c:.0} degC, above the solidus estimate of {} at {} degC ({})",
        metal.name, solidus.value, solidus.source
    );
    let mut warning = Warning::new("above-solidus", message);
    warning
        .tell("exit", Datum::Celsius(hottest_c))
        .tell("metal", Datum::Name(metal.name.clone()))
        .tell("solidus", Datum::Celsius(solidus.value));
    Some(warning)
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
