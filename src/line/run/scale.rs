//! Scale on the part: a layer that grows in air and comes off.

use crate::judge::Moment;
use std::collections::HashSet;

use super::Runner;
use crate::body::{Face, Grid, Side, Skin};
use crate::conduction::{FaceTemperatures, Law, Solver};
use crate::heater::line::TrackPoint;
use crate::line::plan::ScaleLayer;
use crate::line::trace::ScaleRecord;
use crate::surface::oxide::parabolic_paidassi;

/// Surfaces whose scale is followed, each by the mean over its area: those that look down, up, outwards
/// and into a bore.
const SURFACES: usize = 4;

/// Growth of the layer, as a share of itself, at which the laws of the faces are told.
const NOTICED: f64 = 0.01;

/// The surface that a skin belongs to.
fn surface(skin: Skin) -> usize {
    match skin {
        Skin::Bottom => 0,
        Skin::Top => 1,
        Skin::Side | Skin::GripLow | Skin::GripHigh | Skin::Wall => 2,
        Skin::Bore => 3,
    }
}

/// The scale of a run.
#[derive(Debug, Clone)]
pub(super) struct Scale {
    layer: ScaleLayer,
    /// Thickness by surface, m.
    thickness_m: [f64; SURFACES],
    /// Growth of the squared thickness by surface, m²/s, at the time `at_s`.
    rate: [f64; SURFACES],
    at_s: f64,
    /// Water keeps the air away.
    wet: bool,
    struck: bool,
    faces: FaceTemperatures,
}

impl Scale {
    pub fn new(layer: ScaleLayer) -> Scale {
        Scale {
            layer,
            thickness_m: [0.0; SURFACES],
            rate: [0.0; SURFACES],
            at_s: 0.0,
            wet: false,
            struck: false,
            faces: FaceTemperatures::default(),
        }
    }

    /// Resistance of the layer on a skin, m²K/W.
    pub fn resistance(&self, skin: Skin) -> f64 {
        self.thickness_m[surface(skin)] / self.layer.conductivity_w_mk
    }

    /// The laws have been set and a march begins.
    pub fn begin(&mut self, solver: &Solver) {
        self.at_s = solver.time_s();
        self.rate = self.rates(solver);
    }

    /// Grows over an accepted step, x² = x₀² + ∫k_p dt by the trapezoidal rule, and tells the laws.
    pub fn step(&mut self, solver: &mut Solver) {
        let rate = self.rates(solver);
        let seconds = solver.time_s() - self.at_s;
        for (x, (a, b)) in self.thickness_m.iter_mut().zip(self.rate.iter().zip(&rate)) {
            *x = (*x * *x + 0.5 * seconds * (a + b)).sqrt();
        }
        self.at_s = solver.time_s();
        self.rate = rate;
        for skin in Skin::ALL {
            let (told, now) = (solver.layer(skin as usize), self.resistance(skin));
            if now - told > NOTICED * told {
                solver.drift_layer(skin as usize, now);
            }
        }
    }

    /// Growth of the mean squared thickness of each surface now, m²/s. Covered area has no air.
    fn rates(&mut self, solver: &Solver) -> [f64; SURFACES] {
        let mut grown = [0.0; SURFACES];
        if self.wet {
            return grown;
        }
        solver.read_faces(&mut self.faces);
        for (f, (face, temp_c)) in solver.grid().faces().iter().zip(&self.faces.temps_c).enumerate() {
            let Some(skin) = Skin::ALL.get(face.group) else {
                continue;
            };
            if let Some(Law::Exchange { share, .. }) = solver.law(face.group) {
                grown[surface(*skin)] += face.area * share * solver.exposed(f) * parabolic_paidassi(*temp_c);
            }
        }
        let area = areas(solver.grid());
        let factor = self.layer.growth * self.layer.growth;
        std::array::from_fn(|s| {
            if area[s] > 0.0 {
                factor * grown[s] / area[s]
            } else {
                0.0
            }
        })
    }

    /// Grows along the way through a heater that was computed elsewhere.
    pub fn through_heater(&mut self, track: &[TrackPoint]) {
        let factor = self.layer.growth * self.layer.growth;
        let squared: f64 = track
            .windows(2)
            .map(|w| {
                let rates = parabolic_paidassi(w[0].surface_c) + parabolic_paidassi(w[1].surface_c);
                0.5 * factor * rates * (w[1].time_s - w[0].time_s)
            })
            .sum();
        self.thickness_m = [squared.max(0.0).sqrt(); SURFACES];
    }

    /// At heater exit: the thickness that the line file gives.
    pub fn at_exit(&mut self) {
        if let Some(given) = self.layer.at_exit_m {
            self.thickness_m = [given; SURFACES];
        }
    }

    /// Water strikes the scale off as it comes, and keeps new scale from growing.
    pub fn wet(&mut self, on: bool) {
        self.wet = on;
        if on {
            self.keep([self.layer.left_by_descaling; SURFACES]);
        }
    }

    /// A blow lands; the first one of the line breaks the scale off.
    pub fn blow(&mut self) {
        if !self.struck {
            self.struck = true;
            self.keep([self.layer.left_by_first_blow; SURFACES]);
        }
    }

    fn keep(&mut self, share: [f64; SURFACES]) {
        for (x, share) in self.thickness_m.iter_mut().zip(share) {
            *x *= share;
        }
    }

    /// The part has a new shape: scale is spread over what has grown, and new surfaces are bare.
    pub fn reshaped(&mut self, before: &Grid, after: &Grid) {
        let (old, new) = (areas(before), areas(after));
        if before.blocks().len() == after.blocks().len() {
            self.keep(std::array::from_fn(|s| share(old[s], new[s])));
        } else {
            // Cross-sections of a bar: its side becomes their faces, of which planes of symmetry (looking
            // inwards) are none.
            self.thickness_m = [self.thickness_m[2] * share(old.iter().sum(), new[..3].iter().sum()); SURFACES];
        }
    }

    /// Metal was cut off: cut faces are bare.
    pub fn cut(&mut self, before: &Grid, after: &Grid) {
        let key = |f: &Face| (f.cell, f.axis, f.side == Side::High);
        let known: HashSet<_> = before.faces().iter().map(key).collect();
        let mut left = [0.0; SURFACES];
        for face in after.faces().iter().filter(|f| known.contains(&key(f))) {
            if let Some(skin) = Skin::ALL.get(face.group) {
                left[surface(*skin)] += face.area;
            }
        }
        let new = areas(after);
        self.keep(std::array::from_fn(|s| share(left[s], new[s])));
    }
}

/// `part / whole`, at most one; zero of nothing.
fn share(part: f64, whole: f64) -> f64 {
    if whole > 0.0 { (part / whole).min(1.0) } else { 0.0 }
}

/// Area of each surface, m².
fn areas(grid: &Grid) -> [f64; SURFACES] {
    let mut area = [0.0; SURFACES];
    for face in grid.faces() {
        if let Some(skin) = Skin::ALL.get(face.group) {
            area[surface(*skin)] += face.area;
        }
    }
    area
}

impl Runner<'_> {
    /// Resistance of the scale on a skin, m²K/W; zero where none is followed.
    pub(super) fn scale_resistance(&self, skin: Skin) -> f64 {
        self.scale.as_ref().map_or(0.0, |scale| scale.resistance(skin))
    }

    /// A contact coefficient \[W/m²K\] with the scale of a face group in series.
    pub(super) fn through_scale(&self, coefficient: f64, group: usize) -> f64 {
        let resistance = Skin::ALL.get(group).map_or(0.0, |skin| self.scale_resistance(*skin));
        if resistance > 0.0 && coefficient > 0.0 {
            1.0 / (1.0 / coefficient + resistance)
        } else {
            coefficient
        }
    }

    /// Notes the scale at a moment, where it is followed.
    pub(super) fn note_scale(&mut self, moment: Moment) {
        let Some(scale) = &self.scale else { return };
        let solver = &self.part.solver;
        let um = |s: usize| 1e6 * scale.thickness_m[s];
        let record = ScaleRecord {
            stage: self.recorder.stage(),
            moment,
            time_s: solver.time_s(),
            lower_um: um(0),
            upper_um: um(1),
            side_um: um(2),
            outside_colder_k: drop_k(solver, Skin::Side),
        };
        self.recorder.note_scale(record);
    }
}

/// How much colder the outside of the scale is than the metal under it, K: mean over a skin.
fn drop_k(solver: &Solver, skin: Skin) -> f64 {
    let Some(Law::Exchange { exchange, .. }) = solver.law(skin as usize) else {
        return 0.0;
    };
    let now = exchange.now(solver.time_s());
    let temps = solver.face_temperatures();
    let faces = solver.grid().faces().iter().zip(&temps);
    let (heat, area) = faces
        .filter(|(face, _)| face.group == skin as usize)
        .fold((0.0, 0.0), |(heat, area), (face, temp_c)| {
            (heat + face.area * now.at(*temp_c).0, area + face.area)
        });
    if area > 0.0 {
        heat / area * exchange.layer_m2k_w
    } else {
        0.0
    }
}
