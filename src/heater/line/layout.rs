//! Geometry and motion of a heater line, and what its zones exchange with the billet.

use super::converter::Converter;
use crate::conduction::{Exchange, OfSurface};
use crate::heater::bar::Bar;
use crate::heater::coil::Coil;
use crate::heater::error::{HeaterError, positive};
use crate::heater::lining::Lining;
use crate::surface::{FilmTable, Geometry};

/// What a stretch of the heater is.
#[derive(Debug, Clone, PartialEq)]
pub enum ZoneKind {
    /// A coil with its lining.
    Coil {
        /// The winding.
        coil: Coil,
        /// The refractory between billet and winding.
        lining: Lining,
    },
    /// A lined tunnel without power, to let the billet even out.
    Tunnel {
        /// The lining; its outside is at `coil_c`.
        lining: Lining,
    },
    /// Open to the shop.
    Open,
}

/// A stretch of the heater.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// Name for tables.
    pub name: String,
    /// Length along the bar, m.
    pub length_m: f64,
    /// What it is.
    pub kind: ZoneKind,
}

/// Most billets that may be inside at once.
const MOST_BILLETS: f64 = 1000.0;

/// Most looks at the field on the way through.
const MOST_LOOKS: f64 = 20_000.0;

/// How the billets move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Motion {
    /// Pushed steadily, one billet length per takt.
    Continuous,
    /// Standing still for a takt, then moved on by one billet length at once.
    Indexed,
}

/// A heater line and its pace.
#[derive(Debug, Clone, PartialEq)]
pub struct HeaterLine {
    /// Zones from the cold end to the hot end.
    pub zones: Vec<Zone>,
    /// Coils that hang together on one converter; a coil on none is set on its own.
    pub converters: Vec<Converter>,
    /// Length of a billet, m.
    pub billet_m: f64,
    /// Time between billets, s.
    pub takt_s: f64,
    /// How they move.
    pub motion: Motion,
    /// Temperature of the billets when they go in, degC.
    pub start_c: f64,
    /// Temperature of the shop, degC.
    pub ambient_c: f64,
}

impl HeaterLine {
    /// Refuses a line that cannot be, or that the bar does not fit into.
    pub fn check(&self, bar: &Bar) -> Result<(), HeaterError> {
        positive("billet length in m", self.billet_m)?;
        positive("takt in s", self.takt_s)?;
        if self.coils().next().is_none() {
            return Err(HeaterError::NoCoil);
        }
        let inside = self.length_m() / self.billet_m;
        if inside > MOST_BILLETS {
            return Err(HeaterError::OutOfRange {
                name: "billets inside the heater",
                value: inside,
                allowed: "must be at most 1000",
            });
        }
        for zone in &self.zones {
            positive("zone length in m", zone.length_m)?;
            match &zone.kind {
                ZoneKind::Coil { coil, lining } => {
                    coil.check()?;
                    lining.check(bar.outer_m())?;
                    if lining.outer_m > coil.bore_m * (1.0 + 1e-9) {
                        return Err(HeaterError::OutOfRange {
                            name: "outer diameter of the lining in m",
                            value: lining.outer_m,
                            allowed: "must be at most the bore of the winding",
                        });
                    }
                }
                ZoneKind::Tunnel { lining } => lining.check(bar.outer_m())?,
                ZoneKind::Open => {}
            }
        }
        let coils = self.coils().count();
        self.converters.iter().try_for_each(|c| c.check(coils))
    }

    /// What of the heater itself differs in another line, beside its billets.
    pub fn differs(&self, other: &HeaterLine) -> Option<&'static str> {
        if self.motion != other.motion {
            return Some("the way in which billets move");
        }
        if self.zones.len() != other.zones.len() {
            return Some("the number of zones");
        }
        if self.converters != other.converters {
            return Some("the converters and their coils");
        }
        let mut pairs = self.zones.iter().zip(&other.zones);
        match pairs.any(|(a, b)| a.length_m != b.length_m || a.kind != b.kind) {
            true => Some("coils, linings or lengths of its zones"),
            false => None,
        }
    }

    /// Coils with the index of their zone, from the cold end.
    pub fn coils(&self) -> impl Iterator<Item = (usize, &Coil)> {
        self.zones.iter().enumerate().filter_map(|(i, z)| match &z.kind {
            ZoneKind::Coil { coil, .. } => Some((i, coil)),
            _ => None,
        })
    }

    /// Time between two looks at the field, s: the bar's own, or a 20000th of the time inside where
    /// that is longer (a bar so thin for its stay is in balance all the time).
    pub(super) fn look_s(&self, bar: &Bar) -> f64 {
        let inside_s = self.length_m() / self.speed_m_s();
        bar.look_s().max(inside_s / MOST_LOOKS)
    }

    /// Length of all zones, m.
    pub fn length_m(&self) -> f64 {
        self.zones.iter().map(|z| z.length_m).sum()
    }

    /// Speed of steady motion, or its mean, m/s.
    pub fn speed_m_s(&self) -> f64 {
        self.billet_m / self.takt_s
    }

    /// Places in which an indexed billet lies inside, if only with its end.
    pub fn places(&self) -> usize {
        (self.length_m() / self.billet_m - 1e-9).ceil().max(1.0) as usize
    }

    /// Zones that piece `j` of `pieces` lies in, of a billet whose cold end is at a place (m), each with the shares of the
    /// piece between which it does; what lies outside of the heater is in none. Where zones meet, the piece counts as
    /// longer by `spread_m` (m) on either side, within its billet: the field of a coil falls off over about its radius
    /// there, and heat spreads along the billet meanwhile.
    pub(super) fn parts(
        &self,
        edges: &[f64],
        billet_from_m: f64,
        (j, pieces): (usize, usize),
        spread_m: f64,
    ) -> impl Iterator<Item = (usize, f64, f64)> {
        let piece = self.billet_m / pieces as f64;
        let from = billet_from_m + j as f64 * piece;
        let low = (from - spread_m).max(billet_from_m);
        let high = (from + piece + spread_m).min(billet_from_m + self.billet_m);
        let last = edges.len() - 1;
        let sharp = move |at: f64| ((at - from) / piece).clamp(0.0, 1.0);
        let end = sharp(edges[last]);
        let share = move |n: usize, at: f64| match n {
            0 => sharp(at),
            n if n == last => end,
            _ => ((at - low) / (high - low)).clamp(0.0, end),
        };
        edges.windows(2).enumerate().filter_map(move |(zone, edge)| {
            let (a, b) = (share(zone, edge[0]), share(zone + 1, edge[1]));
            (b - a > 1e-9).then_some((zone, a, b))
        })
    }

    /// Start of each zone, and the end of the last, m.
    pub(super) fn edges(&self) -> Vec<f64> {
        let mut edges = vec![0.0];
        let mut at = 0.0;
        for zone in &self.zones {
            at += zone.length_m;
            edges.push(at);
        }
        edges
    }

    /// What the side of the billet exchanges with in each zone. The steady loss through a lining
    /// is laid down as a film coefficient against the winding's temperature; an open stretch
    /// radiates to the shop and convects as a horizontal cylinder (Churchill and Chu 1975).
    pub(super) fn exchanges(&self, bar: &Bar) -> Result<Vec<Exchange>, HeaterError> {
        self.zones
            .iter()
            .map(|zone| match &zone.kind {
                ZoneKind::Coil { lining, .. } | ZoneKind::Tunnel { lining } => Ok(lined(bar, lining)),
                ZoneKind::Open => open_air(bar, self.ambient_c),
            })
            .collect()
    }
}

/// The steady loss through a lining, laid down as a film coefficient against the winding's
/// temperature.
pub(crate) fn lined(bar: &Bar, lining: &Lining) -> Exchange {
    let diameter = bar.surface_diameter_m();
    let emissivity = bar.metal().emissivity();
    let film = OfSurface::sampled(-50.0, 1600.0, 330, |t| {
        // At equal temperatures the ratio is 0/0; step aside.
        let t = if (t - lining.coil_c).abs() < 1e-3 { t + 0.01 } else { t };
        let (loss, _) = lining.loss(diameter, emissivity, t);
        loss / (bar.perimeter_m() * (t - lining.coil_c))
    });
    Exchange::film(film, lining.coil_c)
}

/// Radiation and natural convection of a lying bar in the shop.
pub(crate) fn open_air(bar: &Bar, ambient_c: f64) -> Result<Exchange, HeaterError> {
    let geometry = Geometry::HorizontalCylinder {
        diameter_m: 2.0 * bar.half_m().0.max(bar.half_m().1),
    };
    let table = FilmTable::in_air(geometry, (-40.0, 1500.0), ambient_c, 0.0)?;
    let film = OfSurface::sampled(-40.0, 1500.0, 154, |t| table.at(t).0);
    Ok(Exchange::air(film, bar.metal().emissivity(), ambient_c))
}
