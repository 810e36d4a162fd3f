//! The whole column of billets in time: start-up, change of pace, stoppage, restart.

use std::collections::VecDeque;

use rayon::prelude::*;
use serde::Serialize;

use super::channel::Highest;
use super::converter::{InCoil, Reading, divided, reading};
use super::layout::{HeaterLine, Motion};
use crate::conduction::Exchange;
use crate::heater::bar::Bar;
use crate::heater::coil::{Coil, Drive, Load as InWinding};
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
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Phase {
    /// How long, s.
    pub seconds: f64,
    /// Time between billets, s; `None` while the column stands still.
    pub takt_s: Option<f64>,
    /// One drive per coil.
    pub drives: Vec<Drive>,
    /// Whether a new billet comes in each takt; without, the column runs empty.
    pub fed: bool,
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
    /// When that was, s.
    pub peak_s: f64,
    /// Time with a surface above 900 degC, s.
    pub scaling_s: f64,
    /// Heat that each coil put into it in each phase, J: phase by phase, coil by coil.
    #[serde(skip)]
    pub received_j: Vec<f64>,
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

#[derive(Clone)]
struct Billet {
    number: usize,
    position: Option<usize>,
    entered_s: f64,
    /// Place of the middle, m.
    place_m: f64,
    slices: Vec<Slice>,
    zone: Vec<usize>,
    peak_c: f64,
    peak_s: f64,
    scaling_s: f64,
    received_j: Vec<f64>,
}

/// A part of a slice: its zone, its share of the slice, and the coil there by its number and the number
/// of its field in the slice.
#[derive(Debug, Clone, Copy)]
struct Part {
    zone: usize,
    share: f64,
    coil: Option<(usize, usize)>,
}

/// What one slice is to a coil that it lies in, per square of the field.
struct Load {
    coil: usize,
    share: f64,
    resistance: f64,
    reactance: f64,
    skin_m: f64,
}

impl Billet {
    /// Loads of the slices for the next `dt` (s), each in the coils that it lies in.
    fn loads(
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
    fn advance(
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
    fn receive(&mut self, (phases, coils): (usize, usize), watts: impl Iterator<Item = (usize, f64)>, dt: f64) {
        self.received_j.resize(phases * coils, 0.0);
        for (coil, power) in watts {
            self.received_j[(phases - 1) * coils + coil] += power * dt;
        }
    }
}

/// The settings of a column that do not change, and its billets.
#[derive(Clone)]
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
    /// Phases begun.
    phases: usize,
    highest: Highest,
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
            phases: 0,
            highest: Highest::default(),
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
            peak_s: self.time_s,
            scaling_s: 0.0,
            received_j: Vec::new(),
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

    /// Highest readings of coils and converters since the start.
    pub fn highest(&self) -> &Highest {
        &self.highest
    }

    /// Enthalpy of all billets inside above the entry temperature, J.
    pub fn stored_j(&self) -> f64 {
        self.billets.iter().map(|b| self.enthalpy_j(b)).sum()
    }

    /// Enthalpy of a billet of a mean temperature (degC) above the entry temperature, J.
    pub(super) fn enthalpy_above_entry_j(&self, mean_c: f64) -> f64 {
        let thermal = self.bar.metal().thermal();
        let branch = thermal.branch(mean_c >= thermal.austenite_c);
        let rise = branch.enthalpy(mean_c) - thermal.heating.enthalpy(self.line.start_c);
        rise * self.bar.mass_kg_m() * self.line.billet_m
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
            peak_s: billet.peak_s,
            scaling_s: billet.scaling_s,
            received_j: billet.received_j.clone(),
        }
    }

    /// Heat that the billets lose in each coil's zone now, W: what a hold power must make good.
    pub fn loss_by_coil(&self) -> Vec<f64> {
        let mut loss = vec![0.0; self.coils.len()];
        for billet in &self.billets {
            for (slice, parts) in billet.slices.iter().zip(self.parts(billet, 0.0)) {
                for part in parts {
                    if let Some((c, _)) = part.coil {
                        let surface_c = slice.nodes(self.bar).surface_c;
                        let (flux, _) = self.exchanges[part.zone].now(0.0).at(surface_c);
                        loss[c] += flux * self.bar.perimeter_m() * self.piece_m() * part.share;
                    }
                }
            }
        }
        loss
    }

    fn piece_m(&self) -> f64 {
        self.line.billet_m / self.slices as f64
    }

    /// The zones that each slice of a billet lies in, its middle moved on by `ahead_m` (m).
    fn parts(&self, billet: &Billet, ahead_m: f64) -> Vec<Vec<Part>> {
        let part = |zone, share| (zone, share, self.coils.iter().position(|(z, _)| *z == zone));
        let start = billet.place_m + ahead_m - 0.5 * self.line.billet_m;
        (0..self.slices)
            .map(|j| {
                let found: Vec<_> = match self.line.motion {
                    // One thin slice stands for all of the billet.
                    Motion::Continuous => vec![part(self.zone_at(billet.place_m + ahead_m), 1.0)],
                    Motion::Indexed => {
                        let of = (j, self.slices);
                        let parts = self.line.parts(&self.edges, start, of, self.bar.radius_m());
                        parts.map(|(zone, a, b)| part(zone, b - a)).collect()
                    }
                };
                let mut coils = 0..;
                let number = |(zone, share, coil): (usize, f64, Option<usize>)| Part {
                    zone,
                    share,
                    coil: coil.and_then(|c| coils.next().map(|of| (c, of))),
                };
                found.into_iter().map(number).collect()
            })
            .collect()
    }

    fn zone_at(&self, place_m: f64) -> usize {
        let inside = self.edges.partition_point(|e| *e <= place_m + 1e-9).max(1) - 1;
        inside.min(self.exchanges.len() - 1)
    }

    /// Runs one phase; `seen` is told after every step. Returns the billets that left.
    pub fn run(&mut self, phase: &Phase, seen: &mut dyn FnMut(&Column, &Moment)) -> Result<Vec<Gone>, HeaterError> {
        not_negative("duration of a phase in s", phase.seconds)?;
        self.line.check_drives(&phase.drives)?;
        let takt = phase.takt_s.map(|t| positive("takt in s", t)).transpose()?;
        let end = self.time_s + phase.seconds;
        let mut gone = Vec::new();
        if phase.seconds > 1e-9 {
            self.phases += 1;
        }
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
                    self.event(phase.fed);
                }
                self.leave(&mut gone);
            }
            seen(self, &moment);
        }
        Ok(gone)
    }

    fn event(&mut self, fed: bool) {
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
        if !fed {
            return;
        }
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

    /// The loads with their sections and short-coil factors, from the sums of skin depth and length (in pieces) in each.
    fn in_coils(&self, loads: &[InWinding], skin: &[(f64, f64)]) -> Result<Vec<InCoil>, HeaterError> {
        let of = |((load, skin), (_, coil)): ((&InWinding, &(f64, f64)), &(usize, Coil))| {
            let filled = skin.1 * self.piece_m() / coil.length_m;
            let load = InWinding {
                section_m2: self.bar.area_m2() * filled,
                ..*load
            };
            let short_coil = match skin.1 > 0.0 {
                true => self.bar.short_coil(coil, skin.0 / skin.1)?,
                false => 1.0,
            };
            Ok(InCoil { load, short_coil })
        };
        loads.iter().zip(skin).zip(&self.coils).map(of).collect()
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
        let mut inside = vec![InWinding::default(); self.coils.len()];
        let mut skin = vec![(0.0, 0.0); self.coils.len()];
        // Where each slice is, taken at the middle of the step.
        let parts: Vec<Vec<Vec<Part>>> = self.billets.iter().map(|b| self.parts(b, 0.5 * travel)).collect();
        let (bar, coils, field) = (self.bar, &self.coils, &self.field);
        // Billets do not know of each other, so they are followed in parallel; sums keep their order.
        let loads: Vec<Vec<Load>> = self
            .billets
            .make_contiguous()
            .par_iter_mut()
            .zip(&parts)
            .map(|(billet, parts)| billet.loads(bar, parts, coils, (phase, field), dt))
            .collect::<Result<_, _>>()?;
        for load in loads.iter().flatten() {
            inside[load.coil].active += area * load.share * load.resistance;
            inside[load.coil].reactive += area * load.share * load.reactance;
            skin[load.coil].0 += load.share * load.skin_m;
            skin[load.coil].1 += load.share;
        }
        let mut on = vec![None; self.coils.len()];
        let mut readings = vec![Reading::default(); self.coils.len()];
        let inside = self.in_coils(&inside, &skin)?;
        let windings: Vec<Coil> = self.coils.iter().map(|c| c.1).collect();
        let drives = divided(&self.line.converters, &windings, &phase.drives, &inside)?;
        for (c, coil) in windings.iter().enumerate() {
            if drives[c].is_off() {
                continue;
            }
            let InCoil { load, short_coil } = inside[c];
            let (mut winding, mut into) = (drives[c].terminals_w().unwrap_or(0.0), 0.0);
            // A winding without a load takes its power itself.
            if load.active > 0.0 {
                let h0 = coil.field(drives[c], &load, short_coil)?;
                self.field[c] = h0;
                on[c] = Some(h0);
                winding = coil.winding_loss(h0, short_coil);
                into = load.active * h0 * h0;
            }
            terminals_w[c] = winding + into;
            readings[c] = reading(coil, &load, terminals_w[c])?;
            self.energies.terminals_j += terminals_w[c] * dt;
            self.energies.winding_j += winding * dt;
            self.energies.load_j += into * dt;
        }
        self.highest.take(self.line, &readings);
        let (bar, exchanges, from_s) = (self.bar, &self.exchanges, self.time_s);
        let booked = (self.phases, self.coils.len());
        let lost: Vec<f64> = self
            .billets
            .make_contiguous()
            .par_iter_mut()
            .zip(&parts)
            .zip(&loads)
            .map(|((billet, parts), loads)| {
                let watts = loads.iter().filter_map(|l| {
                    let h0 = on[l.coil]?;
                    Some((l.coil, area * l.share * l.resistance * h0 * h0))
                });
                billet.receive(booked, watts, dt);
                billet.advance(bar, parts, exchanges, &on, (from_s, dt))
            })
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
