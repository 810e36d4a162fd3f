//! The whole column of billets in time: start-up, change of pace, stoppage, restart.

use std::collections::VecDeque;

use rayon::prelude::*;
use serde::Serialize;

use super::billet::{Billet, Load, Part};
use super::channel::Highest;
use super::converter::{InCoil, Reading, divided, reading};
use super::gone::Gone;
use super::layout::{HeaterLine, Motion};
use super::phase::{Feed, Phase};
use crate::conduction::Exchange;
use crate::heater::bar::Bar;
use crate::heater::coil::{Coil, Drive, Load as InWinding};
use crate::heater::error::{HeaterError, not_negative, positive};
use crate::heater::slice::Slice;

/// What stands in the heater at first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Filling {
    /// Billets at one temperature in every place, degC.
    Uniform(f64),
    /// Nothing.
    Empty,
}

/// Billets that are alike: size, steel and temperature when they go in.
#[derive(Debug, Clone)]
struct Order<'a> {
    line: &'a HeaterLine,
    bar: &'a Bar,
    exchanges: Vec<Exchange>,
}

impl<'a> Order<'a> {
    fn new(line: &'a HeaterLine, bar: &'a Bar) -> Result<Order<'a>, HeaterError> {
        line.check(bar)?;
        Ok(Order {
            exchanges: line.exchanges(bar)?,
            line,
            bar,
        })
    }

    /// Enthalpy of a billet of a mean specific enthalpy (J/kg) above that at which it went in, J.
    fn enthalpy_j(&self, mean: f64) -> f64 {
        let start = self.bar.metal().thermal().heating.enthalpy(self.line.start_c);
        (mean - start) * self.bar.mass_kg_m() * self.line.billet_m
    }
}

/// What is going on in the heater at one time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Moment {
    /// Time, s.
    pub time_s: f64,
    /// Power at the terminals of each coil, W.
    pub terminals_w: Vec<f64>,
    /// Mean field of each coil, A/m RMS; 0 where it is off.
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

/// The settings of a column that do not change, and its billets.
#[derive(Clone)]
pub struct Column<'a> {
    /// The first is that of the line.
    orders: Vec<Order<'a>>,
    /// Number of the order that came in last.
    latest: usize,
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
                column.put(0, Some(position), (position as f64 + 0.5) * line.billet_m, slices);
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
            column.put(0, Some(position), place, pieces);
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
        let order = Order::new(line, bar)?;
        let coils: Vec<(usize, Coil)> = line.coils().map(|(z, c)| (z, *c)).collect();
        Ok(Column {
            orders: vec![order],
            latest: 0,
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
        })
    }

    /// Makes billets of another order known: a line of the same zones and motion with other billets. Returns the
    /// order's number for [`Feed::Order`].
    ///
    /// # Errors
    /// [`HeaterError::OtherHeater`] where zones or motion differ.
    pub fn expect(&mut self, line: &'a HeaterLine, bar: &'a Bar) -> Result<usize, HeaterError> {
        let own = self.orders[0].line;
        if let Some(what) = own.differs(line) {
            return Err(HeaterError::OtherHeater { what });
        }
        self.orders.push(Order::new(line, bar)?);
        Ok(self.orders.len() - 1)
    }

    fn motion(&self) -> Motion {
        self.orders[0].line.motion
    }

    fn order(&self, billet: &Billet) -> &Order<'a> {
        &self.orders[billet.order]
    }

    fn put(&mut self, order: usize, position: Option<usize>, place_m: f64, slices: Vec<Slice>) {
        let bar = self.orders[order].bar;
        let hottest = slices.iter().map(|s| s.nodes(bar).hottest_c);
        let peak_c = hottest.fold(f64::NEG_INFINITY, f64::max);
        self.billets.push_back(Billet {
            number: self.next_number,
            order,
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

    /// Enthalpy of a billet that has left, above the entry temperature, J.
    pub(super) fn enthalpy_above_entry_j(&self, gone: &Gone) -> f64 {
        let order = &self.orders[gone.order];
        let thermal = order.bar.metal().thermal();
        let branch = thermal.branch(gone.mean_c >= thermal.austenite_c);
        order.enthalpy_j(branch.enthalpy(gone.mean_c))
    }

    fn enthalpy_j(&self, billet: &Billet) -> f64 {
        self.order(billet).enthalpy_j(billet.mean_enthalpy())
    }

    /// The billets inside, from the hot end: place of the middle (m) and state.
    pub fn billets(&self) -> Vec<(f64, Gone)> {
        self.billets.iter().map(|b| (b.place_m, self.describe(b))).collect()
    }

    fn describe(&self, billet: &Billet) -> Gone {
        let bar = self.order(billet).bar;
        let middle = billet.slices[billet.slices.len() / 2].nodes(bar);
        let thermal = bar.metal().thermal();
        let hottest_c = billet.hottest(bar);
        Gone {
            number: billet.number,
            order: billet.order,
            position: billet.position,
            time_s: self.time_s,
            inside_s: self.time_s - billet.entered_s,
            surface_c: middle.surface_c,
            core_c: middle.core_c,
            mean_c: {
                let branch = thermal.branch(hottest_c >= thermal.austenite_c);
                branch.at(billet.mean_enthalpy()).temp_c
            },
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
            let order = self.order(billet);
            let area = self.piece_area_m2(order);
            for (slice, parts) in billet.slices.iter().zip(self.parts(billet, 0.0)) {
                for part in parts {
                    if let Some((c, _)) = part.coil {
                        let surface_c = slice.nodes(order.bar).surface_c;
                        let (flux, _) = order.exchanges[part.zone].now(0.0).at(surface_c);
                        loss[c] += flux * area * part.share;
                    }
                }
            }
        }
        loss
    }

    /// Length of the piece that a slice stands for, m.
    fn piece_m(&self, order: &Order) -> f64 {
        order.line.billet_m / self.slices as f64
    }

    /// Its surface, m².
    fn piece_area_m2(&self, order: &Order) -> f64 {
        order.bar.perimeter_m() * self.piece_m(order)
    }

    /// The zones that each slice of a billet lies in, its middle moved on by `ahead_m` (m).
    fn parts(&self, billet: &Billet, ahead_m: f64) -> Vec<Vec<Part>> {
        let part = |zone, share| (zone, share, self.coils.iter().position(|(z, _)| *z == zone));
        let order = self.order(billet);
        let start = billet.place_m + ahead_m - 0.5 * order.line.billet_m;
        (0..self.slices)
            .map(|j| {
                let found: Vec<_> = match order.line.motion {
                    // One thin slice stands for all of the billet.
                    Motion::Continuous => vec![part(self.zone_at(billet.place_m + ahead_m), 1.0)],
                    Motion::Indexed => {
                        let of = (j, self.slices);
                        let parts = order.line.parts(&self.edges, start, of, order.bar.radius_m());
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
        inside.min(self.edges.len() - 2)
    }

    /// Runs one phase; `seen` is told after every step. Returns the billets that left.
    pub fn run(&mut self, phase: &Phase, seen: &mut dyn FnMut(&Column, &Moment)) -> Result<Vec<Gone>, HeaterError> {
        not_negative("duration of a phase in s", phase.seconds)?;
        self.orders[0].line.check_drives(&phase.drives)?;
        let takt = phase.takt_s.map(|t| positive("takt in s", t)).transpose()?;
        if let Feed::Order(next) = phase.feed {
            self.turn_to(next)?;
        }
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
            let steps = (span / self.look_s()).ceil().max(1.0);
            let dt = span / steps;
            let moment = self.step(phase, takt, dt)?;
            self.time_s = if left - dt <= 1e-9 { end } else { self.time_s + dt };
            if let Some(t) = takt {
                self.to_entry -= dt / t;
                if self.to_entry <= 1e-9 {
                    self.event(phase.feed);
                }
                self.leave(&mut gone);
            }
            seen(self, &moment);
        }
        Ok(gone)
    }

    /// Time between two looks at the field, s.
    fn look_s(&self) -> f64 {
        let looks = self.orders.iter().map(|o| o.line.look_s(o.bar));
        looks.fold(f64::INFINITY, f64::min)
    }

    /// The next billets are of the order `next`. In steady motion the middles of two neighbours lie half of each length
    /// apart.
    fn turn_to(&mut self, next: usize) -> Result<(), HeaterError> {
        let Some(order) = self.orders.get(next) else {
            return Err(HeaterError::OtherHeater {
                what: "an order that it was not told of",
            });
        };
        let (before, after) = (self.orders[self.latest].line.billet_m, order.line.billet_m);
        if before != after && self.motion() == Motion::Continuous {
            self.to_entry = (self.to_entry * before + 0.5 * (after - before)).max(0.0) / after;
        }
        self.latest = next;
        Ok(())
    }

    /// A billet comes in, or would.
    fn event(&mut self, feed: Feed) {
        let line = self.orders[self.latest].line;
        let place = match line.motion {
            Motion::Continuous => 0.0,
            Motion::Indexed => {
                for billet in &mut self.billets {
                    billet.place_m += line.billet_m;
                }
                0.5 * line.billet_m
            }
        };
        self.to_entry += 1.0;
        if let Feed::Order(order) = feed {
            let Order { line, bar, .. } = &self.orders[order];
            let slices = (0..self.slices).map(|_| Slice::new(bar, line.start_c)).collect();
            self.put(order, None, place, slices);
        }
    }

    /// Whether a billet is out of the heater: in steady motion its middle, else all of it.
    fn is_out(&self, billet: &Billet) -> bool {
        let line = self.order(billet).line;
        let counts_m = match line.motion {
            Motion::Continuous => billet.place_m,
            Motion::Indexed => billet.place_m - 0.5 * line.billet_m,
        };
        counts_m >= line.length_m() - 1e-9 * (1.0 + line.billet_m)
    }

    fn leave(&mut self, gone: &mut Vec<Gone>) {
        while self.billets.front().is_some_and(|b| self.is_out(b)) {
            if let Some(billet) = self.billets.pop_front() {
                self.energies.out_j += self.enthalpy_j(&billet);
                gone.push(self.describe(&billet));
            }
        }
    }

    /// One step of `dt` \[s\]: fields from the powers, then heat and conduction in every slice.
    fn step(&mut self, phase: &Phase, takt: Option<f64>, dt: f64) -> Result<Moment, HeaterError> {
        let travel = match (self.motion(), takt) {
            (Motion::Continuous, Some(t)) => self.orders[self.latest].line.billet_m * dt / t,
            _ => 0.0,
        };
        // Where each slice is, taken at the middle of the step.
        let parts: Vec<Vec<Vec<Part>>> = self.billets.iter().map(|b| self.parts(b, 0.5 * travel)).collect();
        let (orders, coils, field) = (&self.orders, &self.coils, &self.field);
        // Billets do not know of each other, so they are followed in parallel; sums keep their order.
        let loads: Vec<Vec<Load>> = self
            .billets
            .make_contiguous()
            .par_iter_mut()
            .zip(&parts)
            .map(|(billet, parts)| billet.loads(orders[billet.order].bar, parts, coils, (phase, field), dt))
            .collect::<Result<_, _>>()?;
        let inside: Vec<Mixed> = (0..self.coils.len())
            .map(|c| self.mixed(c, &loads))
            .collect::<Result<_, _>>()?;
        let in_coils: Vec<InCoil> = inside.iter().map(|m| m.all).collect();
        let windings: Vec<Coil> = self.coils.iter().map(|c| c.1).collect();
        let line = self.orders[0].line;
        let drives = divided(&line.converters, &windings, &phase.drives, &in_coils)?;
        let mut terminals_w = vec![0.0; self.coils.len()];
        let mut on: Vec<Option<Vec<f64>>> = vec![None; self.coils.len()];
        let mut readings = vec![Reading::default(); self.coils.len()];
        for (c, coil) in windings.iter().enumerate() {
            if drives[c].is_off() {
                continue;
            }
            let InCoil { load, short_coil } = in_coils[c];
            let (mut winding, mut into) = (drives[c].terminals_w().unwrap_or(0.0), 0.0);
            // A winding without a load takes its power itself.
            if load.active > 0.0 {
                let h0 = coil.field(drives[c], &load, short_coil)?;
                self.field[c] = h0;
                on[c] = Some(inside[c].ratios.iter().map(|ratio| ratio * h0).collect());
                winding = coil.winding_loss(h0, short_coil);
                into = load.active * h0 * h0;
            }
            terminals_w[c] = winding + into;
            readings[c] = reading(coil, &load, terminals_w[c])?;
            self.energies.terminals_j += terminals_w[c] * dt;
            self.energies.winding_j += winding * dt;
            self.energies.load_j += into * dt;
        }
        self.highest.take(line, &readings);
        let on_now: Vec<bool> = on.iter().map(Option::is_some).collect();
        let areas: Vec<f64> = self.orders.iter().map(|o| self.piece_area_m2(o)).collect();
        let (orders, from_s) = (&self.orders, self.time_s);
        let booked = (self.phases, self.coils.len());
        let lost: Vec<f64> = self
            .billets
            .make_contiguous()
            .par_iter_mut()
            .zip(&parts)
            .zip(&loads)
            .map(|((billet, parts), loads)| {
                let (order, area) = (&orders[billet.order], areas[billet.order]);
                let on: Vec<Option<f64>> = on.iter().map(|f| f.as_ref().map(|f| f[billet.order])).collect();
                let watts = loads.iter().filter_map(|l| {
                    let h0 = on[l.coil]?;
                    Some((l.coil, area * l.share * l.resistance * h0 * h0))
                });
                billet.receive(booked, watts, dt);
                let lost = billet.advance(order.bar, parts, &order.exchanges, &on, (from_s, dt))?;
                Ok(lost * order.line.billet_m)
            })
            .collect::<Result<_, HeaterError>>()?;
        self.energies.loss_j += lost.iter().sum::<f64>() / self.slices as f64;
        for billet in &mut self.billets {
            billet.place_m += travel;
        }
        let field = self.field.iter().zip(&on_now);
        Ok(Moment {
            time_s: self.time_s + dt,
            terminals_w,
            field_a_m: field.map(|(h, on)| if *on { *h } else { 0.0 }).collect(),
        })
    }

    /// What lies in a coil.
    fn mixed(&self, c: usize, loads: &[Vec<Load>]) -> Result<Mixed, HeaterError> {
        let coil = &self.coils[c].1;
        let mut sums = vec![OfOrder::default(); self.orders.len()];
        for (billet, loads) in self.billets.iter().zip(loads) {
            let area = self.piece_area_m2(self.order(billet));
            sums[billet.order].add(area, loads.iter().filter(|l| l.coil == c));
        }
        let shares: f64 = sums.iter().map(|s| s.share).sum();
        if shares == 0.0 {
            return Ok(Mixed {
                all: InCoil {
                    load: InWinding::default(),
                    short_coil: 1.0,
                },
                ratios: vec![0.0; self.orders.len()],
            });
        }
        // Bars of different thickness in one coil have the same turns around them, but not quite the same field.
        let mut factors = vec![0.0; self.orders.len()];
        let skin_m = sums.iter().map(|s| s.skin).sum::<f64>() / shares;
        for ((factor, order), of) in factors.iter_mut().zip(&self.orders).zip(&sums) {
            if of.share > 0.0 {
                *factor = order.bar.short_coil(coil, skin_m)?;
            }
        }
        let short_coil = match sums.iter().position(|s| s.share == shares) {
            Some(only) => factors[only],
            None => sums.iter().zip(&factors).map(|(s, f)| s.share / shares * f).sum(),
        };
        let ratios: Vec<f64> = factors.iter().map(|f| f / short_coil).collect();
        let all = |of: fn(&OfOrder) -> f64| sums.iter().zip(&ratios).map(|(s, r)| of(s) * r * r).sum::<f64>();
        let sections = self.orders.iter().zip(&sums);
        let section_m2 = sections
            .map(|(o, s)| o.bar.area_m2() * s.share * self.piece_m(o) / coil.length_m)
            .sum();
        let load = InWinding {
            active: all(|s| s.active),
            reactive: all(|s| s.reactive),
            section_m2,
        };
        Ok(Mixed {
            all: InCoil { load, short_coil },
            ratios,
        })
    }
}

/// What the billets of one order are to a coil: losses and reactive power per square of the field on them, skin depth and
/// length in pieces.
#[derive(Debug, Clone, Copy, Default)]
struct OfOrder {
    active: f64,
    reactive: f64,
    skin: f64,
    share: f64,
}

impl OfOrder {
    fn add<'l>(&mut self, area: f64, loads: impl Iterator<Item = &'l Load>) {
        for load in loads {
            self.active += area * load.share * load.resistance;
            self.reactive += area * load.share * load.reactance;
            self.skin += load.share * load.skin_m;
            self.share += load.share;
        }
    }
}

/// What lies in a coil: the whole load, referred to the mean field, and the field on the billets of each order over that.
struct Mixed {
    all: InCoil,
    ratios: Vec<f64>,
}
