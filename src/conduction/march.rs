//! Adaptive marching: step size control, exact landing on event times, crossing times.

use super::solver::Solver;
use super::tolerance::{ORDER, SolveError, order, step_factor};

/// Most steps of one march; the longest of the checks takes some thousands.
const MOST_STEPS: u64 = 500_000;

/// First step after a change of laws in diffusion times of the finest face cell: on the example
/// lines longer ones were rejected as often as they saved steps.
const FIRST_STEP: f64 = 20.0;

impl Solver {
    /// Advances to `until_s` exactly, calling `seen` after every accepted step.
    ///
    /// # Errors
    /// A time in the past, or a step that cannot meet the tolerance.
    pub fn advance(&mut self, until_s: f64, seen: &mut dyn FnMut(&mut Solver)) -> Result<(), SolveError> {
        if until_s.is_nan() || until_s < self.time_s {
            return Err(SolveError::Backwards {
                time_s: self.time_s,
                until_s,
            });
        }
        let smallest = 1e-9_f64.max(until_s.abs() * 1e-13);
        let mut steps = 0;
        let mut refused: Option<(f64, f64)> = None;
        while until_s - self.time_s > smallest {
            let left = until_s - self.time_s;
            steps += 1;
            if steps > MOST_STEPS {
                return Err(SolveError::TooManySteps {
                    time_s: self.time_s,
                    steps,
                    left_s: left,
                });
            }
            if self.step_s <= 0.0 {
                self.step_s = self.first_step().min(left);
            }
            let jump = self.next_break(until_s);
            let left = jump.unwrap_or(until_s) - self.time_s;
            let wanted = self.step_s.min(self.tolerance.longest_s);
            // Two equal steps rather than one full and one tiny one.
            let tau = if wanted >= left * (1.0 - 1e-12) {
                left
            } else if wanted > 0.6 * left {
                0.5 * left
            } else {
                wanted
            };
            let error = self.try_step(tau);
            let tolerance_k = self.tolerance.step_k;
            let ratio = error / tolerance_k;
            let shown = match refused {
                Some((longer, then)) if ratio > 1.0 => order(longer / tau, then / ratio),
                _ => ORDER,
            };
            let factor = step_factor(ratio, shown);
            if ratio <= 1.0 {
                self.book();
                refused = None;
                self.work.steps += 1;
                self.time_before = self.time_s;
                self.time_s = match jump {
                    _ if tau != left => self.time_s + tau,
                    Some(jump) => jump,
                    None => until_s,
                };
                // A step cut short by the end says little about the next one.
                self.step_s = if tau < wanted {
                    wanted.max(tau * factor.min(1.0))
                } else {
                    tau * factor
                };
                if jump == Some(self.time_s) {
                    self.step_s = 0.0;
                }
                self.follow_transformation();
                self.look_up_slopes();
                seen(self);
            } else {
                self.work.rejected += 1;
                refused = Some((tau, ratio));
                self.revert();
                self.step_s = tau * factor.min(0.9);
                if self.step_s < 1e-10 {
                    return Err(SolveError::StepTooSmall {
                        time_s: self.time_s,
                        step_s: self.step_s,
                        error_k: error,
                        tolerance_k,
                    });
                }
            }
        }
        self.time_s = until_s;
        Ok(())
    }

    /// The first time after now and before `until_s` at which a signal of a law breaks; the one at the
    /// end of the march needs no stop.
    fn next_break(&self, until_s: f64) -> Option<f64> {
        let after = self.time_s + 1e-9_f64.max(self.time_s.abs() * 1e-13);
        let laws = self.laws.iter().filter_map(|law| law.next_break(after));
        let tools = self.columns.iter().filter_map(|c| c.next_break(after));
        laws.chain(tools).filter(|t| *t < until_s).min_by(f64::total_cmp)
    }

    /// A step short against the diffusion time of the finest face cell, s.
    fn first_step(&self) -> f64 {
        let rho = self.medium.density;
        let diffusivity = |cell: usize| {
            let s = self.medium.branch(self.cooled[cell]).at(self.h[cell]);
            s.dpotential_dh / rho
        };
        let shortest = self
            .grid
            .faces()
            .iter()
            .map(|f| f.depth * f.depth / diffusivity(f.cell))
            .fold(f64::INFINITY, f64::min);
        (FIRST_STEP * shortest).clamp(1e-7, 1e6)
    }

    /// Cells that have become fully austenitic follow the cooling branch from now on; both
    /// branches agree there, so no energy is made.
    fn follow_transformation(&mut self) {
        if self.medium.cooling.is_none() {
            return;
        }
        let austenite = self.medium.heating.enthalpy(self.medium.austenite_c);
        for (cooled, h) in self.cooled.iter_mut().zip(&self.h) {
            *cooled |= *h >= austenite;
        }
    }

    /// Time within the last accepted step at which `value` (rising or falling through zero)
    /// crosses zero, by repeating that step with shorter lengths; located to 0.1 ms or 40
    /// halvings. The state is left as it was. `None` when there is no change of sign.
    pub fn crossing(&mut self, value: &dyn Fn(&Solver) -> f64) -> Option<f64> {
        let end = (
            self.time_s,
            self.h.clone(),
            self.columns.iter().map(|c| c.h.clone()).collect::<Vec<_>>(),
        );
        let start = (self.time_before, self.before.clone());
        let starts: Vec<Vec<f64>> = self.columns.iter().map(|c| c.before.clone()).collect();
        let span = end.0 - start.0;
        let high = value(self);
        let restore_start = |s: &mut Solver| {
            s.scratch.fresh = false;
            s.h.copy_from_slice(&start.1);
            for (c, h) in s.columns.iter_mut().zip(&starts) {
                c.h.copy_from_slice(h);
            }
            s.time_s = start.0;
        };
        restore_start(self);
        let low = value(self);
        let mut found = None;
        if low.is_finite() && high.is_finite() && (low <= 0.0) != (high <= 0.0) && span > 0.0 {
            let (mut a, mut fa, mut b, mut fb) = (0.0, low, span, high);
            // Illinois variant of the false position rule (Dowell and Jarratt 1971).
            for _ in 0..60 {
                if b - a < 1e-4 {
                    break;
                }
                let mut x = (a * fb - b * fa) / (fb - fa);
                if !(x > a + 1e-3 * (b - a) && x < b - 1e-3 * (b - a)) {
                    x = 0.5 * (a + b);
                }
                restore_start(self);
                self.try_step(x);
                self.time_s = start.0 + x;
                let fx = value(self);
                if (fx <= 0.0) == (fb <= 0.0) {
                    b = x;
                    fb = fx;
                    fa *= 0.5;
                } else {
                    a = x;
                    fa = fx;
                    fb *= 0.5;
                }
                if fx.abs() < 1e-9 {
                    a = x;
                    b = x;
                }
            }
            found = Some(start.0 + 0.5 * (a + b));
        }
        self.scratch.fresh = false;
        self.h.copy_from_slice(&end.1);
        self.before.copy_from_slice(&start.1);
        for ((c, h), b) in self.columns.iter_mut().zip(&end.2).zip(&starts) {
            c.h.copy_from_slice(h);
            c.before.copy_from_slice(b);
        }
        self.time_s = end.0;
        found
    }
}
