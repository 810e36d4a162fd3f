//! One step of the method: right-hand side, factors, stages.

use super::face::face_balance;
use super::kernel;
use super::law::Law;
use super::solver::Solver;
use super::tableau::{GAMMA, STAGES};

impl Solver {
    /// The argument u + Σ aᵢⱼUⱼ of stage `i`, with temperatures and potentials there (of the first stage
    /// they are those of the state).
    fn look_up(&mut self, i: usize) {
        let s = &mut self.scratch;
        let a = &s.tableau.a[i][..i];
        let medium = &*self.medium;
        for run in &s.runs {
            let run = run.clone();
            let argument = &mut s.argument[run.clone()];
            let stages = s.stages.each_ref().map(|y| &y[run.clone()]);
            kernel::argument(argument, &self.h[run.clone()], &s.per_mass[run.clone()], a, stages);
            if i == 0 {
                continue;
            }
            let cells = argument.iter().zip(&self.cooled[run.clone()]);
            let values = s.temp[run.clone()].iter_mut().zip(&mut s.potential[run]);
            for ((h, cooled), (temp, potential)) in cells.zip(values) {
                let at = medium.branch(*cooled).at(*h);
                *temp = at.temp_c;
                *potential = at.potential;
            }
        }
        if i == 0 && !s.fresh {
            self.look_up_slopes();
        }
        for columns in &mut self.columns {
            columns.argument(&self.scratch.tableau.a[i][..i]);
        }
    }

    /// Temperatures, potentials and slopes at the state, from which the next step starts.
    pub(super) fn look_up_slopes(&mut self) {
        let s = &mut self.scratch;
        let medium = &*self.medium;
        for run in &s.runs {
            let run = run.clone();
            let cells = self.h[run.clone()].iter().zip(&self.cooled[run.clone()]);
            let values = s.temp[run.clone()].iter_mut().zip(&mut s.potential[run.clone()]);
            let slopes = s.dtemp[run.clone()]
                .iter_mut()
                .zip(&mut s.pivot_mass[run.clone()])
                .zip(&s.mass[run]);
            for (((h, cooled), (temp, potential)), ((dtemp, pivot_mass), mass)) in cells.zip(values).zip(slopes) {
                let at = medium.branch(*cooled).at(*h);
                *temp = at.temp_c;
                *potential = at.potential;
                *dtemp = at.largest_dtemp_dh;
                // The method takes any matrix. The steepest slope nearby keeps it stable where a
                // cell leaves the transformation, in which dΘ/dh is many times smaller.
                *pivot_mass = mass / at.steepest;
            }
        }
        s.fresh = true;
    }

    /// What the cells of each run take in from their neighbours and their source, W.
    fn gather(&mut self) {
        let s = &mut self.scratch;
        let potential = &s.potential;
        for run in &s.runs {
            s.x[run.clone()].copy_from_slice(&self.source[run.clone()]);
            for axis in 0..self.grid.axes().len() {
                let g = self.grid.between(axis);
                let stride = self.grid.stride()[axis];
                let up = run.start..run.end.min(g.len() - stride);
                if !up.is_empty() {
                    let above = &potential[up.start + stride..up.end + stride];
                    let pairs = potential[up.clone()].iter().zip(above);
                    for ((x, g), (here, above)) in s.x[up.clone()].iter_mut().zip(&g[up]).zip(pairs) {
                        *x += g * (above - here);
                    }
                }
                let down = run.start.max(stride)..run.end;
                if !down.is_empty() {
                    let before = down.start - stride..down.end - stride;
                    let pairs = potential[down.clone()].iter().zip(&potential[before.clone()]);
                    for ((x, g), (here, below)) in s.x[down].iter_mut().zip(&g[before]).zip(pairs) {
                        *x -= g * (here - below);
                    }
                }
            }
        }
    }

    /// Right-hand side [W per cell] at the stage argument; with `linearise`, also the slopes and
    /// the tridiagonal matrices for γτ.
    fn evaluate(&mut self, t: f64, linearise: bool, gamma_tau: f64, stage: usize) {
        self.work.evaluations += 1;
        self.look_up(stage);
        self.gather();
        let s = &mut self.scratch;
        let medium = &*self.medium;
        if linearise {
            for (diagonal, sums) in s.diagonal.iter_mut().zip(&s.coupling_sum) {
                for ((d, sum), m) in diagonal.iter_mut().zip(sums).zip(&s.pivot_mass) {
                    *d = m + gamma_tau * sum;
                }
            }
        }
        let accounts = &mut s.accounts[stage];
        accounts.fill(0.0);
        for (account, power) in &self.source_power {
            accounts[*account] += power;
        }
        if let Some((reaction, account)) = &self.reaction {
            for c in 0..s.x.len() {
                let q = reaction(s.temp[c]) * self.grid.volume()[c];
                s.x[c] += q;
                accounts[*account] += q;
            }
        }
        let faces = self.grid.faces();
        let mut f = 0;
        // Faces of one group lie together in runs; the law is looked up once a run.
        while f < faces.len() {
            let group = faces[f].group;
            let end = f + faces[f..].iter().take_while(|x| x.group == group).count();
            match &self.laws[group] {
                Law::Insulated => {
                    if linearise {
                        s.face_slope[f..end].fill(0.0);
                        s.face_account[f..end].fill(None);
                    }
                }
                Law::Fixed { temp_c, account } => {
                    let temp = temp_c.at(t);
                    let held = medium.heating.at(medium.heating.enthalpy(temp)).potential;
                    for (k, face) in faces.iter().enumerate().take(end).skip(f) {
                        let g = face.area / face.depth;
                        let q = g * (held - s.potential[face.cell]);
                        s.x[face.cell] += q;
                        accounts[*account] += q;
                        if linearise {
                            s.diagonal[face.axis][face.cell] += gamma_tau * g;
                            s.face_slope[k] = g;
                            s.face_account[k] = Some(*account);
                        }
                    }
                }
                Law::Exchange {
                    exchange,
                    share,
                    account,
                } => {
                    let now = exchange.now(t);
                    for (k, face) in faces.iter().enumerate().take(end).skip(f) {
                        let branch = medium.branch(self.cooled[face.cell]);
                        let (state, q, slope) = face_balance(
                            branch,
                            s.potential[face.cell],
                            face.depth,
                            &now.past_itself(self.open[k]),
                            &s.face_state[k],
                        );
                        if state.h.is_finite() {
                            s.face_state[k] = state;
                        }
                        let area = face.area * share * self.exposed[k];
                        s.x[face.cell] -= area * q;
                        accounts[*account] -= area * q;
                        if linearise {
                            s.diagonal[face.axis][face.cell] += gamma_tau * area * slope;
                            s.face_slope[k] = area * slope;
                            s.face_account[k] = Some(*account);
                        }
                    }
                }
            }
            f = end;
        }
        for columns in &mut self.columns {
            let account = columns.account;
            let (argument, temp, cooled) = (&s.argument, &s.temp, &self.cooled);
            let body = |face: usize| {
                let cell = faces[face].cell;
                let at = medium.branch(cooled[cell]).at(argument[cell]);
                (temp[cell], at.dpotential_dh / at.dtemp_dh, faces[face].depth)
            };
            let x = &mut s.x;
            columns.evaluate(t, body, linearise, gamma_tau, |joint| {
                x[faces[joint.face].cell] += joint.power;
                accounts[account] += joint.power;
            });
        }
    }

    /// Factors one tridiagonal matrix per axis for the current γτ.
    fn factor(&mut self, gamma_tau: f64) {
        let s = &mut self.scratch;
        let faces = self.grid.faces();
        for columns in &mut self.columns {
            let diagonal = &mut s.diagonal;
            columns.factor(|face, add| diagonal[faces[face].axis][faces[face].cell] += add);
        }
        for axis in 0..self.grid.axes().len() {
            s.factors[axis].factor(&s.lines[axis], &s.diagonal[axis], self.grid.between(axis), gamma_tau);
        }
    }

    /// Tries a step of `tau` seconds: the new enthalpies go to the state, the old ones to
    /// `before`. Returns the largest error estimate in K. The ledger is not touched; call
    /// [`Solver::book`] once the step is accepted.
    pub(super) fn try_step(&mut self, tau: f64) -> f64 {
        let gamma_tau = GAMMA * tau;
        let exact = self.solves_exactly(tau);
        let accounts = self.ledger.accounts();
        for a in &mut self.scratch.accounts {
            a.resize(accounts, 0.0);
        }
        for i in 0..STAGES {
            // A signal that jumps at the end of the step still has its value before the jump.
            let t = (self.time_s + self.scratch.tableau.time[i] * tau).min((self.time_s + tau).next_down());
            self.evaluate(t.max(self.time_s), i == 0, gamma_tau, i);
            if i == 0 {
                if exact {
                    self.scratch.gamma_tau = gamma_tau;
                    self.prepare_exact();
                }
                self.factor(gamma_tau);
            }
            self.stage_solve(i, gamma_tau, exact);
        }
        self.scratch.fresh = false;
        self.finish(tau)
    }

    /// Solves the product of the axis factors for stage `i` and books its energies.
    fn stage_solve(&mut self, i: usize, gamma_tau: f64, exact: bool) {
        let s = &mut self.scratch;
        let c: [f64; STAGES] = std::array::from_fn(|j| GAMMA * s.tableau.c[i][j]);
        for run in &s.runs {
            let stages = s.stages.each_ref().map(|y| &y[run.clone()]);
            kernel::right_side(&mut s.x[run.clone()], gamma_tau, &c[..i], stages);
        }
        let (earlier, here) = s.accounts.split_at_mut(i);
        let accounts = &mut here[0];
        for (k, e) in accounts.iter_mut().enumerate() {
            let sum: f64 = earlier.iter().zip(&c).map(|(past, c)| c * past[k]).sum();
            *e = gamma_tau * *e + sum;
        }
        for columns in &mut self.columns {
            columns.stage_rhs(gamma_tau, &c[..i]);
        }
        if exact {
            self.solve_exactly(i, gamma_tau);
        }
        let s = &mut self.scratch;
        let accounts = &mut s.accounts[i];
        let faces = self.grid.faces();
        let axes = self.grid.axes().len();
        for axis in 0..axes {
            for columns in &mut self.columns {
                let x = &mut s.x;
                columns.eliminate(axis, faces, |face, add| x[faces[face].cell] += add);
            }
            s.factors[axis].solve(&s.lines[axis], &mut s.x);
            self.work.line_solves += 1;
            for (k, face) in faces.iter().enumerate() {
                if face.axis == axis
                    && let Some(account) = s.face_account[k]
                {
                    accounts[account] -= gamma_tau * s.face_slope[k] * s.x[face.cell];
                }
            }
            for columns in &mut self.columns {
                let account = columns.account;
                let x = &s.x;
                columns.substitute(axis, faces, |face| x[faces[face].cell], |q| accounts[account] += q);
            }
            if axis + 1 < axes {
                for run in &s.runs {
                    let cells = s.x[run.clone()].iter_mut().zip(&s.pivot_mass[run.clone()]);
                    cells.for_each(|(x, m)| *x *= m);
                }
            }
        }
        if exact {
            self.add_exact();
        }
        let s = &mut self.scratch;
        for run in &s.runs {
            let cells = s.x[run.clone()].iter().zip(&s.pivot_mass[run.clone()]);
            for (y, (x, m)) in s.stages[i][run.clone()].iter_mut().zip(cells) {
                *y = x * m;
            }
        }
        for columns in &mut self.columns {
            columns.store(i);
        }
    }

    /// Combines the stages of a step of `tau` seconds into the new state; gives the largest error estimate
    /// in K, those that stay with more weight.
    fn finish(&mut self, tau: f64) -> f64 {
        let s = &mut self.scratch;
        let tolerance = self.tolerance;
        // The argument of the last stage is done with.
        let kelvin = s.argument.iter_mut().zip(s.dtemp.iter().zip(&s.local_crossing_s));
        kelvin.for_each(|(k, (dtemp, crossing_s))| *k = dtemp * tolerance.weight(tau / crossing_s));
        let (m, e) = (s.tableau.m, s.tableau.e);
        self.before.copy_from_slice(&self.h);
        let mut worst = 0.0;
        let mut more = |error: f64| worst = if error > worst || error.is_nan() { error } else { worst };
        for run in &s.runs {
            let run = run.clone();
            let stages = s.stages.each_ref().map(|y| &y[run.clone()]);
            let (per_mass, kelvin) = (&s.per_mass[run.clone()], &s.argument[run.clone()]);
            more(kernel::finish(&mut self.h[run], per_mass, kelvin, (&m, &e), stages));
        }
        let weight = tolerance.weight(tau / s.crossing_s);
        for columns in &mut self.columns {
            more(weight * columns.finish(&m, &e));
        }
        worst
    }

    /// Writes the energies of the last step into the ledger.
    pub(super) fn book(&mut self) {
        let s = &self.scratch;
        let m = &s.tableau.m;
        for account in 0..self.ledger.accounts() {
            let energy: f64 = m.iter().zip(&s.accounts).map(|(m, a)| m * a[account]).sum();
            self.ledger.add(account, energy);
        }
        let mut stored = 0.0;
        for (m, y) in m.iter().zip(&s.stages) {
            stored += m * s.runs.iter().map(|run| kernel::sum(&y[run.clone()])).sum::<f64>();
        }
        self.ledger.add_stored(stored);
        for columns in &mut self.columns {
            columns.book();
        }
    }

    /// Takes the state back to before the last step.
    pub(super) fn revert(&mut self) {
        std::mem::swap(&mut self.h, &mut self.before);
        self.scratch.fresh = false;
        for columns in &mut self.columns {
            columns.revert();
        }
    }
}
