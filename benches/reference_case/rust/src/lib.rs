//! The reference case and how its solvers are measured.

mod case;

use std::error::Error;
use std::path::Path;

use cpu_time::ProcessTime;

pub use case::{Case, TIMES_S};

/// Reads numbers in text.
pub fn numbers(path: &Path) -> Result<Vec<f64>, Box<dyn Error>> {
    let text = std::fs::read_to_string(path)?;
    Ok(text.split_whitespace().map(str::parse).collect::<Result<_, _>>()?)
}

/// Largest difference, K.
pub fn worst(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).fold(0.0, |worst, (a, b)| worst.max((a - b).abs()))
}

/// Scans tolerances from coarse to fine until the error is well below the finest of interest, and
/// prints name, grid, tolerance, CPU time, error and steps.
///
/// The time is the least of a few runs: other work on the machine only ever adds.
pub fn scan(
    name: &str,
    case: &Case,
    reference: &[f64],
    coarsest: f64,
    mut run: impl FnMut(f64) -> Result<(Vec<f64>, u64), Box<dyn Error>>,
) -> Result<(), Box<dyn Error>> {
    let mut tolerance = coarsest;
    while tolerance > 1e-4 {
        let (mut best, mut total, mut runs) = (f64::INFINITY, 0.0, 0);
        let mut result = (Vec::new(), 0);
        while runs < 3 || (total < 1.0 && runs < 200) {
            let begin = ProcessTime::now();
            result = run(tolerance)?;
            let spent = begin.elapsed().as_secs_f64();
            best = spent.min(best);
            total += spent;
            runs += 1;
            if total > 20.0 {
                break;
            }
        }
        let error = worst(&result.0, reference);
        let (nr, nz) = case.cells;
        println!("{name} {nr}x{nz} {tolerance} {best:.6} {error:.4} {}", result.1);
        if error < 0.02 {
            break;
        }
        tolerance /= 2.0;
    }
    Ok(())
}
