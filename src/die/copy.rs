//! A cheap copy of a tool face, to follow it from takt to takt.
//!
//! One real takt (a part, then spray, blow-off and air) fixes the copy: started from the same
//! temperatures it ends at the same ones. From other temperatures it ends where a plain model says:
//! while the part is there a difference spreads into the depth and across the face, and takes a
//! measured share less from the part; afterwards the laws of the open face act, bent or not. The
//! model uses few implicit steps and conductivities of the real takt; its error falls with the
//! distance from the real one.

use super::{Ground, Phase};
use crate::conduction::DeepEnd;

/// Steps of the time with the part.
const STEPS_WITH_PART: usize = 2;
/// Steps of a spray, in which the face may lose its wetting.
const STEPS_SPRAY: usize = 20;
/// Steps of other pieces of the idle time.
const STEPS_ELSE: usize = 2;
/// Most iterations for a face temperature, and the largest change of one, K.
const FACE_ITERATIONS: usize = 12;
const FACE_LEAP_K: f64 = 60.0;
const FACE_CHANGE_K: f64 = 1e-4;

/// A copy of one tool face. Temperatures \[degC\] are [depth][column], as those of [`Ground`].
#[derive(Debug, Clone)]
pub struct DieCopy<'a> {
    ground: &'a Ground,
    columns: usize,
    with_part_s: f64,
    phases: Vec<Phase>,
    /// What touching parts make of a value on each column: its sources and their weights.
    mixing: Vec<Vec<(usize, f64)>>,
    /// Loss to the part of each cell per kelvin of the face.
    lost: Vec<f64>,
    part: Step,
    idle: Vec<Step>,
    before: Vec<f64>,
    left: Vec<f64>,
    /// The real end of the takt less that of the model.
    offset: Vec<f64>,
    work: Vec<f64>,
    row: Vec<f64>,
}

/// An implicit Euler step of all columns with fixed properties.
#[derive(Debug, Clone, Default)]
struct Step {
    count: usize,
    /// Heat capacity over the step \[W/m²K\], conductance to the next cell \[W/m²K\], that over the pivot
    /// of the next, and one over the pivot.
    store: Vec<f64>,
    deeper: Vec<f64>,
    carried: Vec<f64>,
    per_pivot: Vec<f64>,
    /// Conductance of the first half cell, W/m²K.
    half: Vec<f64>,
    /// Temperature that the far end pulls to, degC.
    deep_c: f64,
}

impl<'a> DieCopy<'a> {
    /// A copy of a face that is `with_part_s` with the part in each takt and goes through `phases` until
    /// the next one. The face must have been touched by a whole part, see [`Ground::touched`].
    pub fn new(ground: &'a Ground, with_part_s: f64, phases: Vec<Phase>) -> DieCopy<'a> {
        let columns = ground.columns().count();
        let mut mixing: Vec<Vec<(usize, f64)>> = (0..columns).map(|c| vec![(c, 1.0)]).collect();
        for spans in ground.touched() {
            mixing = ground.mixing(spans).iter().map(|row| combine(row, &mixing)).collect();
        }
        let cells = ground.masses().len();
        DieCopy {
            ground,
            columns,
            with_part_s,
            phases,
            mixing,
            lost: vec![0.0; cells],
            part: Step::default(),
            idle: Vec::new(),
            before: vec![0.0; cells],
            left: vec![0.0; cells],
            offset: vec![0.0; cells],
            work: vec![0.0; cells],
            row: vec![0.0; columns],
        }
    }

    /// Number of cells.
    pub fn cells(&self) -> usize {
        self.lost.len()
    }

    /// Mean by area of the cells next to the face.
    pub fn face_mean_c(&self, temps_c: &[f64]) -> f64 {
        let areas = self.ground.columns().areas();
        let total: f64 = areas.iter().sum();
        areas.iter().zip(temps_c).map(|(a, t)| a * t).sum::<f64>() / total
    }

    /// Fixes the copy to a real takt: temperatures before the part, when it has left, and before the next.
    pub fn fix(&mut self, before: &[f64], left: &[f64], after: &[f64]) {
        self.before.copy_from_slice(before);
        self.left.copy_from_slice(left);
        self.part = self.step(self.with_part_s / STEPS_WITH_PART as f64, true);
        self.idle = self
            .phases
            .iter()
            .map(|phase| self.step(phase.seconds / steps(phase) as f64, false))
            .collect();
        let mut end = left.to_vec();
        self.rest(&mut end);
        for (offset, (real, model)) in self.offset.iter_mut().zip(after.iter().zip(&end)) {
            *offset = real - model;
        }
    }

    /// Learns how much less the face takes from a part when it is warmer: `left` is what the part leaves
    /// behind on a tool that was `by_k` warmer all through than the one that the copy is fixed to.
    pub fn learn(&mut self, by_k: f64, left: &[f64]) {
        let mut warmer = vec![by_k; self.cells()];
        self.spread(&mut warmer);
        for (i, lost) in self.lost.iter_mut().enumerate() {
            let face = warmer[i % self.columns];
            *lost = (warmer[i] - (left[i] - self.left[i])) / face;
        }
    }

    /// Takes temperatures before a part to those before the next one.
    pub fn takt(&mut self, temps_c: &mut [f64]) {
        let n = self.columns;
        let mut warmer = std::mem::take(&mut self.work);
        for (d, (t, before)) in warmer.iter_mut().zip(temps_c.iter().zip(&self.before)) {
            *d = t - before;
        }
        self.spread(&mut warmer);
        self.row.copy_from_slice(&warmer[..n]);
        let cells = warmer.iter().zip(&self.left).zip(&self.lost);
        for (i, (t, ((d, left), lost))) in temps_c.iter_mut().zip(cells).enumerate() {
            *t = left + d - lost * self.row[i % n];
        }
        self.work = warmer;
        self.rest(temps_c);
        for (t, offset) in temps_c.iter_mut().zip(&self.offset) {
            *t += offset;
        }
    }

    /// What becomes of a difference of temperatures while the part is there, apart from what the part takes.
    fn spread(&mut self, difference: &mut [f64]) {
        for _ in 0..STEPS_WITH_PART {
            self.part.go(difference, |_, known, per_pivot| known * per_pivot);
        }
        let n = self.columns;
        for row in difference.chunks_mut(n) {
            self.row.copy_from_slice(row);
            for (t, sources) in row.iter_mut().zip(&self.mixing) {
                *t = sources.iter().map(|(from, weight)| weight * self.row[*from]).sum();
            }
        }
    }

    /// The idle time of the model.
    fn rest(&mut self, temps_c: &mut [f64]) {
        for (phase, step) in self.phases.iter().zip(&mut self.idle) {
            let law = phase.exchange.now(0.0);
            for _ in 0..steps(phase) {
                let half = std::mem::take(&mut step.half);
                step.go(temps_c, |c, known, per_pivot| {
                    // The first cell sends `conducted` to the face, which gives it to the surroundings.
                    let pivot = 1.0 / per_pivot;
                    let share = half[c] / (pivot + half[c]);
                    let mut face = known * per_pivot;
                    for _ in 0..FACE_ITERATIONS {
                        let (q, dq) = law.at(face);
                        let wrong = share * (known - pivot * face) - q;
                        let slope = share * pivot + dq;
                        let change = if slope > 0.0 {
                            wrong / slope
                        } else {
                            wrong.signum() * FACE_LEAP_K
                        };
                        let change = change.clamp(-FACE_LEAP_K, FACE_LEAP_K);
                        face += change;
                        if change.abs() < FACE_CHANGE_K {
                            break;
                        }
                    }
                    (known + half[c] * face) / (pivot + half[c])
                });
                step.half = half;
            }
        }
    }

    /// An implicit step with the properties that the metal has when the part leaves. Of a difference the
    /// far end stays at zero.
    fn step(&self, seconds: f64, of_difference: bool) -> Step {
        let n = self.columns;
        let columns = self.ground.columns();
        let (sizes, medium) = (columns.depth_sizes(), columns.medium());
        let depth = sizes.len();
        let states: Vec<(f64, f64)> = self
            .left
            .iter()
            .map(|t| {
                let at = medium.heating.at(medium.heating.enthalpy(*t));
                (at.dpotential_dh / at.dtemp_dh, medium.density / at.dtemp_dh)
            })
            .collect();
        let (far, deep_c) = match columns.deep_end() {
            DeepEnd::Insulated => (0.0, 0.0),
            DeepEnd::Fixed(temp_c) => (1.0, if of_difference { 0.0 } else { temp_c }),
        };
        let mut step = Step {
            count: n,
            store: vec![0.0; n * depth],
            deeper: vec![0.0; n * depth],
            carried: vec![0.0; n * depth],
            per_pivot: vec![0.0; n * depth],
            half: states[..n].iter().map(|(k, _)| 2.0 * k / sizes[0]).collect(),
            deep_c,
        };
        for i in 0..depth {
            for c in 0..n {
                let (k, capacity) = states[i * n + c];
                step.store[i * n + c] = capacity * sizes[i] / seconds;
                step.deeper[i * n + c] = match states.get((i + 1) * n + c) {
                    Some((next, _)) => (k + next) / (sizes[i] + sizes[i + 1]),
                    None => far * 2.0 * k / sizes[i],
                };
            }
        }
        for k in (0..n * depth).rev() {
            let above = if k >= n { step.deeper[k - n] } else { 0.0 };
            let mut pivot = step.store[k] + step.deeper[k] + above;
            if k + n < n * depth {
                step.carried[k] = step.deeper[k] * step.per_pivot[k + n];
                pivot -= step.deeper[k] * step.carried[k];
            }
            step.per_pivot[k] = 1.0 / pivot;
        }
        step
    }
}

impl Step {
    /// One step. `first` gives the new temperature of the first cell of a column from the known side and
    /// one over the pivot of its equation.
    fn go(&mut self, temps_c: &mut [f64], first: impl Fn(usize, f64, f64) -> f64) {
        let n = self.count;
        let last = temps_c.len() - n;
        for (t, (store, far)) in temps_c[last..]
            .iter_mut()
            .zip(self.store[last..].iter().zip(&self.deeper[last..]))
        {
            *t = store * *t + far * self.deep_c;
        }
        for i in (0..last / n).rev() {
            let (here, below) = temps_c.split_at_mut((i + 1) * n);
            let row = i * n..(i + 1) * n;
            let known = self.store[row.clone()].iter().zip(&self.carried[row.clone()]);
            for ((t, next), (store, carried)) in here[row].iter_mut().zip(&*below).zip(known) {
                *t = store * *t + carried * next;
            }
        }
        for (c, (t, per_pivot)) in temps_c[..n].iter_mut().zip(&self.per_pivot).enumerate() {
            *t = first(c, *t, *per_pivot);
        }
        for i in 1..=last / n {
            let (above, here) = temps_c.split_at_mut(i * n);
            let (row, over) = (i * n..(i + 1) * n, (i - 1) * n..i * n);
            let known = self.deeper[over.clone()].iter().zip(&self.per_pivot[row]);
            for ((t, above), (g, per_pivot)) in here.iter_mut().zip(&above[over]).zip(known) {
                *t = (*t + g * above) * per_pivot;
            }
        }
    }
}

fn steps(phase: &Phase) -> usize {
    if phase.what == "spray" { STEPS_SPRAY } else { STEPS_ELSE }
}

/// The weighted sum of rows.
fn combine(weights: &[(usize, f64)], rows: &[Vec<(usize, f64)>]) -> Vec<(usize, f64)> {
    let mut sum: Vec<(usize, f64)> = Vec::new();
    for (row, weight) in weights.iter().filter(|(_, w)| *w > 0.0) {
        for (from, share) in &rows[*row] {
            match sum.iter_mut().find(|(known, _)| known == from) {
                Some((_, total)) => *total += weight * share,
                None => sum.push((*from, weight * share)),
            }
        }
    }
    sum
}
