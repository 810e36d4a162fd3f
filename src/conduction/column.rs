//! Transient one-dimensional columns behind faces: a tool that warms up where it touches.

use std::sync::Arc;

use super::directions::Directions;
use super::face::{FaceState, face_balance};
use super::kernel;
use super::law::Exchange;
use super::sweep::{Factors, Lines};
use super::tableau::STAGES;
use crate::body::{Axis, Face};
use crate::steel::{Branch, ThermalTable};

/// A column's contact with a face of the body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contact {
    /// Index of the face in [`crate::body::Grid::faces`].
    pub face: usize,
    /// Contact area in m².
    pub area: f64,
    /// Contact coefficient in W/m²K.
    pub coefficient: f64,
}

/// What the far end of the columns does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DeepEnd {
    /// No heat passes.
    Insulated,
    /// Held at a temperature, degC.
    Fixed(f64),
    /// Joined through a coefficient to something that keeps its temperature, as a die is to its holder.
    Joined {
        /// That temperature, degC.
        temp_c: f64,
        /// Coefficient of the joint, W/m²K.
        w_m2k: f64,
    },
}

impl DeepEnd {
    /// The temperature that the far end is drawn to \[degC\] and the conductance per area between it and the
    /// middle of the last cell \[W/m²K\], whose half size is `half` \[m\] and conductivity `k` \[W/mK\].
    pub fn conductance(self, half: f64, k: f64) -> (f64, f64) {
        match self {
            DeepEnd::Insulated => (0.0, 0.0),
            DeepEnd::Fixed(temp_c) => (temp_c, k / half),
            DeepEnd::Joined { temp_c, w_m2k } => (temp_c, k * w_m2k / (k + half * w_m2k)),
        }
    }
}

/// Heat that a set of columns has taken in other than from the body, J (negative: given off).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ColumnHeat {
    /// Through faces without contact.
    pub open: f64,
    /// Through the far end.
    pub deep: f64,
    /// Set free at the face, see [`Columns::set_source`].
    pub given: f64,
}

/// A set of equal columns, one per face cell, reaching from the contact face into the tool.
#[derive(Debug, Clone)]
pub struct Columns {
    pub(super) medium: Arc<ThermalTable>,
    pub(super) account: usize,
    pub(super) count: usize,
    start_h: f64,
    pub(super) depth_cells: usize,
    pub(super) half: Vec<f64>,
    pub(super) size: Vec<f64>,
    pub(super) deep: DeepEnd,
    deep_potential: f64,
    /// Specific enthalpy [cell][column].
    pub(super) h: Vec<f64>,
    pub(super) before: Vec<f64>,
    pub(super) contact: Vec<Option<Contact>>,
    pub(super) area: Vec<f64>,
    open: Option<Exchange>,
    /// Power set free in the first cell of each column, W.
    source: Vec<f64>,
    heat: ColumnHeat,
    pub(super) work: ColumnWork,
}

#[derive(Debug, Clone, Default)]
pub(super) struct ColumnWork {
    argument: Vec<f64>,
    temp: Vec<f64>,
    pub potential: Vec<f64>,
    pub dtemp: Vec<f64>,
    flux: Vec<f64>,
    pub mass: Vec<f64>,
    pub per_mass: Vec<f64>,
    pub pivot_mass: Vec<f64>,
    pub coupling: Vec<f64>,
    pub diagonal: Vec<f64>,
    pub factors: Factors,
    pub x: Vec<f64>,
    stages: [Vec<f64>; STAGES],
    /// γτ·A·U of the contact, and 1/k on both sides.
    pub joint: Vec<f64>,
    /// γτ of the current step.
    pub scale: f64,
    pub per_k_body: Vec<f64>,
    pub per_k_tool: Vec<f64>,
    /// Balance of each open face, the start of its Newton iteration, and A·dq/dΘ there.
    face_state: Vec<FaceState>,
    pub open_slope: Vec<f64>,
    /// A·dq/dΘ at the far end.
    pub deep_slope: Vec<f64>,
    /// Heat of each stage, and of the step.
    pub heat: [ColumnHeat; STAGES],
    pending: ColumnHeat,
    pub stage: usize,
    /// For long steps: see [`super::exact`].
    pub exact: Directions,
}

impl ColumnWork {
    /// Temperatures and potentials of the cells, and with `linearise` their slopes.
    fn look_up(&mut self, heating: &Branch, linearise: bool) {
        if linearise {
            let slopes = self.dtemp.iter_mut().zip(&mut self.pivot_mass).zip(&self.mass);
            let values = self.temp.iter_mut().zip(&mut self.potential);
            for ((h, (temp, potential)), ((dtemp, pivot_mass), mass)) in self.argument.iter().zip(values).zip(slopes) {
                let s = heating.at(*h);
                *temp = s.temp_c;
                *potential = s.potential;
                *dtemp = s.largest_dtemp_dh;
                *pivot_mass = mass / s.steepest;
            }
        } else {
            for ((h, temp), potential) in self.argument.iter().zip(&mut self.temp).zip(&mut self.potential) {
                let s = heating.at(*h);
                *temp = s.temp_c;
                *potential = s.potential;
            }
        }
    }

    /// The right-hand side as conduction between the cells of `n` columns alone makes it.
    fn conduct(&mut self, n: usize) {
        self.x.fill(0.0);
        let inner = self.x.len() - n;
        let pairs = self.potential.iter().zip(&self.potential[n..]);
        for (q, (g, (here, deeper))) in self.flux.iter_mut().zip(self.coupling.iter().zip(pairs)) {
            *q = g * (deeper - here);
        }
        for (x, q) in self.x.iter_mut().zip(&self.flux[..inner]) {
            *x += q;
        }
        for (x, q) in self.x[n..].iter_mut().zip(&self.flux[..inner]) {
            *x -= q;
        }
    }

    /// The diagonal of the linear system but for faces: mass, conduction, far ends.
    fn couple(&mut self, n: usize, gamma_tau: f64) {
        self.scale = gamma_tau;
        for k in 0..self.diagonal.len() {
            let below = if k >= n { self.coupling[k - n] } else { 0.0 };
            let above = if k + n < self.coupling.len() {
                self.coupling[k]
            } else {
                0.0
            };
            self.diagonal[k] = self.pivot_mass[k] + gamma_tau * (above + below);
        }
        let last = self.diagonal.len() - n;
        for (d, slope) in self.diagonal[last..].iter_mut().zip(&self.deep_slope) {
            *d += gamma_tau * slope;
        }
    }
}

/// Conductance and heat of one contact at a stage.
pub(super) struct Joint {
    pub face: usize,
    /// Heat into the body, W.
    pub power: f64,
}

impl Columns {
    /// `count` columns of the medium on a depth axis (from the face at 0 inwards, m), all at one
    /// temperature (degC). `account` names the heat that the body gives them.
    pub fn new(
        medium: Arc<ThermalTable>,
        depth: &Axis,
        count: usize,
        start_c: f64,
        deep: DeepEnd,
        account: usize,
    ) -> Columns {
        let size: Vec<f64> = (0..depth.cells()).map(|i| depth.size(i)).collect();
        let start = medium.heating.enthalpy(start_c);
        Columns::with_sizes(medium, size, count, start, deep, account)
    }

    fn with_sizes(
        medium: Arc<ThermalTable>,
        size: Vec<f64>,
        count: usize,
        start: f64,
        deep: DeepEnd,
        account: usize,
    ) -> Columns {
        let n = size.len();
        let potential = |t: f64| medium.heating.at(medium.heating.enthalpy(t)).potential;
        let deep_potential = match deep {
            DeepEnd::Fixed(t) => potential(t),
            DeepEnd::Insulated | DeepEnd::Joined { .. } => 0.0,
        };
        let total = n * count;
        Columns {
            account,
            count,
            start_h: start,
            depth_cells: n,
            half: size.iter().map(|s| 0.5 * s).collect(),
            size,
            deep,
            deep_potential,
            h: vec![start; total],
            before: vec![start; total],
            contact: vec![None; count],
            area: vec![1.0; count],
            open: None,
            source: vec![0.0; count],
            heat: ColumnHeat::default(),
            work: ColumnWork {
                argument: vec![0.0; total],
                temp: vec![0.0; total],
                potential: vec![0.0; total],
                dtemp: vec![0.0; total],
                flux: vec![0.0; total],
                mass: vec![0.0; total],
                per_mass: vec![0.0; total],
                pivot_mass: vec![0.0; total],
                coupling: vec![0.0; total],
                diagonal: vec![0.0; total],
                factors: Factors::new(total),
                x: vec![0.0; total],
                stages: std::array::from_fn(|_| vec![0.0; total]),
                joint: vec![0.0; count],
                scale: 0.0,
                per_k_body: vec![0.0; count],
                per_k_tool: vec![0.0; count],
                face_state: vec![FaceState::at_rest(start); count],
                open_slope: vec![0.0; count],
                deep_slope: vec![0.0; count],
                heat: [ColumnHeat::default(); STAGES],
                pending: ColumnHeat::default(),
                stage: 0,
                exact: Directions::default(),
            },
            medium,
        }
    }

    /// The same tool with another number of columns, all at the temperature that the far end has
    /// at the start, under another account.
    pub fn resized(&self, count: usize, account: usize) -> Columns {
        self.with_end(count, account, self.deep)
    }

    /// The same as [`Columns::resized`] with another far end.
    pub fn with_end(&self, count: usize, account: usize, deep: DeepEnd) -> Columns {
        let (medium, size) = (self.medium.clone(), self.size.clone());
        let mut new = Columns::with_sizes(medium, size, count, self.start_h, deep, account);
        new.open = self.open.clone();
        new
    }

    /// Number of columns.
    pub fn count(&self) -> usize {
        self.count
    }

    /// Cells along a column.
    pub fn depth_cells(&self) -> usize {
        self.depth_cells
    }

    /// Sets the contact of every column (`None` for a column that touches nothing), and the area
    /// (m²) that each column stands for.
    pub fn set_contacts(&mut self, contacts: &[Option<Contact>], areas: &[f64]) {
        self.contact.copy_from_slice(contacts);
        self.area.copy_from_slice(areas);
        let n = self.count;
        for i in 0..self.depth_cells {
            let apart = if i + 1 < self.depth_cells {
                self.half[i] + self.half[i + 1]
            } else {
                f64::INFINITY
            };
            for c in 0..n {
                let mass = self.medium.density * self.size[i] * self.area[c];
                self.work.mass[i * n + c] = mass;
                self.work.per_mass[i * n + c] = 1.0 / mass;
                self.work.coupling[i * n + c] = self.area[c] / apart;
            }
        }
    }

    /// Replaces the power \[W\] set free at the face of each column, as friction does.
    pub fn set_source(&mut self, power_w: &[f64]) {
        self.source.copy_from_slice(power_w);
    }

    /// Effusivity √(k ρ c) at the face of a column, W s^½/m²K.
    pub fn effusivity(&self, column: usize) -> f64 {
        let at = self.medium.heating.at(self.h[column]);
        (self.medium.density * at.dpotential_dh).sqrt() / at.dtemp_dh
    }

    /// What the face of a column without contact exchanges with its surroundings.
    pub fn set_open(&mut self, exchange: Option<Exchange>) {
        self.open = exchange;
    }

    /// The first time after `after` at which a signal of the open faces breaks.
    pub(super) fn next_break(&self, after: f64) -> Option<f64> {
        self.open.as_ref().and_then(|open| open.next_break(after))
    }

    /// Temperatures of one column from the face inwards, degC (cell middles).
    pub fn temperatures(&self, column: usize) -> Vec<f64> {
        (0..self.depth_cells)
            .map(|i| self.medium.heating.at(self.h[i * self.count + column]).temp_c)
            .collect()
    }

    /// Replaces the temperatures of one column, degC.
    pub fn set_temperatures(&mut self, column: usize, temps_c: &[f64]) {
        for (i, t) in temps_c.iter().enumerate().take(self.depth_cells) {
            self.h[i * self.count + column] = self.medium.heating.enthalpy(*t);
        }
    }

    /// Enthalpy of all columns over their areas in J.
    pub fn enthalpy(&self) -> f64 {
        self.h.iter().zip(&self.work.mass).map(|(h, m)| h * m).sum()
    }

    /// Specific enthalpy of the cells of one column from the face inwards, J/kg.
    pub fn profile(&self, column: usize) -> impl Iterator<Item = f64> {
        (0..self.depth_cells).map(move |i| self.h[i * self.count + column])
    }

    /// Replaces the specific enthalpies of one column, J/kg.
    pub fn set_profile(&mut self, column: usize, h: &[f64]) {
        for (i, h) in h.iter().enumerate().take(self.depth_cells) {
            self.h[i * self.count + column] = *h;
        }
    }

    /// Specific enthalpy at the start, J/kg.
    pub fn start_enthalpy(&self) -> f64 {
        self.start_h
    }

    /// Area that each column stands for, m².
    pub fn areas(&self) -> &[f64] {
        &self.area
    }

    /// Temperature of all cells, [depth][column], degC.
    pub fn cell_temperatures(&self) -> Vec<f64> {
        self.h.iter().map(|h| self.medium.heating.at(*h).temp_c).collect()
    }

    /// Replaces the temperature of all cells, [depth][column], degC.
    pub fn set_cell_temperatures(&mut self, temps_c: &[f64]) {
        for (h, t) in self.h.iter_mut().zip(temps_c) {
            *h = self.medium.heating.enthalpy(*t);
        }
    }

    /// Mass of each cell, [depth][column], kg; the areas must have been set.
    pub fn masses(&self) -> &[f64] {
        &self.work.mass
    }

    /// Diffusivity at the start \[m²/s\] of a column's first cell.
    pub fn diffusivity(&self, column: usize) -> f64 {
        self.medium.heating.at(self.h[column]).dpotential_dh / self.medium.density
    }

    /// Gives a layer of all columns heat by area \[J/m²\], of the temperature \[degC\] and heat capacity \[J/m²K\] that
    /// each has there; returns the whole \[J\].
    pub fn take_in(&mut self, layer: usize, heat_j_m2: impl Fn(f64, f64) -> f64) -> f64 {
        let mut heat = 0.0;
        for c in 0..self.count {
            let at = layer * self.count + c;
            let state = self.medium.heating.at(self.h[at]);
            let capacity = self.work.mass[at] / self.area[c] / state.dtemp_dh;
            let given = self.area[c] * heat_j_m2(state.temp_c, capacity);
            self.h[at] += given * self.work.per_mass[at];
            heat += given;
        }
        heat
    }

    /// Heat taken in through open faces and the far end up to now.
    pub fn heat(&self) -> ColumnHeat {
        self.heat
    }

    /// Face temperature of a column that touches nothing, degC.
    pub fn open_face(&self, column: usize, t: f64) -> f64 {
        let h = self.h[column];
        let cell = self.medium.heating.at(h);
        match &self.open {
            None => cell.temp_c,
            Some(open) => {
                let start = &self.work.face_state[column];
                let balance = face_balance(&self.medium.heating, cell.potential, self.half[0], &open.now(t), start);
                self.medium.heating.at(balance.0.h).temp_c
            }
        }
    }

    /// A step short against the diffusion time of the first cell, s.
    pub(super) fn first_step(&self) -> f64 {
        let fastest = (0..self.count)
            .map(|c| self.medium.heating.at(self.h[c]).dpotential_dh / self.medium.density)
            .fold(0.0, f64::max);
        (2.0 * self.half[0] * self.half[0] / fastest).clamp(1e-7, 1e6)
    }

    /// Temperature of the first cell and of the face itself for a given flux into the column
    /// [W/m²], degC.
    pub(super) fn face_for_flux(&self, column: usize, flux: f64) -> f64 {
        let s = self.medium.heating.at(self.h[column]);
        s.temp_c + flux * self.half[0] * s.dtemp_dh / s.dpotential_dh
    }

    /// Temperature \[degC\] and conductivity [W/mK] of the first cell.
    pub(super) fn first(&self, column: usize) -> (f64, f64, f64) {
        let s = self.medium.heating.at(self.h[column]);
        (s.temp_c, s.dpotential_dh / s.dtemp_dh, self.half[0])
    }

    /// Stage argument u + Σ aⱼUⱼ.
    pub(super) fn argument(&mut self, a: &[f64]) {
        let w = &mut self.work;
        w.stage = a.len();
        let stages = w.stages.each_ref().map(Vec::as_slice);
        kernel::argument(&mut w.argument, &self.h, &w.per_mass, a, stages);
    }

    /// Adds what passes the far ends, and returns its sum, W.
    fn deep_ends(&mut self, linearise: bool) -> f64 {
        let w = &mut self.work;
        let heating = &self.medium.heating;
        let last = (self.depth_cells - 1) * self.count;
        let half = self.half[self.depth_cells - 1];
        let mut sum = 0.0;
        for (c, area) in self.area.iter().enumerate() {
            let (q, slope) = match self.deep {
                DeepEnd::Insulated => continue,
                DeepEnd::Fixed(_) => {
                    let g = area / half;
                    (g * (self.deep_potential - w.potential[last + c]), g)
                }
                DeepEnd::Joined { temp_c, .. } => {
                    let at = heating.at(w.argument[last + c]);
                    let k = at.dpotential_dh / at.dtemp_dh;
                    let g = area * self.deep.conductance(half, k).1;
                    (g * (temp_c - at.temp_c), g / k)
                }
            };
            w.x[last + c] += q;
            sum += q;
            if linearise {
                w.deep_slope[c] = slope;
            }
        }
        sum
    }

    /// Right-hand side \[W\] of the columns and the heat of their contacts.
    pub(super) fn evaluate(
        &mut self,
        t: f64,
        body: impl Fn(usize) -> (f64, f64, f64),
        linearise: bool,
        gamma_tau: f64,
        mut joint: impl FnMut(Joint),
    ) {
        let n = self.count;
        self.work.look_up(&self.medium.heating, linearise);
        self.work.conduct(n);
        let mut heat = ColumnHeat {
            deep: self.deep_ends(linearise),
            ..ColumnHeat::default()
        };
        if linearise {
            self.work.couple(n, gamma_tau);
        }
        let w = &mut self.work;
        for (x, power) in w.x.iter_mut().zip(&self.source) {
            *x += power;
            heat.given += power;
        }
        let open = self.open.as_ref().map(|e| e.now(t));
        for c in 0..n {
            let slope = self.medium.heating.at(w.argument[c]);
            let k_tool = slope.dpotential_dh / slope.dtemp_dh;
            match self.contact[c] {
                Some(contact) => {
                    let (temp_body, k_body, half_body) = body(contact.face);
                    let u = 1.0 / (half_body / k_body + 1.0 / contact.coefficient + self.half[0] / k_tool);
                    let q = contact.area * u * (temp_body - w.temp[c]);
                    w.x[c] += q;
                    joint(Joint {
                        face: contact.face,
                        power: -q,
                    });
                    if linearise {
                        w.joint[c] = gamma_tau * contact.area * u;
                        w.per_k_body[c] = 1.0 / k_body;
                        w.per_k_tool[c] = 1.0 / k_tool;
                        w.diagonal[c] += w.joint[c] / k_tool;
                    }
                }
                None => {
                    if let Some(open) = &open {
                        let (state, q, slope) = face_balance(
                            &self.medium.heating,
                            w.potential[c],
                            self.half[0],
                            open,
                            &w.face_state[c],
                        );
                        if state.h.is_finite() {
                            w.face_state[c] = state;
                        }
                        w.x[c] -= self.area[c] * q;
                        heat.open -= self.area[c] * q;
                        if linearise {
                            // The method allows any matrix; one that a falling law makes singular it does not.
                            w.open_slope[c] = self.area[c] * slope.max(0.0);
                            w.diagonal[c] += gamma_tau * w.open_slope[c];
                        }
                    } else {
                        w.open_slope[c] = 0.0;
                    }
                }
            }
        }
        w.heat[w.stage] = heat;
    }

    pub(super) fn lines(&self) -> Lines {
        Lines::solid(self.depth_cells, self.count)
    }

    /// Factors the columns from the deep end to the face and returns, for each contact, what it
    /// adds to the diagonal of the body's face cell.
    pub(super) fn factor(&mut self, mut diagonal_of_face: impl FnMut(usize, f64)) {
        let lines = self.lines();
        let w = &mut self.work;
        w.factors.factor_from_high(&lines, &w.diagonal, &w.coupling, w.scale);
        for (c, contact) in self.contact.iter().enumerate() {
            if let Some(contact) = contact {
                let j = w.joint[c];
                let (kb, kt) = (w.per_k_body[c], w.per_k_tool[c]);
                diagonal_of_face(contact.face, j * kb - (j * kt) * (j * kb) * w.factors.pivot_inverse(c));
            }
        }
    }

    /// Turns the right-hand side F into γτF + γ Σ cⱼYⱼ.
    pub(super) fn stage_rhs(&mut self, gamma_tau: f64, gamma_c: &[f64]) {
        let w = &mut self.work;
        let stages = w.stages.each_ref().map(Vec::as_slice);
        kernel::right_side(&mut w.x, gamma_tau, gamma_c, stages);
        let (earlier, here) = w.heat.split_at_mut(gamma_c.len());
        let heat = &mut here[0];
        let sum = |of: fn(&ColumnHeat) -> f64| -> f64 { gamma_c.iter().zip(&*earlier).map(|(c, e)| c * of(e)).sum() };
        heat.open = gamma_tau * heat.open + sum(|e| e.open);
        heat.deep = gamma_tau * heat.deep + sum(|e| e.deep);
        heat.given = gamma_tau * heat.given + sum(|e| e.given);
    }

    /// Eliminates the columns from the deep end; reports what each contact adds to the right-hand
    /// side of the body's face cell.
    pub(super) fn eliminate(&mut self, axis: usize, faces: &[Face], mut rhs_of_face: impl FnMut(usize, f64)) {
        if axis != self.axis(faces) {
            return;
        }
        let lines = self.lines();
        let w = &mut self.work;
        w.factors.eliminate_from_high(&lines, &mut w.x);
        for (c, contact) in self.contact.iter().enumerate() {
            if let Some(contact) = contact {
                rhs_of_face(
                    contact.face,
                    w.joint[c] * w.per_k_tool[c] * w.x[c] * w.factors.pivot_inverse(c),
                );
            }
        }
    }

    /// Back-substitutes from the face inwards, given the body's solution at the face cells.
    /// Reports the linear part of each contact's heat into the body \[J\].
    pub(super) fn substitute(
        &mut self,
        axis: usize,
        faces: &[Face],
        body: impl Fn(usize) -> f64,
        mut joint: impl FnMut(f64),
    ) {
        if axis != self.axis(faces) {
            return;
        }
        let lines = self.lines();
        let w = &mut self.work;
        for (c, contact) in self.contact.iter().enumerate() {
            if let Some(contact) = contact {
                w.x[c] += w.joint[c] * w.per_k_body[c] * body(contact.face);
            }
        }
        w.factors.substitute_to_high(&lines, &mut w.x);
        let heat = &mut w.heat[w.stage];
        let last = w.x.len() - self.count;
        for (slope, x) in w.deep_slope.iter().zip(&w.x[last..]) {
            heat.deep -= w.scale * slope * x;
        }
        for (c, contact) in self.contact.iter().enumerate() {
            if contact.is_none() {
                heat.open -= w.scale * w.open_slope[c] * w.x[c];
            }
            if let Some(contact) = contact {
                joint(-w.joint[c] * (w.per_k_body[c] * body(contact.face) - w.per_k_tool[c] * w.x[c]));
            }
        }
    }

    /// Keeps the solution as stage `i`.
    pub(super) fn store(&mut self, i: usize) {
        let w = &mut self.work;
        for (y, (x, m)) in w.stages[i].iter_mut().zip(w.x.iter().zip(&w.pivot_mass)) {
            *y = x * m;
        }
    }

    /// The axis whose line solves carry these columns; all contacts of a set share it. Sets that
    /// touch nothing ride on the first axis.
    pub(super) fn axis(&self, faces: &[Face]) -> usize {
        self.contact.iter().flatten().next().map_or(0, |c| faces[c.face].axis)
    }

    /// Writes u + Σ mⱼUⱼ over the state (the old state goes to `before`) and returns the largest
    /// error estimate in K.
    pub(super) fn finish(&mut self, m: &[f64; STAGES], e: &[f64; STAGES]) -> f64 {
        let w = &mut self.work;
        w.pending = ColumnHeat::default();
        for (m, heat) in m.iter().zip(&w.heat) {
            w.pending.open += m * heat.open;
            w.pending.deep += m * heat.deep;
            w.pending.given += m * heat.given;
        }
        self.before.copy_from_slice(&self.h);
        let stages = w.stages.each_ref().map(Vec::as_slice);
        kernel::finish(&mut self.h, &w.per_mass, &w.dtemp, (m, e), stages)
    }

    /// Adds the heat of the last step to the account of the columns.
    pub(super) fn book(&mut self) {
        self.heat.open += self.work.pending.open;
        self.heat.deep += self.work.pending.deep;
        self.heat.given += self.work.pending.given;
    }

    pub(super) fn revert(&mut self) {
        self.h.copy_from_slice(&self.before);
    }
}
