//! The search itself: a trust-region Gauss-Newton method with bounds.

use ndarray::{Array1, Array2};
use rayon::prelude::*;
use serde::Serialize;

use super::goal::{Goal, Least, Missed};
use crate::heater::bar::Bar;
use crate::heater::error::{HeaterError, not_negative, positive};
use crate::heater::line::{Converter, HeaterLine, Steady};
use crate::heater::slice::Nodes;
use crate::numeric::dense::bounded_least_squares;

/// Most Gauss-Newton steps.
const STEPS: usize = 40;

/// Step of the difference quotients, as a share of each coil's scale.
const QUOTIENT: f64 = 0.01;

/// Weight of the secondary aim against a miss of one kelvin. A miss of the target then costs more
/// than any saving: the target shifts by less than 0.01 K.
const SECONDARY: f64 = 2.0;

/// How a search ended.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub enum Status {
    /// Target reached, all limits kept.
    Met,
    /// The same, with some channels at the end of their range (their indices).
    MetAtBound(Vec<usize>),
    /// Not reachable: what the nearest result misses.
    Impossible(Vec<Missed>),
}

/// Result of a search.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetPoints {
    /// How it ended.
    pub status: Status,
    /// Power at the terminals of each channel of the line, W: of a coil on its own, or of the coils of a converter.
    pub powers_w: Vec<f64>,
    /// Highest power of each channel, W.
    pub highest_w: Vec<f64>,
    /// The line at these powers.
    pub steady: Steady,
    /// Node temperatures at the moment of the target.
    pub at_target: Nodes,
    /// Periodic states computed.
    pub evaluations: usize,
}

struct Trial {
    steady: Steady,
    nodes: Nodes,
    /// Target deviation, difference excess, peak excess (K; excesses negative inside), secondary aim.
    rows: [f64; 4],
}

#[derive(Clone, Copy)]
struct Problem<'a> {
    line: &'a HeaterLine,
    bar: &'a Bar,
    goal: &'a Goal,
    slices: usize,
    least_energy_w: f64,
    /// Whether every state is settled from nothing: coils on one voltage may have more than one.
    afresh: bool,
}

/// Change of the exit between a state settled from one that is near and from nothing, below which they are one, K.
const SAME_K: f64 = 0.3;

impl Problem<'_> {
    /// The line at these powers; a state that is near shortens it.
    fn try_at(&self, powers: &[f64], near: Option<&Steady>) -> Result<Trial, HeaterError> {
        let drives = self.line.at_powers(powers);
        let steady = self
            .line
            .steady_near(self.bar, &drives, self.slices, near.filter(|_| !self.afresh))?;
        let nodes = steady.after_exit(self.bar, self.line.ambient_c, self.goal.after_s)?;
        let value = self.goal.target.among(&nodes);
        let difference = (nodes.surface_c - nodes.core_c).abs();
        let secondary = match self.goal.least {
            Least::Energy => steady.balance.terminals_w / self.least_energy_w - 1.0,
            Least::Scaling => steady.exit.scaling_s / (self.line.length_m() / self.line.speed_m_s()),
        };
        let (allowed_k, never_above_c) = self.goal.aimed(self.goal.tolerance_k);
        Ok(Trial {
            rows: [
                value - self.goal.value_c,
                allowed_k.map_or(-1e3, |d| difference - d),
                steady.exit.peak_c - never_above_c,
                SECONDARY * secondary,
            ],
            steady,
            nodes,
        })
    }

    fn merit(rows: &[f64; 4]) -> f64 {
        rows[0].powi(2) + rows[1].max(0.0).powi(2) + rows[2].max(0.0).powi(2) + rows[3].powi(2)
    }
}

/// Finds the terminal powers that reach the goal in the periodic state, each between 0 and
/// `highest_w` (W); `start_w` may give powers to begin with. See [`find_powers_between`].
pub fn find_powers(
    line: &HeaterLine,
    bar: &Bar,
    goal: &Goal,
    highest_w: &[f64],
    start_w: Option<&[f64]>,
    slices: usize,
) -> Result<SetPoints, HeaterError> {
    for h in highest_w {
        positive("highest coil power in W", *h)?;
    }
    let lowest = vec![0.0; highest_w.len()];
    find_powers_between(line, bar, goal, (&lowest, highest_w), start_w, slices)
}

/// Finds the terminal powers of the channels that reach the goal in the periodic state, each between a lowest and a
/// highest (W), which are the same for a power that is given; `start_w` may give powers to begin with.
///
/// Minimises, over the powers, the squares of: deviation from the target in K; excess of the
/// surface-core difference and of the hottest point over their limits in K; and, with a small
/// weight, energy over the enthalpy minimum, or time of scaling over time in the heater. Each step
/// solves the linearised problem in a trust box as bounded least squares; the one-sided limits enter
/// with a slack variable each, which makes them exact in the linear model. Where it is resolved finely,
/// the search runs on a quick grid first, which afterwards gives the slopes for the last steps.
///
/// # Errors
/// Contradicting goals, powers not above zero, a first trial that cannot be computed.
pub fn find_powers_between(
    line: &HeaterLine,
    bar: &Bar,
    goal: &Goal,
    ranges_w: (&[f64], &[f64]),
    start_w: Option<&[f64]>,
    slices: usize,
) -> Result<SetPoints, HeaterError> {
    if goal.least == Least::Energy || start_w.is_some() {
        return find_from(line, bar, goal, ranges_w, start_w, slices);
    }
    // The time of scaling has more than one valley; that of the least energy is a good place to look from.
    let energy = Goal {
        least: Least::Energy,
        ..*goal
    };
    let first = find_from(line, bar, &energy, ranges_w, None, slices)?;
    let found = find_from(line, bar, goal, ranges_w, Some(&first.powers_w), slices)?;
    Ok(SetPoints {
        evaluations: first.evaluations + found.evaluations,
        ..found
    })
}

/// [`find_powers_between`] from one place.
fn find_from(
    line: &HeaterLine,
    bar: &Bar,
    goal: &Goal,
    (lowest_w, highest_w): (&[f64], &[f64]),
    start_w: Option<&[f64]>,
    slices: usize,
) -> Result<SetPoints, HeaterError> {
    line.check(bar)?;
    goal.check()?;
    let lengths: Vec<f64> = line.coils().map(|(_, c)| c.length_m).collect();
    let lengths = line.by_channel(&lengths);
    let ranges = [lowest_w.len(), highest_w.len()];
    if ranges != [lengths.len(); 2] || start_w.is_some_and(|s| s.len() != lengths.len()) {
        return Err(HeaterError::Drives {
            coils: lengths.len(),
            drives: start_w.map_or(highest_w.len(), <[f64]>::len),
        });
    }
    for (low, high) in lowest_w.iter().zip(highest_w) {
        not_negative("lowest coil power in W", *low)?;
        not_negative("highest coil power in W", *high)?;
    }
    let heating = &bar.metal().thermal().heating;
    let rise = heating.enthalpy(goal.value_c) - heating.enthalpy(line.start_c);
    let least_energy_w = positive("enthalpy rise to the target in J/kg", rise)? * bar.mass_kg_m() * line.speed_m_s();
    let coarse_bar = bar.coarser()?;
    let problem = Problem {
        line,
        bar,
        goal,
        slices,
        least_energy_w,
        afresh: false,
    };
    let coarse = Problem {
        bar: coarse_bar.as_ref().unwrap_or(bar),
        slices: 1,
        ..problem
    };
    let alike = coarse_bar.is_none() && slices == 1;
    // An overall efficiency of 0.65 (published plant audit), spread by length.
    let whole: f64 = lengths.iter().sum();
    let guess = |j: usize| least_energy_w / 0.65 * lengths[j] / whole;
    let n = lengths.len();
    let scale: Vec<f64> = (0..n).map(guess).collect();
    let first: Vec<f64> = (0..n)
        .map(|j| start_w.map_or(scale[j], |s| s[j]).max(lowest_w[j]).min(highest_w[j]))
        .collect();
    let bounds = (lowest_w, highest_w, scale.as_slice());
    let (powers, trial, evaluations) = if alike {
        descend(&problem, &problem, bounds, first, 0.3)?
    } else {
        let (near, _, before) = descend(&coarse, &coarse, bounds, first, 0.3)?;
        let (powers, trial, after) = descend(&problem, &coarse, bounds, near, 0.1)?;
        (powers, trial, before + after)
    };
    let (powers, trial, more) = confirmed(&problem, bounds, (powers, trial))?;
    let evaluations = evaluations + more;
    Ok(SetPoints {
        status: judge(goal, &trial, &powers, (lowest_w, highest_w)),
        powers_w: powers,
        highest_w: highest_w.to_vec(),
        at_target: trial.nodes,
        steady: trial.steady,
        evaluations,
    })
}

/// What was found as a run from nothing gives it, which is what is asked for afterwards; where that is another state, the
/// search goes on from there.
fn confirmed(
    problem: &Problem,
    bounds: (&[f64], &[f64], &[f64]),
    (powers, trial): (Vec<f64>, Trial),
) -> Result<(Vec<f64>, Trial, usize), HeaterError> {
    if !problem.line.converters.iter().any(Converter::is_parallel) {
        return Ok((powers, trial, 0));
    }
    let again = problem.try_at(&powers, None)?;
    if (again.rows[0] - trial.rows[0]).abs() <= SAME_K {
        return Ok((powers, again, 1));
    }
    let afresh = Problem {
        afresh: true,
        ..*problem
    };
    descend(&afresh, &afresh, bounds, powers, 0.1)
}

/// Steps from the powers `first` until the linear model promises nothing more. `model` gives its
/// slopes: the problem itself, or the same on a coarser grid. Coarse slopes cost a few steps and no
/// accuracy, for every step is judged by the problem itself. Returns the powers, the line at them, and
/// the periodic states computed.
fn descend(
    problem: &Problem,
    model: &Problem,
    (lowest_w, highest_w, scale): (&[f64], &[f64], &[f64]),
    first: Vec<f64>,
    first_trust: f64,
) -> Result<(Vec<f64>, Trial, usize), HeaterError> {
    let n = first.len();
    let own = std::ptr::eq(problem, model);
    let mut powers = first;
    let mut trial = problem.try_at(&powers, None)?;
    let mut evaluations = 1;
    let mut trust = first_trust;
    for _ in 0..STEPS {
        let slopes = if own {
            slopes(model, &powers, highest_w, scale, &trial)
        } else {
            evaluations += 1;
            slopes(
                model,
                &powers,
                highest_w,
                scale,
                &model.try_at(&powers, Some(&trial.steady))?,
            )
        };
        evaluations += n;
        let mut moved = false;
        while trust > 2e-3 {
            let Some(step) = linear_step(&trial.rows, &slopes, &powers, (lowest_w, highest_w), scale, trust) else {
                break;
            };
            let next: Vec<f64> = (0..n)
                .map(|j| (powers[j] + step[j] * scale[j]).max(lowest_w[j]).min(highest_w[j]))
                .collect();
            let predicted: [f64; 4] =
                std::array::from_fn(|i| trial.rows[i] + (0..n).map(|j| slopes[j][i] * step[j]).sum::<f64>());
            let (now, hoped) = (Problem::merit(&trial.rows), Problem::merit(&predicted));
            if now - hoped < 1e-4 * now + 1e-5 {
                trust = 0.0;
                break;
            }
            evaluations += 1;
            // A trial that cannot be computed counts as no gain.
            let tried = problem.try_at(&next, Some(&trial.steady)).ok();
            let gain = tried
                .as_ref()
                .map_or(f64::NEG_INFINITY, |t| (now - Problem::merit(&t.rows)) / (now - hoped));
            if gain < 0.25 {
                trust *= 0.4;
            } else if gain > 0.7 {
                trust = (2.0 * trust).min(1.0);
            }
            if let (Some(t), true) = (tried, gain > 0.02) {
                powers = next;
                trial = t;
                moved = true;
                break;
            }
        }
        if !moved {
            break;
        }
    }
    Ok((powers, trial, evaluations))
}

/// Difference quotients of the rows by each power in units of its scale, in parallel; the order of
/// the results does not depend on the threads.
fn slopes(problem: &Problem, powers: &[f64], highest: &[f64], scale: &[f64], trial: &Trial) -> Vec<[f64; 4]> {
    (0..powers.len())
        .into_par_iter()
        .map(|j| {
            let mut moved = powers.to_vec();
            // Away from the upper bound.
            let sign = if powers[j] + QUOTIENT * scale[j] > highest[j] {
                -1.0
            } else {
                1.0
            };
            moved[j] += sign * QUOTIENT * scale[j];
            match problem.try_at(&moved, Some(&trial.steady)) {
                Ok(t) => std::array::from_fn(|i| (t.rows[i] - trial.rows[i]) / (sign * QUOTIENT)),
                // A power without a computable neighbour is left alone in this step.
                Err(_) => [0.0; 4],
            }
        })
        .collect()
}

/// Minimises the linear model in the trust box: columns are the powers and two slacks.
fn linear_step(
    rows: &[f64; 4],
    slopes: &[[f64; 4]],
    powers: &[f64],
    (lowest, highest): (&[f64], &[f64]),
    scale: &[f64],
    trust: f64,
) -> Option<Vec<f64>> {
    let n = powers.len();
    let mut a = Array2::zeros((4, n + 2));
    let mut b = Array1::zeros(4);
    for i in 0..4 {
        for j in 0..n {
            a[[i, j]] = slopes[j][i];
        }
        b[i] = -rows[i];
    }
    a[[1, n]] = 1.0;
    a[[2, n + 1]] = 1.0;
    let mut low: Vec<f64> = (0..n)
        .map(|j| ((lowest[j] - powers[j]) / scale[j]).max(-trust))
        .collect();
    let mut high: Vec<f64> = (0..n)
        .map(|j| ((highest[j] - powers[j]) / scale[j]).min(trust))
        .collect();
    low.extend([0.0, 0.0]);
    high.extend([1e9, 1e9]);
    let mut x = bounded_least_squares(a.view(), b.view(), &low, &high)?.to_vec();
    x.truncate(n);
    Some(x)
}

/// What of the goal a line misses in its periodic state.
///
/// # Errors
/// A state after the exit that cannot be computed.
pub fn misses(line: &HeaterLine, bar: &Bar, goal: &Goal, steady: &Steady) -> Result<Vec<Missed>, HeaterError> {
    let nodes = steady.after_exit(bar, line.ambient_c, goal.after_s)?;
    Ok(goal.missed_by(&nodes, steady.exit.peak_c))
}

fn judge(goal: &Goal, trial: &Trial, powers: &[f64], (lowest, highest): (&[f64], &[f64])) -> Status {
    let missed = goal.missed_by(&trial.nodes, trial.steady.exit.peak_c);
    if !missed.is_empty() {
        return Status::Impossible(missed);
    }
    let at_bound: Vec<usize> = (0..powers.len())
        .filter(|j| lowest[*j] < highest[*j])
        .filter(|j| powers[*j] <= lowest[*j] + 1e-6 * highest[*j] || powers[*j] >= (1.0 - 1e-6) * highest[*j])
        .collect();
    if at_bound.is_empty() {
        Status::Met
    } else {
        Status::MetAtBound(at_bound)
    }
}
