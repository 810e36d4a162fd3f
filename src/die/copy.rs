//! A cheap copy of a tool face, to follow it from takt to takt.
//!
//! One real takt (a part, then spray, blow-off and air) fixes the copy: started from the same
//! temperatures it ends at the same ones. From other temperatures it ends where a plain model says:
//! while the part is there a difference spreads into the depth and across the face, and takes a
//! share less from the part that is measured anew from real takt to real takt; afterwards the laws of
//! the open face act, bent or not. The model uses few implicit steps and conductivities of the real
//! takt; its error falls with the distance from the real one.

use super::slow::Slow;
use super::{Ground, Phase};
use crate::conduction::{DeepEnd, ExchangeNow, Sideways};

/// Steps of the time with the part.
const STEPS_WITH_PART: usize = 2;
/// Steps of a spray, in which the face may lose its wetting.
const STEPS_SPRAY: usize = 20;
/// Steps of other pieces of the idle time.
const STEPS_ELSE: usize = 2;
/// How far a face goes between two real takts that tell what it takes, K.
const FAR_K: f64 = 3.0;
/// Most iterations for a face temperature, and the largest change of one, K.
const FACE_ITERATIONS: usize = 12;
const FACE_LEAP_K: f64 = 60.0;
const FACE_CHANGE_K: f64 = 1e-4;

/// Faces above the present one whose slope a law may have before it settles, K.
const SLOPES_AHEAD_K: [f64; 4] = [0.0, 25.0, 50.0, 100.0];

/// A copy of one tool face. Temperatures \[degC\] are [depth][column], as those of [`Ground::temperatures`].
#[derive(Debug, Clone)]
pub struct DieCopy<'a> {
    ground: &'a Ground,
    /// Columns of the face, and those with the ones beside it.
    faces: usize,
    columns: usize,
    areas: Vec<f64>,
    sideways: Sideways,
    /// Heat capacity of every cell \[J/K\], and conductance \[W/K\] of every link [link][layer].
    capacity: Vec<f64>,
    links: Vec<f64>,
    /// Long steps over many takts, by their number.
    slow: Vec<(f64, Slow)>,
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
        let faces = ground.columns().count();
        let areas = ground.areas();
        let mut mixing: Vec<Vec<(usize, f64)>> = (0..faces).map(|c| vec![(c, 1.0)]).collect();
        for spans in ground.touched() {
            mixing = ground.mixing(spans).iter().map(|row| combine(row, &mixing)).collect();
        }
        let cells = ground.cells();
        DieCopy {
            ground,
            faces,
            columns: areas.len(),
            areas,
            sideways: Sideways::new(ground.links().to_vec()),
            capacity: vec![0.0; cells],
            links: Vec::new(),
            slow: Vec::new(),
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
            row: vec![0.0; faces],
        }
    }

    /// Number of cells.
    pub fn cells(&self) -> usize {
        self.lost.len()
    }

    /// Mean by area of the cells next to the face.
    pub fn face_mean_c(&self, temps_c: &[f64]) -> f64 {
        let areas = &self.areas[..self.faces];
        let total: f64 = areas.iter().sum();
        areas.iter().zip(temps_c).map(|(a, t)| a * t).sum::<f64>() / total
    }

    /// Fixes the copy to a real takt: temperatures before the part, when it has left, and before the next.
    pub fn fix(&mut self, before: &[f64], left: &[f64], after: &[f64]) {
        if !self.idle.is_empty() {
            self.learn_on_the_way(before, left);
        }
        self.before.copy_from_slice(before);
        self.left.copy_from_slice(left);
        self.slow.clear();
        self.measure();
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

    /// Learns anew how much less a warmer face takes, from what the parts of two real takts left behind, where
    /// the face has gone far enough in between to tell.
    fn learn_on_the_way(&mut self, before: &[f64], left: &[f64]) {
        let mut warmer: Vec<f64> = before.iter().zip(&self.before).map(|(b, a)| b - a).collect();
        self.spread(&mut warmer);
        let n = self.columns;
        for i in 0..warmer.len() {
            let face = warmer[i % n];
            if face.abs() > FAR_K {
                self.lost[i] = (warmer[i] - (left[i] - self.left[i])) / face;
            }
        }
    }

    /// Takes temperatures before a part to those before the next one.
    pub fn takt(&mut self, temps_c: &mut [f64]) {
        let n = self.columns;
        let mut faces = vec![0.0; n];
        let mut warmer = std::mem::take(&mut self.work);
        for (d, (t, before)) in warmer.iter_mut().zip(temps_c.iter().zip(&self.before)) {
            *d = t - before;
        }
        self.spread(&mut warmer);
        faces.copy_from_slice(&warmer[..n]);
        let cells = warmer.iter().zip(&self.left).zip(&self.lost);
        for (i, (t, ((d, left), lost))) in temps_c.iter_mut().zip(cells).enumerate() {
            *t = left + d - lost * faces[i % n];
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
        for row in difference.chunks_mut(self.columns) {
            self.row.copy_from_slice(&row[..self.faces]);
            for (t, sources) in row.iter_mut().zip(&self.mixing) {
                *t = sources.iter().map(|(from, weight)| weight * self.row[*from]).sum();
            }
        }
        self.pass_sideways(difference, self.with_part_s);
    }

    /// The idle time of the model.
    fn rest(&mut self, temps_c: &mut [f64]) {
        let phases = std::mem::take(&mut self.phases);
        let mut idle = std::mem::take(&mut self.idle);
        for (phase, step) in phases.iter().zip(&mut idle) {
            let law = phase.exchange.now(0.0);
            let beside = self.ground.air().unwrap_or(&phase.exchange).now(0.0);
            for _ in 0..steps(phase) {
                let half = std::mem::take(&mut step.half);
                step.go(temps_c, |c, known, per_pivot| {
                    first_cell(if c < self.faces { &law } else { &beside }, half[c], known, per_pivot)
                });
                step.half = half;
            }
            self.wells(temps_c, phase.seconds);
            self.pass_sideways(temps_c, phase.seconds);
        }
        self.phases = phases;
        self.idle = idle;
    }

    /// What channels and heaters give to their layers.
    fn wells(&self, temps_c: &mut [f64], seconds: f64) {
        let n = self.columns;
        for (layer, well) in self.ground.wells() {
            let cells = layer * n..(layer + 1) * n;
            let capacity = self.capacity[cells.clone()].iter().zip(&self.areas);
            for (t, (capacity, area)) in temps_c[cells].iter_mut().zip(capacity) {
                let capacity = capacity / area;
                *t += well.heat_j_m2(*t, seconds, capacity, self.ground.section_m2()) / capacity;
            }
        }
    }

    fn pass_sideways(&mut self, temps_c: &mut [f64], seconds: f64) {
        if self.sideways.links().is_empty() {
            return;
        }
        let n = self.columns;
        let layers = temps_c.len() / n;
        let conductance: Vec<f64> = self.links.iter().map(|k| seconds * k).collect();
        // Column by column, as the ways sideways want it.
        let cell = |slot: usize| (slot % layers) * n + slot / layers;
        let capacity: Vec<f64> = (0..temps_c.len()).map(|slot| self.capacity[cell(slot)]).collect();
        let mut x: Vec<f64> = (0..temps_c.len())
            .map(|slot| temps_c[cell(slot)] * capacity[slot])
            .collect();
        self.sideways.solve(layers, &capacity, &conductance, &mut x);
        for (slot, x) in x.iter().enumerate() {
            temps_c[cell(slot)] = *x;
        }
    }

    /// Conductivity \[W/mK\] and heat capacity per volume \[J/m³K\] of every cell as the part leaves it.
    fn properties(&self) -> Vec<(f64, f64)> {
        let medium = self.ground.columns().medium();
        let of = |t: &f64| {
            let at = medium.heating.at(medium.heating.enthalpy(*t));
            (at.dpotential_dh / at.dtemp_dh, medium.density / at.dtemp_dh)
        };
        self.left.iter().map(of).collect()
    }

    /// Capacities and ways sideways of the real takt.
    fn measure(&mut self) {
        let states = self.properties();
        let n = self.columns;
        let sizes = self.ground.columns().depth_sizes();
        for (layer, size) in sizes.iter().enumerate() {
            let row = &states[layer * n..][..n];
            let capacity = self.capacity[layer * n..].iter_mut().zip(row.iter().zip(&self.areas));
            for (capacity, ((_, per_volume), area)) in capacity {
                *capacity = per_volume * size * area;
            }
        }
        self.links.clear();
        for link in self.sideways.links() {
            let rows = states.chunks(n).zip(sizes);
            let ways =
                rows.map(|(row, size)| 0.5 * (row[link.from].0 + row[link.to].0) * size * link.width_over_length);
            self.links.extend(ways);
        }
    }

    /// Takes temperatures `after` on over `takts` more takts at once, from those a takt before: an implicit step
    /// of slow conduction with what the takt put in or took out, which gives more to the open faces and the part
    /// for each kelvin than they will take. So warming tools stay below where the takts would bring them.
    pub fn go_on(&mut self, before: &[f64], after: &mut [f64], takts: f64) {
        let at = match self.slow.iter().position(|(known, _)| *known == takts) {
            Some(at) => at,
            None => {
                let slow = self.slow_step(after, takts);
                self.slow.push((takts, slow));
                self.slow.len() - 1
            }
        };
        let takt_s = self.takt_s();
        let n = self.columns;
        let depth = self.capacity.len() / n;
        // Column by column, as the long step wants it.
        let mut power: Vec<f64> = (0..n * depth)
            .map(|i| {
                let cell = (i % depth) * n + i / depth;
                self.capacity[cell] * (after[cell] - before[cell]) / takt_s
            })
            .collect();
        self.slow[at].1.solve(&mut power);
        for (i, change) in power.iter().enumerate() {
            after[(i % depth) * n + i / depth] += change;
        }
    }

    fn takt_s(&self) -> f64 {
        self.with_part_s + self.phases.iter().map(|phase| phase.seconds).sum::<f64>()
    }

    fn slow_step(&self, temps_c: &[f64], takts: f64) -> Slow {
        let n = self.columns;
        let sizes = self.ground.columns().depth_sizes();
        let (depth, takt_s) = (sizes.len(), self.takt_s());
        let states = self.properties();
        let end = self.ground.columns().deep_end();
        let mut diagonal = vec![0.0; n * depth];
        let mut deeper = vec![0.0; n * depth];
        for c in 0..n {
            for i in 0..depth {
                let (cell, area) = (i * n + c, self.areas[c]);
                diagonal[c * depth + i] += self.capacity[cell] / (takts * takt_s);
                let k = states[cell].0;
                if i + 1 < depth {
                    let g = area * (k + states[cell + n].0) / (sizes[i] + sizes[i + 1]);
                    deeper[c * depth + i] = g;
                    diagonal[c * depth + i] += g;
                    diagonal[c * depth + i + 1] += g;
                } else {
                    diagonal[c * depth + i] += area * end.conductance(0.5 * sizes[i], k).1;
                }
            }
            diagonal[c * depth] += self.areas[c] * self.surface_w_m2k(c, temps_c[c], &states);
            for (layer, well) in self.ground.wells() {
                diagonal[c * depth + layer] += self.areas[c] * well.slope_w_m2k(self.ground.section_m2());
            }
        }
        Slow::new(depth, diagonal, &deeper, self.sideways.links(), &self.links)
    }

    /// What a kelvin more at the face of a column gives more to parts and to the open, mean of a takt, W/m²K.
    fn surface_w_m2k(&self, column: usize, face_c: f64, states: &[(f64, f64)]) -> f64 {
        let n = self.columns;
        let takt_s = self.takt_s();
        let cells = (column..self.capacity.len()).step_by(n);
        let to_part: f64 = cells.map(|i| self.lost[i] * self.capacity[i]).sum::<f64>() / self.areas[column];
        let effusivity = (states[column].0 * states[column].1).sqrt();
        let mut sum = to_part.max(0.0);
        for phase in &self.phases {
            let law = match self.ground.air() {
                Some(air) if column >= self.faces => air.now(0.0),
                _ => phase.exchange.now(0.0),
            };
            let slope = SLOPES_AHEAD_K
                .map(|ahead| law.at(face_c + ahead).1)
                .into_iter()
                .fold(0.0, f64::max);
            // The face itself cools while the law acts: half-space under a constant flux, 2 √(t/π)/e, mean 2/3 of it.
            let own = 0.75 * phase.seconds.sqrt() / effusivity;
            sum += phase.seconds * slope / (1.0 + own * slope);
        }
        sum / takt_s
    }

    /// An implicit step with the properties that the metal has when the part leaves. Of a difference the
    /// far end stays at zero.
    fn step(&self, seconds: f64, of_difference: bool) -> Step {
        let n = self.columns;
        let columns = self.ground.columns();
        let sizes = columns.depth_sizes();
        let depth = sizes.len();
        let states = self.properties();
        let end = columns.deep_end();
        let deep_c = match end {
            DeepEnd::Fixed(temp_c) | DeepEnd::Joined { temp_c, .. } if !of_difference => temp_c,
            _ => 0.0,
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
                    None => end.conductance(0.5 * sizes[i], k).1,
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

/// New temperature of the first cell of a column under a law: it sends `known − pivot·T` to the face, which
/// gives it to the surroundings.
fn first_cell(law: &ExchangeNow<'_>, half: f64, known: f64, per_pivot: f64) -> f64 {
    let pivot = 1.0 / per_pivot;
    let share = half / (pivot + half);
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
    (known + half * face) / (pivot + half)
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
