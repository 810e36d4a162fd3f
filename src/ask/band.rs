//! The band of heater exit temperature for which every limit holds.

use rayon::prelude::*;
use serde::Serialize;

use super::curve::{Curve, Look};
use super::failure::Failure;
use super::model::{Change, ExitInputs, Model, Probe};
use super::risk::GuardLine;
use crate::numeric::root::{LimitOutcome, SearchError, brent};

/// One end of the band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BandEnd {
    /// Exit temperature in degC.
    pub exit_c: f64,
    /// What ends the band there.
    pub by: EndOf,
}

/// What ends a band of exit temperature.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum EndOf {
    /// A limit of the line, by index.
    Limit(usize),
    /// No limit of the line breaks up to the highest exit temperature of the steel.
    Steel,
    /// No limit of the line breaks within the range searched.
    Search,
}

impl BandEnd {
    /// Index of the limit of the line that ends the band, where one does.
    #[must_use]
    pub fn limit(&self) -> Option<usize> {
        match self.by {
            EndOf::Limit(limit) => Some(limit),
            EndOf::Steel | EndOf::Search => None,
        }
    }
}

/// The band, or why there is none.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Band {
    /// Every limit holds between the two ends.
    Open {
        /// Coldest exit.
        low: BandEnd,
        /// Hottest exit.
        high: BandEnd,
    },
    /// Two limits exclude each other.
    Closed {
        /// Index of the limit that wants a hotter exit.
        wants_hotter: usize,
        /// Index of the limit that wants a colder exit.
        wants_colder: usize,
        /// Exit temperature at which both are broken least, degC.
        best_exit_c: f64,
        /// By how much both are broken there, K.
        short_k: f64,
        /// Stages whose shortening would open the band, the least shortening first.
        openings: Vec<Opening>,
    },
    /// Limits are broken that no exit temperature mends.
    Hopeless {
        /// Index of the worst of them.
        limit: usize,
        /// Its largest margin over the range searched, K.
        margin_k: f64,
    },
}

/// Shortening of a stage that opens the band.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Opening {
    /// Name of the stage.
    pub stage: String,
    /// Its nominal seconds.
    pub nominal_s: f64,
    /// Seconds to take off, estimated from the slopes at the best exit; at most the nominal ones.
    pub shorten_s: f64,
}

/// Options of [`exit_band`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandOptions {
    /// How far from the nominal exit temperature is searched to either side, K (default 400).
    pub reach_k: f64,
    /// Tolerance of the ends, K (default 0.05).
    pub tolerance_k: f64,
}

impl Default for BandOptions {
    fn default() -> Self {
        Self {
            reach_k: 400.0,
            tolerance_k: 0.05,
        }
    }
}

/// Finds the band. `fixed` changes are applied to every run (another core-surface difference,
/// another time); `guard` over the exit temperature is taken off every margin. The hot end is never beyond the highest exit temperature of the steel.
///
/// # Errors
/// [`Failure`], also when the exit temperature is not an input of the line.
pub fn exit_band(
    model: &dyn Model,
    cheap: Option<&dyn Model>,
    fixed: &[Change],
    guard: &GuardLine,
    options: &BandOptions,
) -> Result<Band, Failure> {
    let exit = model.exit_inputs().ok_or_else(Failure::no_exit)?;
    let nominal = exit.surface.1;
    let (low, high) = range(model, exit, options.reach_k)?;
    let steel_c = model.steel_exit_c().map(|c| c - exit.hotter_inside_k());
    let mut curve = Guarded::new((model, cheap), (exit, fixed), guard, (0.0, 1.0));
    let least = |margins: &[f64]| margins.iter().copied().fold(f64::INFINITY, f64::min);
    let mut centre = nominal;
    if least(&curve.exact(centre)?) < 0.0 {
        centre = match balance(&mut curve, nominal, low, high, options.tolerance_k)? {
            Balance::At(t) => t,
            Balance::Hopeless { limit, margin_k } => return Ok(Band::Hopeless { limit, margin_k }),
        };
        let margins = curve.exact(centre)?;
        if least(&margins) < 0.0 {
            let slopes = slopes(&mut curve, centre, low, high)?;
            let side = |rising: bool| worst_of(&margins, |k| (slopes[k] > 0.0) == rising);
            let (Some(hotter), Some(colder)) = (side(true), side(false)) else {
                let limit = worst_of(&margins, |_| true).unwrap_or(0);
                return Ok(Band::Hopeless {
                    limit,
                    margin_k: margins[limit],
                });
            };
            // At the ends of the range only one side is broken; the other cannot be blamed.
            if margins[hotter] >= 0.0 || margins[colder] >= 0.0 && centre <= low {
                let limit = if margins[hotter] < 0.0 { hotter } else { colder };
                return Ok(Band::Hopeless {
                    limit,
                    margin_k: margins[limit],
                });
            }
            let short_k = -least(&margins);
            let bare = curve.curve.exact(centre)?;
            let openings = openings(model, exit, fixed, centre, (hotter, colder), &slopes, (&margins, &bare))?;
            return Ok(Band::Closed {
                wants_hotter: hotter,
                wants_colder: colder,
                best_exit_c: centre,
                short_k,
                openings,
            });
        }
    }
    let mut end = |to: f64| -> Result<BandEnd, Failure> {
        // The search runs upwards in s from 0; s maps to either side of the centre.
        let sign = if to >= centre { 1.0 } else { -1.0 };
        let mut side = Guarded::new((model, cheap), (exit, fixed), guard, (centre, sign));
        side.curve.know(0.0, curve.curve.exact(centre)?);
        let measure = |s: f64, margins: &[f64]| least(&side.guard.off(s, margins));
        let outcome = side.curve.crossing(
            &measure,
            (0.0, 10.0, (to - centre).abs()),
            options.tolerance_k,
            Look::Full,
        )?;
        Ok(match outcome {
            LimitOutcome::Limit { holds, breaks, .. } => BandEnd {
                exit_c: centre + sign * holds,
                by: worst_of(&side.near(breaks)?, |_| true).map_or(EndOf::Search, EndOf::Limit),
            },
            LimitOutcome::NeverBreaks { .. } => BandEnd {
                exit_c: to,
                by: EndOf::Search,
            },
            LimitOutcome::AlreadyBroken { .. } => BandEnd {
                exit_c: centre,
                by: worst_of(&side.exact(0.0)?, |_| true).map_or(EndOf::Search, EndOf::Limit),
            },
        })
    };
    let (low, mut high) = (end(low)?, end(high)?);
    if let Some(exit_c) = steel_c.filter(|c| *c < high.exit_c) {
        high = BandEnd {
            exit_c,
            by: EndOf::Steel,
        };
    }
    Ok(Band::Open { low, high })
}

/// The band inside a `bare` one that keeps a guard band: read off the curve through the planned run and
/// those at the ends of the bare band where the planned exit keeps it, else searched as any band is.
///
/// # Errors
/// As [`exit_band`].
pub fn guarded_band(
    (model, cheap): (&dyn Model, Option<&dyn Model>),
    bare: &Band,
    planned_k: &[f64],
    guard: &GuardLine,
    options: &BandOptions,
) -> Result<Band, Failure> {
    let exit = model.exit_inputs().ok_or_else(Failure::no_exit)?;
    let centre = exit.surface.1;
    let keeps = planned_k.iter().enumerate().all(|(k, m)| *m >= guard.at(centre, k));
    let inside = |low: &BandEnd, high: &BandEnd| centre >= low.exit_c && centre <= high.exit_c;
    let (low, high) = match bare {
        Band::Open { low, high } if keeps && inside(low, high) => (low, high),
        _ => return exit_band(model, cheap, &[], guard, options),
    };
    let end = |bare: &BandEnd, sign: f64| -> Result<BandEnd, Failure> {
        let mut side = Guarded::new((model, cheap), (exit, &[]), guard, (centre, sign));
        let reach = (bare.exit_c - centre).abs();
        side.curve.know(0.0, planned_k.to_vec());
        side.curve.exact(reach)?;
        let least = |margins: &[f64]| margins.iter().copied().fold(f64::INFINITY, f64::min);
        let measure = |s: f64, margins: &[f64]| least(&side.guard.off(s, margins));
        let found = side
            .curve
            .crossing(&measure, (0.0, 10.0, reach), options.tolerance_k, Look::Near)?;
        Ok(match found {
            LimitOutcome::Limit { holds, breaks, .. } => BandEnd {
                exit_c: centre + sign * holds,
                by: worst_of(&side.near(breaks)?, |_| true).map_or(EndOf::Search, EndOf::Limit),
            },
            LimitOutcome::NeverBreaks { .. } => *bare,
            LimitOutcome::AlreadyBroken { .. } => BandEnd {
                exit_c: centre,
                by: worst_of(&side.near(0.0)?, |_| true).map_or(EndOf::Search, EndOf::Limit),
            },
        })
    };
    Ok(Band::Open {
        low: end(low, -1.0)?,
        high: end(high, 1.0)?,
    })
}

/// Margins with the guard band taken off, along the exit temperature `start + sign × x`.
struct Guarded<'a> {
    curve: Curve<'a>,
    guard: Off<'a>,
}

/// A guard band over the exit temperature, by x.
struct Off<'a> {
    guard: &'a GuardLine,
    start: f64,
    sign: f64,
}

impl Off<'_> {
    fn off(&self, x: f64, margins: &[f64]) -> Vec<f64> {
        let exit_c = self.start + self.sign * x;
        margins
            .iter()
            .enumerate()
            .map(|(k, m)| m - self.guard.at(exit_c, k))
            .collect()
    }
}

impl<'a> Guarded<'a> {
    fn new(
        (model, cheap): (&'a dyn Model, Option<&'a dyn Model>),
        (exit, fixed): (&'a ExitInputs, &'a [Change]),
        guard: &'a GuardLine,
        (start, sign): (f64, f64),
    ) -> Self {
        Self {
            curve: Curve::new(model, cheap, move |x| changes(exit, fixed, start + sign * x)),
            guard: Off { guard, start, sign },
        }
    }

    fn exact(&mut self, x: f64) -> Result<Vec<f64>, Failure> {
        Ok(self.guard.off(x, &self.curve.exact(x)?))
    }

    fn near(&mut self, x: f64) -> Result<Vec<f64>, Failure> {
        Ok(self.guard.off(x, &self.curve.near(x)?))
    }
}

fn changes(exit: &ExitInputs, fixed: &[Change], exit_c: f64) -> Vec<Change> {
    let mut all = exit.at(exit_c);
    all.extend_from_slice(fixed);
    all
}

/// Range of exit temperature to search: around the nominal one, inside what the inputs allow.
pub(super) fn range(model: &dyn Model, exit: &ExitInputs, reach: f64) -> Result<(f64, f64), Failure> {
    let nominal = exit.surface.1;
    let (mut low, mut high) = (nominal - reach, nominal + reach);
    let mut narrow = |path: &str, at: f64| -> Result<(), Failure> {
        if let Some(allowed) = model.input(path)?.allowed {
            low = low.max(nominal + allowed.low - at);
            high = high.min(nominal + allowed.high - at);
        }
        Ok(())
    };
    narrow(&exit.surface.0, nominal - exit.base_c)?;
    if let Some((path, core_c)) = &exit.core {
        narrow(path, *core_c)?;
    }
    Ok((low, high))
}

fn worst_of(margins: &[f64], counts: impl Fn(usize) -> bool) -> Option<usize> {
    (0..margins.len())
        .filter(|&k| counts(k))
        .min_by(|&a, &b| margins[a].total_cmp(&margins[b]))
}

/// Change of every margin per K of exit temperature.
fn slopes(curve: &mut Guarded, at: f64, low: f64, high: f64) -> Result<Vec<f64>, Failure> {
    let (a, b) = ((at - 2.0).max(low), (at + 2.0).min(high));
    let (left, right) = (curve.near(a)?, curve.near(b)?);
    Ok(left.iter().zip(&right).map(|(l, r)| (r - l) / (b - a)).collect())
}

enum Balance {
    At(f64),
    Hopeless { limit: usize, margin_k: f64 },
}

/// Exit temperature at which the smallest margin is largest: where the worst limit that wants a
/// hotter exit and the worst that wants a colder one are equal.
fn balance(curve: &mut Guarded, nominal: f64, low: f64, high: f64, tolerance: f64) -> Result<Balance, Failure> {
    let slopes = slopes(curve, nominal, low, high)?;
    let margins = curve.exact(nominal)?;
    // A margin that moves by less than 1 K over the whole range is not the heater's business.
    let still = |k: usize| slopes[k].abs() * (high - low) < 1.0;
    if let Some(limit) = worst_of(&margins, still).filter(|&k| margins[k] < 0.0) {
        return Ok(Balance::Hopeless {
            limit,
            margin_k: margins[limit],
        });
    }
    let gap = |margins: &[f64]| {
        let side =
            |rising: bool| worst_of(margins, |k| (slopes[k] > 0.0) == rising && !still(k)).map_or(1e6, |k| margins[k]);
        side(true) - side(false)
    };
    let (at_low, at_high) = (gap(&curve.near(low)?), gap(&curve.near(high)?));
    if at_low >= 0.0 {
        return Ok(Balance::At(low));
    }
    if at_high <= 0.0 {
        return Ok(Balance::At(high));
    }
    let root = brent(
        |t| curve.near(t).map(|m| gap(&m)),
        (low, at_low),
        (high, at_high),
        tolerance,
    );
    match root {
        Ok(root) => Ok(Balance::At(root.x)),
        Err(SearchError::Function(failure)) => Err(failure),
        Err(_) => Ok(Balance::At(nominal)),
    }
}

/// Seconds off each hand-over that would open the band: with slopes a > 0 and b < 0 of the two
/// margins over exit temperature, shortening changes their common value at the balance by
/// (r |b| + f a) / (a + |b|) per second, r and f being what a second is worth to each.
fn openings(
    model: &dyn Model,
    exit: &ExitInputs,
    fixed: &[Change],
    centre: f64,
    (hotter, colder): (usize, usize),
    slopes: &[f64],
    (margins, bare): (&[f64], &[f64]),
) -> Result<Vec<Opening>, Failure> {
    let (a, b) = (slopes[hotter].abs(), slopes[colder].abs());
    let short = -margins[hotter].min(margins[colder]);
    let found: Vec<Result<Option<Opening>, Failure>> = model
        .handovers()
        .par_iter()
        .map(|handover| {
            let step = (0.25 * handover.seconds).min(0.5);
            if step <= 0.0 {
                return Ok(None);
            }
            let mut all = changes(exit, fixed, centre);
            all.push(Change::new(handover.path.clone(), handover.seconds - step));
            let shorter = model.run(&all)?.margins_k();
            let worth = |k: usize| (shorter[k] - bare[k]) / step;
            let gain = (worth(hotter) * b + worth(colder) * a) / (a + b);
            let shorten_s = short / gain;
            Ok((gain > 0.0 && shorten_s <= handover.seconds).then(|| Opening {
                stage: handover.stage.clone(),
                nominal_s: handover.seconds,
                shorten_s,
            }))
        })
        .collect();
    let mut openings = Vec::new();
    for opening in found {
        openings.extend(opening?);
    }
    openings.sort_by(|x, y| x.shorten_s.total_cmp(&y.shorten_s));
    Ok(openings)
}

/// Exit temperature in degC that gives a wanted temperature at a node and moment.
///
/// # Errors
/// [`Failure`], also when no exit temperature within the range gives it.
pub fn exit_for(model: &dyn Model, probe: &Probe, wanted_c: f64, options: &BandOptions) -> Result<f64, Failure> {
    let exit = model.exit_inputs().ok_or_else(Failure::no_exit)?;
    let (low, high) = range(model, exit, options.reach_k)?;
    let at = |t: f64| -> Result<f64, Failure> { Ok(model.probe(&exit.at(t), probe)? - wanted_c) };
    let nominal = exit.surface.1;
    let here = at(nominal)?;
    // One step of the size of the error brackets the answer in most lines; else the range does.
    let guess = (nominal - 1.5 * here).clamp(low, high);
    let there = at(guess)?;
    let (first, second) = if here * there <= 0.0 {
        ((nominal, here), (guess, there))
    } else {
        ((low, at(low)?), (high, at(high)?))
    };
    if first.1 * second.1 > 0.0 {
        return Err(Failure::NotReachable {
            wanted_c,
            low_c: low,
            high_c: high,
            given_c: (first.1 + wanted_c, second.1 + wanted_c),
        });
    }
    let root = brent(at, first, second, options.tolerance_k);
    root.map(|root| root.x).map_err(super::curve::search_failure)
}
