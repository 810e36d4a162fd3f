//! The whole column of billets in time: start-up, change of pace, stoppage, restart.

use std::collections::VecDeque;

use rayon::prelude::*;
use serde::Serialize;

use super::layout::{HeaterLine, Motion};
use crate::conduction::Exchange;
use crate::heater::bar::Bar;
use crate::heater::coil::{Coil, Drive};
use crate::heater::error::{HeaterError, not_negative, positive};
use crate::heater::scaling::SCALING_C;
use crate::heater::slice::Slice;

/// What stands in the heater at first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Filling {
    /// Billets at one temperature in every place, degC.
    Uniform(f64),
    /// Nothing.
    Empty,
}

/// A stretch of time with one way of running.
#[derive(Debug, Clone, PartialEq)]
pub struct Phase {
    /// How long, s.
    pub seconds: f64,
    /// Time between billets, s; `None` while the column stands still.
    pub takt_s: Option<f64>,
    /// One drive per coil.
    pub drives: Vec<Drive>,
}

/// A billet in the column or one that has left it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Gone {
    /// Number: billets in the heater at the start count from 1 at the hot end.
    pub number: usize,
    /// Place of its middle at the start of the study, in billets from the cold end; `None` for one
    /// that came in later.
    pub position: Option<usize>,
    /// Time at which it left (or now), s.
    pub time_s: f64,
    /// Time it spent in the heater, s.
    pub inside_s: f64,
    /// Surface at mid-length, degC.
    pub surface_c: f64,
    /// Core at mid-length, degC.
    pub core_c: f64,
    /// Temperature of the mean enthalpy, degC.
    pub mean_c: f64,
    /// Highest anywhere in the billet, degC.
    pub hottest_c: f64,
    /// Highest anywhere in the billet at any time, degC.
    pub peak_c: f64,
    /// Time with a surface above 900 degC, s.
    pub scaling_s: f64,
}

/// What is going on in the heater at one time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Moment {
    /// Time, s.
    pub time_s: f64,
    /// Power at the terminals of each coil, W.
    pub terminals_w: Vec<f64>,
    /// Mean field of each coil, A/m RMS.
    pub field_a_m: Vec<f64>,
}

/// Energies since the start of the study, J.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Energies {
    /// At the terminals.
    pub terminals_j: f64,
    /// In the windings.
    pub winding_j: f64,
    /// Into billets.
    pub load_j: f64,
    /// Lost by billets inside the heater.
    pub loss_j: f64,
    /// Carried out by billets, above the entry temperature.
    pub out_j: f64,
}

struct Billet {
    number: usize,
    position: Option<usize>,
    entered_s: f64,
    /// Place of the middle, m.
    place_m: f64,
    slices: Vec<Slice>,
    zone: Vec<usize>,
    peak_c: f64,
    scaling_s: f64,
}

/// What one slice is to its coil, per square of the field.
struct Load {
    coil: usize,
    resistance: f64,
    skin_m: f64,
}

impl Billet {
    /// Loads of the slices for the next `dt` (s), each in its zone.
    fn loads(
        &mut self,
        bar: &Bar,
        zones: &[usize],
        exchanges: &[Exchange],
        coils: &[(usize, Coil)],
        (phase, field): (&Phase, &[f64]),
        dt: f64,
    ) -> Result<Vec<Option<Load>>, HeaterError> {
        let mut loads = Vec::with_capacity(zones.len());
        for (j, &zone) in zones.iter().enumerate() {
            let slice = &mut self.slices[j];
            if self.zone[j] != zone {
                self.zone[j] = zone;
                slice.set_exchange(&exchanges[zone]);
            }
            let coil = coils.iter().position(|(z, _)| *z == zone);
            loads.push(match coil.filter(|c| !phase.drives[*c].is_off()) {
                None => None,
                Some(coil) => {
                    let f = coils[coil].1.frequency_hz;
                    let z = slice.impedance(bar, f, field[coil], dt)?;
                    Some(Load {
                        coil,
                        resistance: z.resistance,
                        skin_m: slice.surface_skin_m(f),
                    })
                }
            });
        }
        Ok(loads)
    }

    /// Advances the slices by `dt` (s) in the fields of the coils (A/m; `None` where off). Returns the
    /// heat lost, J per metre of slice.
    fn advance(&mut self, bar: &Bar, coils: &[(usize, Coil)], on: &[Option<f64>], dt: f64) -> Result<f64, HeaterError> {
        let mut surface: f64 = f64::NEG_INFINITY;
        let mut lost = 0.0;
        for (slice, zone) in self.slices.iter_mut().zip(&self.zone) {
            let h0 = coils.iter().position(|(z, _)| z == zone).and_then(|c| on[c]);
            let before = slice.energies().1;
            slice.advance(bar, h0, dt)?;
            lost += slice.energies().1 - before;
            let nodes = slice.nodes(bar);
            self.peak_c = self.peak_c.max(nodes.hottest_c);
            surface = surface.max(nodes.surface_c);
        }
        if surface > SCALING_C {
            self.scaling_s += dt;
        }
        Ok(lost)
    }
}

/// The settings of a column that do not change.
pub struct Column<'a> {
    line: &'a HeaterLine,
    bar: &'a Bar,
    exchanges: Vec<Exchange>,
    edges: Vec<f64>,
    coils: Vec<(usize, Coil)>,
    /// From the hot end to the cold end.
    billets: VecDeque<Billet>,
    slices: usize,
    field: Vec<f64>,
    time_s: f64,
    next_number: usize,
    /// Takts until the next billet comes in. In steady motion that is when its middle passes the
    /// entry, half a takt after the state in which [`Column::steady`] starts.
    to_entry: f64,
    energies: Energies,
}

impl<'a> Column<'a> {
    /// A column at rest; the clock starts at 0.
    pub fn new(line: &'a HeaterLine, bar: &'a Bar, filling: Filling, slices: usize) -> Result<Column<'a>, HeaterError> {
        let mut column = Column::bare(line, bar, slices)?;
        if let Filling::Uniform(temp_c) = filling {
            for position in (0..line.places()).rev() {
                let slices = (0..column.slices).map(|_| Slice::new(bar, temp_c)).collect();
                column.put(Some(position), (position as f64 + 0.5) * line.billet_m, slices);
            }
        }
        Ok(column)
    }

    /// The column in the periodic state of a line, at the moment when a billet has just come in.
    pub fn steady(
        line: &'a HeaterLine,
        bar: &'a Bar,
        drives: &[Drive],
        slices: usize,
    ) -> Result<Column<'a>, HeaterError> {
        let settled = line.settle(bar, drives, slices)?;
        let mut column = Column::bare(line, bar, slices)?;
        let count = settled.column.first().map_or(0, Vec::len);
        for position in (0..count).rev() {
            let mut pieces = Vec::new();
            let mut place = 0.0;
            for slice in &settled.column {
                let (at, state) = &slice[position];
                let mut piece = Slice::new(bar, line.start_c);
                piece.restore(bar, state, 0.0);
                pieces.push(piece);
                place += at / settled.column.len() as f64;
            }
            column.put(Some(position), place, pieces);
        }
        for (h, coil) in column.field.iter_mut().zip(&settled.steady.coils) {
            *h = coil.field_a_m;
        }
        // The scaling time of billets already inside is that of the steady history up to there.
        for billet in &mut column.billets {
            billet.scaling_s = settled.steady.scaling_until(billet.place_m);
            billet.entered_s = -billet.place_m / line.speed_m_s();
        }
        Ok(column)
    }

    fn bare(line: &'a HeaterLine, bar: &'a Bar, slices: usize) -> Result<Column<'a>, HeaterError> {
        line.check(bar)?;
        let coils: Vec<(usize, Coil)> = line.coils().map(|(z, c)| (z, *c)).collect();
        Ok(Column {
            exchanges: line.exchanges(bar)?,
            edges: line.edges(),
            billets: VecDeque::new(),
            slices: match line.motion {
                Motion::Continuous => 1,
                Motion::Indexed => slices.max(1),
            },
            field: vec![1e5; coils.len()],
            coils,
            time_s: 0.0,
            next_number: 1,
            to_entry: match line.motion {
                Motion::Continuous => 0.5,
                Motion::Indexed => 1.0,
            },
            energies: Energies::default(),
            line,
            bar,
        })
    }

    fn put(&mut self, position: Option<usize>, place_m: f64, slices: Vec<Slice>) {
        let peak_c = slices
            .iter()
            .map(|s| s.nodes(self.bar).hottest_c)
            .fold(f64::NEG_INFINITY, f64::max);
        self.billets.push_back(Billet {
            number: self.next_number,
            position,
            entered_s: self.time_s,
            place_m,
            zone: vec![usize::MAX; slices.len()],
            slices,
            peak_c,
            scaling_s: 0.0,
        });
        self.next_number += 1;
    }

    /// Time since the start, s.
    pub fn time_s(&self) -> f64 {
        self.time_s
    }

    /// Energies since the start.
    pub fn energies(&self) -> Energies {
        self.energies
    }

    /// Enthalpy of all billets inside above the entry temperature, J.
    pub fn stored_j(&self) -> f64 {
        self.billets.iter().map(|b| self.enthalpy_j(b)).sum()
    }

    fn enthalpy_j(&self, billet: &Billet) -> f64 {
        let start = self.bar.metal().thermal().heating.enthalpy(self.line.start_c);
        let mean = billet.slices.iter().map(Slice::mean_enthalpy).sum::<f64>() / billet.slices.len() as f64;
        (mean - start) * self.bar.mass_kg_m() * self.line.billet_m
    }

    /// The billets inside, from the hot end: place of the middle (m) and state.
    pub fn billets(&self) -> Vec<(f64, Gone)> {
        self.billets.iter().map(|b| (b.place_m, self.describe(b))).collect()
    }

    fn describe(&self, billet: &Billet) -> Gone {
        let middle = billet.slices[billet.slices.len() / 2].nodes(self.bar);
        let mean_h = billet.slices.iter().map(Slice::mean_enthalpy).sum::<f64>() / billet.slices.len() as f64;
        let thermal = self.bar.metal().thermal();
        let hottest_c = hottest(self.bar, billet);
        Gone {
            number: billet.number,
            position: billet.position,
            time_s: self.time_s,
            inside_s: self.time_s - billet.entered_s,
            surface_c: middle.surface_c,
            core_c: middle.core_c,
            mean_c: thermal.branch(hottest_c >= thermal.austenite_c).at(mean_h).temp_c,
            hottest_c,
            peak_c: billet.peak_c,
            scaling_s: billet.scaling_s,
        }
    }

    /// Heat that the billets lose in each coil's zone now, W: what a hold power must make good.
    pub fn loss_by_coil(&self) -> Vec<f64> {
        let mut loss = vec![0.0; self.coils.len()];
        for billet in &self.billets {
            for (j, slice) in billet.slices.iter().enumerate() {
                let zone = self.zone_at(self.slice_place(billet, j));
                if let Some(c) = self.coils.iter().position(|(z, _)| *z == zone) {
                    let (flux, _) = self.exchanges[zone].now(0.0).at(slice.nodes(self.bar).surface_c);
                    loss[c] += flux * self.bar.perimeter_m() * self.piece_m();
                }
            }
        }
        loss
    }

    fn piece_m(&self) -> f64 {
        self.line.billet_m / self.slices as f64
    }

    fn slice_place(&self, billet: &Billet, j: usize) -> f64 {
        billet.place_m + ((j as f64 + 0.5) / self.slices as f64 - 0.5) * self.line.billet_m
    }

    fn zone_at(&self, place_m: f64) -> usize {
        let inside = self.edges.partition_point(|e| *e <= place_m + 1e-9).max(1) - 1;
        inside.min(self.exchanges.len() - 1)
    }

    /// Runs one phase; `seen` is told after every step. Returns the billets that left.
    pub fn run(&mut self, phase: &Phase, seen: &mut dyn FnMut(&Column, &Moment)) -> Result<Vec<Gone>, HeaterError> {
        not_negative("duration of a phase in s", phase.seconds)?;
        if phase.drives.len() != self.coils.len() {
            return Err(HeaterError::Drives {
                coils: self.coils.len(),
                drives: phase.drives.len(),
            });
        }
        for drive in &phase.drives {
            drive.check()?;
        }
        let takt = phase.takt_s.map(|t| positive("takt in s", t)).transpose()?;
        let end = self.time_s + phase.seconds;
        let mut gone = Vec::new();
        while end - self.time_s > 1e-9 {
            let left = end - self.time_s;
            // Up to the next billet's entry, so that entries fall on step ends.
            let to_event = takt.map_or(left, |t| self.to_entry * t);
            let span = left.min(to_event.max(1e-9));
            let steps = (span / self.line.look_s(self.bar)).ceil().max(1.0);
            let dt = span / steps;
            let moment = self.step(phase, takt, dt)?;
            self.time_s = if left - dt <= 1e-9 { end } else { self.time_s + dt };
            if let Some(t) = takt {
                self.to_entry -= dt / t;
                if self.to_entry <= 1e-9 {
                    self.event();
                }
                self.leave(&mut gone);
            }
            seen(self, &moment);
        }
        Ok(gone)
    }

    fn event(&mut self) {
        let place = match self.line.motion {
            Motion::Continuous => 0.0,
            Motion::Indexed => {
                for billet in &mut self.billets {
                    billet.place_m += self.line.billet_m;
                }
                0.5 * self.line.billet_m
            }
        };
        self.to_entry += 1.0;
        let slices = (0..self.slices)
            .map(|_| Slice::new(self.bar, self.line.start_c))
            .collect();
        self.put(None, place, slices);
    }

    fn leave(&mut self, gone: &mut Vec<Gone>) {
        let end = match self.line.motion {
            Motion::Continuous => self.line.length_m(),
            // The last place whose middle lies inside.
            Motion::Indexed => self.line.places() as f64 * self.line.billet_m,
        };
        while self.billets.front().is_some_and(|b| b.place_m >= end - 1e-9) {
            if let Some(billet) = self.billets.pop_front() {
                self.energies.out_j += self.enthalpy_j(&billet);
                gone.push(self.describe(&billet));
            }
        }
    }

    /// One step of `dt` \[s\]: fields from the powers, then heat and conduction in every slice.
    fn step(&mut self, phase: &Phase, takt: Option<f64>, dt: f64) -> Result<Moment, HeaterError> {
        let travel = match (self.line.motion, takt) {
            (Motion::Continuous, Some(t)) => self.line.billet_m * dt / t,
            _ => 0.0,
        };
        let piece = self.piece_m();
        let area = self.bar.perimeter_m() * piece;
        let mut terminals_w = vec![0.0; self.coils.len()];
        // Which coil each slice is in, taken at the middle of the step.
        let mut active = vec![0.0; self.coils.len()];
        let mut skin = vec![(0.0, 0usize); self.coils.len()];
        let zones: Vec<Vec<usize>> = self
            .billets
            .iter()
            .map(|b| {
                let place = |j| self.slice_place(b, j) + 0.5 * travel;
                (0..self.slices).map(|j| self.zone_at(place(j))).collect()
            })
            .collect();
        let (bar, exchanges, coils, field) = (self.bar, &self.exchanges, &self.coils, &self.field);
        // Billets do not know of each other, so they are followed in parallel; sums keep their order.
        let loads: Vec<Vec<Option<Load>>> = self
            .billets
            .make_contiguous()
            .par_iter_mut()
            .zip(&zones)
            .map(|(billet, zones)| billet.loads(bar, zones, exchanges, coils, (phase, field), dt))
            .collect::<Result<_, _>>()?;
        for load in loads.iter().flatten().flatten() {
            active[load.coil] += area * load.resistance;
            skin[load.coil].0 += load.skin_m;
            skin[load.coil].1 += 1;
        }
        let mut on = vec![None; self.coils.len()];
        for (c, (_, coil)) in self.coils.iter().enumerate() {
            // Without a load a coil is switched off: all its power would go into its copper.
            if phase.drives[c].is_off() || active[c] == 0.0 {
                continue;
            }
            let mean_skin = skin[c].0 / skin[c].1 as f64;
            let k_sc = self.bar.short_coil(coil, mean_skin)?;
            let h0 = coil.field(phase.drives[c], active[c], k_sc)?;
            self.field[c] = h0;
            on[c] = Some(h0);
            let winding = coil.winding_loss(h0, k_sc);
            let load = active[c] * h0 * h0;
            terminals_w[c] = winding + load;
            self.energies.terminals_j += terminals_w[c] * dt;
            self.energies.winding_j += winding * dt;
            self.energies.load_j += load * dt;
        }
        let (bar, coils) = (self.bar, &self.coils);
        let lost: Vec<f64> = self
            .billets
            .make_contiguous()
            .par_iter_mut()
            .map(|billet| billet.advance(bar, coils, &on, dt))
            .collect::<Result<_, _>>()?;
        self.energies.loss_j += lost.iter().sum::<f64>() * piece;
        for billet in &mut self.billets {
            billet.place_m += travel;
        }
        Ok(Moment {
            time_s: self.time_s + dt,
            terminals_w,
            field_a_m: self.field.clone(),
        })
    }
}

fn hottest(bar: &Bar, billet: &Billet) -> f64 {
    billet
        .slices
        .iter()
        .map(|s| s.nodes(bar).hottest_c)
        .fold(f64::NEG_INFINITY, f64::max)
}
