//! What preheat makes of the first part: searched over all of its range and for all limits, since hotter
//! dies mend what is too cold and break what is too hot.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::result::{Preheat, WarmPart, WorstLimit};
use super::shift::{Shift, dies};
use crate::line::run::RunError;

/// Parts that look over the range before anything is searched.
const LOOKS: i32 = 6;

/// Most parts that look for a narrow range of good preheats between those.
const MORE_LOOKS: usize = 8;

/// Preheat whose worth is told, K.
const WORTH_K: i32 = 100;

/// The first part at dies preheated to whole degrees.
struct First<'s, 'p> {
    shift: &'s Shift<'p>,
    parts: BTreeMap<i32, WarmPart>,
}

/// The preheats with which part one is good, between cold dies and the lowest tempering limit.
pub(super) fn preheat(shift: &Shift<'_>, first: &WarmPart, start_c: f64) -> Result<Preheat, RunError> {
    let plan = shift.plan;
    let tempering = (0..plan.stages.len()).filter_map(|index| Some(dies(plan, index)?.tempering_c));
    let low = plan.surroundings.ambient_c.min(start_c).ceil() as i32;
    let high = (tempering.fold(f64::INFINITY, f64::min).min(1000.0).floor() as i32).max(low + 1);
    let from = (start_c.round() as i32).clamp(low, high);
    let to = if from + WORTH_K <= high {
        from + WORTH_K
    } else {
        from - WORTH_K
    }
    .clamp(low, high);
    let mut at = First {
        shift,
        parts: BTreeMap::new(),
    };
    let looks = (0..=LOOKS).map(|k| low + k * (high - low) / LOOKS);
    at.run(looks.chain([from, to]).collect())?;
    at.look_closer()?;
    let deciding = first.worst_index();
    let margin = |temp_c: i32| at.parts[&temp_c].margins_k.get(deciding).copied().unwrap_or(0.0);
    let gain = match from == to {
        true => 0.0,
        false => f64::from(WORTH_K) * (margin(to) - margin(from)) / f64::from(to - from),
    };
    let best = at.parts.values().max_by(|a, b| a.least_k().total_cmp(&b.least_k()));
    let mut answer = Preheat {
        needed_c: None,
        most_c: None,
        too_hot: None,
        tried_from_c: f64::from(low),
        tried_to_c: f64::from(high),
        worst: best.and_then(|part| part.worst.clone()),
        gain_k_per_100_k: gain,
    };
    if let Some((least, most)) = at.good_range()? {
        answer.needed_c = Some(f64::from(least));
        answer.worst = at.parts[&least].worst.clone();
        answer.most_c = (most < high).then_some(f64::from(most));
        answer.too_hot = at.worst_above(most);
    }
    Ok(answer)
}

impl First<'_, '_> {
    /// Runs the first part on dies at some temperatures, side by side.
    fn run(&mut self, mut temps_c: Vec<i32>) -> Result<(), RunError> {
        temps_c.retain(|t| !self.parts.contains_key(t));
        temps_c.sort_unstable();
        temps_c.dedup();
        let shift = self.shift;
        let one = |&t: &i32| Ok((t, shift.part(1, &mut shift.cold(Some(f64::from(t))))?));
        let found: Vec<Result<(i32, WarmPart), RunError>> = temps_c.par_iter().map(one).collect();
        for part in found {
            let (t, part) = part?;
            self.parts.insert(t, part);
        }
        Ok(())
    }

    /// Runs where the straight lines between what was run say that a part between two bad ones is good.
    fn look_closer(&mut self) -> Result<(), RunError> {
        for _ in 0..MORE_LOOKS {
            if self.parts.values().any(|part| part.good) {
                return Ok(());
            }
            let known: Vec<(&i32, &WarmPart)> = self.parts.iter().collect();
            let best = known
                .windows(2)
                .flat_map(|pair| {
                    let ((a, low), (b, high)) = (pair[0], pair[1]);
                    (a + 1..*b).map(move |t| (t, between(low, high, f64::from(t - a) / f64::from(b - a))))
                })
                .max_by(|a, b| a.1.total_cmp(&b.1));
            match best {
                // Lines may be off by some kelvin where margins bend.
                Some((t, margin)) if margin > -5.0 => self.run(vec![t])?,
                _ => return Ok(()),
            }
        }
        Ok(())
    }

    /// The lowest range of preheats with which the part is good, to a degree.
    fn good_range(&mut self) -> Result<Option<(i32, i32)>, RunError> {
        let Some(good) = self.parts.iter().find(|(_, part)| part.good).map(|(t, _)| *t) else {
            return Ok(None);
        };
        let below = self.parts.range(..good).next_back().map(|(t, _)| *t);
        let least = match below {
            Some(bad) => self.edge(good, bad)?,
            None => good,
        };
        let bad = self.parts.range(good..).find(|(_, part)| !part.good).map(|(t, _)| *t);
        let last = match bad {
            Some(bad) => self.parts.range(..bad).next_back().map_or(good, |(t, _)| *t),
            None => self.parts.keys().next_back().copied().unwrap_or(good),
        };
        let most = match bad {
            Some(bad) => self.edge(last, bad)?,
            None => last,
        };
        Ok(Some((least, most)))
    }

    /// The last good degree on the way from a good to a bad one.
    fn edge(&mut self, mut good: i32, mut bad: i32) -> Result<i32, RunError> {
        while (good - bad).abs() > 1 {
            // Nearly straight: the margin at the good end against that at the bad one, one degree short of it.
            let (g, b) = (self.parts[&good].least_k(), self.parts[&bad].least_k());
            let step = f64::from(bad - good) * g / (g - b);
            let inner = (good + step.trunc() as i32).clamp(good.min(bad) + 1, good.max(bad) - 1);
            let middle = (good + bad) / 2;
            let far = (inner - good).abs() * 8 < (bad - good).abs() && (bad - good).abs() > 8;
            let next = if far { middle } else { inner };
            self.run(vec![next])?;
            if self.parts[&next].good {
                good = next
            } else {
                bad = next
            }
        }
        Ok(good)
    }

    /// The limit that is broken just above a preheat, where that was run.
    fn worst_above(&self, most: i32) -> Option<WorstLimit> {
        let part = self.parts.get(&(most + 1))?;
        part.worst.clone().filter(|_| !part.good)
    }
}

/// Least margin between two parts on straight lines, K.
fn between(low: &WarmPart, high: &WarmPart, share: f64) -> f64 {
    let pairs = low.margins_k.iter().zip(&high.margins_k);
    pairs.map(|(a, b)| a + share * (b - a)).fold(f64::INFINITY, f64::min)
}

impl WarmPart {
    /// Least margin of any limit, K.
    fn least_k(&self) -> f64 {
        self.margins_k.iter().copied().fold(f64::INFINITY, f64::min)
    }

    /// Place of the verdict with the least margin.
    fn worst_index(&self) -> usize {
        let least = self.margins_k.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1));
        least.map_or(0, |(k, _)| k)
    }
}
