//! Tool columns left to themselves: no part touches them, their faces are open.

use super::column::{Columns, DeepEnd};
use super::law::Exchange;
use super::tableau::{GAMMA, STAGES, Tableau};
use super::tolerance::{SolveError, step_factor};
use crate::steel::ThermalTable;

impl Columns {
    /// Cell sizes from the face inwards, m.
    pub fn depth_sizes(&self) -> &[f64] {
        &self.size
    }

    /// What the far end does.
    pub fn deep_end(&self) -> DeepEnd {
        self.deep
    }

    /// The metal.
    pub fn medium(&self) -> &ThermalTable {
        &self.medium
    }

    /// Lets the columns rest for `seconds` with all faces open to `exchange` (its signals count
    /// from zero). Every contact ends. Same method and step control as the solver's.
    ///
    /// # Errors
    /// A step that cannot meet the tolerance \[K\].
    pub fn rest(&mut self, seconds: f64, exchange: &Exchange, step_k: f64) -> Result<(), SolveError> {
        self.contact.fill(None);
        self.set_open(Some(exchange.clone()));
        let tableau = Tableau::new();
        let mut step_s = self.first_step();
        let mut time = 0.0;
        while seconds - time > 1e-9_f64.max(seconds * 1e-13) {
            let left = seconds - time;
            let tau = if step_s >= left {
                left
            } else if step_s > 0.6 * left {
                0.5 * left
            } else {
                step_s
            };
            let error_k = self.try_rest(&tableau, time, tau);
            let ratio = error_k / step_k;
            let factor = step_factor(ratio);
            if ratio <= 1.0 {
                self.book();
                time += tau;
                step_s = tau * factor;
            } else {
                self.revert();
                step_s = tau * factor.min(0.9);
                if step_s < 1e-10 {
                    return Err(SolveError::StepTooSmall {
                        time_s: time,
                        step_s,
                        error_k,
                        tolerance_k: step_k,
                    });
                }
            }
        }
        Ok(())
    }

    fn try_rest(&mut self, tableau: &Tableau, time: f64, tau: f64) -> f64 {
        let gamma_tau = GAMMA * tau;
        for i in 0..STAGES {
            self.argument(&tableau.a[i][..i]);
            let t = time + tableau.time[i] * tau;
            self.evaluate(t, |_| (0.0, 1.0, 1.0), i == 0, gamma_tau, |_| {});
            if i == 0 {
                self.factor(|_, _| {});
            }
            let c: [f64; STAGES] = std::array::from_fn(|j| GAMMA * tableau.c[i][j]);
            self.stage_rhs(gamma_tau, &c[..i]);
            self.eliminate(0, &[], |_, _| {});
            self.substitute(0, &[], |_| 0.0, |_| {});
            self.store(i);
        }
        self.finish(&tableau.m, &tableau.e)
    }
}
