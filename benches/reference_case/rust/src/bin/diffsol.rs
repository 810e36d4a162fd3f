//! `diffsol NR NZ REFERENCE`: the same equations in diffsol, with sparse LU and the product of the
//! Jacobian in closed form.

use std::cell::RefCell;
use std::error::Error;
use std::path::Path;

use billet_thermal::conduction::Exchange;
use billet_thermal::steel::Branch;
use diffsol::{
    DefaultDenseMatrix, FaerContext, FaerSparseLU, FaerSparseMat, FaerVec, MatrixCommon, OdeBuilder, OdeEquationsImplicit, OdeSolverMethod,
    OdeSolverProblem,
};
use reference_case::{Case, TIMES_S, numbers, scan};

type Sparse = FaerSparseMat<f64>;
type Lu = FaerSparseLU<f64>;

/// Right-hand side and Jacobian of the case.
struct Equations<'a> {
    case: &'a Case,
    mass: Vec<f64>,
    air: Exchange,
    faces: RefCell<Vec<f64>>,
    theta: RefCell<Vec<f64>>,
}

/// Flux out of a face and its slope against the potential of the cell; `h` is where to start.
fn face_flux(branch: &Branch, air: &Exchange, depth: f64, theta: f64, h: &mut f64) -> (f64, f64) {
    let law = air.now(0.0);
    let g = 1.0 / depth;
    let mut last = (0.0, 0.0);
    for _ in 0..30 {
        let s = branch.at(*h);
        let (q, dq) = law.at(s.temp_c);
        let slope_h = dq * s.dtemp_dh;
        let total = g * s.dpotential_dh + slope_h;
        let change = (g * (theta - s.potential) - q) / total;
        *h += change;
        last = (q + slope_h * change, slope_h * g / total);
        if (change * s.dtemp_dh).abs() < 1e-9 {
            break;
        }
    }
    last
}

impl Equations<'_> {
    fn exchange_between(&self, theta: &[f64], out: &mut [f64]) {
        let grid = &self.case.grid;
        out.fill(0.0);
        for axis in 0..2 {
            let (between, stride) = (grid.between(axis), grid.stride()[axis]);
            for i in 0..out.len() - stride {
                let q = between[i] * (theta[i + stride] - theta[i]);
                out[i] += q;
                out[i + stride] -= q;
            }
        }
    }

    fn rhs(&self, h: &[f64], out: &mut [f64]) {
        let branch = self.case.branch();
        let mut theta = self.theta.borrow_mut();
        for (theta, h) in theta.iter_mut().zip(h) {
            *theta = branch.at(*h).potential;
        }
        self.exchange_between(&theta, out);
        for (face, start) in self.case.grid.faces().iter().zip(self.faces.borrow_mut().iter_mut()) {
            out[face.cell] -= face.area * face_flux(branch, &self.air, face.depth, theta[face.cell], start).0;
        }
        for (out, mass) in out.iter_mut().zip(&self.mass) {
            *out /= mass;
        }
    }

    fn jacobian_times(&self, h: &[f64], v: &[f64], out: &mut [f64]) {
        let branch = self.case.branch();
        let mut theta = self.theta.borrow_mut();
        for ((theta, h), v) in theta.iter_mut().zip(h).zip(v) {
            *theta = branch.at(*h).dpotential_dh * v;
        }
        self.exchange_between(&theta, out);
        for (face, start) in self.case.grid.faces().iter().zip(self.faces.borrow_mut().iter_mut()) {
            let at = branch.at(h[face.cell]).potential;
            let slope = face_flux(branch, &self.air, face.depth, at, start).1;
            out[face.cell] -= face.area * slope * theta[face.cell];
        }
        for (out, mass) in out.iter_mut().zip(&self.mass) {
            *out /= mass;
        }
    }
}

/// Temperatures at the six times from a dense solution.
fn temperatures<M: MatrixCommon>(case: &Case, column: impl Fn(usize, usize) -> f64, solution: &M) -> Vec<f64> {
    (0..solution.ncols())
        .flat_map(|j| (0..solution.nrows()).map(move |i| (i, j)))
        .map(|(i, j)| case.branch().at(column(i, j)).temp_c)
        .collect()
}

fn solve<E>(method: &str, problem: &OdeSolverProblem<E>, case: &Case) -> Result<(Vec<f64>, u64), Box<dyn Error>>
where
    E: OdeEquationsImplicit<M = Sparse, T = f64, V = FaerVec<f64>, C = FaerContext>,
    E::V: DefaultDenseMatrix,
{
    use diffsol::DenseMatrix;
    let (solution, _) = match method {
        "BDF" => problem.bdf::<Lu>()?.solve_dense(&TIMES_S)?,
        "TR-BDF2" => problem.tr_bdf2::<Lu>()?.solve_dense(&TIMES_S)?,
        _ => problem.esdirk34::<Lu>()?.solve_dense(&TIMES_S)?,
    };
    Ok((temperatures(case, |i, j| solution.get_index(i, j), &solution), 0))
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [nr, nz, file] = arguments.as_slice() else {
        return Err("usage: diffsol NR NZ REFERENCE".into());
    };
    let case = Case::new(nr.parse()?, nz.parse()?)?;
    let reference = numbers(Path::new(file))?;
    let (cells, start) = (case.grid.cells(), case.start());
    let equations = Equations {
        case: &case,
        mass: case.mass(),
        air: case.air(),
        faces: RefCell::new(vec![start; case.grid.faces().len()]),
        theta: RefCell::new(vec![0.0; cells]),
    };
    for method in ["BDF", "TR-BDF2", "ESDIRK34"] {
        scan(&format!("diffsol-{method}"), &case, &reference, 8.0, |tolerance_k| {
            equations.faces.borrow_mut().fill(start);
            // 650 J/kgK is the specific heat above the transformation.
            let problem = OdeBuilder::<Sparse>::new()
                .rtol(1e-12)
                .atol([650.0 * tolerance_k])
                .rhs_implicit(
                    |h, _, _, out| equations.rhs(h, out),
                    |h, _, _, v, out| equations.jacobian_times(h, v, out),
                )
                .init(|_, _, h| h.fill(start), cells)
                .build()?;
            solve(method, &problem, &case)
        })?;
    }
    Ok(())
}
