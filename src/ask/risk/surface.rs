//! The response surface: what the scattered inputs take from each margin.
//!
//! A sum of what each input does alone (a parabola to either side of its planned value) and of what every
//! two do together (their product), each from runs about the planned line: a cut representation of second
//! order (H. Rabitz and O. Alis, J. Math. Chem. 25 (1999) 197-233, from memory). Unlike a polynomial fitted
//! to samples it is exact on every axis as far as the tail of a retry.

use rayon::prelude::*;

use super::spread::Spread;
use crate::ask::distribution::{Distribution, Normal};
use crate::ask::failure::Failure;
use crate::ask::model::{Change, ExitInputs, Model};

/// An input that moves no margin by more than this, K, over its whole spread is left out.
pub(super) const STILL_K: f64 = 0.05;

/// An input that moves a margin by more than this, K, gets a bent curve.
const BENT_K: f64 = 0.5;

/// Inputs are taken together where the smaller of them does more than this share of the largest.
const TOGETHER: f64 = 0.05;

/// Probability beyond either end of an axis.
const END: f64 = 2e-4;

/// One scattered input.
#[derive(Debug, Clone)]
pub(super) struct Axis {
    knob: Knob,
    nominal: f64,
    pub distribution: Distribution,
    low: f64,
    high: f64,
}

/// What is turned.
#[derive(Debug, Clone)]
enum Knob {
    /// An input by its path.
    Path(String),
    /// The exit temperature, surface and core together.
    Exit(ExitInputs),
}

impl Axis {
    fn new(knob: Knob, nominal: f64, distribution: Distribution) -> Self {
        let low = distribution.quantile(END).min(nominal);
        let high = distribution.quantile(1.0 - END).max(nominal);
        Self {
            knob,
            nominal,
            distribution,
            low,
            high,
        }
    }

    pub fn changes(&self, value: f64) -> Vec<Change> {
        match &self.knob {
            Knob::Path(path) => vec![Change::new(path.clone(), value)],
            Knob::Exit(exit) => exit.at(value),
        }
    }

    /// The line changed by `at` with this input besides as far off as `value` is from its planned one: where `at`
    /// sets it too, both add up.
    fn changes_from(&self, at: &[Change], value: f64) -> Vec<Change> {
        let mut changes = at.to_vec();
        for (to, planned) in self.changes(value).into_iter().zip(self.changes(self.nominal)) {
            match changes.iter_mut().find(|change| change.path == to.path) {
                Some(set) => set.value += to.value - planned.value,
                None => changes.push(to),
            }
        }
        changes
    }

    /// Path of the input.
    pub fn name(&self) -> String {
        match &self.knob {
            Knob::Path(path) => path.clone(),
            Knob::Exit(exit) => exit.surface.0.clone(),
        }
    }

    /// Whether it is the input of one of the paths.
    pub fn is_in(&self, paths: &[&str]) -> bool {
        matches!(&self.knob, Knob::Path(path) if paths.contains(&path.as_str()))
    }

    /// Ends that differ from the planned value: with `false` the lower, with `true` the upper one.
    fn ends(&self) -> impl Iterator<Item = (bool, f64)> {
        let ends = [(false, self.low), (true, self.high)];
        let nominal = self.nominal;
        ends.into_iter().filter(move |(_, x)| *x != nominal)
    }
}

/// What one input does alone to one limit: loss in K to either side, a x + b x², x from the planned value.
#[derive(Debug, Clone, Copy, Default)]
struct Bow {
    slope: f64,
    bend: f64,
    end: f64,
}

impl Bow {
    /// Through zero, `middle` at half of `end`, and `last` at `end`.
    fn through(end: f64, middle: f64, last: f64) -> Self {
        Self {
            slope: (4.0 * middle - last) / end,
            bend: (2.0 * last - 4.0 * middle) / (end * end),
            end,
        }
    }

    fn at(&self, x: f64) -> f64 {
        if x.abs() <= self.end.abs() {
            return x * (self.slope + x * self.bend);
        }
        // Straight on beyond the end.
        let last = self.end * (self.slope + self.end * self.bend);
        last + (x - self.end) * (self.slope + 2.0 * self.end * self.bend)
    }
}

/// What two inputs do together beyond what each does alone, by limit, per product of their deviations.
#[derive(Debug, Clone)]
struct Product {
    axes: (usize, usize),
    loss_k: Vec<f64>,
}

#[derive(Debug, Clone)]
pub(super) struct Surface {
    pub axes: Vec<Axis>,
    /// Margins of the planned line.
    pub base_k: Vec<f64>,
    /// By axis: below and above the planned value, by limit.
    bows: Vec<[Vec<Bow>; 2]>,
    products: Vec<Product>,
    pub runs: usize,
}

/// What another place of the line adds to the slope of every axis, by side and limit.
pub(super) type Lean = Vec<[Vec<f64>; 2]>;

impl Surface {
    /// Makes the surface; also which of the scattered inputs it has as axes, in their order.
    pub fn fit(model: &dyn Model, spread: &Spread, exit: Option<&ExitInputs>) -> Result<(Self, Vec<usize>), Failure> {
        let measured = |path: &str| {
            exit.is_some_and(|exit| exit.surface.0 == path || exit.core.as_ref().is_some_and(|core| core.0 == path))
        };
        let mut axes: Vec<(usize, Axis)> = Vec::new();
        for (k, entry) in spread.scattered.iter().enumerate() {
            if !measured(&entry.path) {
                let knob = Knob::Path(entry.path.clone());
                axes.push((k, Axis::new(knob, entry.nominal, entry.distribution.clone())));
            }
        }
        if let (Some(exit), Some(sd)) = (exit, spread.exit_sd_k) {
            let planned = exit.surface.1;
            let meter = Distribution::Normal(Normal::new(planned, sd)?);
            axes.push((usize::MAX, Axis::new(Knob::Exit(exit.clone()), planned, meter)));
        }
        let base_k = model.run(&[])?.margins_k();
        let lost = |changes: &[Change]| -> Result<Vec<f64>, Failure> {
            let margins = model.run(changes)?.margins_k();
            Ok(base_k
                .iter()
                .zip(&margins)
                .map(|(base, margin)| base - margin)
                .collect())
        };
        let found: Vec<Result<Option<[Vec<Bow>; 2]>, Failure>> = axes
            .par_iter()
            .map(|(_, axis)| alone(axis, base_k.len(), &lost))
            .collect();
        let mut surface = Surface {
            axes: Vec::new(),
            base_k: base_k.clone(),
            bows: Vec::new(),
            products: Vec::new(),
            runs: 1,
        };
        let mut kept = Vec::new();
        for ((k, axis), found) in axes.into_iter().zip(found) {
            surface.runs += 2;
            if let Some(bows) = found? {
                kept.push(k);
                surface.axes.push(axis);
                surface.bows.push(bows);
                surface.runs += 2;
            }
        }
        surface.products = surface.together(&lost)?;
        surface.runs += surface.products.len();
        Ok((surface, kept))
    }

    /// Losses of one axis at its ends, by limit.
    fn at_end(&self, axis: usize, upper: bool) -> Vec<f64> {
        let bows = &self.bows[axis][usize::from(upper)];
        bows.iter().map(|bow| bow.at(bow.end)).collect()
    }

    /// The end at which an axis does most, with what it does there.
    fn main_end(&self, axis: usize) -> (f64, f64) {
        let most = |upper: bool| self.at_end(axis, upper).iter().fold(0.0_f64, |m, l| m.max(l.abs()));
        let (low, high) = (most(false), most(true));
        if high >= low {
            (self.axes[axis].high, high)
        } else {
            (self.axes[axis].low, low)
        }
    }

    fn together(&self, lost: &Lost<'_>) -> Result<Vec<Product>, Failure> {
        let ends: Vec<(f64, f64)> = (0..self.axes.len()).map(|axis| self.main_end(axis)).collect();
        let largest = ends.iter().fold(0.0_f64, |m, end| m.max(end.1));
        let counts = |k: &usize| ends[*k].1 > TOGETHER * largest;
        let all: Vec<usize> = (0..self.axes.len()).filter(counts).collect();
        let pairs: Vec<(usize, usize)> = all
            .iter()
            .enumerate()
            .flat_map(|(n, &i)| all[n + 1..].iter().map(move |&j| (i, j)))
            .collect();
        let found = pairs.par_iter().map(|&(i, j)| {
            let (x, y) = (ends[i].0, ends[j].0);
            let mut changes = self.axes[i].changes(x);
            changes.extend(self.axes[j].changes(y));
            let both = lost(&changes)?;
            let area = (x - self.axes[i].nominal) * (y - self.axes[j].nominal);
            let rest = |limit: usize| (both[limit] - self.of(i, limit, x) - self.of(j, limit, y)) / area;
            Ok(Product {
                axes: (i, j),
                loss_k: (0..both.len()).map(rest).collect(),
            })
        });
        found.collect::<Vec<Result<_, Failure>>>().into_iter().collect()
    }

    /// Loss in K of a limit by one axis alone.
    fn of(&self, axis: usize, limit: usize, value: f64) -> f64 {
        let x = value - self.axes[axis].nominal;
        self.bows[axis][usize::from(x > 0.0)][limit].at(x)
    }

    /// What the line changed by `at` adds to the slopes of the axes that are not known, for some limits; `here_k`
    /// are the margins there.
    pub fn lean(
        &self,
        model: &dyn Model,
        known: &[&str],
        (at, here_k): (&[Change], &[f64]),
        limits: &[usize],
    ) -> Result<Lean, Failure> {
        let reach = |axis: usize, limit: usize| {
            let end = |upper: bool| self.at_end(axis, upper)[limit].abs();
            end(false).max(end(true))
        };
        let free: Vec<usize> = (0..self.axes.len()).filter(|&k| !self.axes[k].is_in(known)).collect();
        let counts = |axis: usize| {
            limits.iter().any(|&limit| {
                let largest = free.iter().map(|&k| reach(k, limit)).fold(0.0_f64, f64::max);
                reach(axis, limit) > TOGETHER * largest
            })
        };
        let leans: Vec<Result<[Vec<f64>; 2], Failure>> = (0..self.axes.len())
            .into_par_iter()
            .map(|k| {
                let axis = &self.axes[k];
                let mut sides = [vec![0.0; here_k.len()], vec![0.0; here_k.len()]];
                if !free.contains(&k) || !counts(k) {
                    return Ok(sides);
                }
                for (upper, end) in axis.ends() {
                    let margins = model.run(&axis.changes_from(at, end))?.margins_k();
                    let lost = here_k.iter().zip(&margins).map(|(here, margin)| here - margin);
                    let before = self.at_end(k, upper);
                    sides[usize::from(upper)] = lost
                        .zip(before)
                        .map(|(lost, before)| (lost - before) / (end - axis.nominal))
                        .collect();
                }
                Ok(sides)
            })
            .collect();
        leans.into_iter().collect()
    }

    /// What every sample takes from one limit, K. Known axes take nothing.
    pub fn losses(&self, limit: usize, drawn: &[Vec<f64>], known: &[usize], lean: Option<&Lean>) -> Vec<f64> {
        let count = drawn.first().map_or(0, Vec::len);
        let mut losses = vec![0.0; count];
        let free = |axis: &usize| !known.contains(axis);
        for axis in (0..self.axes.len()).filter(free) {
            let bows = [&self.bows[axis][0][limit], &self.bows[axis][1][limit]];
            let leans = lean.map_or([0.0; 2], |lean| [lean[axis][0][limit], lean[axis][1][limit]]);
            let nominal = self.axes[axis].nominal;
            for (loss, value) in losses.iter_mut().zip(&drawn[axis]) {
                let x = value - nominal;
                let side = usize::from(x > 0.0);
                *loss += bows[side].at(x) + leans[side] * x;
            }
        }
        for product in &self.products {
            let (i, j) = product.axes;
            let factor = product.loss_k[limit];
            if free(&i) && free(&j) && factor != 0.0 {
                let (a, b) = (self.axes[i].nominal, self.axes[j].nominal);
                for ((loss, x), y) in losses.iter_mut().zip(&drawn[i]).zip(&drawn[j]) {
                    *loss += factor * (x - a) * (y - b);
                }
            }
        }
        losses
    }
}

/// What every limit loses by changes, K.
type Lost<'a> = dyn Fn(&[Change]) -> Result<Vec<f64>, Failure> + Sync + 'a;

/// What one input does alone; `None` where it moves nothing.
fn alone(axis: &Axis, limits: usize, lost: &Lost<'_>) -> Result<Option<[Vec<Bow>; 2]>, Failure> {
    let mut sides = [vec![Bow::default(); limits], vec![Bow::default(); limits]];
    let mut most = 0.0_f64;
    for (upper, end) in axis.ends() {
        let last = lost(&axis.changes(end))?;
        let reach = last.iter().fold(0.0_f64, |m, l| m.max(l.abs()));
        most = most.max(reach);
        let middle = if reach > BENT_K {
            lost(&axis.changes(0.5 * (end + axis.nominal)))?
        } else {
            last.iter().map(|l| 0.5 * l).collect()
        };
        let x = end - axis.nominal;
        sides[usize::from(upper)] = middle.iter().zip(&last).map(|(m, l)| Bow::through(x, *m, *l)).collect();
    }
    Ok((most > STILL_K).then_some(sides))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::distribution::{Distribution, Normal};

    /// An exit that is set and scatters is as far off as both together; other inputs are set beside.
    #[test]
    fn what_is_set_and_scatters_adds_up() {
        let exit = ExitInputs {
            surface: ("heater.surface_c".to_owned(), 1225.0),
            core: Some(("heater.core_c".to_owned(), 1205.0)),
            base_c: 0.0,
        };
        let normal = Distribution::Normal(Normal::new(1225.0, 6.0).unwrap());
        let axis = Axis::new(Knob::Exit(exit.clone()), 1225.0, normal);
        let value = |changes: &[Change], path: &str| changes.iter().find(|c| c.path == path).map(|c| c.value);
        let both = axis.changes_from(&exit.at(1150.0), 1207.0);
        assert_eq!(both.len(), 2);
        assert_eq!(value(&both, "heater.surface_c"), Some(1132.0));
        assert_eq!(value(&both, "heater.core_c"), Some(1112.0));
        let beside = axis.changes_from(&[Change::new("stage.carry.seconds", 5.0)], 1207.0);
        assert_eq!(value(&beside, "heater.surface_c"), Some(1207.0));
        assert_eq!(value(&beside, "stage.carry.seconds"), Some(5.0));
    }
}
