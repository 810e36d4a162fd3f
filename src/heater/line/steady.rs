//! The periodic state of a heater line, found by following one billet through it.
//!
//! In the periodic state every billet lives the same history, so the whole column at one moment is
//! one billet at all its ages. A coil's load is then a sum over the ages at which the billet lies
//! in it, and coils can be settled one after the other from the cold end: only the field of the
//! present coil is unknown. It is found by a secant iteration on ln H² for the power prescribed.

use rayon::prelude::*;

use super::layout::{HeaterLine, Motion, ZoneKind};
use super::result::{Balance, CoilResult, Exit, Steady, TrackPoint, ZoneLoss};
use crate::conduction::Exchange;
use crate::heater::bar::Bar;
use crate::heater::coil::{Circuit, Coil, Drive, Electrical, Load};
use crate::heater::error::HeaterError;
use crate::heater::field::skin_depth;
use crate::heater::scaling::SCALING_C;
use crate::heater::slice::{Slice, State};

/// Relative agreement of a coil's power with its setting.
const POWER_TOLERANCE: f64 = 1e-4;

/// Agreement that is taken after [`PATIENCE`] rounds: kept field solutions and chosen time steps make
/// the power jump a little as the field changes, and the root may lie in a jump. The balance closes
/// all the same; only the setting is met less closely.
const LOOSE_TOLERANCE: f64 = 3e-3;
const PATIENCE: usize = 12;

/// The same at a given voltage after twice as many rounds: its square is in proportion, but nothing counteracts a jump of
/// the impedance as a billet passes the Curie temperature.
const VOLTAGE_TOLERANCE: f64 = 1.5e-2;

/// Iterations on the field of one coil.
const FIELD_ITERATIONS: usize = 40;

/// A piece of a slice's way: how long, and how much bar it stands for in the mean over a takt.
#[derive(Debug, Clone, Copy)]
struct Leg {
    dt: f64,
    bar_m: f64,
    /// Place along the line at the start and at the end of the leg.
    start_m: f64,
    place_m: f64,
    /// A billet of the column stands in this state at the start of the leg.
    keep: bool,
}

/// Sums over the legs in one coil, in the mean over a takt.
#[derive(Debug, Clone, Copy, Default)]
struct CoilSums {
    active: f64,
    reactive: f64,
    bar_m: f64,
    skin_m: f64,
}

impl CoilSums {
    fn add(&mut self, other: &CoilSums) {
        self.active += other.active;
        self.reactive += other.reactive;
        self.bar_m += other.bar_m;
        self.skin_m += other.skin_m;
    }
}

/// One slice on its way through the line.
struct Walker {
    slice: Slice,
    track: Vec<TrackPoint>,
    kept: Vec<(f64, State)>,
    time_s: f64,
    peak_c: f64,
    scaling_s: f64,
    /// Heat density after the first and after the last leg of the present coil.
    heat: [Vec<(f64, f64)>; 2],
}

/// What a walker must go back to when a coil is tried again.
struct Mark {
    state: State,
    time_s: f64,
    track: usize,
    kept: usize,
    peak_c: f64,
    scaling_s: f64,
    booked: [f64; 3],
}

impl Walker {
    fn new(bar: &Bar, start_c: f64) -> Walker {
        Walker {
            slice: Slice::new(bar, start_c),
            track: Vec::new(),
            kept: Vec::new(),
            time_s: 0.0,
            peak_c: start_c,
            scaling_s: 0.0,
            heat: [Vec::new(), Vec::new()],
        }
    }

    fn mark(&self) -> Mark {
        Mark {
            state: self.slice.state(),
            time_s: self.time_s,
            track: self.track.len(),
            kept: self.kept.len(),
            peak_c: self.peak_c,
            scaling_s: self.scaling_s,
            booked: self.slice.booked(),
        }
    }

    fn back_to(&mut self, bar: &Bar, mark: &Mark) {
        self.slice.restore(bar, &mark.state, mark.time_s);
        self.slice.forget_field();
        self.slice.set_booked(mark.booked);
        self.time_s = mark.time_s;
        self.track.truncate(mark.track);
        self.kept.truncate(mark.kept);
        self.peak_c = mark.peak_c;
        self.scaling_s = mark.scaling_s;
    }

    /// Walks the legs of one zone. In a coil of field `h0` (A/m) the load is summed.
    fn walk(
        &mut self,
        bar: &Bar,
        exchange: &Exchange,
        legs: &[Leg],
        coil: Option<(&Coil, f64, &mut CoilSums)>,
    ) -> Result<(), HeaterError> {
        self.slice.set_exchange(exchange);
        let mut coil = coil;
        for (index, leg) in legs.iter().enumerate() {
            if leg.keep {
                self.kept.push((leg.start_m, self.slice.state()));
            }
            match &mut coil {
                Some((winding, h0, sums)) => {
                    let z = self.slice.impedance(bar, 0, winding.frequency_hz, *h0, leg.dt)?;
                    let area = bar.perimeter_m() * leg.bar_m;
                    sums.active += area * z.resistance;
                    sums.reactive += area * z.reactance;
                    sums.bar_m += leg.bar_m;
                    sums.skin_m += leg.bar_m * self.slice.surface_skin_m(0, winding.frequency_hz);
                    self.slice.advance(bar, Some((0, *h0)), leg.dt)?;
                    if index == 0 || index + 1 == legs.len() {
                        self.heat[usize::from(index > 0)] = self.slice.heat_density(bar);
                    }
                }
                None => self.slice.advance(bar, None, leg.dt)?,
            }
            self.time_s += leg.dt;
            let nodes = self.slice.nodes(bar);
            self.peak_c = self.peak_c.max(nodes.hottest_c);
            if nodes.surface_c > SCALING_C {
                self.scaling_s += leg.dt;
            }
            self.track.push(TrackPoint {
                place_m: leg.place_m,
                time_s: self.time_s,
                core_c: nodes.core_c,
                surface_c: nodes.surface_c,
                mean_c: nodes.mean_c,
                hottest_c: nodes.hottest_c,
            });
        }
        Ok(())
    }
}

/// A settled line with what a transient simulation starts from.
pub(super) struct Settled {
    pub steady: Steady,
    /// Place and state of each billet in the column, by slice of the billet.
    pub column: Vec<Vec<(f64, State)>>,
}

impl HeaterLine {
    /// Settles the coils from the cold end on, each with a drive of its own.
    pub(super) fn settle_coils(&self, bar: &Bar, drives: &[Drive], slices: usize) -> Result<Settled, HeaterError> {
        let slices = match self.motion {
            Motion::Continuous => 1,
            Motion::Indexed => slices.max(1),
        };
        let slots = match self.motion {
            Motion::Continuous => 1,
            Motion::Indexed => (self.takt_s / self.look_s(bar)).ceil().max(1.0) as usize,
        };
        let exchanges = self.exchanges(bar)?;
        let edges = self.edges();
        let mut walkers: Vec<Walker> = (0..slices).map(|_| Walker::new(bar, self.start_c)).collect();
        let mut losses = Vec::new();
        let mut results = Vec::new();
        let mut load_energy = 0.0;
        // One slice stands for this length of billet.
        let piece_m = self.billet_m / slices as f64;
        let mut next_drive = drives.iter();
        for (z, zone) in self.zones.iter().enumerate() {
            let legs: Vec<Vec<Leg>> = (0..slices)
                .map(|j| self.legs(bar, (&edges, z), j, slices, slots))
                .collect();
            let before: f64 = walkers.iter().map(|w| w.slice.energies().1).sum();
            match &zone.kind {
                ZoneKind::Coil { coil, .. } => {
                    let drive = *next_drive.next().unwrap_or(&Drive::Field(0.0));
                    let (mut result, lost) = settle_coil(bar, coil, &exchanges[z], &legs, drive, &mut walkers)?;
                    result.name.clone_from(&zone.name);
                    (result.from_m, result.to_m) = (edges[z], edges[z + 1]);
                    load_energy += result.load_w * self.takt_s;
                    results.push(result);
                    losses.push(ZoneLoss {
                        name: zone.name.clone(),
                        open: false,
                        loss_w: lost * piece_m / self.takt_s,
                    });
                }
                kind => {
                    for (w, legs) in walkers.iter_mut().zip(&legs) {
                        w.walk(bar, &exchanges[z], legs, None)?;
                    }
                    let after: f64 = walkers.iter().map(|w| w.slice.energies().1).sum();
                    losses.push(ZoneLoss {
                        name: zone.name.clone(),
                        open: matches!(kind, ZoneKind::Open),
                        loss_w: (after - before) * piece_m / self.takt_s,
                    });
                }
            }
        }
        let exit = exit_of(bar, &walkers);
        let balance = self.balance(bar, &walkers, &results, &losses, load_energy);
        let counts = walkers.iter().map(|w| w.slice.field_counts());
        let field_solves = counts.fold((0, 0), |a, c| (a.0 + c.0, a.1 + c.2));
        let steps = walkers.iter().map(|w| w.slice.steps()).sum();
        let middle = slices / 2;
        // The head of a billet in the last place may have left; it waits for the rest of it.
        let places = walkers.iter().map(|w| w.kept.len()).max().unwrap_or(0);
        for (j, w) in walkers.iter_mut().enumerate() {
            while w.kept.len() < places {
                let place = w.kept.len() as f64 + (j as f64 + 0.5) / slices as f64;
                w.kept.push((place * self.billet_m, w.slice.state()));
            }
        }
        let column = walkers.iter_mut().map(|w| std::mem::take(&mut w.kept)).collect();
        let walker = walkers.swap_remove(middle);
        Ok(Settled {
            steady: Steady {
                coils: results,
                losses,
                track: walker.track,
                exit,
                balance,
                field_solves,
                steps,
            },
            column,
        })
    }

    /// Where the energy of the line goes, from what was booked on the way through it.
    fn balance(
        &self,
        bar: &Bar,
        walkers: &[Walker],
        coils: &[CoilResult],
        losses: &[ZoneLoss],
        load_energy: f64,
    ) -> Balance {
        let start_h = bar.metal().thermal().heating.enthalpy(self.start_c);
        let gain: f64 = walkers.iter().map(|w| w.slice.mean_enthalpy() - start_h).sum::<f64>() / walkers.len() as f64;
        let kg_s = bar.mass_kg_m() * self.billet_m / self.takt_s;
        let sum = |f: fn(&CoilResult) -> f64| coils.iter().map(f).sum::<f64>();
        let loss = |open: bool| losses.iter().filter(|l| l.open == open).map(|l| l.loss_w).sum::<f64>();
        let mut balance = Balance {
            terminals_w: sum(|c| c.terminals_w),
            winding_w: sum(|c| c.winding_w),
            load_w: load_energy / self.takt_s,
            lining_w: loss(false),
            open_w: loss(true),
            steel_w: gain * kg_s,
            imbalance: 0.0,
            kg_s,
        };
        let rest = balance.terminals_w - balance.winding_w - balance.lining_w - balance.open_w - balance.steel_w;
        if balance.terminals_w > 0.0 {
            balance.imbalance = rest / balance.terminals_w;
        }
        balance
    }

    /// The way of slice `j` of `slices` through a zone. A slice that stands in several zones is in each for
    /// its share of the takt, so that it gets the mean of what its parts get; what sticks out of the hot end
    /// has left.
    fn legs(&self, bar: &Bar, (edges, zone): (&[f64], usize), j: usize, slices: usize, slots: usize) -> Vec<Leg> {
        let (from, to) = (edges[zone], edges[zone + 1]);
        let mut legs = Vec::new();
        match self.motion {
            Motion::Continuous => {
                // Billet middles lie half a length apart from the entry and then a whole length.
                let speed = self.speed_m_s();
                let first = (from / self.billet_m + 0.5 - 1e-9).floor().max(0.0) as usize;
                let mut stops: Vec<f64> = (first..)
                    .map(|k| (k as f64 + 0.5) * self.billet_m)
                    .take_while(|s| *s < to - 1e-9)
                    .filter(|s| *s >= from - 1e-9)
                    .collect();
                let keep_first = stops.first().is_some_and(|s| (s - from).abs() < 1e-9);
                stops.retain(|s| *s > from + 1e-9);
                stops.push(to);
                let mut at = from;
                for (n, stop) in stops.into_iter().enumerate() {
                    let time = (stop - at) / speed;
                    let steps = (time / self.look_s(bar)).ceil().max(1.0) as usize;
                    for i in 0..steps {
                        let step_m = (stop - at) / steps as f64;
                        legs.push(Leg {
                            dt: time / steps as f64,
                            bar_m: step_m,
                            start_m: at + step_m * i as f64,
                            place_m: at + step_m * (i + 1) as f64,
                            keep: i == 0 && (n > 0 || keep_first),
                        });
                    }
                    at = stop;
                }
            }
            Motion::Indexed => {
                let piece = self.billet_m / slices as f64;
                for k in 0..self.places() {
                    let billet = k as f64 * self.billet_m;
                    let start = billet + j as f64 * piece;
                    let mut parts = self.parts(edges, billet, (j, slices), bar.radius_m());
                    let Some((_, a, b)) = parts.find(|(z, ..)| *z == zone) else {
                        continue;
                    };
                    let steps = ((b - a) * slots as f64 - 1e-9).ceil().max(1.0);
                    let place = start + 0.5 * piece;
                    legs.extend((0..steps as usize).map(|step| Leg {
                        dt: (b - a) * self.takt_s / steps,
                        bar_m: (b - a) * piece / steps,
                        start_m: place,
                        place_m: place,
                        keep: step == 0 && a == 0.0,
                    }));
                }
            }
        }
        legs
    }
}

/// Finds the field of one coil and leaves the walkers at its end. Returns the coil's result and the
/// heat that the slices lost in it, J per metre of slice.
fn settle_coil(
    bar: &Bar,
    coil: &Coil,
    exchange: &Exchange,
    legs: &[Vec<Leg>],
    drive: Drive,
    walkers: &mut [Walker],
) -> Result<(CoilResult, f64), HeaterError> {
    let marks: Vec<Mark> = walkers.iter().map(Walker::mark).collect();
    let mut h2 = first_guess(bar, coil, drive)?;
    let mut older: Option<(f64, f64)> = None;
    let mut residual = f64::INFINITY;
    for round in 0..FIELD_ITERATIONS {
        let mut sums = CoilSums::default();
        // Slices do not know of each other; their sums are added in their order.
        let parts: Vec<CoilSums> = walkers
            .par_iter_mut()
            .zip(legs)
            .zip(&marks)
            .map(|((w, legs), mark)| {
                if round > 0 {
                    w.back_to(bar, mark);
                }
                let mut part = CoilSums::default();
                w.walk(bar, exchange, legs, Some((coil, h2.sqrt(), &mut part)))?;
                Ok(part)
            })
            .collect::<Result<_, HeaterError>>()?;
        for part in &parts {
            sums.add(part);
        }
        let skin = if sums.bar_m > 0.0 {
            sums.skin_m / sums.bar_m
        } else {
            0.0
        };
        let k_sc = bar.short_coil(coil, skin)?;
        let wanted = coil.field(drive, &load_of(bar, coil, &sums), k_sc)?.powi(2);
        if drive.is_off() || matches!(drive, Drive::Field(_)) {
            return Ok(finish_coil(bar, coil, h2, &sums, k_sc, walkers, &marks));
        }
        residual = (wanted / h2 - 1.0).abs();
        let allowed = match round {
            r if r < PATIENCE => POWER_TOLERANCE,
            r if r >= 2 * PATIENCE && matches!(drive, Drive::Volts(_)) => VOLTAGE_TOLERANCE,
            _ => LOOSE_TOLERANCE,
        };
        if residual < allowed {
            return Ok(finish_coil(bar, coil, h2, &sums, k_sc, walkers, &marks));
        }
        // Secant on ln H².
        let (x, y) = (h2.ln(), wanted.ln());
        let plain = y - x;
        let next = match older {
            Some((x0, f0)) if (plain - f0).abs() > 1e-12 => {
                let step = -plain * (x - x0) / (plain - f0);
                // A wild secant falls back to the plain step.
                if step.is_finite() && step.abs() < 4.0 * plain.abs() + 1e-12 {
                    x + step
                } else {
                    y
                }
            }
            _ => y,
        };
        older = Some((x, plain));
        h2 = next.exp();
    }
    Err(HeaterError::CoilNotSettled {
        frequency_hz: coil.frequency_hz,
        iterations: FIELD_ITERATIONS,
        residual,
    })
}

/// H² to begin with: a coil of efficiency 0.75 whose load has the loss of hot steel.
fn first_guess(bar: &Bar, coil: &Coil, drive: Drive) -> Result<f64, HeaterError> {
    let hot = 1.15e-6;
    let skin = skin_depth(hot, 1.0, coil.frequency_hz);
    let x = bar.radius_m() / skin;
    let k_t = if x > 1.5 { 1.0 - 0.5 / x } else { 0.25 * x.powi(3) };
    let active = bar.perimeter_m() * coil.length_m * hot / skin * k_t.max(1e-3);
    // Reactive as much as active: a thick skin.
    let load = Load {
        active,
        reactive: active,
        section_m2: bar.area_m2(),
    };
    let drive = match drive {
        Drive::Terminals(p) => Drive::Load(0.75 * p),
        other => other,
    };
    Ok(coil.field(drive, &load, 1.0)?.powi(2))
}

/// The load of a coil in the mean over a takt.
fn load_of(bar: &Bar, coil: &Coil, sums: &CoilSums) -> Load {
    Load {
        active: sums.active,
        reactive: sums.reactive,
        section_m2: bar.area_m2() * sums.bar_m / coil.length_m,
    }
}

fn finish_coil(
    bar: &Bar,
    coil: &Coil,
    h2: f64,
    sums: &CoilSums,
    k_sc: f64,
    walkers: &[Walker],
    marks: &[Mark],
) -> (CoilResult, f64) {
    let load_w = h2 * sums.active;
    let winding_w = coil.winding_loss(h2.sqrt(), k_sc);
    let lost = walkers
        .iter()
        .zip(marks)
        .map(|(w, m)| w.slice.energies().1 + m.booked[1])
        .sum();
    let load = load_of(bar, coil, sums);
    let terminals_w = load_w + winding_w;
    let circuit = Circuit::new(coil, &load);
    let power_factor = circuit.as_ref().map_or(0.0, |c| c.power_factor(false));
    let electrical = circuit.map_or(Electrical::default(), |c| Electrical::of(coil, &c, terminals_w));
    let result = CoilResult {
        name: String::new(),
        from_m: 0.0,
        to_m: 0.0,
        frequency_hz: coil.frequency_hz,
        field_a_m: h2.sqrt(),
        terminals_w,
        winding_w,
        load_w,
        efficiency: if terminals_w > 0.0 { load_w / terminals_w } else { 0.0 },
        power_factor,
        electrical,
        short_coil: k_sc,
        heat: walkers[walkers.len() / 2].heat.clone(),
    };
    (result, lost)
}

fn exit_of(bar: &Bar, walkers: &[Walker]) -> Exit {
    let n = walkers.len();
    let middle = walkers[n / 2].slice.nodes(bar);
    let mean_h = walkers.iter().map(|w| w.slice.mean_enthalpy()).sum::<f64>() / n as f64;
    let branch = bar
        .metal()
        .thermal()
        .branch(middle.mean_c >= bar.metal().thermal().austenite_c);
    let most = |f: &dyn Fn(&Walker) -> f64| walkers.iter().map(f).fold(f64::NEG_INFINITY, f64::max);
    Exit {
        along: (0..n).map(|j| (j as f64 + 0.5) / n as f64).collect(),
        profiles: walkers.iter().map(|w| w.slice.profile(bar)).collect(),
        sections: walkers.iter().filter_map(|w| w.slice.section(bar)).collect(),
        surface_c: middle.surface_c,
        core_c: middle.core_c,
        mean_c: branch.at(mean_h).temp_c,
        hottest_c: most(&|w| w.slice.nodes(bar).hottest_c),
        states: walkers.iter().map(|w| w.slice.state()).collect(),
        peak_c: most(&|w| w.peak_c),
        scaling_s: most(&|w| w.scaling_s),
        nodes_along: walkers.iter().map(|w| w.slice.nodes(bar)).collect(),
    }
}
