//! A search that also keeps what coils and converters may carry.

use super::goal::Goal;
use super::solve::{SetPoints, find_powers_between};
use crate::heater::bar::Bar;
use crate::heater::error::HeaterError;
use crate::heater::line::HeaterLine;
use crate::heater::ratings::Ratings;

/// Times that powers are bounded by what was found too much. One is mostly enough: at the same load, voltage and current
/// go with the root of the power.
const ROUNDS: usize = 4;
/// Passed by less, a limit counts as kept.
const NEAR: f64 = 1e-3;

/// Finds the powers as [`find_powers_between`] does, with the power of each channel bounded further where its voltage,
/// current, reactive power or the power of a single coil would pass a rating.
///
/// # Errors
/// Those of [`find_powers_between`].
pub fn find_powers_within(
    line: &HeaterLine,
    bar: &Bar,
    goal: &Goal,
    (lowest_w, highest_w): (&[f64], &[f64]),
    start_w: Option<&[f64]>,
    slices: usize,
    ratings: &Ratings,
) -> Result<SetPoints, HeaterError> {
    let mut highest = highest_w.to_vec();
    let mut found = find_powers_between(line, bar, goal, (lowest_w, &highest), start_w, slices)?;
    for _ in 0..ROUNDS {
        let excess = ratings.excess(line, &line.readings(&found.steady.coils));
        let mut bounded = false;
        for (c, factor) in excess.into_iter().enumerate() {
            if factor > 1.0 + NEAR && lowest_w[c] < highest[c] {
                highest[c] = (found.powers_w[c] / factor).max(lowest_w[c]);
                bounded = true;
            }
        }
        if !bounded {
            break;
        }
        let start: Vec<f64> = found.powers_w.iter().zip(&highest).map(|(p, h)| p.min(*h)).collect();
        found = find_powers_between(line, bar, goal, (lowest_w, &highest), Some(&start), slices)?;
    }
    Ok(found)
}
