//! The next order in the running heater: other billets behind those inside.

use super::question::CoilQuestion;
use super::settled::{criteria, settle};
use super::stops::Running;
use crate::heater::coil::Drive;
use crate::heater::line::{
    Course, Criteria, Feed, HeaterLine, NextOrder, Origin, Phase, Shift, Study, Transition, Verdict, one_among,
};
use crate::heater::search::{SetPoints, Status};
use crate::heater::{Bar, HeaterError};
use crate::line::plan::{CoilLine, Heater, Plan};

/// Another order that follows in the running heater.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Following {
    /// Its title.
    pub title: String,
    /// Its takt, s.
    pub takt_s: f64,
    /// Settled power of each channel for it, W.
    pub powers_w: Vec<f64>,
    /// Whether its target is met there.
    pub met: bool,
    /// When its billets are good.
    pub criteria: Criteria,
    /// The powers from the entry of its first billet on, and what comes of them.
    pub course: Course,
    /// What comes of keeping the powers of the order before, in proportion to the throughput, until its last billet is
    /// out, and setting those of the new one then.
    pub late: Study,
    /// Mass of one of its billets, kg.
    pub billet_kg: f64,
    /// What its exit shows above what is computed.
    shift: Shift,
}

/// Number of the next order in a study; those inside at its beginning are 0.
const NEXT: usize = 1;

impl Following {
    /// The change from the running state to the order of another plan.
    pub(super) fn of(question: &CoilQuestion, running: &Running, next: &Plan) -> Result<Following, HeaterError> {
        next.heater.follows(running.heater)?;
        let Heater::CoilLine(given) = &next.heater else {
            return Err(HeaterError::NoCoil);
        };
        let heater = &given.as_computed(next.exit_offset_k);
        let bar = heater.bar(&next.piece, &next.metal, next.resolution)?;
        let (found, _, steady) = settle(question, next, heater, &bar)?;
        let criteria = criteria(next, heater, &steady);
        let coils: Vec<f64> = steady.coils.iter().map(|c| c.terminals_w).collect();
        let powers_w = heater.line.by_channel(&coils);
        let bar = match (bar.is_round() && running.bar.is_round(), bar.coarser()?) {
            (false, Some(coarse)) => coarse,
            _ => bar,
        };
        let order = NextOrder {
            line: &heater.line,
            bar: &bar,
            criteria: &criteria,
        };
        let highest_w = lower(&running.heater.highest_w, &heater.highest_w);
        let transition = Transition {
            next: Some(order),
            takt_s: heater.line.takt_s,
            powers_w: &powers_w,
            highest_w: &highest_w,
            ..running.transition(Origin::Running(running.drives), None, &powers_w)
        };
        let course = transition.plan()?;
        let late = transition.follow(&late(running, heater, &powers_w))?;
        Ok(Following {
            title: next.title.clone(),
            shift: Shift::new(next.exit_offset_k, heater.line.start_c, steady.exit.mean_c),
            takt_s: heater.line.takt_s,
            met: met(found.as_ref()),
            billet_kg: bar.mass_kg_m() * heater.line.billet_m,
            criteria,
            course,
            late,
            powers_w,
        })
    }

    /// Adds what the exits show to every temperature, that of the order before first.
    pub(super) fn shift(&mut self, before: Shift) {
        let shifts = [before, self.shift];
        self.criteria = self.shift.criteria(&self.criteria);
        for study in [&mut self.course.study, &mut self.course.at_once, &mut self.late] {
            Shift::study(&shifts, study);
        }
    }

    /// Billets rejected of the order before and of the new one.
    pub fn rejected(study: &Study) -> (usize, usize) {
        let bad = |of: bool| {
            let bad = study.billets.iter().filter(|b| (b.billet.order == NEXT) == of);
            bad.filter(|b| b.verdict != Verdict::Good).count()
        };
        (bad(false), bad(true))
    }
}

fn met(found: Option<&SetPoints>) -> bool {
    found.is_none_or(|f| !matches!(f.status, Status::Impossible(_)))
}

fn lower(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a.min(*b)).collect()
}

/// The powers before, each billet getting as much from a coil as it would have, until the last of the old ones is out;
/// then those of the new order.
fn late(running: &Running, next: &CoilLine, powers_w: &[f64]) -> [Phase; 2] {
    let (before, after) = (&running.heater.line, &next.line);
    let share = (after.billet_m / after.takt_s) / (before.billet_m / before.takt_s);
    let through_s = after.length_m() / after.speed_m_s();
    let phase = |seconds: f64, drives: Vec<Drive>| Phase {
        seconds,
        takt_s: Some(after.takt_s),
        drives,
        feed: Feed::Order(NEXT),
    };
    let kept: Vec<f64> = running.powers_w.iter().map(|p| p * share).collect();
    let (kept, new) = (after.at_powers(&kept), after.at_powers(powers_w));
    [phase(through_s, kept), phase(1.6 * through_s, new)]
}

/// A billet that is warm already among cold ones.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Warm {
    /// Its temperature when it goes in, degC.
    pub start_c: f64,
    /// What comes of it and of those around it.
    pub study: Study,
    /// Number of the warm billet.
    pub number: usize,
    /// Largest change of the exit of the billets around it, K, with its sign.
    pub others_k: f64,
    /// Warmest that a billet may be put in so that it and those around it stay good, degC; `None` where not even one
    /// as cold as the others may.
    pub warmest_c: Option<f64>,
}

/// Steps in which the warmest billet is told, K.
const STEP_K: f64 = 10.0;
/// Warmest that is looked at, degC: forging steel is heated to about 1250 degC (common practice, from memory), and what
/// leaves the heater 50 K below may go to the press as it is.
pub const WARMEST_C: f64 = 1200.0;

impl Warm {
    /// One billet of `start_c` (degC) among those of a running line.
    pub(super) fn of(running: &Running, start_c: f64) -> Result<Warm, HeaterError> {
        let coarse = running.bar.coarser()?;
        let quick = (coarse.as_ref().unwrap_or(running.bar), 1);
        let exact = (running.bar, running.slices);
        let warm = one(running, exact, start_c, running.criteria)?;
        // The quick grid tells surface from core too coarsely to judge by it.
        let by_heat = Criteria {
            difference_k: None,
            ..*running.criteria
        };
        let good = |with: (&Bar, usize), criteria: &Criteria, at_c: f64| {
            Ok::<bool, HeaterError>(one(running, with, at_c, criteria)?.is_good())
        };
        // Searched on the quick grid, confirmed on the one asked for.
        let cold_c = (running.heater.line.start_c / STEP_K).ceil();
        let (mut low, mut high) = (cold_c, (WARMEST_C / STEP_K).floor());
        while high - low > 1.0 {
            let middle = (0.5 * (low + high)).floor();
            match good(quick, &by_heat, middle * STEP_K)? {
                true => low = middle,
                false => high = middle,
            }
        }
        let mut warmest_c = None;
        let ever = good(exact, running.criteria, cold_c * STEP_K)?;
        while ever && low >= cold_c && warmest_c.is_none() {
            if good(exact, running.criteria, low * STEP_K)? {
                warmest_c = Some(low * STEP_K);
            }
            low -= 1.0;
        }
        Ok(Warm { warmest_c, ..warm })
    }

    fn is_good(&self) -> bool {
        self.study.rejected == 0
    }
}

fn one(
    running: &Running,
    (bar, slices): (&Bar, usize),
    start_c: f64,
    criteria: &Criteria,
) -> Result<Warm, HeaterError> {
    let line = &running.heater.line;
    let warm_line = HeaterLine {
        start_c,
        ..line.clone()
    };
    let study = one_among(
        (line, bar, running.drives),
        NextOrder {
            line: &warm_line,
            bar,
            criteria,
        },
        slices,
        criteria,
    )?;
    let target = running.criteria.at_least.0;
    // The first to leave is in the last coil when the warm one comes in.
    let usual = study.billets.first().map_or(f64::NAN, |b| target.of(&b.billet));
    let others = study.billets.iter().filter(|b| b.billet.order != NEXT);
    let changes = others.map(|b| target.of(&b.billet) - usual);
    let others_k = changes.fold(0.0, |most: f64, k| if k.abs() > most.abs() { k } else { most });
    let number = study.billets.iter().find(|b| b.billet.order == NEXT);
    Ok(Warm {
        start_c,
        number: number.map_or(0, |b| b.billet.number),
        others_k,
        warmest_c: None,
        study,
    })
}
