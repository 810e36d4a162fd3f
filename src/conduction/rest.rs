//! Tool columns left to themselves: no part touches them, their faces are open.

use super::column::{Columns, DeepEnd};
use super::law::Exchange;
use super::sideways::Sideways;
use super::tableau::{GAMMA, STAGES, Tableau};
use super::tolerance::{ORDER, SolveError, step_factor};
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
        let mut alone = Together {
            sets: vec![(self, exchange)],
            sideways: None,
        };
        alone.rest(seconds, step_k)
    }
}

/// Sets of columns that rest at the same time, each open to its own surroundings.
pub struct Together<'a> {
    /// The sets with what their faces are open to.
    pub sets: Vec<(&'a mut Columns, &'a Exchange)>,
    /// Ways for heat between all columns, those of the second set counted after those of the first.
    pub sideways: Option<&'a mut Sideways>,
}

impl Together<'_> {
    /// As [`Columns::rest`] for all sets. What passes sideways is part of every stage; the matrix is the product
    /// of that along the columns and that across them.
    ///
    /// # Errors
    /// A step that cannot meet the tolerance \[K\].
    pub fn rest(&mut self, seconds: f64, step_k: f64) -> Result<(), SolveError> {
        for (set, exchange) in &mut self.sets {
            set.contact.fill(None);
            set.set_open(Some((*exchange).clone()));
        }
        let tableau = Tableau::new();
        let firsts = self.sets.iter().filter(|(set, _)| set.count > 0);
        let mut step_s = firsts.map(|(set, _)| set.first_step()).fold(1e6, f64::min);
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
            let factor = step_factor(ratio, ORDER);
            if ratio <= 1.0 {
                self.sets.iter_mut().for_each(|(set, _)| set.book());
                time += tau;
                step_s = tau * factor;
            } else {
                self.sets.iter_mut().for_each(|(set, _)| set.revert());
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
            let t = time + tableau.time[i] * tau;
            for (set, _) in &mut self.sets {
                set.argument(&tableau.a[i][..i]);
                set.evaluate(t, |_| (0.0, 1.0, 1.0), i == 0, gamma_tau, |_| {});
                if i == 0 {
                    set.factor(|_, _| {});
                }
            }
            if let (Some(sideways), [(first, _), (second, _)]) = (&mut self.sideways, &mut self.sets[..]) {
                sideways.add_flow([first, second]);
            }
            let c: [f64; STAGES] = std::array::from_fn(|j| GAMMA * tableau.c[i][j]);
            self.sets
                .iter_mut()
                .for_each(|(set, _)| set.stage_rhs(gamma_tau, &c[..i]));
            if let (Some(sideways), [(first, _), (second, _)]) = (&mut self.sideways, &mut self.sets[..]) {
                if i == 0 {
                    sideways.factor_step([first, second], gamma_tau);
                }
                sideways.solve_stage([first, second]);
            }
            for (set, _) in &mut self.sets {
                set.eliminate(0, &[], |_, _| {});
                set.substitute(0, &[], |_| 0.0, |_| {});
                set.store(i);
            }
        }
        let errors = self.sets.iter_mut().map(|(set, _)| set.finish(&tableau.m, &tableau.e));
        errors.fold(0.0, |most: f64, e| if e.is_nan() { e } else { most.max(e) })
    }
}
