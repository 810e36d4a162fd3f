//! What a heater line in its steady state gives.

use ndarray::Array2;
use serde::Serialize;

use super::criteria::Target;
use super::layout::open_air;
use crate::heater::bar::Bar;
use crate::heater::coil::Electrical;
use crate::heater::error::HeaterError;
use crate::heater::scaling::SCALING_C;
use crate::heater::section_field::SectionField;
use crate::heater::slice::{Nodes, Slice, State};

/// One coil at work, mean over a takt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoilResult {
    /// Name of its zone.
    pub name: String,
    /// Start along the line, m.
    pub from_m: f64,
    /// End along the line, m.
    pub to_m: f64,
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Field strength at the billets, A/m RMS.
    pub field_a_m: f64,
    /// Power at the terminals, W.
    pub terminals_w: f64,
    /// Loss in the winding, W.
    pub winding_w: f64,
    /// Power into the billets, W.
    pub load_w: f64,
    /// Electrical efficiency.
    pub efficiency: f64,
    /// Power factor at the terminals, before any capacitor.
    pub power_factor: f64,
    /// Volts, amperes and reactive power at the terminals, for the turns of the coil.
    pub electrical: Electrical,
    /// Short-coil factor.
    pub short_coil: f64,
    /// Heat density over the section at mid-length as the billet comes in and as it leaves, points
    /// (r/R, W/m³).
    pub heat: [Vec<(f64, f64)>; 2],
}

/// Heat lost by the billets in one zone, mean over a takt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneLoss {
    /// Name of the zone.
    pub name: String,
    /// Whether it is a stretch open to the shop.
    pub open: bool,
    /// Loss, W.
    pub loss_w: f64,
}

/// Temperatures of the bar on its way.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TrackPoint {
    /// Place along the line, m.
    pub place_m: f64,
    /// Time since it went in, s.
    pub time_s: f64,
    /// At the axis, degC.
    pub core_c: f64,
    /// At the surface, degC.
    pub surface_c: f64,
    /// Temperature of the mean enthalpy, degC.
    pub mean_c: f64,
    /// Highest anywhere in the section, degC.
    pub hottest_c: f64,
}

/// State of a billet as it leaves.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Exit {
    /// Relative place along the billet of each profile, 0 at the end that leaves last.
    pub along: Vec<f64>,
    /// Points (r/R, degC) from axis to surface, one list per place along the billet.
    pub profiles: Vec<Vec<(f64, f64)>>,
    /// The whole section at each place along the billet, where it is rectangular; else none.
    pub sections: Vec<SectionField>,
    /// Surface at mid-length, degC.
    pub surface_c: f64,
    /// Core at mid-length, degC.
    pub core_c: f64,
    /// Temperature of the billet's mean enthalpy, degC.
    pub mean_c: f64,
    /// Highest anywhere in the billet as it leaves, degC.
    pub hottest_c: f64,
    /// Highest anywhere in the billet at any time, degC.
    pub peak_c: f64,
    /// State at each place along the billet, to go on with.
    #[serde(skip)]
    pub states: Vec<State>,
    /// Longest time for which the surface was above 900 degC (where scale grows fast), s.
    pub scaling_s: f64,
    /// Node temperatures at each place along the billet.
    pub nodes_along: Vec<Nodes>,
}

/// The colder end face of a billet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ColderEnd {
    /// Whether it is the end that leaves first.
    pub leads: bool,
    /// Its temperature, degC.
    pub value_c: f64,
    /// How much colder it is than the middle, K.
    pub below_k: f64,
}

impl Exit {
    /// Node temperatures: core and surface at mid-length, mean and hottest of the whole billet.
    pub fn nodes(&self) -> Nodes {
        Nodes {
            core_c: self.core_c,
            surface_c: self.surface_c,
            mean_c: self.mean_c,
            hottest_c: self.hottest_c,
        }
    }

    /// The colder end, by a temperature of its section against that at mid-length; `None` where the billet is
    /// followed at one place only.
    pub fn colder_end(&self, target: Target) -> Option<ColderEnd> {
        let n = self.nodes_along.len();
        let (Some(first), Some(last), true) = (self.nodes_along.first(), self.nodes_along.last(), n > 1) else {
            return None;
        };
        let values: Vec<f64> = self.nodes_along.iter().map(|nodes| target.among(nodes)).collect();
        let mut from_front: Vec<(f64, f64)> = self.along.iter().copied().zip(values).collect();
        let trails = target.among(first).min(at_face(0.0, &from_front));
        from_front.reverse();
        let leads = target.among(last).min(at_face(1.0, &from_front));
        let value_c = trails.min(leads);
        Some(ColderEnd {
            leads: leads < trails,
            value_c,
            below_k: target.among(&self.nodes_along[n / 2]) - value_c,
        })
    }
}

/// A value at an end face from those at places along the billet, the nearest first: the lower of the straight line and
/// the parabola through them, for the face itself is not followed.
fn at_face(face: f64, places: &[(f64, f64)]) -> f64 {
    let straight = match places {
        [(xa, a), (xb, b), ..] => a + (face - xa) * (b - a) / (xb - xa),
        _ => f64::INFINITY,
    };
    let parabola = match places {
        [(xa, a), (xb, b), (xc, c), ..] => {
            a * (face - xb) * (face - xc) / ((xa - xb) * (xa - xc))
                + b * (face - xa) * (face - xc) / ((xb - xa) * (xb - xc))
                + c * (face - xa) * (face - xb) / ((xc - xa) * (xc - xb))
        }
        _ => f64::INFINITY,
    };
    straight.min(parabola)
}

/// Where the power goes, W, mean over a takt.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Balance {
    /// At the terminals of all coils.
    pub terminals_w: f64,
    /// Lost in the windings.
    pub winding_w: f64,
    /// Into the billets.
    pub load_w: f64,
    /// Lost through linings.
    pub lining_w: f64,
    /// Lost from open stretches.
    pub open_w: f64,
    /// Carried out by the billets above what they brought in.
    pub steel_w: f64,
    /// (terminals − winding − lining − open − steel) over terminals.
    pub imbalance: f64,
    /// Throughput, kg/s.
    pub kg_s: f64,
}

impl Balance {
    /// Energy at the terminals per tonne, kWh/t.
    pub fn terminals_kwh_t(&self) -> f64 {
        self.per_tonne(self.terminals_w)
    }

    /// A power per tonne of throughput, kWh/t.
    pub fn per_tonne(&self, power_w: f64) -> f64 {
        power_w / self.kg_s / 3600.0
    }
}

/// A heater line that has settled at one takt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Steady {
    /// Coils from the cold end.
    pub coils: Vec<CoilResult>,
    /// Losses by zone.
    pub losses: Vec<ZoneLoss>,
    /// The middle of a billet on its way.
    pub track: Vec<TrackPoint>,
    /// The billet as it leaves.
    pub exit: Exit,
    /// Where the power goes.
    pub balance: Balance,
    /// Field solutions made, and reused.
    pub field_solves: (u64, u64),
    /// Steps of the conduction solver.
    pub steps: u64,
}

impl Steady {
    /// The way of a billet as an array [point of the track, what]: place in m, time in s, then core,
    /// surface, mean and hottest in degC.
    pub fn track_array(&self) -> Array2<f64> {
        let rows = self
            .track
            .iter()
            .map(|p| [p.place_m, p.time_s, p.core_c, p.surface_c, p.mean_c, p.hottest_c]);
        Array2::from(rows.collect::<Vec<_>>())
    }

    /// Node temperatures of the billet after some time (s) in the still air of the shop at
    /// `ambient_c` (degC): core and surface at mid-length, mean and hottest of the whole billet.
    pub fn after_exit(&self, bar: &Bar, ambient_c: f64, seconds: f64) -> Result<Nodes, HeaterError> {
        let exit = &self.exit;
        if seconds <= 0.0 {
            return Ok(Nodes {
                core_c: exit.core_c,
                surface_c: exit.surface_c,
                mean_c: exit.mean_c,
                hottest_c: exit.hottest_c,
            });
        }
        let air = open_air(bar, ambient_c)?;
        let mut slices = Vec::with_capacity(exit.states.len());
        for state in &exit.states {
            let mut slice = Slice::new(bar, ambient_c);
            slice.set_exchange(&air);
            slice.restore(bar, state, 0.0);
            slice.advance(bar, None, seconds)?;
            slices.push(slice);
        }
        let n = slices.len().max(1);
        let mean_h = slices.iter().map(Slice::mean_enthalpy).sum::<f64>() / n as f64;
        let thermal = bar.metal().thermal();
        let hottest_c = slices
            .iter()
            .map(|s| s.nodes(bar).hottest_c)
            .fold(f64::NEG_INFINITY, f64::max);
        let middle = slices.get(n / 2).map_or(f64::NAN, |s| s.nodes(bar).core_c);
        Ok(Nodes {
            core_c: middle,
            surface_c: slices.get(n / 2).map_or(f64::NAN, |s| s.nodes(bar).surface_c),
            mean_c: thermal.branch(hottest_c >= thermal.austenite_c).at(mean_h).temp_c,
            hottest_c,
        })
    }

    /// Time with a surface above the scaling temperature until a place along the line, s.
    pub(super) fn scaling_until(&self, place_m: f64) -> f64 {
        let mut before = 0.0;
        let mut sum = 0.0;
        for point in self.track.iter().take_while(|p| p.place_m <= place_m + 1e-9) {
            if point.surface_c > SCALING_C {
                sum += point.time_s - before;
            }
            before = point.time_s;
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::at_face;

    /// A parabola is met at the face; what bends the other way is not made warmer than its straight line.
    #[test]
    fn the_face_is_extrapolated_to_the_safe_side() {
        let bent = |x: f64| 1200.0 - 60.0 * (x - 0.5) * (x - 0.5);
        let places = [1.0 / 6.0, 0.5, 5.0 / 6.0].map(|x| (x, bent(x)));
        assert!((at_face(0.0, &places) - 1185.0).abs() < 1e-9);
        let hollow = [(1.0 / 6.0, 1190.0), (0.5, 1200.0), (5.0 / 6.0, 1230.0)];
        assert!((at_face(0.0, &hollow) - 1185.0).abs() < 1e-9);
    }
}
