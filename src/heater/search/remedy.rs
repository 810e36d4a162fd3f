//! What would make an impossible goal possible; every remedy is proved by a search of its own.

use serde::Serialize;

use super::goal::Goal;
use super::solve::{SetPoints, Status, find_powers};
use super::within::find_powers_within;
use crate::heater::bar::Bar;
use crate::heater::error::HeaterError;
use crate::heater::line::{HeaterLine, ZoneKind};
use crate::heater::ratings::Ratings;

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

/// What coils and converters of a line can do; a remedy keeps it, but for more power installed.
#[derive(Debug, Clone, Copy)]
pub struct Means<'a> {
    /// Highest power of each channel, W.
    pub highest_w: &'a [f64],
    /// What coils and converters may carry.
    pub ratings: &'a Ratings,
    /// Lowest and highest frequency that each converter gives, Hz; nothing is known of those that are missing.
    pub gives_hz: &'a [(f64, f64)],
}

impl Means<'_> {
    /// Whether every converter gives its frequency.
    fn gives(&self, line: &HeaterLine) -> bool {
        let hz: Vec<f64> = line.coils().map(|(_, coil)| coil.frequency_hz).collect();
        let mut given = line.converters.iter().zip(self.gives_hz);
        given.all(|(converter, (low, high))| converter.coils.iter().all(|c| (*low..=*high).contains(&hz[*c])))
    }

    /// The powers for the goal within all that may be carried.
    fn find(
        &self,
        line: &HeaterLine,
        (bar, slices): (&Bar, usize),
        goal: &Goal,
        start_w: &[f64],
    ) -> Result<SetPoints, HeaterError> {
        let lowest = vec![0.0; self.highest_w.len()];
        let start: Vec<f64> = start_w
            .iter()
            .zip(self.highest_w)
            .map(|(p, most)| p.min(*most))
            .collect();
        let ranges = (lowest.as_slice(), self.highest_w);
        find_powers_within(line, bar, goal, ranges, Some(&start), slices, self.ratings)
    }
}

/// A neighbour that cannot be settled is no remedy.
fn met_at(found: Result<SetPoints, HeaterError>) -> Option<SetPoints> {
    found.ok().filter(met)
}

fn met(found: &SetPoints) -> bool {
    !matches!(found.status, Status::Impossible(_))
}

/// Looks for remedies for a goal that `find_powers` calls impossible: four times the power at the
/// same takt; takts up to four times as long, the shortest to within 2 %; frequencies down to a
/// quarter that the converters give. One that cannot be computed is left out.
pub fn remedies(
    line: &HeaterLine,
    (bar, slices): (&Bar, usize),
    goal: &Goal,
    nearest: &SetPoints,
    means: &Means,
) -> Vec<Remedy> {
    let mut out = Vec::new();
    let more: Vec<f64> = means.highest_w.iter().map(|p| 4.0 * p).collect();
    let found = find_powers(line, bar, goal, &more, Some(&nearest.powers_w), slices);
    if let Some(found) = met_at(found) {
        out.push(Remedy::Power {
            powers_w: found.powers_w,
        });
    }
    let at_takt = |takt_s: f64| {
        let slower = HeaterLine { takt_s, ..line.clone() };
        let share = line.takt_s / takt_s;
        let start: Vec<f64> = nearest.powers_w.iter().map(|p| p * share).collect();
        met_at(means.find(&slower, (bar, slices), goal, &start))
    };
    let mut shorter = line.takt_s;
    let mut best: Option<(f64, Vec<f64>)> = None;
    for k in 1..=8 {
        let takt = line.takt_s * 1.19f64.powi(k);
        if let Some(found) = at_takt(takt) {
            best = Some((takt, found.powers_w));
            break;
        }
        shorter = takt;
    }
    if let Some((mut takt, mut powers)) = best {
        while takt / shorter > 1.02 {
            let middle = (takt * shorter).sqrt();
            if let Some(found) = at_takt(middle) {
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
        if !means.gives(&lower) {
            break;
        }
        if let Some(found) = met_at(means.find(&lower, (bar, slices), goal, &nearest.powers_w)) {
            out.push(Remedy::Frequency {
                factor,
                powers_w: found.powers_w,
            });
            break;
        }
    }
    out
}
