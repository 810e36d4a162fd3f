//! What would make an impossible goal possible; every remedy is proved by a search of its own.

use serde::Serialize;

use super::goal::Goal;
use super::solve::{SetPoints, Status, find_powers};
use crate::heater::bar::Bar;
use crate::heater::error::HeaterError;
use crate::heater::line::{HeaterLine, ZoneKind};

/// A change with which the goal is met.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub enum Remedy {
    /// A longer takt, s, and the powers (W) at it.
    Takt {
        /// The takt, s.
        takt_s: f64,
        /// Power of each channel, W.
        powers_w: Vec<f64>,
    },
    /// More power installed: what each channel would need, W.
    Power {
        /// Power of each channel, W.
        powers_w: Vec<f64>,
    },
    /// All frequencies times a factor below 1.
    Frequency {
        /// The factor.
        factor: f64,
        /// Power of each channel, W.
        powers_w: Vec<f64>,
    },
}

fn met(found: &SetPoints) -> bool {
    !matches!(found.status, Status::Impossible(_))
}

/// Looks for remedies for a goal that `find_powers` calls impossible: four times the power at the
/// same takt; takts up to four times as long, the shortest to within 2 %; frequencies down to a
/// quarter.
pub fn remedies(
    line: &HeaterLine,
    bar: &Bar,
    goal: &Goal,
    nearest: &SetPoints,
    slices: usize,
) -> Result<Vec<Remedy>, HeaterError> {
    let mut out = Vec::new();
    let more: Vec<f64> = nearest.highest_w.iter().map(|p| 4.0 * p).collect();
    let found = find_powers(line, bar, goal, &more, Some(&nearest.powers_w), slices)?;
    if met(&found) {
        out.push(Remedy::Power {
            powers_w: found.powers_w,
        });
    }
    let at_takt = |takt_s: f64| {
        let slower = HeaterLine { takt_s, ..line.clone() };
        let share = line.takt_s / takt_s;
        let start: Vec<f64> = nearest.powers_w.iter().map(|p| p * share).collect();
        find_powers(&slower, bar, goal, &nearest.highest_w, Some(&start), slices)
    };
    let mut shorter = line.takt_s;
    let mut best: Option<(f64, Vec<f64>)> = None;
    for k in 1..=8 {
        let takt = line.takt_s * 1.19f64.powi(k);
        let found = at_takt(takt)?;
        if met(&found) {
            best = Some((takt, found.powers_w));
            break;
        }
        shorter = takt;
    }
    if let Some((mut takt, mut powers)) = best {
        while takt / shorter > 1.02 {
            let middle = (takt * shorter).sqrt();
            let found = at_takt(middle)?;
            if met(&found) {
                takt = middle;
                powers = found.powers_w;
            } else {
                shorter = middle;
            }
        }
        out.push(Remedy::Takt {
            takt_s: takt,
            powers_w: powers,
        });
    }
    for factor in [0.7, 0.5, 0.35, 0.25] {
        let mut lower = line.clone();
        for zone in &mut lower.zones {
            if let ZoneKind::Coil { coil, .. } = &mut zone.kind {
                coil.frequency_hz *= factor;
            }
        }
        let found = find_powers(&lower, bar, goal, &nearest.highest_w, Some(&nearest.powers_w), slices)?;
        if met(&found) {
            out.push(Remedy::Frequency {
                factor,
                powers_w: found.powers_w,
            });
            break;
        }
    }
    Ok(out)
}
