//! Common parts of the checks of the conduction solver.

use std::sync::Arc;

use billet_thermal::body::{Axis, AxisKind, Grid};
use billet_thermal::conduction::{Exchange, Law, Solver, Tolerance};
use billet_thermal::steel::ThermalTable;

/// Group numbers of a new grid.
pub const LOW: usize = 0;
pub const HIGH: usize = 1;

/// Constant properties with a given diffusivity: k, ρ c split as ρ = 1000.
pub fn metal(k: f64, rho_c: f64) -> Arc<ThermalTable> {
    Arc::new(ThermalTable::constant(k, rho_c / 1000.0, 1000.0))
}

/// Cells from 0 to `length`, fine at the high end.
pub fn towards_face(kind: AxisKind, length: f64, finest: f64, coarsest: f64) -> Axis {
    Axis::graded(kind, 0.0, length, None, Some(finest), 1.06, coarsest).unwrap()
}

pub fn uniform(kind: AxisKind, length: f64, cells: usize) -> Axis {
    Axis::uniform(kind, 0.0, length, cells).unwrap()
}

pub fn solver(axes: Vec<Axis>, metal: &Arc<ThermalTable>, start_c: f64, step_k: f64) -> Solver {
    Solver::uniform(
        Arc::new(Grid::new(axes).unwrap()),
        metal.clone(),
        start_c,
        Tolerance::kelvin(step_k),
    )
}

/// Puts one exchange law on a face group.
pub fn expose(solver: &mut Solver, group: usize, name: &str, exchange: Exchange) {
    let account = solver.account(name);
    solver.set_law(
        group,
        Law::Exchange {
            exchange,
            share: 1.0,
            account,
        },
    );
}

/// Holds a face group at a temperature.
pub fn hold(solver: &mut Solver, group: usize, name: &str, temp_c: impl Into<billet_thermal::conduction::Signal>) {
    let account = solver.account(name);
    solver.set_law(
        group,
        Law::Fixed {
            temp_c: temp_c.into(),
            account,
        },
    );
}

pub fn run(solver: &mut Solver, until_s: f64) {
    solver.advance(until_s, &mut |_| {}).unwrap();
    let imbalance = solver.ledger().imbalance();
    assert!(imbalance.abs() < 1e-8, "energy ledger: {imbalance}");
}

/// Area-weighted face temperature of a group, degC.
pub fn face(solver: &Solver, group: usize) -> f64 {
    let faces = solver.grid().faces();
    let all = solver.face_temperatures();
    let (mut sum, mut area) = (0.0, 0.0);
    for (f, t) in faces.iter().zip(&all).filter(|(f, _)| f.group == group) {
        sum += t * f.area;
        area += f.area;
    }
    sum / area
}

/// Temperature at a point, by cubic interpolation between cell middles on each axis. Every low end is
/// taken as a mirror when `mirror` says so.
pub fn at(solver: &Solver, point: &[f64], mirror: bool) -> f64 {
    let grid = solver.grid();
    let weights: Vec<Vec<(usize, f64)>> = grid
        .axes()
        .iter()
        .zip(point)
        .map(|(axis, x)| weights(axis, *x, mirror))
        .collect();
    let none = vec![(0, 1.0)];
    let get = |a: usize| weights.get(a).unwrap_or(&none);
    let mut sum = 0.0;
    for &(i, wi) in get(0) {
        for &(j, wj) in get(1) {
            for &(k, wk) in get(2) {
                sum += wi * wj * wk * solver.temperature(grid.index([i, j, k]));
            }
        }
    }
    sum
}

/// Lagrange weights of the four cell middles next to `x`.
fn weights(axis: &Axis, x: f64, mirror: bool) -> Vec<(usize, f64)> {
    let mut middles: Vec<(usize, f64)> = Vec::new();
    if mirror {
        for i in (0..axis.cells().min(2)).rev() {
            middles.push((i, -axis.centre(i)));
        }
    }
    middles.extend((0..axis.cells()).map(|i| (i, axis.centre(i))));
    if middles.len() < 4 {
        let nearest = middles
            .iter()
            .min_by(|a, b| (a.1 - x).abs().total_cmp(&(b.1 - x).abs()))
            .unwrap();
        return vec![(nearest.0, 1.0)];
    }
    let above = middles.partition_point(|m| m.1 <= x);
    let first = above.saturating_sub(2).min(middles.len() - 4);
    let four = &middles[first..first + 4];
    four.iter()
        .map(|&(cell, xi)| {
            let w = four
                .iter()
                .filter(|m| m.1 != xi)
                .map(|m| (x - m.1) / (xi - m.1))
                .product();
            (cell, w)
        })
        .collect()
}

/// Slope of log(error) against log(size): the observed order.
pub fn observed_order(sizes: &[f64], errors: &[f64]) -> f64 {
    let n = sizes.len() as f64;
    let (mut sx, mut sy, mut sxx, mut sxy) = (0.0, 0.0, 0.0, 0.0);
    for (h, e) in sizes.iter().zip(errors) {
        let (x, y) = (h.ln(), e.ln());
        sx += x;
        sy += y;
        sxx += x * x;
        sxy += x * y;
    }
    (n * sxy - sx * sy) / (n * sxx - sx * sx)
}

/// Standard fire of ISO 834 from a start temperature [degC]: θ0 + 345 lg(8 t/60 + 1).
pub fn standard_fire(start_c: f64) -> impl Fn(f64) -> f64 + Send + Sync + Clone + 'static {
    move |t: f64| start_c + 345.0 * (8.0 * t / 60.0 + 1.0).log10()
}
