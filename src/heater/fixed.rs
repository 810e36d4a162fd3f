//! Billets in a static coil: a programme of power and time, then out.

use std::sync::Arc;

use serde::Serialize;

use super::bar::{Bar, BarField};
use super::coil::{Coil, Drive, Load};
use super::error::{HeaterError, not_negative, positive};
use super::line::{Exit, TrackPoint, lined, open_air};
use super::lining::Lining;
use super::section_field::SectionField;
use super::slice::{Nodes, State};
use crate::body::{Axis, AxisKind, Grid, Side};
use crate::conduction::{Exchange, Law, Solver, Tolerance};
use crate::heater::scaling::SCALING_C;

/// Most looks at the field in one step; a step so long for its bar is in balance all the time.
const MOST_LOOKS: f64 = 20_000.0;

/// Change of the field from one look to the next from which on the permeability is sought again in the new one, and how
/// often.
const SAME_FIELD: f64 = 0.03;
const FIELD_ROUNDS: usize = 12;

/// One step of a heating programme.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PowerStep {
    /// How long, s.
    pub seconds: f64,
    /// How the coil is driven.
    pub drive: Drive,
}

/// A static coil with one billet, or several end to end, in its middle.
#[derive(Debug, Clone, PartialEq)]
pub struct FixedCoil {
    /// The winding.
    pub coil: Coil,
    /// Its lining.
    pub lining: Lining,
    /// Length of one billet, m.
    pub billet_m: f64,
    /// Billets end to end.
    pub billets: usize,
    /// Temperature of the billets when they go in, degC.
    pub start_c: f64,
    /// Temperature of the shop, degC.
    pub ambient_c: f64,
    /// The programme.
    pub steps: Vec<PowerStep>,
}

/// Energies of one charge, J.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Charge {
    /// At the terminals.
    pub terminals_j: f64,
    /// In the winding.
    pub winding_j: f64,
    /// Into the billets.
    pub load_j: f64,
    /// Through the lining.
    pub lining_j: f64,
    /// From the end faces.
    pub ends_j: f64,
    /// In the steel.
    pub steel_j: f64,
    /// Mass of the charge, kg.
    pub mass_kg: f64,
}

/// Power of the coil at one time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PowerPoint {
    /// Time, s.
    pub time_s: f64,
    /// At the terminals, W.
    pub terminals_w: f64,
    /// Into the billets, W.
    pub load_w: f64,
    /// Field strength, A/m RMS.
    pub field_a_m: f64,
}

/// What a charge gives.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FixedResult {
    /// Node temperatures at mid-length over time (the place is 0).
    pub track: Vec<TrackPoint>,
    /// Power over time.
    pub powers: Vec<PowerPoint>,
    /// State of the outermost billet at the end; 0 along is its inner end.
    pub exit: Exit,
    /// Energies.
    pub charge: Charge,
}

/// View factor from a disc of radius `r` to a coaxial opening of radius `opening` at a distance
/// \[m\] (Siegel and Howell, Thermal Radiation Heat Transfer, configuration C-41; from memory).
///
/// ```
/// // Far away the opening is a small target: F tends to opening²/distance².
/// let f = billet_thermal::inside::heater::fixed::disc_to_opening(0.01, 0.02, 1.0);
/// assert!((f - 0.02f64.powi(2)).abs() < 1e-6);
/// ```
pub fn disc_to_opening(r: f64, opening: f64, distance: f64) -> f64 {
    if distance <= 1e-9 {
        return 1.0;
    }
    let (a, b) = (r / distance, opening / distance);
    let x = 1.0 + (1.0 + b * b) / (a * a);
    0.5 * (x - (x * x - 4.0 * (b / a).powi(2)).max(0.0).sqrt())
}

impl FixedCoil {
    /// Refuses a coil or programme that cannot be.
    pub fn check(&self, bar: &Bar) -> Result<(), HeaterError> {
        self.coil.check()?;
        self.lining.check(bar.outer_m())?;
        positive("billet length in m", self.billet_m)?;
        if self.billets == 0 || self.billets as f64 * self.billet_m > self.coil.length_m {
            return Err(HeaterError::OutOfRange {
                name: "length of all billets in m",
                value: self.billets as f64 * self.billet_m,
                allowed: "must be above 0 and at most the coil's length",
            });
        }
        for step in &self.steps {
            not_negative("length of a step in s", step.seconds)?;
            step.drive.check()?;
        }
        Ok(())
    }

    /// Runs the programme. The charge is symmetric about its middle, so half of it is followed, on
    /// a grid of length and section with heat conducted both ways; touching billets count as one bar. The
    /// field is solved in every row of cells. That it bends round the free ends is not modelled:
    /// an axisymmetric solution for a 50 x 100 mm hot bar in an 80 x 300 mm coil gives 3 % (1 kHz) to
    /// 39 % (10 kHz) more power, near the ends (calculated).
    pub fn heat(&self, bar: &Bar) -> Result<FixedResult, HeaterError> {
        self.check(bar)?;
        let mut run = Run::new(self, bar)?;
        for step in &self.steps {
            let looks = (step.seconds / bar.look_s()).ceil().clamp(1.0, MOST_LOOKS) as usize;
            let dt = step.seconds / looks as f64;
            if dt > 0.0 {
                for _ in 0..looks {
                    run.look(step.drive, dt)?;
                }
            }
        }
        Ok(run.finish())
    }
}

struct Run<'a> {
    set: &'a FixedCoil,
    bar: &'a Bar,
    solver: Solver,
    induction: usize,
    rows: usize,
    columns: usize,
    /// Cell length of each row, m.
    row_m: Vec<f64>,
    fields: Vec<BarField>,
    /// By row: place in the section of each outer face, and its number in the grid.
    faces: Vec<Vec<(usize, usize)>>,
    now: Vec<f64>,
    before: Vec<f64>,
    last_s: f64,
    /// Rows of the outermost billet, and its middle: what is shown of the charge.
    outer: std::ops::Range<usize>,
    middle: usize,
    places: Vec<f64>,
    cells: Vec<f64>,
    ring: Vec<f64>,
    heat: Vec<f64>,
    h0: f64,
    out: FixedResult,
}

/// Groups of faces of the charge: planes of symmetry, its end, its sides.
const SYMMETRY: usize = 0;
const END: usize = 1;
const SIDES: usize = 3;

/// Cells along half the charge, from its middle to its end.
fn half_length(set: &FixedCoil, bar: &Bar) -> Result<Axis, HeaterError> {
    let half = 0.5 * set.billets as f64 * set.billet_m;
    let fine = bar.fineness();
    Ok(Axis::graded(
        AxisKind::Linear,
        0.0,
        half,
        None,
        Some(fine.surface_share * bar.radius_m()),
        1.4,
        // A charge very long for its radius needs no more than this.
        (2.0 * fine.inner_share * bar.radius_m())
            .max(half / 150.0)
            .min(half / 3.0),
    )?)
}

/// What the sides lose to the lining and the end through the opening of the coil.
fn set_losses(solver: &mut Solver, set: &FixedCoil, bar: &Bar) -> Result<(), HeaterError> {
    let half = 0.5 * set.billets as f64 * set.billet_m;
    let account = solver.account("lining");
    let side = lined(bar, &set.lining);
    solver.set_law(
        SIDES,
        Law::Exchange {
            exchange: side,
            share: 1.0,
            account,
        },
    );
    let recess = 0.5 * set.coil.length_m - half;
    let view = disc_to_opening(0.5 * bar.section_diameter_m(), 0.5 * set.lining.inner_m, recess);
    let account = solver.account("ends");
    let end = Exchange {
        view,
        ..open_air(bar, set.ambient_c)?
    };
    solver.set_law(
        END,
        Law::Exchange {
            exchange: end,
            share: 1.0,
            account,
        },
    );
    Ok(())
}

/// Rows of the outermost billet and the row of its middle: the last length of the half charge, or all of it where one
/// billet lies across the middle, seen from the middle outwards.
fn outermost(set: &FixedCoil, faces: &[f64]) -> (std::ops::Range<usize>, usize) {
    let rows = faces.len() - 1;
    let half = faces[rows];
    let inner = (half - set.billet_m).max(0.0);
    let first = faces.partition_point(|f| *f <= inner + 1e-12).max(1) - 1;
    let middle_at = match set.billets {
        1 => 0.0,
        _ => half - 0.5 * set.billet_m,
    };
    let middle = (faces.partition_point(|f| *f <= middle_at).max(1) - 1).min(rows - 1);
    (first..rows, middle)
}

impl<'a> Run<'a> {
    fn new(set: &'a FixedCoil, bar: &'a Bar) -> Result<Run<'a>, HeaterError> {
        let length = half_length(set, bar)?;
        let (rows, columns) = (length.cells(), bar.cells().0);
        let row_m = (0..rows).map(|i| length.size(i)).collect();
        let axes = std::iter::once(length).chain(bar.axes().iter().cloned()).collect();
        let copies = 2.0 * bar.grid().multiplicity();
        let mut grid = Grid::masked(axes, vec![true; rows * columns], copies)?;
        grid.group_faces(|f| match (f.axis, f.side) {
            (_, Side::Low) => SYMMETRY,
            (0, Side::High) => END,
            (_, Side::High) => SIDES,
        });
        let mut faces = vec![Vec::new(); rows];
        for (n, f) in grid.faces().iter().enumerate().filter(|(_, f)| f.group == SIDES) {
            faces[f.cell / columns].push((bar.place_of_face(f.cell % columns, f.axis - 1), n));
        }
        let mut solver = Solver::uniform(
            Arc::new(grid),
            Arc::clone(bar.metal().thermal()),
            set.start_c,
            Tolerance::kelvin(bar.fineness().step_k),
        );
        let (outer, middle) = outermost(set, solver.grid().axes()[0].faces());
        let induction = solver.account("induction");
        set_losses(&mut solver, set, bar)?;
        let n = rows * columns;
        Ok(Run {
            set,
            bar,
            solver,
            induction,
            rows,
            columns,
            row_m,
            fields: (0..rows).map(|_| bar.workspace()).collect(),
            faces,
            now: vec![set.start_c; n],
            before: vec![set.start_c; n],
            last_s: 0.0,
            outer,
            middle,
            places: vec![0.0; bar.places()],
            cells: vec![0.0; bar.cells().1],
            ring: vec![0.0; columns],
            heat: vec![0.0; n],
            h0: 1e5,
            out: FixedResult {
                track: Vec::new(),
                powers: Vec::new(),
                exit: Exit {
                    along: Vec::new(),
                    profiles: Vec::new(),
                    sections: Vec::new(),
                    surface_c: set.start_c,
                    core_c: set.start_c,
                    mean_c: set.start_c,
                    hottest_c: set.start_c,
                    peak_c: set.start_c,
                    states: Vec::new(),
                    scaling_s: 0.0,
                    nodes_along: Vec::new(),
                },
                charge: Charge::default(),
            },
        })
    }

    /// One look at the field and the time until the next.
    fn look(&mut self, drive: Drive, dt: f64) -> Result<(), HeaterError> {
        let (set, bar) = (self.set, self.bar);
        let mut power = PowerPoint {
            time_s: self.solver.time_s() + dt,
            terminals_w: 0.0,
            load_w: 0.0,
            field_a_m: 0.0,
        };
        let off = drive.is_off();
        if off {
            self.solver.clear_source();
        } else {
            let (active, k_sc) = self.field_for(drive, dt)?;
            for i in 0..self.rows {
                bar.heat(&self.fields[i], self.h0, &mut self.ring);
                for j in 0..self.columns {
                    self.heat[i * self.columns + j] = 2.0 * self.row_m[i] * self.ring[j];
                }
            }
            power.load_w = active * self.h0 * self.h0;
            power.terminals_w = power.load_w + set.coil.winding_loss(self.h0, k_sc);
            power.field_a_m = self.h0;
            if self.last_s > 0.0 {
                self.solver.drift_source(self.induction, &self.heat);
            } else {
                self.solver.set_source(self.induction, &self.heat);
            }
        }
        let until = self.solver.time_s() + dt;
        self.solver.advance(until, &mut |_| {})?;
        self.before.copy_from_slice(&self.now);
        for (c, t) in self.now.iter_mut().enumerate() {
            *t = self.solver.temperature(c);
        }
        self.last_s = if off { 0.0 } else { dt };
        self.out.charge.terminals_j += power.terminals_w * dt;
        self.out.charge.winding_j += (power.terminals_w - power.load_w) * dt;
        self.out.powers.push(power);
        let nodes = Nodes {
            hottest_c: self.nodes(0..self.rows, 0).hottest_c,
            ..self.nodes(self.outer.clone(), self.middle)
        };
        if nodes.surface_c > SCALING_C {
            self.out.exit.scaling_s += dt;
        }
        self.out.exit.peak_c = self.out.exit.peak_c.max(nodes.hottest_c);
        self.out.track.push(TrackPoint {
            place_m: 0.0,
            time_s: until,
            core_c: nodes.core_c,
            surface_c: nodes.surface_c,
            mean_c: nodes.mean_c,
            hottest_c: nodes.hottest_c,
        });
        Ok(())
    }

    /// Finds the field for a drive during the next `dt` (s): the load per square of the field, and the short-coil
    /// factor. Where the field jumps, at the start and where the power is switched, the permeability does, so it is
    /// sought again in the field found.
    fn field_for(&mut self, drive: Drive, dt: f64) -> Result<(f64, f64), HeaterError> {
        let (set, bar) = (self.set, self.bar);
        let f = set.coil.frequency_hz;
        let mut round = 0;
        loop {
            let mut load = Load::default();
            let mut skin = 0.0;
            for i in 0..self.rows {
                self.temperatures_ahead(i, dt);
                let field = &mut self.fields[i];
                let z = bar.solve(&self.cells, f, self.h0, field)?;
                let area = 2.0 * bar.perimeter_m() * self.row_m[i];
                load.active += area * z.resistance;
                load.reactive += area * z.reactance;
                load.section_m2 += 2.0 * bar.area_m2() * self.row_m[i] / set.coil.length_m;
                skin += field.surface_skin_m(f);
            }
            let k_sc = bar.short_coil(&set.coil, skin / self.rows as f64)?;
            let before = self.h0;
            self.h0 = set.coil.field(drive, &load, k_sc)?;
            round += 1;
            if (self.h0 / before - 1.0).abs() < SAME_FIELD || round == FIELD_ROUNDS {
                return Ok((load.active, k_sc));
            }
        }
    }

    /// Temperatures of a row carried forward to the middle of the next interval, in the field cells.
    fn temperatures_ahead(&mut self, row: usize, dt: f64) {
        let ahead = if self.last_s > 0.0 { 0.5 * dt / self.last_s } else { 0.0 };
        let at = row * self.columns;
        let (now, before) = (&self.now[at..], &self.before[at..]);
        self.bar
            .spread(&|c| now[c] + ahead * (now[c] - before[c]), &mut self.places);
        self.bar.sample(&self.places, &mut self.cells);
    }

    /// Temperatures at the places of a row, faces included.
    fn row(&self, row: usize) -> Vec<f64> {
        let mut places = vec![0.0; self.bar.places()];
        let now = &self.now[row * self.columns..];
        self.bar.spread(&|c| now[c], &mut places);
        for &(place, face) in &self.faces[row] {
            places[place] = self.solver.free_face_temperature(face, 3);
        }
        self.bar.corner(&mut places);
        places
    }

    /// Core and surface at a row, mean and hottest over a range of rows.
    fn nodes(&self, rows: std::ops::Range<usize>, at: usize) -> Nodes {
        let row = self.row(at);
        let (core, surface) = (self.bar.core(&row), self.bar.surface(&row));
        let range = rows.start * self.columns..rows.end * self.columns;
        let (h, mass) = (self.solver.enthalpy(), self.solver.mass());
        let heat: f64 = range.clone().map(|c| h[c] * mass[c]).sum();
        let kg: f64 = range.clone().map(|c| mass[c]).sum();
        let cooled = self.solver.cooled()[range.start];
        let hottest = rows.flat_map(|r| self.row(r)).fold(core, f64::max);
        Nodes {
            core_c: core,
            surface_c: surface,
            mean_c: self.solver.medium().branch(cooled).at(heat / kg).temp_c,
            hottest_c: hottest,
        }
    }

    fn finish(mut self) -> FixedResult {
        let faces = self.solver.grid().axes()[0].faces().to_vec();
        let half = faces[faces.len() - 1];
        let single = self.set.billets == 1;
        let (first, middle) = (self.outer.start, self.middle);
        let nodes = self.nodes(first..self.rows, middle);
        let length = self.set.billet_m;
        type Place = (f64, Vec<(f64, f64)>, Option<SectionField>, Nodes);
        let mut places: Vec<Place> = (first..self.rows)
            .map(|row| {
                let z = 0.5 * (faces[row] + faces[row + 1]);
                let along = if single {
                    0.5 + z / length
                } else {
                    1.0 - (half - z) / length
                };
                let temps = self.row(row);
                let nodes = self.nodes(row..row + 1, row);
                (along, self.bar.profile(&temps), self.bar.section_field(&temps), nodes)
            })
            .collect();
        if single {
            let mirrored: Vec<_> = places
                .iter()
                .rev()
                .map(|(a, p, s, n)| (1.0 - a, p.clone(), s.clone(), *n))
                .collect();
            places = mirrored.into_iter().chain(places).collect();
        }
        let exit = &mut self.out.exit;
        for (along, profile, section, nodes) in places {
            exit.nodes_along.push(nodes);
            exit.along.push(along);
            exit.profiles.push(profile);
            exit.sections.extend(section);
        }
        (exit.surface_c, exit.core_c) = (nodes.surface_c, nodes.core_c);
        (exit.mean_c, exit.hottest_c) = (nodes.mean_c, nodes.hottest_c);
        let range = middle * self.columns..(middle + 1) * self.columns;
        exit.states = vec![State {
            h: self.solver.enthalpy()[range.clone()].to_vec(),
            cooled: self.solver.cooled()[range].to_vec(),
        }];
        let ledger = self.solver.ledger();
        let charge = &mut self.out.charge;
        charge.load_j = ledger.energy("induction");
        charge.lining_j = -ledger.energy("lining");
        charge.ends_j = -ledger.energy("ends");
        charge.steel_j = ledger.stored();
        charge.mass_kg = self.solver.total_mass();
        self.out
    }
}
