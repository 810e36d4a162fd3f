//! A billet in the column: its slices, where they lie, and what they take up.

use super::phase::Phase;
use crate::conduction::Exchange;
use crate::heater::bar::Bar;
use crate::heater::coil::Coil;
use crate::heater::error::HeaterError;
use crate::heater::scaling::SCALING_C;
use crate::heater::slice::Slice;

/// A billet in the column.
#[derive(Clone)]
pub(super) struct Billet {
    /// Number of the order that it belongs to.
    pub order: usize,
    pub number: usize,
    pub position: Option<usize>,
    pub entered_s: f64,
    /// Place of the middle, m.
    pub place_m: f64,
    pub slices: Vec<Slice>,
    pub zone: Vec<usize>,
    pub peak_c: f64,
    pub peak_s: f64,
    pub scaling_s: f64,
    pub received_j: Vec<f64>,
}

/// A part of a slice: its zone, its share of the slice, and the coil there by its number and the number
/// of its field in the slice.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part {
    pub zone: usize,
    pub share: f64,
    pub coil: Option<(usize, usize)>,
}

/// What one slice is to a coil that it lies in, per square of the field.
pub(super) struct Load {
    pub coil: usize,
    pub share: f64,
    pub resistance: f64,
    pub reactance: f64,
    pub skin_m: f64,
}

impl Billet {
    /// Loads of the slices for the next `dt` (s), each in the coils that it lies in.
    pub fn loads(
        &mut self,
        bar: &Bar,
        parts: &[Vec<Part>],
        coils: &[(usize, Coil)],
        (phase, field): (&Phase, &[f64]),
        dt: f64,
    ) -> Result<Vec<Load>, HeaterError> {
        let mut loads = Vec::new();
        for (slice, parts) in self.slices.iter_mut().zip(parts) {
            for part in parts {
                let Some((coil, of)) = part.coil.filter(|(c, _)| !phase.drives[*c].is_off()) else {
                    continue;
                };
                let f = coils[coil].1.frequency_hz;
                let z = slice.impedance(bar, of, f, field[coil], part.share * dt)?;
                loads.push(Load {
                    coil,
                    share: part.share,
                    resistance: z.resistance,
                    reactance: z.reactance,
                    skin_m: slice.surface_skin_m(of, f),
                });
            }
        }
        Ok(loads)
    }

    /// Advances the slices by `dt` (s) in the fields of the coils (A/m; `None` where off). A slice that
    /// lies in several zones is in each for its share of the time, so that it gets the mean of what its
    /// parts get. Returns the heat lost, J per metre of slice.
    pub fn advance(
        &mut self,
        bar: &Bar,
        parts: &[Vec<Part>],
        exchanges: &[Exchange],
        on: &[Option<f64>],
        (from_s, dt): (f64, f64),
    ) -> Result<f64, HeaterError> {
        let mut surface: f64 = f64::NEG_INFINITY;
        let mut lost = 0.0;
        for ((slice, zone), parts) in self.slices.iter_mut().zip(&mut self.zone).zip(parts) {
            let before = slice.energies().1;
            for part in parts {
                if *zone != part.zone {
                    *zone = part.zone;
                    slice.set_exchange(&exchanges[part.zone]);
                }
                let heated = part.coil.and_then(|(c, of)| on[c].map(|h0| (of, h0)));
                slice.advance(bar, heated, part.share * dt)?;
                let nodes = slice.nodes(bar);
                if nodes.hottest_c > self.peak_c {
                    self.peak_c = nodes.hottest_c;
                    self.peak_s = from_s + dt;
                }
                surface = surface.max(nodes.surface_c);
            }
            if parts.len() > 1 {
                slice.break_off();
            }
            lost += slice.energies().1 - before;
        }
        if surface > SCALING_C {
            self.scaling_s += dt;
        }
        Ok(lost)
    }

    /// Books what the coils put in during the latest phase, W over `dt` (s).
    pub fn receive(&mut self, (phases, coils): (usize, usize), watts: impl Iterator<Item = (usize, f64)>, dt: f64) {
        self.received_j.resize(phases * coils, 0.0);
        for (coil, power) in watts {
            self.received_j[(phases - 1) * coils + coil] += power * dt;
        }
    }

    /// Mean specific enthalpy, J/kg.
    pub fn mean_enthalpy(&self) -> f64 {
        self.slices.iter().map(Slice::mean_enthalpy).sum::<f64>() / self.slices.len() as f64
    }

    /// Highest temperature in it, degC.
    pub fn hottest(&self, bar: &Bar) -> f64 {
        self.slices
            .iter()
            .map(|s| s.nodes(bar).hottest_c)
            .fold(f64::NEG_INFINITY, f64::max)
    }
}
