//! From what one takt has changed in the dies to where they will come to rest.
//!
//! After the fast modes of a face have settled, a column that gains heat every takt goes on until
//! conduction to its depth and the film of its face carry that heat away. Both are linear enough to
//! say where: the steady response to the gain ([`Columns::steady_response`]). The mean film of a
//! face over a takt (contact, spray, air together) is learnt column by column from how its gain
//! changed from one state to the next.
//!
//! [`Columns::steady_response`]: crate::conduction::Columns::steady_response

use crate::line::run::tooling::Tooling;

/// Mean film of a face over a takt before anything is known of it, W/m²K: a second of spray in
/// fifteen, and air.
const FILM: f64 = 150.0;

/// Bounds of what is learnt, W/m²K. A face whose spray stops wetting has a falling law; there the
/// lower bound makes the step long and [`FARTHEST_K`] ends it.
const FILMS: (f64, f64) = (10.0, 5000.0);

/// Least change of a face cell that says something about its film, K.
const TELLING_K: f64 = 0.02;

/// Farthest that a column is taken in one step, K.
const FARTHEST_K: f64 = 120.0;

/// The way of all columns of a set of tools.
pub(super) struct Way {
    period_s: f64,
    films: Vec<f64>,
    last: Option<(Vec<f64>, Vec<f64>)>,
}

impl Way {
    pub fn new(tooling: &Tooling, period_s: f64) -> Way {
        let columns: usize = tooling.kept.iter().map(|k| k.ground.spans().len()).sum();
        Way {
            period_s,
            films: vec![FILM; columns],
            last: None,
        }
    }

    /// Change of every cell \[K\] from the state `x` \[degC\], of which a takt changes `f` \[K\]. `tooling`
    /// is in the state `x`.
    pub fn of(&mut self, tooling: &Tooling, x: &[f64], f: &[f64]) -> Vec<f64> {
        let mut way = vec![0.0; x.len()];
        let (mut cell, mut column) = (0, 0);
        let (mut gain, mut more, mut out) = (Vec::new(), Vec::new(), Vec::new());
        for kept in &tooling.kept {
            let columns = kept.ground.columns();
            let (count, depth) = (kept.ground.spans().len(), columns.depth_cells());
            gain.resize(depth, 0.0);
            more.resize(depth, 0.0);
            out.resize(depth, 0.0);
            for c in 0..count {
                let at = |i: usize| cell + i * count + c;
                for (i, g) in gain.iter_mut().enumerate() {
                    *g = f[at(i)];
                }
                if let Some((x_last, f_last)) = &self.last {
                    let moved = x[at(0)] - x_last[at(0)];
                    if moved.abs() > TELLING_K {
                        for (i, m) in more.iter_mut().enumerate() {
                            *m = f[at(i)] - f_last[at(i)];
                        }
                        let change_w = columns.gain_w_m2(c, &more, self.period_s);
                        let deep_w = columns.deep_loss_w_m2(c, x[at(depth - 1)] - x_last[at(depth - 1)]);
                        self.films[column] = ((-change_w - deep_w) / moved).clamp(FILMS.0, FILMS.1);
                    }
                }
                columns.steady_response(c, &gain, self.period_s, self.films[column], &mut out);
                for (o, g) in out.iter_mut().zip(&gain) {
                    *o += g;
                }
                let longest = out.iter().fold(0.0_f64, |m, o| m.max(o.abs()));
                let share = (FARTHEST_K / longest).min(1.0);
                for (i, o) in out.iter().enumerate() {
                    way[at(i)] = share * o;
                }
                column += 1;
            }
            cell += count * depth;
        }
        self.last = Some((x.to_vec(), f.to_vec()));
        way
    }
}
