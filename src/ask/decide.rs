//! Deciding one part from its measured exit temperature and elapsed times.
//!
//! A table is made once from runs of the line; a decision is then a lookup of microseconds, without
//! any run, and the same everywhere.

use std::path::Path;

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::PlanError;
use super::delays::no_exit;
use super::failure::Failure;
use super::model::{Change, Model, limit_name};
use crate::text::{is_unfit, load_data};

/// Bounds of temperatures in a table, degC; no metal is forged beyond.
const ABSOLUTE_ZERO_C: f64 = -273.15;
const HOTTEST_C: f64 = 4000.0;

/// Lookup table of margins over exit temperature and extra time in each hand-over.
///
/// The margin of a limit is its margin at the measured exit temperature with nominal times, minus
/// what each hand-over's extra time takes from it alone. A part that has lost heat in one stage
/// loses less in the next, so the sum is on the safe side for limits that want the part hot;
/// `additive_error_k` states how far it was off at the worst corner that was run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DecisionTable {
    /// Names of the limits.
    pub limits: Vec<String>,
    /// Exit temperatures in degC, rising.
    pub exit_c: Vec<f64>,
    /// Margins in K with nominal times: one list per exit temperature, one value per limit.
    pub base_k: Vec<Vec<f64>>,
    /// Hand-overs.
    pub stages: Vec<StageLosses>,
    /// Guard band in K taken off every margin, one per limit.
    pub guard_k: Vec<f64>,
    /// What linear interpolation in the table may err to the unsafe side, K; taken off too.
    pub lookup_error_k: Vec<f64>,
    /// Margin of the run at the corner of all delays minus the margin from the table, the smallest
    /// over the limits, K: positive when the table is on the safe side.
    pub additive_error_k: f64,
}

/// What extra time in one hand-over takes from each margin.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StageLosses {
    /// Name of the stage.
    pub stage: String,
    /// Nominal seconds.
    pub nominal_s: f64,
    /// Extra seconds, rising from 0.
    pub extra_s: Vec<f64>,
    /// Loss in K: per exit temperature, per extra time, per limit.
    pub loss_k: Vec<Vec<Vec<f64>>>,
}

/// What to do with a part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Decision {
    /// Whether every limit will hold, guard band included, if the rest goes as planned.
    pub good: bool,
    /// Index of the tightest limit.
    pub limit: usize,
    /// Its margin in K, guard band taken off.
    pub margin_k: f64,
}

impl DecisionTable {
    /// Makes the table: extra times 0 to `longest_s` in steps that grow, at exit temperatures
    /// `exit_c` (rising, two or more). `guard_k` holds one guard band per limit, or is empty.
    ///
    /// # Errors
    /// [`Failure`] of a run; exit temperatures out of order; a line without an exit temperature to
    /// set.
    pub fn build(model: &dyn Model, exit_c: &[f64], longest_s: f64, guard_k: &[f64]) -> Result<Self, Failure> {
        let exit = model.exit_inputs().ok_or_else(no_exit)?;
        if exit_c.len() < 2 || exit_c.windows(2).any(|w| w[1] <= w[0]) {
            return Err(PlanError::count("exit temperatures in rising order", exit_c.len(), "2 or more").into());
        }
        super::error::positive("longest delay in s", longest_s)?;
        let extra_s: Vec<f64> = [0.0, 0.06, 0.14, 0.25, 0.4, 0.6, 0.8, 1.0]
            .iter()
            .map(|f| f * longest_s)
            .collect();
        let limits: Vec<String> = model.limits().iter().map(limit_name).collect();
        let guard_k = if guard_k.is_empty() {
            vec![0.0; limits.len()]
        } else {
            guard_k.to_vec()
        };
        let run = |changes: &[Change]| model.run(changes).map(|o| o.margins_k());
        let base_k = exit_c
            .par_iter()
            .map(|&t| run(&exit.at(t)))
            .collect::<Vec<_>>()
            .into_iter()
            .collect::<Result<Vec<_>, _>>()?;
        let mut stages = Vec::new();
        for handover in model.handovers() {
            let grid: Vec<(usize, usize)> = (0..exit_c.len())
                .flat_map(|i| (0..extra_s.len()).map(move |j| (i, j)))
                .collect();
            let cells: Vec<_> = grid
                .par_iter()
                .map(|&(i, j)| {
                    if j == 0 {
                        return Ok(vec![0.0; limits.len()]);
                    }
                    let mut changes = exit.at(exit_c[i]);
                    changes.push(Change::new(handover.path.clone(), handover.seconds + extra_s[j]));
                    let margins = run(&changes)?;
                    Ok(base_k[i].iter().zip(&margins).map(|(b, m)| b - m).collect())
                })
                .collect::<Vec<Result<Vec<f64>, Failure>>>();
            let cells = cells.into_iter().collect::<Result<Vec<_>, _>>()?;
            stages.push(StageLosses {
                stage: handover.stage.clone(),
                nominal_s: handover.seconds,
                loss_k: cells.chunks(extra_s.len()).map(<[_]>::to_vec).collect(),
                extra_s: extra_s.clone(),
            });
        }
        let mut table = Self {
            lookup_error_k: vec![0.0; limits.len()],
            limits,
            exit_c: exit_c.to_vec(),
            base_k,
            stages,
            guard_k,
            additive_error_k: 0.0,
        };
        table.lookup_error_k = table.lookup_error();
        // The corner: the coldest exit with every hand-over late by a quarter of the range.
        let late = extra_s[3];
        let mut changes = exit.at(exit_c[0]);
        for handover in model.handovers() {
            changes.push(Change::new(handover.path.clone(), handover.seconds + late));
        }
        let corner = run(&changes)?;
        let elapsed: Vec<f64> = table.stages.iter().map(|s| s.nominal_s + late).collect();
        let looked_up = table.margins_k(exit_c[0], &elapsed)?;
        table.additive_error_k = corner
            .iter()
            .zip(&looked_up)
            .zip(table.guard_k.iter().zip(&table.lookup_error_k))
            .map(|((run, found), (guard, error))| run - (found + guard + error))
            .fold(f64::INFINITY, f64::min);
        Ok(table)
    }

    /// Bound on the error of linear interpolation: an eighth of the largest second difference, in
    /// exit temperature and in extra time (the error term of the linear interpolant).
    fn lookup_error(&self) -> Vec<f64> {
        let second = |a: f64, b: f64, c: f64, ha: f64, hc: f64| {
            // Second divided difference times the larger interval squared.
            let curvature = 2.0 * ((c - b) / hc - (b - a) / ha) / (ha + hc);
            curvature.abs() * ha.max(hc).powi(2) / 8.0
        };
        (0..self.limits.len())
            .map(|l| {
                let mut worst = 0.0_f64;
                for k in 1..self.exit_c.len().saturating_sub(1) {
                    worst = worst.max(second(
                        self.base_k[k - 1][l],
                        self.base_k[k][l],
                        self.base_k[k + 1][l],
                        self.exit_c[k] - self.exit_c[k - 1],
                        self.exit_c[k + 1] - self.exit_c[k],
                    ));
                }
                let mut by_time = 0.0_f64;
                for stage in &self.stages {
                    for row in &stage.loss_k {
                        for k in 1..stage.extra_s.len() - 1 {
                            by_time = by_time.max(second(
                                row[k - 1][l],
                                row[k][l],
                                row[k + 1][l],
                                stage.extra_s[k] - stage.extra_s[k - 1],
                                stage.extra_s[k + 1] - stage.extra_s[k],
                            ));
                        }
                    }
                }
                worst + by_time
            })
            .collect()
    }

    /// Margins in K of all limits for a measured exit temperature and elapsed seconds, one per
    /// hand-over in the order of the table (the planned ones for those still to come), guard band
    /// and lookup error taken off. A hand-over faster than planned counts as planned.
    ///
    /// # Errors
    /// An exit temperature or a time outside the table, with its range.
    pub fn margins_k(&self, exit_c: f64, elapsed_s: &[f64]) -> Result<Vec<f64>, PlanError> {
        let (row, w) = place(&self.exit_c, exit_c, "exit temperature in degC")?;
        if elapsed_s.len() != self.stages.len() {
            return Err(PlanError::count(
                "elapsed times",
                elapsed_s.len(),
                format!("{}, one per hand-over", self.stages.len()),
            ));
        }
        let mut margins: Vec<f64> = (0..self.limits.len())
            .map(|l| mix(self.base_k[row][l], self.base_k[row + 1][l], w) - self.guard_k[l] - self.lookup_error_k[l])
            .collect();
        for (stage, &elapsed) in self.stages.iter().zip(elapsed_s) {
            super::error::finite("elapsed time in s", elapsed)?;
            let extra = (elapsed - stage.nominal_s).max(0.0);
            let (column, v) = place(&stage.extra_s, extra, "extra time in s")?;
            for (l, margin) in margins.iter_mut().enumerate() {
                let loss = |r: usize| mix(stage.loss_k[r][column][l], stage.loss_k[r][column + 1][l], v);
                *margin -= mix(loss(row), loss(row + 1), w);
            }
        }
        Ok(margins)
    }

    /// Decides one part. An extra time beyond the table is a reject, not an error.
    ///
    /// # Errors
    /// As [`DecisionTable::margins_k`], but for times beyond the table.
    pub fn decide(&self, exit_c: f64, elapsed_s: &[f64]) -> Result<Decision, PlanError> {
        let capped: Vec<f64> = self
            .stages
            .iter()
            .zip(elapsed_s)
            .map(|(stage, &elapsed)| elapsed.min(stage.nominal_s + stage.extra_s[stage.extra_s.len() - 1]))
            .collect();
        let beyond = self
            .stages
            .iter()
            .zip(elapsed_s)
            .any(|(s, &e)| e > s.nominal_s + s.extra_s[s.extra_s.len() - 1]);
        let times = if elapsed_s.len() == self.stages.len() {
            &capped
        } else {
            elapsed_s
        };
        let margins = self.margins_k(exit_c, times)?;
        let (mut limit, mut margin_k) = (0, f64::INFINITY);
        for (l, &m) in margins.iter().enumerate() {
            if m < margin_k {
                (limit, margin_k) = (l, m);
            }
        }
        Ok(Decision {
            good: margin_k >= 0.0 && !beyond,
            limit,
            margin_k,
        })
    }

    /// Reads a table from a file and checks it.
    ///
    /// # Errors
    /// A file that gives no text, or that holds no decision table, with line and column where it has one.
    pub fn load(path: &Path) -> Result<Self, PlanError> {
        let text = load_data(path, "a decision table as `delays` writes it")?;
        let not_one = |line: usize, message: String| PlanError::Table {
            path: path.to_owned(),
            line: line as u64,
            message: format!("not a decision table: {message}"),
        };
        let table: Self = serde_json::from_str(&text).map_err(|error| not_one(error.line(), error.to_string()))?;
        table.check().map_err(|error| not_one(1, error.to_string()))?;
        Ok(table)
    }

    /// Whether the lists of a table read from a file fit together and its numbers can be meant.
    ///
    /// # Errors
    /// The first list that is too short, an axis that does not rise, a number out of its range, a name that would
    /// break a line.
    pub fn check(&self) -> Result<(), PlanError> {
        self.check_numbers()?;
        let limits = self.limits.len();
        let wrong = |what: &str, found: usize, needed: usize| PlanError::count(what, found, needed.to_string());
        let rising = |list: &[f64]| list.len() >= 2 && list.windows(2).all(|w| w[1] > w[0]);
        if limits == 0 || !rising(&self.exit_c) {
            return Err(PlanError::count(
                "limits and rising exit temperatures",
                0,
                "1 and 2 or more",
            ));
        }
        for list in [&self.guard_k, &self.lookup_error_k] {
            if list.len() != limits {
                return Err(wrong("guard bands", list.len(), limits));
            }
        }
        if self.base_k.len() != self.exit_c.len() || self.base_k.iter().any(|row| row.len() != limits) {
            return Err(wrong("base margins", self.base_k.len(), self.exit_c.len()));
        }
        for stage in &self.stages {
            let fits = rising(&stage.extra_s)
                && stage.extra_s[0] == 0.0
                && stage.loss_k.len() == self.exit_c.len()
                && stage
                    .loss_k
                    .iter()
                    .all(|row| row.len() == stage.extra_s.len() && row.iter().all(|cell| cell.len() == limits));
            if !fits {
                return Err(wrong("losses of a hand-over", stage.loss_k.len(), self.exit_c.len()));
            }
        }
        Ok(())
    }

    fn check_numbers(&self) -> Result<(), PlanError> {
        let within = |what: &str, numbers: &[f64], low: f64, high: f64| match numbers
            .iter()
            .find(|x| !(low..=high).contains(*x))
        {
            Some(x) => Err(PlanError::range(what, *x, format!("{low} to {high}"))),
            None => Ok(()),
        };
        within("exit temperature in degC", &self.exit_c, ABSOLUTE_ZERO_C, HOTTEST_C)?;
        // A guard band that is no band, or negative, would pass bad parts.
        within("guard band in K", &self.guard_k, 0.0, HOTTEST_C)?;
        within("lookup error in K", &self.lookup_error_k, 0.0, HOTTEST_C)?;
        within("additive error in K", &[self.additive_error_k], -1e5, 1e5)?;
        self.base_k
            .iter()
            .try_for_each(|row| within("margin in K", row, -1e5, 1e5))?;
        for stage in &self.stages {
            within("planned time in s", &[stage.nominal_s], 0.0, 1e6)?;
            within("extra time in s", &stage.extra_s, 0.0, 1e6)?;
            let mut losses = stage.loss_k.iter().flatten();
            losses.try_for_each(|row| within("loss in K", row, -1e5, 1e5))?;
        }
        let names = self.limits.iter().chain(self.stages.iter().map(|stage| &stage.stage));
        match names.flat_map(|name| name.chars()).find(|c| is_unfit(*c)) {
            Some(c) => {
                let (what, code) = ("code of a character in a name", f64::from(u32::from(c)));
                Err(PlanError::range(
                    what,
                    code,
                    "characters that can be printed".to_owned(),
                ))
            }
            None => Ok(()),
        }
    }

    /// Adds to every base margin, one value per limit: puts a table made on a coarse grid onto the
    /// nominal margins of a finer one.
    pub fn shift(&mut self, by_k: &[f64]) {
        for row in &mut self.base_k {
            for (margin, shift) in row.iter_mut().zip(by_k) {
                *margin += shift;
            }
        }
    }

    /// Longest seconds of hand-over `stage` (index) at an exit temperature, the others as planned,
    /// rounded down to 0.1 s; `None` when even the planned time is too long. The end of the table is
    /// the most it gives.
    ///
    /// # Errors
    /// An exit temperature outside the table, or no such stage.
    pub fn longest_s(&self, stage: usize, exit_c: f64) -> Result<Option<f64>, PlanError> {
        self.longest_for(stage, exit_c, None)
    }

    /// The same for one limit alone.
    ///
    /// # Errors
    /// As [`DecisionTable::longest_s`].
    pub fn longest_for(&self, stage: usize, exit_c: f64, only: Option<usize>) -> Result<Option<f64>, PlanError> {
        let Some(losses) = self.stages.get(stage) else {
            return Err(PlanError::count(
                "hand-over number",
                stage,
                format!("below {}", self.stages.len()),
            ));
        };
        let mut elapsed: Vec<f64> = self.stages.iter().map(|s| s.nominal_s).collect();
        let mut least = |extra: f64| -> Result<f64, PlanError> {
            elapsed[stage] = losses.nominal_s + extra;
            let margins = self.margins_k(exit_c, &elapsed)?;
            let counts = |l: &usize| only.is_none_or(|o| o == *l);
            Ok((0..margins.len())
                .filter(counts)
                .map(|l| margins[l])
                .fold(f64::INFINITY, f64::min))
        };
        if least(0.0)? < 0.0 {
            return Ok(None);
        }
        let (mut good, mut bad) = (0.0, losses.extra_s[losses.extra_s.len() - 1]);
        if least(bad)? >= 0.0 {
            good = bad;
        }
        while bad - good > 1e-4 {
            let middle = 0.5 * (good + bad);
            if least(middle)? >= 0.0 {
                good = middle;
            } else {
                bad = middle;
            }
        }
        Ok(Some(round_down(losses.nominal_s + good)))
    }
}

/// Rounds seconds down to 0.1 s; a value within a nanosecond of a tenth counts as that tenth.
#[must_use]
pub fn round_down(seconds: f64) -> f64 {
    ((seconds + 1e-9) * 10.0).floor() / 10.0
}

fn mix(a: f64, b: f64, w: f64) -> f64 {
    a + w * (b - a)
}

/// Interval of a rising list that holds x, and the place in it from 0 to 1.
fn place(list: &[f64], x: f64, what: &str) -> Result<(usize, f64), PlanError> {
    let (first, last) = (list[0], list[list.len() - 1]);
    // A sum of seconds may miss the end of the table by its last digits.
    let slack = 1e-9 * (last - first);
    let x = if x > last && x <= last + slack { last } else { x };
    if !(x >= first && x <= last) {
        return Err(PlanError::range(what, x, format!("{first} to {last} (the table)")));
    }
    let k = list.partition_point(|v| *v <= x).clamp(1, list.len() - 1) - 1;
    Ok((k, (x - list[k]) / (list[k + 1] - list[k])))
}
