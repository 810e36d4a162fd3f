//! A search that also keeps what coils and converters may carry.

use super::goal::Goal;
use super::solve::{SetPoints, find_powers_between};
use crate::heater::bar::Bar;
use crate::heater::error::HeaterError;
use crate::heater::line::HeaterLine;
use crate::heater::ratings::Ratings;

/// Times that bounds are set anew. At the same load voltage and current go with the root of the power, but a load that
/// gets less changes.
const ROUNDS: usize = 10;
/// A limit passed by less, as a share of the power, counts as kept.
const NEAR: f64 = 2e-3;
/// A bound that leaves more than this unused, as a share of the power, is raised again.
const UNUSED: f64 = 0.02;

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
    let mut kept: Option<SetPoints> = None;
    // Powers of each channel known to be carried, and known to be too much.
    let mut carried = vec![0.0; highest_w.len()];
    let mut too_much = vec![f64::INFINITY; highest_w.len()];
    for _ in 0..ROUNDS {
        let excess = ratings.excess(line, &line.readings(&found.steady.coils));
        let given = |c: usize| lowest_w[c] >= highest_w[c];
        if (0..excess.len()).all(|c| given(c) || excess[c] <= 1.0 + NEAR) {
            kept = Some(found.clone());
        }
        let mut moved = false;
        for (c, factor) in excess.into_iter().enumerate() {
            // A bound that was set before is also raised again, where it turned out too low.
            let at_own_bound = highest[c] < highest_w[c] && found.powers_w[c] > 0.999 * highest[c];
            let off = factor > 1.0 + NEAR || (at_own_bound && factor < 1.0 - UNUSED);
            if off && !given(c) && factor > 0.0 {
                let power_w: f64 = found.powers_w[c];
                match factor > 1.0 {
                    true => too_much[c] = power_w.min(too_much[c]),
                    false => carried[c] = power_w.max(carried[c]),
                }
                // A load that jumps makes the proportion miss to either side: then half of the way between.
                let mut bound = power_w / factor;
                if bound >= too_much[c] || bound <= carried[c] {
                    bound = 0.5 * (carried[c] + too_much[c].min(highest_w[c]));
                }
                let bound = bound.clamp(lowest_w[c], highest_w[c]);
                moved |= (bound - highest[c]).abs() > 1e-3 * highest[c];
                highest[c] = bound;
            }
        }
        if !moved {
            break;
        }
        let start: Vec<f64> = found.powers_w.iter().zip(&highest).map(|(p, h)| p.min(*h)).collect();
        found = find_powers_between(line, bar, goal, (lowest_w, &highest), Some(&start), slices)?;
    }
    let excess = ratings.excess(line, &line.readings(&found.steady.coils));
    let passed = (0..excess.len()).any(|c| lowest_w[c] < highest_w[c] && excess[c] > 1.0 + NEAR);
    Ok(match kept {
        Some(kept) if passed => kept,
        _ => found,
    })
}
