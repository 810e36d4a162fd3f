//! Making a decision table from runs.

use rayon::prelude::*;

use super::{DecisionTable, Guard, Identity, StageChanges, TABLE_SCHEMA};
use crate::ask::PlanError;
use crate::ask::failure::Failure;
use crate::ask::model::{Change, Model};
use crate::ask::risk::Guards;

/// Longest time in the table beyond the planned one, s.
const LONGEST_S: f64 = 30.0;

/// Extra times of the table as shares of [`LONGEST_S`]: closer where parts are.
const LATER: [f64; 9] = [0.03, 0.07, 0.14, 0.25, 0.4, 0.55, 0.7, 0.85, 1.0];

/// Faster times of the table as shares of what a hand-over can be shortened.
const EARLIER: [f64; 4] = [0.25, 0.5, 0.75, 1.0];

/// Exit temperatures of the table: this many to either side of the planned one, K apart.
const EXITS: (i32, f64) = (4, 12.0);

const MEANING: &str = "Margins in K of every limit over the exit temperature and the seconds of each hand-over. \
A part is good while every margin, guard band and error taken off, is not negative. Outside the table: reject. \
Decision support only, not a safety function.";

impl DecisionTable {
    /// Makes the table on `model`, shifted so that its planned margins are `planned_k`. `guards` are
    /// those for the reject and the alarm risk, one value per limit each.
    ///
    /// # Errors
    /// [`Failure`] of a run; a line without an exit temperature to set or without hand-overs.
    pub fn build(model: &dyn Model, planned_k: &[f64], guards: Guards, identity: Identity) -> Result<Self, Failure> {
        let exit = model.exit_inputs().ok_or_else(Failure::no_exit)?;
        let exit_c: Vec<f64> = (-EXITS.0..=EXITS.0)
            .map(|k| exit.surface.1 + EXITS.1 * f64::from(k))
            .collect();
        let limits: Vec<String> = model.limits().iter().map(ToString::to_string).collect();
        let run = |changes: &[Change]| -> Result<Vec<f64>, Failure> { Ok(model.run(changes)?.margins_k()) };
        let base_k = in_order(exit_c.par_iter().map(|&t| run(&exit.at(t))).collect())?;
        let mut stages = Vec::new();
        for handover in model.handovers() {
            let seconds = seconds_of(handover.seconds, handover.least_s);
            let grid: Vec<(usize, usize)> = (0..exit_c.len())
                .flat_map(|i| (0..seconds.len()).map(move |j| (i, j)))
                .collect();
            let cells = grid.par_iter().map(|&(i, j)| -> Result<Vec<f64>, Failure> {
                if seconds[j] == handover.seconds {
                    return Ok(vec![0.0; limits.len()]);
                }
                let mut changes = exit.at(exit_c[i]);
                changes.push(Change::new(handover.path.clone(), seconds[j]));
                let margins = run(&changes)?;
                Ok(margins.iter().zip(&base_k[i]).map(|(m, b)| m - b).collect())
            });
            let cells = in_order(cells.collect())?;
            stages.push(StageChanges {
                stage: handover.stage.clone(),
                path: handover.path.clone(),
                planned_s: handover.seconds,
                change_k: cells.chunks(seconds.len()).map(<[_]>::to_vec).collect(),
                seconds,
            });
        }
        let mut table = Self {
            schema_version: TABLE_SCHEMA,
            identity,
            meaning: MEANING.to_owned(),
            error_k: vec![0.0; limits.len()],
            limits,
            exit_input: exit.surface.0.clone(),
            exit_c,
            base_k,
            stages,
            guard_k: guards.reject,
            alarm_guard_k: guards.alarm,
            digest: String::new(),
        };
        let together = table.sum_error(model)?;
        table.error_k = table.exit_error();
        table.take_off(&together);
        let middle = EXITS.0 as usize;
        let shift: Vec<f64> = planned_k
            .iter()
            .zip(&table.base_k[middle])
            .map(|(p, b)| p - b)
            .collect();
        for row in &mut table.base_k {
            row.iter_mut().zip(&shift).for_each(|(margin, shift)| *margin += shift);
        }
        table.digest = table.digest_now();
        Ok(table)
    }

    /// Takes other guard bands.
    pub(crate) fn guard(&mut self, guards: Guards) {
        self.guard_k = guards.reject;
        self.alarm_guard_k = guards.alarm;
        self.digest = self.digest_now();
    }

    /// Where the limits are about to break as the table has it: each hand-over alone at both ends of its
    /// times for every limit, and the exit temperature with planned times; the limit and the changes there.
    pub(crate) fn ends(&self, model: &dyn Model, planned_c: f64) -> Vec<(usize, Vec<Change>)> {
        let mut ends = Vec::new();
        for (k, handover) in model.handovers().iter().enumerate() {
            for limit in 0..self.limits.len() {
                let Some(times) = self.times(k, planned_c, Guard::Reject, Some(limit)) else {
                    continue;
                };
                for edge in [times.earliest(), times.latest()].into_iter().flatten() {
                    ends.push((limit, vec![Change::new(handover.path.clone(), edge.seconds)]));
                }
            }
        }
        let Some(exit) = model.exit_inputs() else { return ends };
        for limit in 0..self.limits.len() {
            for k in 1..self.exit_c.len() {
                let (a, b) = (self.base_k[k - 1][limit], self.base_k[k][limit]);
                if (a < 0.0) != (b < 0.0) {
                    let share = a / (a - b);
                    let at = self.exit_c[k - 1] + share * (self.exit_c[k] - self.exit_c[k - 1]);
                    ends.push((limit, exit.at(at)));
                }
            }
        }
        ends
    }

    /// Bound on the error of linear interpolation over the exit temperature, K, one per limit.
    fn exit_error(&self) -> Vec<f64> {
        let of = |l: usize| interval_errors(&self.exit_c, &|k| self.base_k[k][l]);
        let worst = |l: usize| of(l).into_iter().fold(0.0_f64, f64::max);
        (0..self.limits.len()).map(worst).collect()
    }

    /// Takes off the changes of every hand-over what they may err to the unsafe side: what lies between two
    /// seconds of the table, and its part in what the sum over hand-overs errs. Nothing at the planned
    /// seconds, where the table is exact.
    fn take_off(&mut self, together: &[f64]) {
        let limits = self.limits.len();
        let others = self.stages.len().saturating_sub(1) as f64;
        for stage in &mut self.stages {
            let planned = stage.seconds.iter().position(|s| *s == stage.planned_s).unwrap_or(0);
            for l in 0..limits {
                let rows = stage
                    .change_k
                    .iter()
                    .map(|row| interval_errors(&stage.seconds, &|k| row[k][l]));
                let mut errors = vec![0.0_f64; stage.seconds.len() - 1];
                for row in rows {
                    errors
                        .iter_mut()
                        .zip(row)
                        .for_each(|(worst, error)| *worst = worst.max(error));
                }
                for k in (0..stage.seconds.len()).filter(|k| *k != planned) {
                    let beside = |interval: usize| errors.get(interval).copied().unwrap_or(0.0);
                    // Straight from nothing at the planned seconds, it has to cover 4 v (1 - v) of the error.
                    let factor = if k.abs_diff(planned) == 1 { 4.0 } else { 1.0 };
                    let between = factor * k.checked_sub(1).map_or(0.0, beside).max(beside(k));
                    // Products of two deviations are at most half the sum of their squares.
                    let away = share(stage.planned_s, stage.seconds[0], stage.seconds[k]).powi(2);
                    let sum = together[l] * 0.5 * others * away;
                    for row in &mut stage.change_k {
                        row[k][l] -= between + sum;
                    }
                }
            }
        }
    }

    /// By how much the sum over hand-overs is above a run of all deviations together, K for a sum of products of
    /// two deviations of one, one per limit: the largest over corners of exit temperature and times.
    fn sum_error(&self, model: &dyn Model) -> Result<Vec<f64>, Failure> {
        let exit = model.exit_inputs().ok_or_else(Failure::no_exit)?;
        let last = self.exit_c.len() - 1;
        // Each hand-over at the given place of its seconds, counted from the planned ones.
        let at = |stage: &StageChanges, place: f64| {
            let planned = stage.seconds.iter().position(|s| *s == stage.planned_s).unwrap_or(0) as f64;
            let end = (stage.seconds.len() - 1) as f64;
            let k = if place >= 0.0 {
                planned + place * (end - planned)
            } else {
                planned + place * planned
            };
            stage.seconds[k.round() as usize]
        };
        let patterns: [&dyn Fn(usize) -> f64; 7] = [
            &|_| 0.2,
            &|_| 0.35,
            &|_| 0.7,
            &|_| -0.5,
            &|_| -1.0,
            &|k| if k % 2 == 0 { 0.5 } else { -1.0 },
            &|k| if k % 2 == 0 { -1.0 } else { 0.5 },
        ];
        let corners: Vec<(usize, Vec<f64>)> = [0, last / 2, last]
            .into_iter()
            .flat_map(|i| {
                patterns
                    .iter()
                    .map(move |p| (i, self.stages.iter().enumerate().map(|(k, s)| at(s, p(k))).collect()))
            })
            .collect();
        let errors = corners.par_iter().map(|(i, seconds)| -> Result<Vec<f64>, Failure> {
            let mut changes = exit.at(self.exit_c[*i]);
            let paths = model.handovers().iter().map(|h| h.path.clone());
            changes.extend(paths.zip(seconds).map(|(path, s)| Change::new(path, *s)));
            let run = model.run(&changes)?.margins_k();
            let found = self.bare_margins_k(self.exit_c[*i], seconds);
            let found = found.ok_or_else(|| PlanError::count("corners inside the table", 0, "1"))?;
            let away = self.stages.iter().zip(seconds);
            let away: Vec<f64> = away
                .map(|(stage, s)| share(stage.planned_s, stage.seconds[0], *s))
                .collect();
            let products = 0.5 * (away.iter().sum::<f64>().powi(2) - away.iter().map(|a| a * a).sum::<f64>());
            let per_product = |error: f64| if products > 0.0 { error / products } else { 0.0 };
            Ok(found.iter().zip(&run).map(|(f, r)| per_product(f - r)).collect())
        });
        let errors = in_order(errors.collect())?;
        let worst = |l: usize| errors.iter().map(|e| e[l]).fold(0.0_f64, f64::max);
        Ok((0..self.limits.len()).map(worst).collect())
    }
}

/// A deviation from the planned seconds as a share of the longest there is in the table on its side.
fn share(planned_s: f64, least_s: f64, seconds: f64) -> f64 {
    match seconds < planned_s {
        true => (planned_s - seconds) / (planned_s - least_s),
        false => (seconds - planned_s) / LONGEST_S,
    }
}

/// Bound on the error of the straight line in every interval: an eighth of the second derivative, taken from
/// the second differences at both ends, times the square of the interval.
fn interval_errors(x: &[f64], y: &dyn Fn(usize) -> f64) -> Vec<f64> {
    let curvature = |k: usize| {
        if k == 0 || k + 1 >= x.len() {
            return 0.0;
        }
        let (before, after) = (x[k] - x[k - 1], x[k + 1] - x[k]);
        (2.0 * ((y(k + 1) - y(k)) / after - (y(k) - y(k - 1)) / before) / (before + after)).abs()
    };
    let of = |k: usize| curvature(k).max(curvature(k + 1)) * (x[k + 1] - x[k]).powi(2) / 8.0;
    (0..x.len() - 1).map(of).collect()
}

/// Seconds of the table for a hand-over.
fn seconds_of(planned_s: f64, least_s: f64) -> Vec<f64> {
    let room = planned_s - least_s;
    let mut seconds: Vec<f64> = EARLIER.iter().rev().map(|share| planned_s - share * room).collect();
    seconds.push(planned_s);
    seconds.extend(LATER.iter().map(|share| planned_s + share * LONGEST_S));
    seconds.dedup_by(|a, b| *a - *b < 1e-6);
    seconds
}

/// Results of parallel runs, or the first error in their order.
fn in_order<T, E>(results: Vec<Result<T, E>>) -> Result<Vec<T>, E> {
    results.into_iter().collect()
}
