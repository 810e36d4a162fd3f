//! Powers against time that take the column from one way of running to another with the fewest rejects and
//! no billet burnt: after a change of pace, a stop, or a cold start.

use serde::Serialize;

use super::aims::{Aim, Ranges, improved, merit};
use super::column::{Column, Filling};
use super::criteria::Criteria;
use super::gone::Gone;
use super::layout::HeaterLine;
use super::order::NextOrder;
use super::panel::{PANEL_W, set};
use super::phase::{Feed, Phase};
use super::study::{Recorder, Study, finish};
use crate::heater::bar::Bar;
use crate::heater::coil::Drive;
use crate::heater::error::HeaterError;

/// Steps of the powers over one content of the heater: more than a panel is likely to be set to.
const STEPS_PER_CONTENT: usize = 6;
/// Contents of the heater over which the powers may differ from the settled ones.
const CONTENTS: f64 = 1.6;
/// Rounds of the search on the quick grid, and on the one asked for.
const ROUNDS: usize = 16;
const LAST_ROUNDS: usize = 5;
/// Kept from the limits in the search, K.
const MARGIN_K: f64 = 3.0;
/// Kept from the largest difference in the search, K: settled powers lie close to it.
const EVEN_MARGIN_K: f64 = 1.0;
/// Takts in which the difference of surface and core follows the power of the last coil.
const WITHIN_TAKTS: f64 = 2.0;
/// Kept from the never-exceed limit by what counts as safe, K: the grid errs by less (`standard` is within 1 K of
/// `fine`).
const GUARD_K: f64 = 2.0;
/// Shares of the powers that are tried where the limit is passed.
const LESS: [f64; 6] = [0.97, 0.93, 0.85, 0.7, 0.4, 0.0];
/// Takts without power that are tried before the settled powers, and how many of the best are run on the grid asked for.
const WAITS: [usize; 8] = [1, 2, 3, 4, 5, 6, 8, 11];
const EXACT_WAITS: usize = 3;

/// What the column is like when a transition begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Origin<'a> {
    /// The periodic state with these drives.
    Running(&'a [Drive]),
    /// Billets at one temperature, or none.
    Filled(Filling),
}

/// A change from one way of running to another.
#[derive(Debug, Clone, Copy)]
pub struct Transition<'a> {
    /// The line at its pace before.
    pub line: &'a HeaterLine,
    /// The bar.
    pub bar: &'a Bar,
    /// Pieces of each billet that are followed.
    pub slices: usize,
    /// The column at the beginning.
    pub origin: Origin<'a>,
    /// What happens first, as a stop; the powers are planned from its end on.
    pub before: Option<&'a Phase>,
    /// The order that comes in from the beginning on, in place of that of the line.
    pub next: Option<NextOrder<'a>>,
    /// Time between billets afterwards, s.
    pub takt_s: f64,
    /// Settled power of each channel of the line afterwards, W.
    pub powers_w: &'a [f64],
    /// Highest power of each channel, W.
    pub highest_w: &'a [f64],
    /// When a billet is good.
    pub criteria: &'a Criteria,
}

/// A planned way through a transition.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Course {
    /// The powers, step by step, until they are the settled ones.
    pub phases: Vec<Phase>,
    /// The settled powers after them, W.
    pub settled_w: Vec<f64>,
    /// What comes of them.
    pub study: Study,
    /// What comes of switching to the settled powers at once.
    pub at_once: Study,
}

/// One way through a transition: so many takts without power, then the powers step by step.
struct Way {
    off: usize,
    powers_w: Vec<f64>,
    study: Study,
}

/// The bars of the line and of the next order.
struct Bars {
    own: Bar,
    next: Option<Bar>,
}

impl Bars {
    /// On the quick grid.
    fn coarser(&self) -> Result<Bars, HeaterError> {
        let coarse = |bar: &Bar| -> Result<Bar, HeaterError> { Ok(bar.coarser()?.unwrap_or_else(|| bar.clone())) };
        Ok(Bars {
            own: coarse(&self.own)?,
            next: self.next.as_ref().map(coarse).transpose()?,
        })
    }
}

/// A column at the moment from which powers are planned, with what left it before.
struct Start<'b> {
    column: Column<'b>,
    gone: Vec<Gone>,
    inside: Vec<Gone>,
    record: Recorder,
    /// What the billets of each order are judged by on this grid.
    criteria: Vec<Criteria>,
}

impl Start<'_> {
    /// Allows as much more between surface and core as this grid shows more than another at the end of the same study,
    /// where both have settled.
    fn allow(&mut self, here: &Study, there: &Study) {
        let apart = |study: &Study| {
            study
                .billets
                .last()
                .map_or(0.0, |b| (b.billet.surface_c - b.billet.core_c).abs())
        };
        let more_k = (apart(here) - apart(there)).max(0.0);
        for criteria in &mut self.criteria {
            criteria.difference_k = criteria.difference_k.map(|k| k + more_k);
        }
    }
}

/// How good a way is, the smaller the better: kelvin above the limit, billets rejected, energy.
type Score = (f64, usize, f64);

fn better(a: Score, b: Score) -> bool {
    if (a.0 - b.0).abs() > 0.5 {
        return a.0 < b.0;
    }
    (a.1, a.2) < (b.1, b.2)
}

impl<'a> Transition<'a> {
    /// The line with the billets that come in.
    fn after(&self) -> &'a HeaterLine {
        self.next.map_or(self.line, |n| n.line)
    }

    /// What the billets of each order are judged by.
    fn criteria(&self) -> Vec<&'a Criteria> {
        let next = self.next.map(|n| n.criteria);
        std::iter::once(self.criteria).chain(next).collect()
    }

    /// Takts of each step of the powers.
    fn steps(&self) -> Vec<usize> {
        let places = self.after().places();
        let length = places.div_ceil(STEPS_PER_CONTENT);
        let count = (CONTENTS * places as f64 / length as f64).ceil() as usize;
        vec![length; count]
    }

    fn phase(&self, takts: usize, powers_w: &[f64]) -> Phase {
        Phase {
            seconds: takts as f64 * self.takt_s,
            takt_s: Some(self.takt_s),
            drives: self.line.at_powers(powers_w),
            feed: Feed::Order(usize::from(self.next.is_some())),
        }
    }

    /// The settled powers in every step.
    fn settled(&self) -> Vec<f64> {
        self.steps().iter().flat_map(|_| self.powers_w.to_vec()).collect()
    }

    /// Phases without power for some takts, then with the settled powers.
    fn waiting(&self, off: usize) -> Vec<Phase> {
        let mut phases = self.phases(&self.settled());
        if off > 0 {
            phases.insert(0, self.phase(off, &vec![0.0; self.powers_w.len()]));
        }
        phases
    }

    /// Phases of powers given step by step and coil by coil, and the settled ones after them.
    fn phases(&self, powers_w: &[f64]) -> Vec<Phase> {
        let rows = powers_w.chunks(self.powers_w.len().max(1));
        let mut phases: Vec<Phase> = self
            .steps()
            .into_iter()
            .zip(rows)
            .map(|(n, row)| self.phase(n, row))
            .collect();
        phases.push(self.phase(self.after().places() + 6, self.powers_w));
        phases
    }

    fn start<'b>(&'b self, bars: &'b Bars, slices: usize) -> Result<Start<'b>, HeaterError> {
        let mut column = match self.origin {
            Origin::Running(drives) => Column::steady(self.line, &bars.own, drives, slices)?,
            Origin::Filled(filling) => Column::new(self.line, &bars.own, filling, slices)?,
        };
        if let (Some(next), Some(bar)) = (self.next, &bars.next) {
            column.expect(next.line, bar)?;
        }
        let mut record = Recorder::new();
        let gone = match self.before {
            Some(phase) => column.run(phase, &mut |_, m| record.take(m))?,
            None => Vec::new(),
        };
        let inside = column.billets().into_iter().map(|b| b.1).collect();
        Ok(Start {
            column,
            gone,
            inside,
            record,
            criteria: self.criteria().into_iter().copied().collect(),
        })
    }

    fn run(&self, start: &Start, phases: &[Phase]) -> Result<Study, HeaterError> {
        let mut column = start.column.clone();
        let mut record = start.record.clone();
        let mut gone = start.gone.clone();
        for phase in phases {
            gone.extend(column.run(phase, &mut |_, m| record.take(m))?);
        }
        let criteria: Vec<&Criteria> = start.criteria.iter().collect();
        Ok(finish(&column, &criteria, gone, start.inside.clone(), record))
    }

    /// What comes of running the phases given.
    pub fn follow(&self, phases: &[Phase]) -> Result<Study, HeaterError> {
        self.run(&self.start(&self.bars(), self.slices)?, phases)
    }

    fn bars(&self) -> Bars {
        Bars {
            own: self.bar.clone(),
            next: self.next.map(|n| n.bar.clone()),
        }
    }

    /// How far above what is safe the hottest point comes, rejects, energy. Safe is a guard below the limit, or
    /// what is there anyhow: in the column at the beginning, and with the settled powers.
    fn score(&self, study: &Study, safe_c: &[f64]) -> Score {
        let over = match study.order_peaks_c.as_slice() {
            [] => study.peak_c - safe_c[0],
            peaks => peaks
                .iter()
                .zip(safe_c)
                .map(|(p, s)| p - s)
                .fold(f64::NEG_INFINITY, f64::max),
        };
        (over.max(0.0), study.rejected, study.energies.terminals_j)
    }

    /// What counts as safe for the billets of each order, degC.
    fn safe(&self, inside: &[Gone], at_once: &Study) -> Vec<f64> {
        let last = at_once.billets.last().map(|b| &b.billet);
        let safe = |(order, criteria): (usize, &&Criteria)| {
            let there = inside.iter().filter(|b| b.order == order).map(|b| b.hottest_c);
            let there = there.chain(last.filter(|b| b.order == order).map(|b| b.peak_c));
            let never_c = criteria.never_above_c;
            (never_c - GUARD_K).max(there.fold(f64::NEG_INFINITY, f64::max).min(never_c))
        };
        self.criteria().iter().enumerate().map(safe).collect()
    }

    /// Plans the powers. The search runs the column on a quick grid first and then on the one asked for.
    /// Switching to the settled powers at once is one of the ways compared.
    pub fn plan(&self) -> Result<Course, HeaterError> {
        let bars = self.bars();
        let coarse_bars = bars.coarser()?;
        let mut coarse = self.start(&coarse_bars, 1)?;
        let exact = self.start(&bars, self.slices)?;
        let settled = self.settled();
        let at_once = self.run(&exact, &self.phases(&settled))?;
        let safe = self.safe(&exact.inside, &at_once);
        let safe_c = safe.as_slice();
        let score = |study: &Study| self.score(study, safe_c);
        let mut best = Way {
            off: 0,
            powers_w: settled.clone(),
            study: at_once.clone(),
        };
        if score(&best.study).0 > 0.0 || best.study.rejected > 0 {
            let near_once = self.run(&coarse, &self.phases(&settled))?;
            coarse.allow(&near_once, &at_once);
            let near = self.search(&coarse, settled.clone(), safe_c, ROUNDS)?;
            let mut found = vec![self.search(&exact, near.powers_w, safe_c, LAST_ROUNDS)?];
            let good = |way: &Way| score(&way.study).0 <= 0.0 && way.study.rejected == 0;
            if !good(&found[0]) {
                found.push(self.search(&exact, settled, safe_c, LAST_ROUNDS)?);
            }
            for way in found {
                if better(score(&way.study), score(&best.study)) {
                    best = way;
                }
            }
            if score(&best.study).0 > 0.0 {
                best = self.safer(&exact, best, safe_c)?;
            }
            if !good(&best) {
                best = self.after_waiting((&coarse, &exact), best, safe_c)?;
            }
        }
        Ok(Course {
            phases: self.merged(&best),
            settled_w: self.powers_w.to_vec(),
            study: best.study,
            at_once,
        })
    }

    /// Less power until the last moment at which a billet is too hot, and from there over into the settled powers; less
    /// and less until the limit holds. From the best way so far and from the settled powers.
    fn safer(&self, exact: &Start, best: Way, safe_c: &[f64]) -> Result<Way, HeaterError> {
        let score = |way: &Way| self.score(&way.study, safe_c);
        let from = [best.powers_w.clone(), self.settled()];
        let mut best = best;
        for base in from {
            let study = self.run(exact, &self.phases(&base))?;
            let mut hot = self.last_hot_step(&study, safe_c);
            for share in LESS {
                let powers_w = self.reduced(&base, hot, share);
                let study = self.run(exact, &self.phases(&powers_w))?;
                // What is cooled early may be too hot later.
                hot = hot.max(self.last_hot_step(&study, safe_c));
                let way = Way {
                    off: 0,
                    powers_w,
                    study,
                };
                let holds = score(&way).0 <= 0.0;
                if better(score(&way), score(&best)) {
                    best = way;
                }
                if holds {
                    break;
                }
            }
        }
        Ok(best)
    }

    /// Powers times a share up to a step, and after it over into the settled ones by the end.
    fn reduced(&self, powers_w: &[f64], until: usize, share: f64) -> Vec<f64> {
        let coils = self.powers_w.len().max(1);
        let steps = powers_w.len() / coils;
        let power = |(j, p): (usize, &f64)| {
            let (step, settled) = (j / coils, self.powers_w[j % coils]);
            if step <= until {
                return set(p * share);
            }
            let left = (steps - step) as f64 / (steps - until) as f64;
            set((settled + left * (p - settled)).min(self.highest_w[j % coils]))
        };
        powers_w.iter().enumerate().map(power).collect()
    }

    /// The step of the powers in which a billet is too hot last.
    fn last_hot_step(&self, study: &Study, safe_c: &[f64]) -> usize {
        let begin_s = self.before.map_or(0.0, |p| p.seconds);
        let hot = study.billets.iter().map(|b| &b.billet);
        let hot = hot.filter(|b| b.peak_c > safe_c[b.order]).map(|b| b.peak_s - begin_s);
        let last_s = hot.fold(0.0, f64::max);
        let steps = self.steps();
        let length_s = steps[0] as f64 * self.takt_s;
        ((last_s / length_s - 1e-9).max(0.0) as usize).min(steps.len().saturating_sub(2))
    }

    /// The best way, or one that waits for some takts without power and then sets the settled powers: the simplest that
    /// a panel can do. The quick grid tells which are worth a run on the one asked for.
    fn after_waiting(
        &self,
        (coarse, exact): (&Start, &Start),
        mut best: Way,
        safe_c: &[f64],
    ) -> Result<Way, HeaterError> {
        let mut waits = Vec::new();
        for off in WAITS.into_iter().filter(|n| *n <= self.after().places()) {
            let study = self.run(coarse, &self.waiting(off))?;
            waits.push((off, self.score(&study, safe_c)));
        }
        // Half a kelvin over counts as none, as in the comparison of two ways.
        let rank = |(over_k, rejected, joules): Score| ((2.0 * over_k) as u64, rejected, joules);
        waits.sort_by(|(_, a), (_, b)| {
            let (a, b) = (rank(*a), rank(*b));
            (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2))
        });
        for (off, _) in waits.into_iter().take(EXACT_WAITS) {
            let study = self.run(exact, &self.waiting(off))?;
            if better(self.score(&study, safe_c), self.score(&best.study, safe_c)) {
                best = Way {
                    off,
                    powers_w: self.settled(),
                    study,
                };
            }
        }
        Ok(best)
    }

    /// The phases without the last one, equal neighbours as one.
    fn merged(&self, way: &Way) -> Vec<Phase> {
        let mut out: Vec<Phase> = Vec::new();
        let mut phases = self.phases(&way.powers_w);
        if way.off > 0 {
            phases = self.waiting(way.off);
        }
        for phase in phases.iter().take(phases.len() - 1) {
            match out.last_mut() {
                Some(last) if last.drives == phase.drives => last.seconds += phase.seconds,
                _ => out.push(phase.clone()),
            }
        }
        let settled = self.phase(0, self.powers_w).drives;
        while out.last().is_some_and(|p| p.drives == settled) {
            out.pop();
        }
        out
    }

    /// Improves the powers step by step: how much a billet gets from a coil in a step of the powers is booked
    /// while the column runs, so every run gives the slopes for the next bounded least squares. Steps that do not
    /// improve the sum of squares are taken back and tried shorter; of all ways run, the best counts.
    fn search(&self, start: &Start, first: Vec<f64>, safe_c: &[f64], rounds: usize) -> Result<Way, HeaterError> {
        let run = |powers_w: Vec<f64>| -> Result<Way, HeaterError> {
            let study = self.run(start, &self.phases(&powers_w))?;
            Ok(Way {
                off: 0,
                powers_w,
                study,
            })
        };
        let score = |way: &Way| self.score(&way.study, safe_c);
        let mut now = run(first)?;
        let mut rows = self.rows(start, &now, safe_c);
        let mut best: Option<Way> = None;
        let base = self.base(now.powers_w.len());
        let ranges = Ranges {
            base: &base,
            highest_w: self.highest_w,
        };
        let mut trust = FIRST_TRUST;
        for _ in 0..rounds {
            let ahead = score(&now);
            if (ahead.0 <= 0.0 && ahead.1 == 0) || trust < LEAST_TRUST {
                break;
            }
            let Some(next) = improved(&rows, &now.powers_w, &ranges, trust) else {
                break;
            };
            if next == now.powers_w {
                break;
            }
            let next = run(next)?;
            let new_rows = self.rows(start, &next, safe_c);
            if merit(&new_rows) < merit(&rows) {
                rows = new_rows;
                let before = std::mem::replace(&mut now, next);
                if better(score(&before), score(&now)) && best.as_ref().is_none_or(|b| better(score(&before), score(b)))
                {
                    best = Some(before);
                }
                trust *= 1.3;
            } else {
                if best.as_ref().is_none_or(|b| better(score(&next), score(b))) {
                    best = Some(next);
                }
                trust *= 0.5;
            }
        }
        match best {
            Some(best) if better(score(&best), score(&now)) => Ok(best),
            _ => Ok(now),
        }
    }

    fn base(&self, n: usize) -> Vec<f64> {
        let coils = self.powers_w.len();
        (0..n).map(|i| self.powers_w[i % coils].max(PANEL_W)).collect()
    }

    /// What billets miss by, with the slopes by each power in units of its settled one.
    fn rows(&self, start: &Start, way: &Way, safe_c: &[f64]) -> Vec<Aim> {
        let (study, powers) = (&way.study, &way.powers_w);
        let base = self.base(powers.len());
        let (channels, coils) = (self.line.channels(), self.line.coils().count());
        let skip = usize::from(self.before.is_some_and(|p| p.seconds > 1e-9));
        let begin_s = self.before.map_or(0.0, |p| p.seconds);
        let ends: Vec<f64> = self
            .steps()
            .iter()
            .scan(begin_s, |at, n| {
                *at += *n as f64 * self.takt_s;
                Some(*at)
            })
            .collect();
        let mut rows = Vec::new();
        for judged in &study.billets {
            let billet = &judged.billet;
            let (line, bar) = match self.next.filter(|_| billet.order > 0) {
                Some(next) => (next.line, next.bar),
                None => (self.line, self.bar),
            };
            let thermal = bar.metal().thermal();
            let kg = bar.mass_kg_m() * line.billet_m;
            let criteria = &start.criteria[billet.order];
            let low = criteria.at_least.1;
            let high = criteria.at_most_c.unwrap_or(low + 60.0).max(low);
            let (centre, half) = (0.5 * (low + high), 0.5 * (high - low));
            let value = criteria.at_least.0.of(billet);
            let branch = thermal.branch(value >= thermal.austenite_c);
            let heat = (branch.enthalpy(value + 5.0) - branch.enthalpy(value - 5.0)) / 10.0;
            let slope = |until_s: f64| -> Vec<f64> {
                (0..powers.len())
                    .map(|j| {
                        let (step, channel) = (j / channels.len(), &channels[j % channels.len()]);
                        let got = channel.coils.iter();
                        let got = got.filter_map(|c| billet.received_j.get((step + skip) * coils + c));
                        let from = if step == 0 { begin_s } else { ends[step - 1] };
                        let part = ((until_s - from) / (ends[step] - from)).clamp(0.0, 1.0);
                        let per_unit = got.sum::<f64>() * base[j] / powers[j].max(1.0);
                        part * per_unit / (kg * heat)
                    })
                    .collect()
            };
            let excess = ((value - centre).abs() - (half - MARGIN_K)).max(0.0);
            // What cannot be saved any more must not spoil what can.
            let weight = match excess {
                0.0 => INSIDE_WEIGHT,
                e => {
                    INSIDE_WEIGHT
                        + (1.0 - INSIDE_WEIGHT) * (e / half.max(1.0)).min(1.0) / (1.0 + (e / HOPELESS_K).powi(2)).sqrt()
                }
            };
            rows.push(Aim {
                value: value - centre,
                weight,
                slopes: slope(f64::INFINITY),
                one_sided: false,
            });
            rows.extend(
                criteria
                    .difference_k
                    .and_then(|allowed_k| self.uneven(billet, allowed_k, powers, (begin_s, &ends))),
            );
            let over = billet.peak_c - (safe_c[billet.order] - MARGIN_K);
            if over > -20.0 && billet.peak_s > begin_s {
                rows.push(Aim {
                    value: over,
                    weight: HOT_WEIGHT,
                    slopes: slope(billet.peak_s),
                    one_sided: true,
                });
            }
        }
        rows
    }

    /// What surface and core of a billet lie too far apart: what the last coil drives through the surface in the last
    /// takts sets them apart (in the regular regime in proportion to it).
    fn uneven(&self, billet: &Gone, allowed_k: f64, powers: &[f64], (begin_s, ends): (f64, &[f64])) -> Option<Aim> {
        let (coils, base) = (self.powers_w.len(), self.base(powers.len()));
        let apart_k = billet.surface_c - billet.core_c;
        let over = apart_k.abs() - (allowed_k - EVEN_MARGIN_K).max(0.0);
        let from_s = (billet.time_s - WITHIN_TAKTS * self.takt_s).max(begin_s);
        let span_s = billet.time_s - from_s;
        if over <= -10.0 || span_s <= 1e-9 {
            return None;
        }
        let slope = |j: usize| {
            let (step, coil) = (j / coils, j % coils);
            let begin = if step == 0 { begin_s } else { ends[step - 1] };
            let within = (ends[step].min(billet.time_s) - begin.max(from_s)).max(0.0) / span_s;
            match coil + 1 == coils {
                true => apart_k * within * base[j] / powers[j].max(1.0),
                false => 0.0,
            }
        };
        Some(Aim {
            value: over,
            weight: 1.0 / (1.0 + (over / HOPELESS_K).powi(2)).sqrt(),
            slopes: (0..powers.len()).map(slope).collect(),
            one_sided: true,
        })
    }
}

/// Change of a power in the first round of a search, over the settled one, and below which it ends.
const FIRST_TRUST: f64 = 0.4;
const LEAST_TRUST: f64 = 0.02;
/// Excess from which on a billet counts no more, K.
const HOPELESS_K: f64 = 60.0;
/// Weight of a billet within the gate, against one outside.
const INSIDE_WEIGHT: f64 = 0.15;
/// Weight of a billet too hot.
const HOT_WEIGHT: f64 = 3.0;
