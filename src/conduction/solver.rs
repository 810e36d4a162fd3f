//! The state of a body and everything that acts on it.

use std::ops::Range;
use std::sync::Arc;

use super::column::Columns;
use super::directions::Directions;
use super::face::FaceState;
use super::law::Law;
use super::ledger::Ledger;
use super::sweep::{Factors, Lines};
use super::tableau::{STAGES, Tableau};
use super::tolerance::Tolerance;
use crate::body::Grid;
use crate::steel::ThermalTable;

/// A volumetric source as a function of temperature (degC), W/m³.
pub type Reaction = Arc<dyn Fn(f64) -> f64 + Send + Sync>;

/// Room for the temperatures of the exposed faces.
#[derive(Debug, Clone, Default)]
pub struct FaceTemperatures {
    /// Temperature of each face, degC.
    pub temps_c: Vec<f64>,
    contact_share: Vec<f64>,
}

/// Counters of work done.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Work {
    /// Accepted steps.
    pub steps: u64,
    /// Rejected steps.
    pub rejected: u64,
    /// Evaluations of the right-hand side.
    pub evaluations: u64,
    /// Line solves; one axis over the whole grid counts one.
    pub line_solves: u64,
}

/// One body on one grid: its enthalpies, the laws at its faces, and the machinery of a step.
#[derive(Clone)]
pub struct Solver {
    pub(super) grid: Arc<Grid>,
    pub(super) medium: Arc<ThermalTable>,
    pub(super) laws: Vec<Law>,
    /// Share of each face on which the law of its group acts, beside the law's own share.
    pub(super) exposed: Vec<f64>,
    /// Share of the view of each face in which it does not see the body itself.
    pub(super) open: Vec<f64>,
    pub(super) columns: Vec<Columns>,
    pub(super) source: Vec<f64>,
    pub(super) source_power: Vec<(usize, f64)>,
    pub(super) reaction: Option<(Reaction, usize)>,
    pub(super) tolerance: Tolerance,
    pub(super) time_s: f64,
    pub(super) step_s: f64,
    pub(super) h: Vec<f64>,
    pub(super) before: Vec<f64>,
    pub(super) time_before: f64,
    pub(super) cooled: Vec<bool>,
    pub(super) ledger: Ledger,
    pub(super) work: Work,
    pub(super) scratch: Scratch,
    held: Held,
}

/// Face temperatures kept over a change of laws.
#[derive(Debug, Clone)]
struct Held {
    time_s: f64,
    temps_c: Vec<f64>,
}

/// Arrays of a step; nothing is allocated while stepping.
#[derive(Clone)]
pub(super) struct Scratch {
    pub tableau: Tableau,
    pub mass: Vec<f64>,
    pub per_mass: Vec<f64>,
    pub argument: Vec<f64>,
    pub temp: Vec<f64>,
    pub potential: Vec<f64>,
    pub dtemp: Vec<f64>,
    pub pivot_mass: Vec<f64>,
    /// Whether temperatures, potentials and slopes are those of the present state.
    pub fresh: bool,
    pub diagonal: Vec<Vec<f64>>,
    pub coupling_sum: Vec<Vec<f64>>,
    pub factors: Vec<Factors>,
    pub x: Vec<f64>,
    pub stages: [Vec<f64>; STAGES],
    /// Balance of each face, the start of its Newton iteration.
    pub face_state: Vec<FaceState>,
    /// A·dq/dΘ of each face.
    pub face_slope: Vec<f64>,
    pub face_account: Vec<Option<usize>>,
    pub accounts: [Vec<f64>; STAGES],
    pub lines: Vec<Lines>,
    /// For long steps: see [`super::exact`]; the diagonals without columns by axis and of the whole matrix, γτ, and
    /// how many factors of other masses belong to this step.
    pub exact: Directions,
    pub bare: Vec<Vec<f64>>,
    pub whole: Vec<f64>,
    pub gamma_tau: f64,
    pub levels_made: usize,
    /// Time in which heat crosses the body, s.
    pub crossing_s: f64,
    /// The same of the body as thick as it is at each cell, s: a flash is crossed long before the body.
    pub local_crossing_s: Vec<f64>,
    /// The shortest of those, s.
    pub thinnest_crossing_s: f64,
    /// Runs of neighbouring cells that belong to the body; the others never change.
    pub runs: Vec<Range<usize>>,
}

/// Runs of true values.
fn runs(of: &[bool]) -> Vec<Range<usize>> {
    let mut out: Vec<Range<usize>> = Vec::new();
    for (c, _) in of.iter().enumerate().filter(|(_, yes)| **yes) {
        match out.last_mut() {
            Some(run) if run.end == c => run.end = c + 1,
            _ => out.push(c..c + 1),
        }
    }
    out
}

/// Time in which heat crosses a body, s: its volume over its exposed area, squared, over its mean
/// diffusivity.
fn crossing_time(grid: &Grid, medium: &ThermalTable, h: &[f64]) -> f64 {
    let area: f64 = grid.faces().iter().map(|f| f.area).sum();
    let volume: f64 = grid.volume().iter().sum();
    (volume / area).powi(2) / mean_diffusivity(grid, medium, h)
}

/// Diffusivity at the mean enthalpy, m²/s.
fn mean_diffusivity(grid: &Grid, medium: &ThermalTable, h: &[f64]) -> f64 {
    let volume: f64 = grid.volume().iter().sum();
    let mean = h.iter().zip(grid.volume()).map(|(h, v)| h * v).sum::<f64>() / volume;
    medium.heating.at(mean).dpotential_dh / medium.density
}

/// [`crossing_time`] of a bar that has at every place the section that the body has there, s: half of the way through
/// the metal along each axis counts as volume over area. In a bar it is that of the bar in all cells.
fn local_crossing_times(grid: &Grid, diffusivity: f64) -> Vec<f64> {
    let mut per_half = vec![0.0; grid.cells()];
    for axis in 0..grid.axes().len() {
        let stride = grid.stride()[axis];
        let joined = |c: usize| grid.between(axis)[c] > 0.0;
        for first in (0..grid.cells()).filter(|c| grid.active()[*c] && !(*c >= stride && joined(c - stride))) {
            let mut last = first;
            while joined(last) {
                last += stride;
            }
            let (low, high) = (grid.extent(first, axis).0, grid.extent(last, axis).1);
            for c in (first..=last).step_by(stride) {
                per_half[c] += 2.0 / (high - low);
            }
        }
    }
    let of = |per: &f64| {
        if *per > 0.0 {
            per.powi(-2) / diffusivity
        } else {
            f64::INFINITY
        }
    };
    per_half.iter().map(of).collect()
}

impl Solver {
    /// A body at one temperature (degC) with insulated faces.
    pub fn uniform(grid: Arc<Grid>, medium: Arc<ThermalTable>, start_c: f64, tolerance: Tolerance) -> Solver {
        let temps = vec![start_c; grid.cells()];
        Solver::new(grid, medium, &temps, tolerance)
    }

    /// A body with a temperature (degC) per cell and insulated faces. Cells in which the medium
    /// is austenite start on its cooling branch.
    pub fn new(grid: Arc<Grid>, medium: Arc<ThermalTable>, temps_c: &[f64], tolerance: Tolerance) -> Solver {
        let cooled: Vec<bool> = temps_c.iter().map(|t| *t >= medium.transformed_c).collect();
        let h: Vec<f64> = temps_c
            .iter()
            .zip(&cooled)
            .map(|(t, c)| medium.branch(*c).enthalpy(*t))
            .collect();
        Solver::from_enthalpy(grid, medium, h, cooled, tolerance)
    }

    /// A body with a specific enthalpy [J/kg] and a branch flag per cell and insulated faces.
    pub fn from_enthalpy(
        grid: Arc<Grid>,
        medium: Arc<ThermalTable>,
        h: Vec<f64>,
        cooled: Vec<bool>,
        tolerance: Tolerance,
    ) -> Solver {
        let cells = grid.cells();
        let axes = grid.axes().len();
        let mass: Vec<f64> = grid.volume().iter().map(|v| v * medium.density).collect();
        let per_mass = mass.iter().map(|m| if *m > 0.0 { 1.0 / m } else { 0.0 }).collect();
        let coupling_sum = (0..axes)
            .map(|a| {
                let g = grid.between(a);
                let s = grid.stride()[a];
                (0..cells).map(|c| g[c] + if c >= s { g[c - s] } else { 0.0 }).collect()
            })
            .collect();
        let faces = grid.faces().len();
        let face_state = grid.faces().iter().map(|f| FaceState::at_rest(h[f.cell])).collect();
        let lines = (0..axes)
            .map(|a| Lines::over(grid.shape()[a], grid.stride()[a], grid.active()))
            .collect();
        let local_crossing_s = local_crossing_times(&grid, mean_diffusivity(&grid, &medium, &h));
        let thinnest_crossing_s = local_crossing_s.iter().copied().fold(f64::INFINITY, f64::min);
        // The strides of a grid with fewer than three axes already collapse, so the last axis has
        // stride 1 whatever the number of axes.
        let scratch = Scratch {
            tableau: Tableau::new(),
            mass,
            per_mass,
            argument: vec![0.0; cells],
            temp: vec![0.0; cells],
            potential: vec![0.0; cells],
            dtemp: vec![0.0; cells],
            pivot_mass: vec![1.0; cells],
            fresh: false,
            diagonal: vec![vec![0.0; cells]; axes],
            coupling_sum,
            factors: vec![Factors::new(cells); axes],
            x: vec![0.0; cells],
            stages: std::array::from_fn(|_| vec![0.0; cells]),
            face_state,
            face_slope: vec![0.0; faces],
            face_account: vec![None; faces],
            accounts: std::array::from_fn(|_| Vec::new()),
            lines,
            exact: Directions::default(),
            bare: Vec::new(),
            whole: Vec::new(),
            gamma_tau: 0.0,
            levels_made: 0,
            crossing_s: crossing_time(&grid, &medium, &h),
            local_crossing_s,
            thinnest_crossing_s,
            runs: runs(grid.active()),
        };
        Solver {
            laws: vec![Law::Insulated; grid.groups()],
            exposed: vec![1.0; faces],
            open: vec![1.0; faces],
            columns: Vec::new(),
            source: vec![0.0; cells],
            source_power: Vec::new(),
            reaction: None,
            tolerance,
            time_s: 0.0,
            step_s: 0.0,
            before: h.clone(),
            time_before: 0.0,
            h,
            cooled,
            ledger: Ledger::default(),
            work: Work::default(),
            held: Held {
                time_s: f64::NAN,
                temps_c: Vec::new(),
            },
            scratch,
            medium,
            grid,
        }
    }

    /// Opens (or finds) a ledger account.
    pub fn account(&mut self, name: &str) -> usize {
        self.ledger.account(name)
    }

    /// Sets the law of a face group and marks the change as a discontinuity in time.
    pub fn set_law(&mut self, group: usize, law: Law) {
        self.laws[group] = law;
        self.disturb();
    }

    /// Gives the exchange of a face group another layer \[m²K/W\], as a change so small that the next
    /// step keeps its length (scale that grows). Groups without an exchange have no layer.
    pub fn drift_layer(&mut self, group: usize, resistance: f64) {
        if let Some(Law::Exchange { exchange, .. }) = self.laws.get_mut(group) {
            exchange.layer_m2k_w = resistance;
        }
    }

    /// The layer on a face group, m²K/W; zero where it has no exchange.
    pub fn layer(&self, group: usize) -> f64 {
        match self.laws.get(group) {
            Some(Law::Exchange { exchange, .. }) => exchange.layer_m2k_w,
            _ => 0.0,
        }
    }

    /// The law of a face group.
    pub fn law(&self, group: usize) -> Option<&Law> {
        self.laws.get(group)
    }

    /// Adds a set of tool columns and returns its index.
    pub fn add_columns(&mut self, columns: Columns) -> usize {
        self.columns.push(columns);
        self.disturb();
        self.columns.len() - 1
    }

    /// A set of tool columns.
    pub fn columns(&self, set: usize) -> &Columns {
        &self.columns[set]
    }

    /// A set of tool columns, to change its contacts or temperatures; marks a discontinuity.
    pub fn columns_mut(&mut self, set: usize) -> &mut Columns {
        self.disturb();
        &mut self.columns[set]
    }

    /// Takes all tool columns out.
    pub fn take_columns(&mut self) -> Vec<Columns> {
        self.disturb();
        std::mem::take(&mut self.columns)
    }

    /// Replaces the volumetric source: power of each cell in W under an account.
    pub fn set_source(&mut self, account: usize, power_w: &[f64]) {
        self.source.copy_from_slice(power_w);
        self.source_power.clear();
        self.source_power.push((account, power_w.iter().sum()));
        self.disturb();
    }

    /// Adds to the volumetric source: power of each cell in W under an account.
    pub fn add_source(&mut self, account: usize, power_w: &[f64]) {
        for (sum, power) in self.source.iter_mut().zip(power_w) {
            *sum += power;
        }
        self.source_power.push((account, power_w.iter().sum()));
        self.disturb();
    }

    /// Replaces the volumetric source as [`Solver::set_source`] does, but as a change so small that
    /// the next step keeps its length (a source that drifts, updated step by step).
    pub fn drift_source(&mut self, account: usize, power_w: &[f64]) {
        let step_s = self.step_s;
        self.set_source(account, power_w);
        self.step_s = step_s;
    }

    /// Puts the body into a stored state: specific enthalpy [J/kg] and branch flag per cell, and the
    /// time (s). The ledger is left as it is.
    pub fn set_state(&mut self, h: &[f64], cooled: &[bool], time_s: f64) {
        self.h.copy_from_slice(h);
        self.cooled.copy_from_slice(cooled);
        self.held.time_s = f64::NAN;
        self.set_time(time_s);
        self.disturb();
    }

    /// Removes the volumetric source.
    pub fn clear_source(&mut self) {
        self.source.fill(0.0);
        self.source_power.clear();
        self.disturb();
    }

    /// A source that depends on temperature, W/m³ at degC.
    pub fn set_reaction(&mut self, account: usize, reaction: Reaction) {
        self.reaction = Some((reaction, account));
        self.disturb();
    }

    /// Tells that something has changed abruptly: the next step starts small.
    pub fn disturb(&mut self) {
        self.step_s = 0.0;
        self.scratch.fresh = false;
    }

    /// The grid.
    pub fn grid(&self) -> &Arc<Grid> {
        &self.grid
    }

    /// The medium.
    pub fn medium(&self) -> &Arc<ThermalTable> {
        &self.medium
    }

    /// Time in s.
    pub fn time_s(&self) -> f64 {
        self.time_s
    }

    /// Sets the clock, s.
    pub fn set_time(&mut self, time_s: f64) {
        if self.held.time_s == self.time_s {
            self.held.time_s = time_s;
        }
        self.time_s = time_s;
        self.time_before = time_s;
    }

    /// Specific enthalpy of each cell in J/kg.
    pub fn enthalpy(&self) -> &[f64] {
        &self.h
    }

    /// Which cells follow the cooling branch.
    pub fn cooled(&self) -> &[bool] {
        &self.cooled
    }

    /// Temperature of a cell in degC.
    pub fn temperature(&self, cell: usize) -> f64 {
        self.medium.branch(self.cooled[cell]).at(self.h[cell]).temp_c
    }

    /// Effusivity √(k ρ c) of a cell, W s^½/m²K.
    pub fn effusivity(&self, cell: usize) -> f64 {
        let at = self.medium.branch(self.cooled[cell]).at(self.h[cell]);
        (self.medium.density * at.dpotential_dh).sqrt() / at.dtemp_dh
    }

    /// Temperature of every cell in degC.
    pub fn temperatures(&self) -> Vec<f64> {
        (0..self.h.len()).map(|c| self.temperature(c)).collect()
    }

    /// Mass of each cell in kg.
    pub fn mass(&self) -> &[f64] {
        &self.scratch.mass
    }

    /// Mass of the body in kg.
    pub fn total_mass(&self) -> f64 {
        self.scratch.mass.iter().sum()
    }

    /// Enthalpy of the body in J.
    pub fn total_enthalpy(&self) -> f64 {
        self.h.iter().zip(&self.scratch.mass).map(|(h, m)| h * m).sum()
    }

    /// The energy ledger.
    pub fn ledger(&self) -> &Ledger {
        &self.ledger
    }

    /// The energy ledger, to clear it.
    pub fn ledger_mut(&mut self) -> &mut Ledger {
        &mut self.ledger
    }

    /// Counters of work done.
    pub fn work(&self) -> Work {
        self.work
    }

    /// Counters of work done since the last call.
    pub fn take_work(&mut self) -> Work {
        std::mem::take(&mut self.work)
    }

    /// Adds to the counters, for a solver that takes over from another.
    pub fn add_work(&mut self, work: Work) {
        self.work.steps += work.steps;
        self.work.rejected += work.rejected;
        self.work.evaluations += work.evaluations;
        self.work.line_solves += work.line_solves;
    }

    /// Cells of all tool columns.
    pub fn column_cells(&self) -> usize {
        self.columns.iter().map(|c| c.count() * c.depth_cells()).sum()
    }

    /// Adds enthalpy to cells at once [J per cell], under an account.
    pub fn add_heat(&mut self, account: usize, joules: &[f64]) {
        self.held.time_s = f64::NAN;
        let mut sum = 0.0;
        for (c, q) in joules.iter().enumerate() {
            self.h[c] += q * self.scratch.per_mass[c];
            if self.scratch.mass[c] > 0.0 {
                sum += q;
            }
        }
        self.ledger.add(account, sum);
        self.ledger.add_stored(sum);
        self.disturb();
    }

    /// Temperature (degC) of every exposed face, from the balance between half a cell of
    /// conduction and the flux of its law and contact (area-weighted where a face has both).
    pub fn face_temperatures(&self) -> Vec<f64> {
        let mut out = FaceTemperatures::default();
        self.read_faces(&mut out);
        out.temps_c
    }

    /// Keeps the temperatures of the faces as they are now: a face cannot jump when its law changes,
    /// so they stay true until time goes on. Without it a face is read from its new law at once,
    /// as if its half cell had settled already.
    pub fn hold_faces(&mut self) {
        let mut room = FaceTemperatures {
            temps_c: std::mem::take(&mut self.held.temps_c),
            contact_share: Vec::new(),
        };
        self.held.time_s = f64::NAN;
        self.read_faces(&mut room);
        self.hold_faces_at(room.temps_c);
    }

    /// As [`Solver::hold_faces`], with the temperature \[degC\] of each face given.
    pub fn hold_faces_at(&mut self, temps_c: Vec<f64>) {
        debug_assert_eq!(temps_c.len(), self.grid.faces().len());
        self.held = Held {
            time_s: self.time_s,
            temps_c,
        };
    }

    /// As [`Solver::face_temperatures`], into room that is used again.
    pub fn read_faces(&self, out: &mut FaceTemperatures) {
        let faces = self.grid.faces();
        out.temps_c.clear();
        if self.held.time_s == self.time_s {
            out.temps_c.extend_from_slice(&self.held.temps_c);
            return;
        }
        out.temps_c.resize(faces.len(), 0.0);
        out.contact_share.clear();
        out.contact_share.resize(faces.len(), 0.0);
        for columns in &self.columns {
            for (c, contact) in columns.contact.iter().enumerate() {
                let Some(contact) = contact else { continue };
                let face = &faces[contact.face];
                let s = self.medium.branch(self.cooled[face.cell]).at(self.h[face.cell]);
                let k = s.dpotential_dh / s.dtemp_dh;
                let (tool_c, k_tool, half) = columns.first(c);
                let u = 1.0 / (face.depth / k + 1.0 / contact.coefficient + half / k_tool);
                let share = contact.area / face.area;
                out.temps_c[contact.face] += share * (s.temp_c - u * (s.temp_c - tool_c) * face.depth / k);
                out.contact_share[contact.face] += share;
            }
        }
        for (f, face) in faces.iter().enumerate() {
            let rest = 1.0 - out.contact_share[f];
            if rest > 1e-12 {
                out.temps_c[f] += rest * self.free_face_temperature(f, face.group);
            }
        }
    }

    /// Cell temperatures (degC) into room that is used again.
    pub fn read_cells(&self, out: &mut Vec<f64>) {
        out.clear();
        if self.scratch.fresh {
            out.extend_from_slice(&self.scratch.temp);
        } else {
            out.extend((0..self.h.len()).map(|c| self.temperature(c)));
        }
    }

    /// Sets the share of each face, 0 to 1, on which the exchange of its group acts beside that law's own
    /// share: a tool covers some faces in part. [`Solver::regroup`] sets all to one again.
    pub fn set_exposed(&mut self, exposed: Vec<f64>) {
        debug_assert_eq!(exposed.len(), self.grid.faces().len());
        self.exposed = exposed;
        self.disturb();
    }

    /// Share of a face that [`Solver::set_exposed`] has left to the exchange of its group.
    pub fn exposed(&self, face: usize) -> f64 {
        self.exposed[face]
    }

    /// Sets the view factor of each face to everything but the body itself, 0 to 1 (all one for a new solver): by
    /// radiation a face exchanges heat with what it sees beside the body, see [`crate::body::open_views`].
    pub fn set_open(&mut self, open: Vec<f64>) {
        debug_assert_eq!(open.len(), self.grid.faces().len());
        self.open = open;
        self.disturb();
    }

    /// Puts the faces into other groups: a grid with the same cells and faces. All laws become
    /// [`Law::Insulated`].
    pub fn regroup(&mut self, grid: Arc<Grid>) {
        debug_assert_eq!(grid.faces().len(), self.grid.faces().len());
        self.laws = vec![Law::Insulated; grid.groups()];
        self.exposed.fill(1.0);
        self.grid = grid;
        self.disturb();
    }

    /// Replaces the tolerance.
    pub fn set_tolerance(&mut self, tolerance: Tolerance) {
        self.tolerance = tolerance;
    }

    /// The tolerance.
    pub fn tolerance(&self) -> Tolerance {
        self.tolerance
    }

    /// Temperature (degC) of face `f` of a group where no tool touches it.
    pub fn free_face_temperature(&self, f: usize, group: usize) -> f64 {
        let face = &self.grid.faces()[f];
        let branch = self.medium.branch(self.cooled[face.cell]);
        match &self.laws[group] {
            Law::Insulated => self.temperature(face.cell),
            Law::Fixed { temp_c, .. } => temp_c.at(self.time_s),
            Law::Exchange { exchange, .. } => {
                let potential = branch.at(self.h[face.cell]).potential;
                let now = exchange.now(self.time_s).past_itself(self.open[f]);
                let start = &self.scratch.face_state[f];
                let state = super::face::face_balance(branch, potential, face.depth, &now, start).0;
                branch.at(state.h).temp_c
            }
        }
    }

    /// Mean face temperature of a tool column set by area, and the hottest, degC. Faces in contact
    /// take it from the joint with the body, open ones from their own balance.
    pub fn tool_faces(&self, set: usize) -> Option<(f64, f64)> {
        let columns = &self.columns[set];
        let (mut sum, mut area, mut peak) = (0.0, 0.0, f64::NEG_INFINITY);
        for (c, contact) in columns.contact.iter().enumerate() {
            let face_c = match contact {
                Some(contact) => {
                    let (tool_c, k_tool, half) = columns.first(c);
                    let face = &self.grid.faces()[contact.face];
                    let s = self.medium.branch(self.cooled[face.cell]).at(self.h[face.cell]);
                    let k = s.dpotential_dh / s.dtemp_dh;
                    let u = 1.0 / (face.depth / k + 1.0 / contact.coefficient + half / k_tool);
                    columns.face_for_flux(c, u * (s.temp_c - tool_c))
                }
                None => columns.open_face(c, self.time_s),
            };
            sum += face_c * columns.areas()[c];
            area += columns.areas()[c];
            peak = peak.max(face_c);
        }
        (area > 0.0).then(|| (sum / area, peak))
    }
}
