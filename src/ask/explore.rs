//! Margins over a few inputs as polynomials, for those who may not run the program: how the line changes with them,
//! with the error of it.
//!
//! Products of Chebyshev polynomials up to a total degree are fitted to runs at quasi-random points that are denser
//! towards the ends of the ranges (least squares; Trefethen, Approximation Theory and Approximation Practice, 2013,
//! chapters 3 and 4), and compared with runs at other points and in the corners. The largest difference is the error.

use std::f64::consts::PI;

use ndarray::{Array1, Array2};
use rayon::prelude::*;

use super::failure::Failure;
use super::model::{Change, Model};
use super::random::{Sampler, Scheme};
use crate::line::plan::Input;
use crate::numeric::dense::Svd;
use crate::text::Allowed;

/// Most inputs.
pub const MOST: usize = 6;
/// Most terms of a polynomial, and highest degree.
const MOST_TERMS: usize = 90;
const HIGHEST: usize = 8;
/// Runs for each term of the fit.
const RUNS_A_TERM: usize = 3;
/// Half range of temperatures, K, and of other numbers as a share of them.
const TEMPERATURES_K: f64 = 50.0;
const SHARE: f64 = 0.5;

/// An input over its range.
#[derive(Debug, Clone, PartialEq)]
pub struct Varied {
    /// Path.
    pub path: String,
    /// Unit.
    pub unit: &'static str,
    /// Lowest value.
    pub low: f64,
    /// Highest value.
    pub high: f64,
    /// Value in the file.
    pub planned: f64,
}

/// Margins over some inputs.
#[derive(Debug, Clone, PartialEq)]
pub struct Explored {
    /// The inputs.
    pub varied: Vec<Varied>,
    /// Degree of each term in each input.
    pub degrees: Vec<Vec<usize>>,
    /// Coefficients by limit, K.
    pub coefficients: Vec<Vec<f64>>,
    /// Largest difference to a run that was not fitted, K, by limit.
    pub error_k: Vec<f64>,
    /// Runs fitted and compared with.
    pub runs: (usize, usize),
    /// Hand-overs that are not among the inputs because there are more than can be: they stay as planned.
    pub left_out: Vec<String>,
}

/// The inputs that a line is explored over unless others are asked for, and the hand-overs that are too many for it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Usual {
    /// Paths of the inputs: the exit temperature and the hand-overs with the least to spare, in the order of the line.
    pub paths: Vec<String>,
    /// Paths of the hand-overs that are left out.
    pub left_out: Vec<String>,
}

/// The inputs that a line is explored over unless others are asked for.
///
/// # Errors
/// A run that fails; none is made where all inputs fit.
pub fn usual(model: &dyn Model) -> Result<Usual, Failure> {
    let exit = model.exit_inputs().map(|exit| exit.surface.0.clone());
    let moves = model.handovers();
    let room = MOST - usize::from(exit.is_some());
    let mut order: Vec<usize> = (0..moves.len()).collect();
    if moves.len() > room {
        let verdicts = model.run(&[])?.verdicts;
        let spare = |k: &usize| {
            let of = verdicts
                .iter()
                .filter(|v| v.margin_stage.as_ref() == Some(&moves[*k].stage));
            of.filter_map(|v| v.margin_s).fold(f64::INFINITY, f64::min)
        };
        order.sort_by(|a, b| spare(a).total_cmp(&spare(b)));
    }
    let mut left = order.split_off(room.min(order.len()));
    order.sort_unstable();
    left.sort_unstable();
    let path = |k: usize| moves[k].path.clone();
    Ok(Usual {
        paths: exit.into_iter().chain(order.into_iter().map(path)).collect(),
        left_out: left.into_iter().map(path).collect(),
    })
}

/// Explores a line over inputs.
///
/// # Errors
/// A path that is no number, is there twice or is one too many; a line without limits; a run that is refused or fails.
pub fn explore(model: &dyn Model, paths: &[String]) -> Result<Explored, Failure> {
    let nothing = |why: String| Err(Failure::NothingToDo(why));
    if model.limits().is_empty() {
        return nothing("the line has no limits to follow: give [[limit]] tables".to_owned());
    }
    if paths.is_empty() || paths.len() > MOST {
        return nothing(format!("{} inputs to vary; 1 to {MOST} can be", paths.len()));
    }
    if let Some(twice) = (1..paths.len()).find(|&k| paths[..k].contains(&paths[k])) {
        return nothing(format!("`{}` is to be varied twice", paths[twice]));
    }
    for path in paths {
        if model.input(path)?.whole {
            return nothing(format!(
                "`{path}` is a whole number and cannot be varied between its values"
            ));
        }
    }
    let varied = paths
        .iter()
        .map(|path| range(model, path))
        .collect::<Result<Vec<_>, _>>()?;
    let degrees = degrees(varied.len());
    let fitted = RUNS_A_TERM * degrees.len() + 10;
    let (within, corners) = (fitted / 2, 1usize << varied.len());
    let sampler = Sampler::new(Scheme::QuasiRandom, 1, (fitted + within) as u64, varied.len())?;
    let mut points: Vec<Vec<f64>> = (0..fitted + within)
        .map(|k| {
            let dense = |u: &f64| if k < fitted { -(PI * u).cos() } else { 2.0 * u - 1.0 };
            sampler.point(k as u64).iter().map(dense).collect()
        })
        .collect();
    let corner = |k: usize| {
        (0..varied.len())
            .map(|i| if k >> i & 1 == 1 { 1.0 } else { -1.0 })
            .collect()
    };
    points.extend((0..corners).map(corner));
    let run = |x: &Vec<f64>| -> Result<Vec<f64>, Failure> { Ok(model.run(&changes(&varied, x))?.margins_k()) };
    let margins = points.par_iter().map(run).collect::<Vec<_>>();
    let margins = margins.into_iter().collect::<Result<Vec<_>, _>>()?;
    if let Some(limit) = margins
        .iter()
        .find_map(|of| of.iter().position(|margin| !margin.is_finite()))
    {
        return nothing(format!("limit {} has no margin in one of the runs", limit + 1));
    }
    let coefficients = fit(&degrees, &points[..fitted], &margins[..fitted], model.limits().len())
        .ok_or_else(|| Failure::NothingToDo("the runs do not allow a fit".to_owned()))?;
    let mut explored = Explored {
        varied,
        degrees,
        error_k: vec![0.0; coefficients.len()],
        coefficients,
        runs: (fitted, within + corners),
        left_out: Vec::new(),
    };
    for (x, run) in points[fitted..].iter().zip(&margins[fitted..]) {
        let found = explored.margins_k(x);
        for (error, (found, run)) in explored.error_k.iter_mut().zip(found.iter().zip(run)) {
            *error = error.max((found - run).abs());
        }
    }
    Ok(explored)
}

impl Explored {
    /// Margins of all limits in K at a point scaled to −1 … 1.
    #[must_use]
    pub fn margins_k(&self, scaled: &[f64]) -> Vec<f64> {
        let terms = terms(&self.degrees, scaled);
        let sum = |c: &Vec<f64>| c.iter().zip(&terms).map(|(c, t)| c * t).sum();
        self.coefficients.iter().map(sum).collect()
    }
}

fn changes(varied: &[Varied], scaled: &[f64]) -> Vec<Change> {
    let at = |(of, x): (&Varied, &f64)| {
        Change::new(of.path.clone(), 0.5 * (of.low + of.high) + 0.5 * (of.high - of.low) * x)
    };
    varied.iter().zip(scaled).map(at).collect()
}

/// The range of an input about its value, inside what is allowed.
fn range(model: &dyn Model, path: &str) -> Result<Varied, Failure> {
    let planned = model.number(path)?;
    let input: &Input = model.input(path)?;
    let allowed = input.allowed.unwrap_or(Allowed {
        low: f64::NEG_INFINITY,
        high: f64::INFINITY,
        low_open: false,
    });
    let half = match path.ends_with("_c") {
        true => TEMPERATURES_K,
        false => SHARE * planned.abs(),
    };
    let hand_over = model.handovers().iter().find(|handover| handover.path == path);
    let (mut low, high) = match hand_over {
        // A hand-over is asked for from its shortest to three times its planned length.
        Some(of) => (of.least_s, (3.0 * planned).max(planned + 5.0)),
        None => (planned - half, planned + half),
    };
    if low < allowed.low || (allowed.low_open && low <= allowed.low) {
        low = allowed.low
            + if allowed.low_open {
                0.01 * (planned - allowed.low)
            } else {
                0.0
            };
    }
    let high = high.min(allowed.high);
    if low.is_nan() || high.is_nan() || high <= low {
        return Err(Failure::NothingToDo(format!(
            "`{path}` = {planned} has no range to vary it in"
        )));
    }
    Ok(Varied {
        path: path.to_owned(),
        unit: input.unit,
        low,
        high,
        planned,
    })
}

/// Degrees of all terms up to the highest total degree that keeps their number in bounds.
fn degrees(inputs: usize) -> Vec<Vec<usize>> {
    let of = |most: usize| {
        let mut all = vec![Vec::new()];
        for _ in 0..inputs {
            all = all
                .into_iter()
                .flat_map(|term: Vec<usize>| {
                    let left = most - term.iter().sum::<usize>();
                    (0..=left).map(move |degree| [term.clone(), vec![degree]].concat())
                })
                .collect();
        }
        all
    };
    let fits = (1..=HIGHEST).rev().map(of).find(|all| all.len() <= MOST_TERMS);
    fits.unwrap_or_else(|| of(1))
}

/// The terms at a point: products of Chebyshev polynomials.
fn terms(degrees: &[Vec<usize>], x: &[f64]) -> Vec<f64> {
    let table: Vec<Vec<f64>> = x
        .iter()
        .map(|&x| {
            let mut values = vec![1.0, x];
            for k in 2..=HIGHEST {
                values.push(2.0 * x * values[k - 1] - values[k - 2]);
            }
            values
        })
        .collect();
    let term = |degrees: &Vec<usize>| {
        degrees
            .iter()
            .zip(&table)
            .map(|(degree, values)| values[*degree])
            .product()
    };
    degrees.iter().map(term).collect()
}

/// Coefficients by limit.
fn fit(degrees: &[Vec<usize>], points: &[Vec<f64>], margins: &[Vec<f64>], limits: usize) -> Option<Vec<Vec<f64>>> {
    let mut a = Array2::zeros((points.len(), degrees.len()));
    for (row, x) in points.iter().enumerate() {
        for (column, term) in terms(degrees, x).into_iter().enumerate() {
            a[[row, column]] = term;
        }
    }
    let svd = Svd::of(a.view())?;
    let of = |limit: usize| {
        let b: Array1<f64> = margins.iter().map(|margins| margins[limit]).collect();
        Some(svd.solve(b.view())?.to_vec())
    };
    (0..limits).map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::testing::Formula;
    use crate::judge::Owner;
    use crate::line::plan::InputValue;

    /// A line of one input, whose margin is the input.
    fn line(value: f64, low_open: bool) -> Formula {
        let input = Input {
            path: "heater.temperature_c".to_owned(),
            value: InputValue::Number(value),
            unit: "degC",
            owner: Owner::Given,
            source: "test".into(),
            follows: false,
            allowed: Some(Allowed {
                low: 20.0,
                high: 1400.0,
                low_open,
            }),
            whole: false,
            sd: None,
        };
        Formula::new(vec![input], |x| x)
    }

    /// A range ends where the file does: at the lowest value that is allowed, or a hundredth of the way to the planned
    /// one where that bound itself is refused.
    #[test]
    fn ranges_stay_in_what_is_allowed() {
        let ends = |value: f64, low_open: bool| {
            let of = range(&line(value, low_open), "heater.temperature_c").unwrap();
            (of.low, of.high)
        };
        assert_eq!(ends(100.0, true), (50.0, 150.0));
        assert_eq!(ends(60.0, false), (20.0, 110.0));
        assert_eq!(ends(60.0, true), (20.4, 110.0));
        assert_eq!(ends(70.0, true), (20.5, 120.0));
        assert_eq!(ends(1390.0, false), (1340.0, 1400.0));
    }

    /// Three runs for each of the nine terms and ten more are fitted; compared are half as many and both ends.
    #[test]
    fn runs_are_fitted_and_compared() {
        let explored = explore(&line(1240.0, false), &["heater.temperature_c".to_owned()]).unwrap();
        assert_eq!(explored.runs, (37, 18 + 2));
        assert!((explored.margins_k(&[0.5])[0] - 1265.0).abs() < 1e-9);
        assert!(explored.error_k[0] < 1e-9);
    }

    #[test]
    fn degrees_stay_in_bounds() {
        assert_eq!(degrees(1).len(), 9);
        assert_eq!(degrees(2).len(), 45);
        for inputs in 1..=MOST {
            let all = degrees(inputs);
            assert!(
                all.len() <= MOST_TERMS && all.iter().all(|term| term.len() == inputs),
                "{inputs}"
            );
        }
    }

    #[test]
    fn a_polynomial_is_found_again() {
        let degrees = degrees(2);
        let points: Vec<Vec<f64>> = (0..200)
            .map(|k| {
                vec![
                    (f64::from(k) * 0.618).fract() * 2.0 - 1.0,
                    (f64::from(k) * 0.414).fract() * 2.0 - 1.0,
                ]
            })
            .collect();
        let of = |x: &[f64]| vec![3.0 + x[0] - 2.0 * x[0] * x[1] * x[1]];
        let margins: Vec<Vec<f64>> = points.iter().map(|x| of(x)).collect();
        let coefficients = fit(&degrees, &points, &margins, 1).unwrap();
        let x = [0.3, -0.7];
        let found: f64 = coefficients[0]
            .iter()
            .zip(terms(&degrees, &x))
            .map(|(c, t)| c * t)
            .sum();
        assert!((found - of(&x)[0]).abs() < 1e-9, "{found}");
    }
}
