//! What another frequency would cost.

use rayon::prelude::*;
use serde::Serialize;

use crate::heater::HeaterError;
use crate::heater::line::{HeaterLine, Steady, Target, ZoneKind};
use crate::heater::ratings::{Rating, Ratings};
use crate::heater::search::Status;
use crate::line::plan::{CoilLine, Plan, Resolution};

/// All frequencies times these.
const TIMES: [f64; 5] = [0.5, 0.7, 1.0, 1.4, 2.0];
/// How near the exit of scaled powers is brought to the present one, K, and runs for it.
const NEAR_K: f64 = 0.3;
const RUNS: usize = 6;

/// The line at all frequencies times a factor, on the quick grid.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OtherFrequency {
    /// The factor.
    pub times: f64,
    /// Whether the target is met, or the present exit.
    pub met: bool,
    /// Power at the terminals of each channel, W.
    pub powers_w: Vec<f64>,
    /// Surface less core at the exit, K.
    pub difference_k: f64,
    /// Hottest point ever, degC.
    pub peak_c: f64,
    /// Energy from the mains per mass, J/kg.
    pub mains_j_per_kg: f64,
    /// Converters that do not give this frequency, and coils and converters of which a limit is passed with it.
    pub not_given: Vec<String>,
}

/// What other frequencies would cost.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Frequencies {
    /// Whether powers were searched for the target; else all powers times one factor that keeps the exit.
    pub searched: bool,
    /// By rising frequency.
    pub rows: Vec<OtherFrequency>,
}

/// The line at other frequencies, from the powers (W) of its channels. No row where the present frequency cannot be
/// settled on the quick grid; another one that cannot be is left out.
pub(super) fn frequencies(
    plan: &Plan,
    heater: &CoilLine,
    powers_w: &[f64],
    (searched, target): (bool, Target),
) -> Frequencies {
    let now_c = || -> Result<f64, HeaterError> {
        let bar = heater.bar(&plan.piece, &plan.metal, Resolution::Quick)?;
        let now = heater.line.steady(&bar, &heater.line.at_powers(powers_w), 1)?;
        Ok(target.among(&now.exit.nodes()))
    };
    let aim_c = match searched {
        true => None,
        false => match now_c() {
            Ok(aim_c) => Some(aim_c),
            Err(_) => {
                return Frequencies {
                    searched,
                    rows: Vec::new(),
                };
            }
        },
    };
    let rows: Vec<Option<OtherFrequency>> = TIMES
        .par_iter()
        .map(|times| at(plan, heater, powers_w, (*times, aim_c, target)).ok())
        .collect();
    Frequencies {
        searched,
        rows: rows.into_iter().flatten().collect(),
    }
}

fn at(
    plan: &Plan,
    heater: &CoilLine,
    powers_w: &[f64],
    (times, aim_c, target): (f64, Option<f64>, Target),
) -> Result<OtherFrequency, HeaterError> {
    let other = with_frequencies(heater, times);
    let bar = other.bar(&plan.piece, &plan.metal, Resolution::Quick)?;
    let (met, powers_w, steady) = match aim_c {
        None => {
            // Bounded by kW alone, which is enough for a glance; what passes another limit is named.
            let bounded = CoilLine {
                ratings: Ratings::default(),
                ..other.clone()
            };
            let found = bounded.search_on(&other.line, &bar, Some(powers_w), 1)?;
            let met = !matches!(found.status, Status::Impossible(_));
            (met, found.powers_w, found.steady)
        }
        Some(aim_c) => {
            let run = |share: f64| -> Result<(f64, Vec<f64>, Steady), HeaterError> {
                let powers: Vec<f64> = powers_w.iter().map(|p| p * share).collect();
                let steady = other.line.steady(&bar, &other.line.at_powers(&powers), 1)?;
                Ok((target.among(&steady.exit.nodes()) - aim_c, powers, steady))
            };
            same_exit(run, aim_c - other.line.start_c)?
        }
    };
    let exit = &steady.exit;
    let ratings = heater.ratings.of(&other.line, &other.line.readings(&steady.coils));
    let passed = ratings.into_iter().filter(Rating::is_broken).map(|r| r.name);
    let not_given = other.line.converters.iter().zip(&other.gives_hz);
    let not_given = not_given.filter(|(converter, (low, high))| {
        let hz = steady.coils[converter.coils[0]].frequency_hz;
        hz < *low || hz > *high
    });
    Ok(OtherFrequency {
        times,
        met,
        powers_w,
        difference_k: exit.surface_c - exit.core_c,
        peak_c: exit.peak_c,
        // 1 kWh/t is 3600 J/kg
        mains_j_per_kg: 3600.0 * steady.balance.terminals_kwh_t() / heater.supply_efficiency,
        not_given: {
            let mut names: Vec<String> = not_given.map(|(c, _)| c.name.clone()).chain(passed).collect();
            names.dedup();
            names
        },
    })
}

/// One factor for all powers that keeps the exit; `run` gives how far it is off, K, and `rise_k` how much a doubling
/// would give at first.
fn same_exit(
    run: impl Fn(f64) -> Result<(f64, Vec<f64>, Steady), HeaterError>,
    rise_k: f64,
) -> Result<(bool, Vec<f64>, Steady), HeaterError> {
    let mut share = 1.0;
    let mut slope = rise_k;
    let mut now = run(share)?;
    for _ in 0..RUNS {
        if now.0.abs() <= NEAR_K {
            break;
        }
        let step = (-now.0 / slope).clamp(-0.3, 0.3);
        let next = run(share + step)?;
        let found = (next.0 - now.0) / step;
        if found > 0.1 * rise_k {
            slope = found;
        }
        (share, now) = (share + step, next);
    }
    let (off, powers_w, steady) = now;
    Ok((off.abs() <= 1.0, powers_w, steady))
}

fn with_frequencies(heater: &CoilLine, times: f64) -> CoilLine {
    let mut line: HeaterLine = heater.line.clone();
    for zone in &mut line.zones {
        if let ZoneKind::Coil { coil, .. } = &mut zone.kind {
            coil.frequency_hz *= times;
        }
    }
    CoilLine { line, ..heater.clone() }
}
