//! Making a decision table from runs.

use rayon::prelude::*;

use super::{DecisionTable, Guard, Identity, LookedUp, StageChanges, TABLE_SCHEMA};
use crate::ask::PlanError;
use crate::ask::band::range;
use crate::ask::failure::Failure;
use crate::ask::model::{Change, Model};
use crate::ask::risk::Guards;
use crate::judge::{Limit, Moment};

/// Longest time in the table beyond the planned one, s.
pub(super) const LONGEST_S: f64 = 30.0;

/// Extra times of the table as shares of [`LONGEST_S`]: closer where parts are.
const LATER: [f64; 13] = [
    0.02, 0.05, 0.09, 0.14, 0.2, 0.27, 0.35, 0.44, 0.54, 0.65, 0.76, 0.88, 1.0,
];

/// Faster times of the table as shares of what a hand-over can be shortened.
const EARLIER: [f64; 4] = [0.25, 0.5, 0.75, 1.0];

/// Products of two changes, K², below which what a sum errs is rounding beside them.
const LEAST_PRODUCTS_K2: f64 = 25.0;

/// Distance of the exit temperatures of the table, K.
pub(super) const EXIT_STEP_K: f64 = 12.0;

/// Fewest and most exit temperatures to either side of the planned one. Even, as every second one is run with every
/// time. Chosen: the most cover what a heater is set to and drifts by, and double the runs of the fewest.
pub(super) const EXITS: (u32, u32) = (4, 10);

/// How many exit temperatures a table has below or above the planned one: as far as `reach_k` from it, even where that
/// is between two, and not beyond what the inputs take, `most_k`.
fn exits(reach_k: f64, most_k: f64) -> u32 {
    let wanted = (EXITS.0..=EXITS.1).step_by(2);
    let fits = |count: &u32| *count == EXITS.0 || EXIT_STEP_K * f64::from(*count) <= most_k;
    let mut last = EXITS.0;
    for count in wanted.filter(fits) {
        last = count;
        if EXIT_STEP_K * f64::from(count) >= reach_k {
            break;
        }
    }
    last
}

const MEANING: &str = "Margins in K of every limit over the exit temperature and the seconds of each hand-over. \
A part is good while every margin, guard band and error taken off, is not negative. Outside the table: reject. \
Decision support only, not a safety function.";

impl DecisionTable {
    /// Makes the table on `model`, shifted so that its planned margins are `planned_k`. `guards` are
    /// those for the reject and the alarm risk, one value per limit each. It reaches 48 K to either side of the planned
    /// exit temperature.
    ///
    /// # Errors
    /// [`Failure`] of a run; a line without an exit temperature to set or without hand-overs.
    pub fn build(model: &dyn Model, planned_k: &[f64], guards: Guards, identity: Identity) -> Result<Self, Failure> {
        let planned_c = model.exit_inputs().ok_or_else(Failure::no_exit)?.surface.1;
        let limits: Vec<String> = model.limits().iter().map(ToString::to_string).collect();
        let rows = ((0..limits.len()).collect(), vec![None; limits.len()]);
        Self::reaching(
            model,
            (limits, rows),
            planned_k,
            guards,
            identity,
            (planned_c, planned_c),
        )
    }

    /// The same of a line by rows: its limits, and the limit and stage of each row, whose margins `model` gives. Reaches at
    /// least from one exit temperature to another, degC, as far as a table goes.
    ///
    /// # Errors
    /// As [`DecisionTable::build`].
    pub(in crate::ask) fn reaching(
        model: &dyn Model,
        (limits, (limit_of, moment_of)): (Vec<String>, Rows),
        planned_k: &[f64],
        guards: Guards,
        identity: Identity,
        (low_c, high_c): (f64, f64),
    ) -> Result<Self, Failure> {
        let exit = model.exit_inputs().ok_or_else(Failure::no_exit)?;
        let planned_c = exit.surface.1;
        let (least_c, most_c) = range(model, exit, EXIT_STEP_K * f64::from(EXITS.1))?;
        let below = exits(planned_c - low_c, planned_c - least_c);
        let above = exits(high_c - planned_c, most_c - planned_c);
        let exit_c: Vec<f64> = (-i64::from(below)..=i64::from(above))
            .map(|k| planned_c + EXIT_STEP_K * k as f64)
            .collect();
        let rows = limit_of.len();
        let run = |changes: &[Change]| -> Result<Vec<f64>, Failure> { Ok(model.run(changes)?.margins_k()) };
        let base_k = in_order(exit_c.par_iter().map(|&t| run(&exit.at(t))).collect())?;
        let mut stages = Vec::new();
        for handover in model.handovers() {
            let seconds = seconds_of(handover.seconds, handover.least_s);
            // What seconds change bends little over the exit temperature: every second one is run.
            let grid: Vec<(usize, usize)> = (0..exit_c.len())
                .step_by(2)
                .flat_map(|i| (0..seconds.len()).map(move |j| (i, j)))
                .collect();
            let cells = grid.par_iter().map(|&(i, j)| -> Result<Vec<f64>, Failure> {
                if seconds[j] == handover.seconds {
                    return Ok(vec![0.0; rows]);
                }
                let mut changes = exit.at(exit_c[i]);
                changes.push(Change::new(handover.path.clone(), seconds[j]));
                let margins = run(&changes)?;
                let changes = margins.iter().zip(&base_k[i]).map(|(m, b)| m - b);
                Ok(changes
                    .zip(model.limits())
                    .map(|(k, limit)| counted(k, limit))
                    .collect())
            });
            let cells = in_order(cells.collect())?;
            stages.push(StageChanges {
                stage: handover.stage.clone(),
                path: handover.path.clone(),
                planned_s: handover.seconds,
                change_k: between_rows(cells.chunks(seconds.len())),
                error_k: vec![vec![0.0; rows]; seconds.len()],
                seconds,
            });
        }
        let pairs = stages.len() * stages.len().saturating_sub(1) / 2;
        let mut table = Self {
            schema_version: TABLE_SCHEMA,
            identity,
            meaning: MEANING.to_owned(),
            error_k: vec![vec![0.0; rows]; exit_c.len() - 1],
            pair_per_k: vec![vec![0.0; rows]; pairs],
            sum_error_per_k: vec![[0.0; 3]; rows],
            limits,
            limit_of,
            moment_of,
            exit_input: exit.surface.0.clone(),
            planned_exit_c: planned_c,
            exit_c,
            base_k,
            stages,
            guard_k: guards.reject,
            alarm_guard_k: guards.alarm,
            digest: String::new(),
        };
        table.pair_per_k = table.pairs(model)?;
        let (together, rest) = table.sum_error(model)?;
        table.sum_error_per_k = together;
        table.error_k = table.exit_error();
        for (errors, rest) in table.error_k.iter_mut().zip(rest) {
            errors.iter_mut().zip(rest).for_each(|(error, rest)| *error += rest);
        }
        table.take_off();
        let middle = table.planned_row();
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

    /// Place of the planned exit temperature.
    fn planned_row(&self) -> usize {
        self.exit_c.partition_point(|c| *c < self.planned_exit_c - 1e-6)
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
        for (row, &limit) in self.limit_of.iter().enumerate() {
            for k in 1..self.exit_c.len() {
                let (a, b) = (self.base_k[k - 1][row], self.base_k[k][row]);
                if (a < 0.0) != (b < 0.0) {
                    let share = a / (a - b);
                    let at = self.exit_c[k - 1] + share * (self.exit_c[k] - self.exit_c[k - 1]);
                    ends.push((limit, exit.at(at)));
                }
            }
        }
        ends
    }

    /// Bound on the error of linear interpolation over the exit temperature, K: per interval, one per row.
    fn exit_error(&self) -> Vec<Vec<f64>> {
        let of = |l: usize| interval_errors(&self.exit_c, &|k| self.base_k[k][l]);
        let by_row: Vec<Vec<f64>> = (0..self.limit_of.len()).map(of).collect();
        let interval = |k: usize| by_row.iter().map(|errors| errors[k]).collect();
        (0..self.exit_c.len() - 1).map(interval).collect()
    }

    /// What is taken off for every hand-over: what lies between two seconds of the table. Nothing at the planned seconds,
    /// where the table is exact.
    fn take_off(&mut self) {
        let rows = self.limit_of.len();
        for stage in &mut self.stages {
            let planned = stage.planned_place();
            for l in 0..rows {
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
                    // Every second exit temperature was run.
                    let at = |row: usize| stage.change_k[row][k][l];
                    let exits = (2..stage.change_k.len().saturating_sub(2)).step_by(2);
                    let exits = exits.map(|row| (at(row - 2) - 2.0 * at(row) + at(row + 2)).abs() / 8.0);
                    let exits = exits.fold(0.0_f64, f64::max);
                    stage.error_k[k][l] = between + exits;
                }
            }
        }
    }

    /// What every two changes do together per product of both, fitted to runs with both hand-overs off their
    /// plan, later and faster, the exit as planned.
    fn pairs(&self, model: &dyn Model) -> Result<Vec<Vec<f64>>, Failure> {
        const PLACES: [(f64, f64); 6] = [
            (0.25, 0.25),
            (0.6, 0.6),
            (0.6, -1.0),
            (-1.0, 0.6),
            (-1.0, -1.0),
            (1.0, 0.3),
        ];
        let of: Vec<(usize, usize)> = (0..self.stages.len())
            .flat_map(|j| (0..j).map(move |i| (i, j)))
            .collect();
        let jobs: Vec<(usize, (f64, f64))> = (0..of.len()).flat_map(|k| PLACES.map(|place| (k, place))).collect();
        let seconds = |k: usize, (a, b): (f64, f64)| -> Vec<f64> {
            let taken = self.stages.iter().enumerate().map(|(s, stage)| match s {
                s if s == of[k].0 => stage.at(a),
                s if s == of[k].1 => stage.at(b),
                _ => stage.planned_s,
            });
            taken.collect()
        };
        let lacking = jobs.par_iter().map(|&(k, place)| -> Result<Vec<(f64, f64)>, Failure> {
            let (found, run) = self.compared(model, self.planned_row(), &seconds(k, place))?;
            let (a, b) = (&found.changes_k[of[k].0], &found.changes_k[of[k].1]);
            let lacks = found.margins_k.iter().zip(&run).map(|(found, run)| run - found);
            Ok(lacks
                .zip(a.iter().zip(b))
                .map(|(lacks, (a, b))| (a * b, lacks))
                .collect())
        });
        let lacking = in_order(lacking.collect())?;
        let fit = |k: usize, own: usize| {
            let mine = lacking[k * PLACES.len()..(k + 1) * PLACES.len()]
                .iter()
                .map(|rows| rows[own]);
            let (both, square) = mine.fold((0.0, 0.0), |(both, square), (x, y)| (both + x * y, square + x * x));
            // Changes of less than a kelvin make no pair.
            if square > 1.0 { both / square } else { 0.0 }
        };
        let of_pair = |k: usize| (0..self.limit_of.len()).map(|row| fit(k, row)).collect();
        Ok((0..of.len()).map(of_pair).collect())
    }

    /// What the table says at an exit temperature of its own and some seconds, and what a run does.
    fn compared(&self, model: &dyn Model, exit: usize, seconds: &[f64]) -> Result<(LookedUp, Vec<f64>), Failure> {
        let mut changes = model.exit_inputs().ok_or_else(Failure::no_exit)?.at(self.exit_c[exit]);
        let paths = model.handovers().iter().map(|h| h.path.clone());
        changes.extend(paths.zip(seconds).map(|(path, s)| Change::new(path, *s)));
        let run = model.run(&changes)?.margins_k();
        let found = self.looked_up(self.exit_c[exit], seconds);
        let found = found.ok_or_else(|| PlanError::count("corners inside the table", 0, "1"))?;
        Ok((found, run))
    }

    /// By how much the sum over hand-overs and pairs is above a run of all deviations together, one per row: as
    /// [`DecisionTable::sum_error_per_k`], the largest over corners of exit temperature and times, and what some corners
    /// have beyond that, K: per interval of exit temperatures, one per row. A row that goes by another moment on either
    /// side of some exit temperature has more there, and nothing above.
    fn sum_error(&self, model: &dyn Model) -> Result<SumError, Failure> {
        let (planned, last) = (self.planned_row(), self.exit_c.len() - 1);
        let mut rows = vec![0, planned / 2, planned, planned.midpoint(last), last];
        rows.dedup();
        let patterns: [&dyn Fn(usize) -> f64; 9] = [
            &|_| 0.2,
            &|_| 0.35,
            &|_| 0.7,
            &|_| -0.5,
            &|_| -1.0,
            &|k| if k % 2 == 0 { 0.5 } else { -1.0 },
            &|k| if k % 2 == 0 { -1.0 } else { 0.5 },
            &|k| if k % 2 == 0 { 0.9 } else { 0.1 },
            &|k| if k % 2 == 0 { 0.1 } else { 0.9 },
        ];
        let corners: Vec<(usize, Vec<f64>)> = (rows.iter())
            .flat_map(|&row| {
                let at = |p: &&dyn Fn(usize) -> f64| self.stages.iter().enumerate().map(|(k, s)| s.at(p(k))).collect();
                patterns.iter().map(move |p| (row, at(p))).collect::<Vec<_>>()
            })
            .collect();
        let errors = corners.par_iter().map(|(at, seconds)| -> Result<Vec<Corner>, Failure> {
            let (found, run) = self.compared(model, *at, seconds)?;
            let of = |own: usize| {
                let changes = found.changes_k.iter().map(|c| c[own]);
                Corner::of(changes, found.margins_k[own] - run[own])
            };
            Ok((0..self.limit_of.len()).map(of).collect())
        });
        let errors = in_order(errors.collect())?;
        let bounds = (0..self.limit_of.len()).map(|own| {
            let corners: Vec<Corner> = errors.iter().map(|e| e[own]).collect();
            let per_k = Corner::bound(&corners);
            let rest = |c: &[Corner]| c.iter().map(|c| c.left(&per_k)).fold(0.0_f64, f64::max);
            (per_k, corners.chunks(patterns.len()).map(rest).collect::<Vec<f64>>())
        });
        let (per_k, rest): (Vec<_>, Vec<_>) = bounds.unzip();
        // The rest at the rows looked at on both sides of an interval.
        let interval = |k: usize| {
            let after = rows.partition_point(|row| *row <= k);
            rest.iter().map(|rest| rest[after - 1].max(rest[after])).collect()
        };
        Ok((per_k, (0..last).map(interval).collect()))
    }
}

/// The limit that each row is of, from 0, and what it is about where its limit holds at any moment.
type Rows = (Vec<usize>, Vec<Option<String>>);

/// Errors of the sum per product of two changes by row, 1/K, and the rest by interval and row, K.
type SumError = (Vec<[f64; 3]>, Vec<Vec<f64>>);

/// What counts of a change that one hand-over makes to the margin of a row, K. The margin of a limit at any moment of the
/// whole line is the least that its stages leave. What a hand-over gains in one is no gain where another then decides, and
/// which one that is goes by the other hand-overs: it is not counted.
fn counted(change_k: f64, limit: &Limit) -> f64 {
    match (limit.moment, &limit.stage) {
        (Moment::Always, None) => change_k.min(0.0),
        _ => change_k,
    }
}

/// What a sum errs at one corner for one row.
#[derive(Debug, Clone, Copy)]
struct Corner {
    /// Sums of the products of the sizes of two changes, K²: both gains, both losses, one of either.
    products: [f64; 3],
    /// The sum less the run, K.
    error_k: f64,
}

impl Corner {
    fn of(changes: impl Iterator<Item = f64>, error_k: f64) -> Corner {
        let (mut gains, mut losses, mut squares) = (0.0, 0.0, [0.0, 0.0]);
        for change in changes {
            let loses = change < 0.0;
            *(if loses { &mut losses } else { &mut gains }) += change.abs();
            squares[usize::from(loses)] += change * change;
        }
        Corner {
            products: [
                0.5 * (gains * gains - squares[0]),
                0.5 * (losses * losses - squares[1]),
                gains * losses,
            ],
            error_k,
        }
    }

    /// What is left of the error when these shares of the products are taken off, K.
    fn left(&self, per_k: &[f64; 3]) -> f64 {
        self.error_k - self.products.iter().zip(per_k).map(|(p, k)| p * k).sum::<f64>()
    }

    /// Errors per product of each kind, 1/K, so that they cover every corner in which it is more than rounding: first
    /// the kinds alone, then what mixed corners lack.
    fn bound(corners: &[Corner]) -> [f64; 3] {
        let all = |c: &Corner| c.products.iter().sum::<f64>();
        let counted = corners.iter().filter(|c| all(c) > LEAST_PRODUCTS_K2);
        let whole = counted.map(|c| c.error_k / all(c)).fold(0.0_f64, f64::max);
        let mut per_k = [0.0; 3];
        for kind in 0..3 {
            // Both of a kind stand alone in some corner; where one does either, the others are there too.
            let alone = |c: &&Corner| (0..2).all(|other| other == kind || c.products[other] <= LEAST_PRODUCTS_K2);
            let counted = corners.iter().filter(|c| c.products[kind] > LEAST_PRODUCTS_K2);
            let counted = counted.filter(|c| kind == 2 || (alone(c) && c.products[2] <= LEAST_PRODUCTS_K2));
            let found = counted.map(|c| c.left(&per_k) / c.products[kind]).reduce(f64::max);
            // A kind that no corner has alone is taken for as bad as all kinds together.
            per_k[kind] = found.unwrap_or(whole).max(0.0);
        }
        per_k
    }
}

impl StageChanges {
    /// Index of the planned seconds.
    fn planned_place(&self) -> usize {
        self.seconds.iter().position(|s| *s == self.planned_s).unwrap_or(0)
    }

    /// Seconds of the table at a share of the way from the planned ones to the longest, or to the least where
    /// the share is negative.
    fn at(&self, share: f64) -> f64 {
        let (planned, end) = (self.planned_place() as f64, (self.seconds.len() - 1) as f64);
        let way = if share >= 0.0 { end - planned } else { planned };
        self.seconds[(planned + share * way).round() as usize]
    }
}

/// Rows for every exit temperature from those of every second one: the mean between two.
fn between_rows<'r>(run: impl Iterator<Item = &'r [Vec<f64>]>) -> Vec<Vec<Vec<f64>>> {
    let run: Vec<&[Vec<f64>]> = run.collect();
    let mean = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| 0.5 * (a + b)).collect();
    let mut rows = Vec::with_capacity(2 * run.len());
    for (k, row) in run.iter().enumerate() {
        if k > 0 {
            rows.push(run[k - 1].iter().zip(*row).map(|(a, b)| mean(a, b)).collect());
        }
        rows.push(row.to_vec());
    }
    rows
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever a corner errs is taken off, and gains do not pay for what losses err.
    #[test]
    fn errors_of_sums_are_covered_kind_by_kind() {
        let corners = [
            Corner::of([10.0, 20.0].into_iter(), 4.0),
            Corner::of([-30.0, -40.0, 0.0].into_iter(), 0.6),
            Corner::of([-30.0, 20.0].into_iter(), 1.2),
            Corner::of([1.0, 2.0].into_iter(), 0.5),
            Corner::of([10.0, 20.0, -1.0].into_iter(), 5.0),
        ];
        let per_k = Corner::bound(&corners);
        let rest = corners.iter().map(|c| c.left(&per_k)).fold(0.0_f64, f64::max);
        assert!((per_k[0] - 4.0 / 200.0).abs() < 1e-12 && (per_k[1] - 0.6 / 1200.0).abs() < 1e-12);
        assert!((per_k[2] - 1.0 / 30.0).abs() < 1e-12, "{per_k:?}");
        assert!((rest - (0.5 - 2.0 * 0.02)).abs() < 1e-12, "{rest}");
    }

    /// A table reaches as far as is asked of it in steps no coarser, and not beyond what a line takes.
    #[test]
    fn exits_reach_as_far_as_is_asked() {
        assert_eq!(exits(0.0, 400.0), 4);
        assert_eq!(exits(48.0, 400.0), 4);
        assert_eq!(exits(49.0, 400.0), 6);
        assert_eq!(exits(77.0, 400.0), 8);
        assert_eq!(exits(300.0, 400.0), EXITS.1);
        assert_eq!(exits(77.0, 80.0), 6);
        assert_eq!(exits(77.0, 20.0), 4);
    }

    /// A chord of a parabola y = x² - 7 x is off by a quarter of the square of its length, whatever lies beside it.
    #[test]
    fn errors_of_intervals_are_those_of_a_parabola() {
        let x = [2.0, 3.0, 5.0, 5.5];
        let errors = interval_errors(&x, &|k| x[k] * x[k] - 7.0 * x[k]);
        let exact = [0.25, 1.0, 0.0625];
        for (error, exact) in errors.iter().zip(exact) {
            assert!((error - exact).abs() < 1e-12, "{errors:?}");
        }
        assert_eq!(errors.len(), exact.len());
    }

    /// A hand-over is looked at from the shortest it can be to half a minute more than planned, and as planned.
    #[test]
    fn seconds_reach_from_the_shortest_on() {
        let seconds = seconds_of(10.0, 4.0);
        assert_eq!((seconds[0], seconds.last().copied()), (4.0, Some(40.0)));
        assert!(seconds.contains(&10.0) && seconds.contains(&8.5) && seconds.is_sorted());
        assert_eq!(seconds_of(0.0, 0.0)[0], 0.0);
    }
}
