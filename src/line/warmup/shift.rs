//! One part after the other, and the time between.

use std::ops::Range;

use rayon::prelude::*;

use super::options::{WarmupError, WarmupOptions};
use super::result::{DieFace, DieName, WarmPart, WorstLimit};
use crate::die::{DieCopy, Phase, phases};
use crate::judge::{Moment, Verdict};
use crate::line::plan::{Dies, Plan, StageKind};
use crate::line::run::tooling::{Kept, Tooling};
use crate::line::run::{HeaterCache, RunError, RunOptions, Runner};

/// A shift on one line.
pub(super) struct Shift<'p> {
    pub plan: &'p Plan,
    pub takt_s: f64,
    /// A run that stands at heater exit.
    base: Runner<'p>,
    /// Number of stages to run.
    stages: usize,
    step_k: f64,
}

impl<'p> Shift<'p> {
    pub fn new(plan: &'p Plan, options: &WarmupOptions) -> Result<Shift<'p>, WarmupError> {
        let takt_s = plan.takt_s.ok_or(WarmupError::NoTakt)?;
        let has_dies = |index: &usize| dies(plan, *index).is_some_and(|d| !d.lower.fixed || !d.upper.fixed);
        let Some(last) = (0..plan.stages.len()).rfind(has_dies) else {
            return Err(WarmupError::NoDies);
        };
        for (index, stage) in plan.stages.iter().enumerate() {
            let holds = match &stage.kind {
                StageKind::Carry { grips, .. } => !grips.is_empty(),
                // A belt after the last die has room for many parts and is not followed.
                StageKind::Cool(cool) => cool.support.is_some() && index < last,
                kind => matches!(kind, StageKind::Forge(_) | StageKind::Trim(_) | StageKind::Rest { .. }),
            };
            let seconds = stage.seconds();
            if holds && seconds > takt_s {
                return Err(WarmupError::TaktTooShort {
                    stage: stage.name.clone(),
                    seconds,
                    takt_s,
                });
            }
            if let Some(dies) = dies(plan, index) {
                let wanted_s = dies.spray.map_or(0.0, |s| s.seconds) + dies.blow_off.map_or(0.0, |b| b.seconds);
                let free_s = takt_s - seconds;
                if wanted_s > free_s {
                    return Err(WarmupError::NoTimeToSpray {
                        stage: stage.name.clone(),
                        wanted_s,
                        free_s,
                    });
                }
            }
        }
        let run = RunOptions {
            resolution: options.resolution,
            ..RunOptions::bare()
        };
        let base = Runner::new(plan, &run, &HeaterCache::default())?;
        Ok(Shift {
            plan,
            takt_s,
            step_k: base.step_k(),
            base,
            stages: stages_to_run(plan, last),
        })
    }

    /// Tools at the start of the shift.
    pub fn cold(&self, preheat_c: Option<f64>) -> Tooling {
        Tooling {
            keep: true,
            cold: true,
            preheat_c,
            kept: Vec::new(),
        }
    }

    /// Step tolerance, K.
    pub fn step_k(&self) -> f64 {
        self.step_k
    }

    /// The resolution's word.
    pub fn resolution(&self) -> &'static str {
        self.base.resolution_word()
    }

    /// Runs one part on the tools; afterwards they are as the part left them.
    pub fn part(&self, number: u32, tooling: &mut Tooling) -> Result<WarmPart, RunError> {
        let mut runner = self.runner(tooling);
        self.stages_of(&mut runner, 0..self.stages)?;
        *tooling = std::mem::take(&mut runner.tooling);
        let faces = self.faces(tooling);
        Ok(self.told(number, runner, faces))
    }

    /// A part at heater exit that is to meet some tools.
    pub fn runner(&self, tooling: &mut Tooling) -> Runner<'p> {
        let mut runner = self.base.clone();
        self.take_tools(&mut runner, tooling);
        runner
    }

    /// Gives a part the tools that it is to meet next.
    pub fn take_tools(&self, runner: &mut Runner<'p>, tooling: &mut Tooling) {
        runner.tooling = std::mem::take(tooling);
        for kept in &mut runner.tooling.kept {
            kept.ground.forget();
        }
    }

    /// Number of stages to run.
    pub fn stages(&self) -> usize {
        self.stages
    }

    /// Takes a part through some stages.
    pub fn stages_of(&self, runner: &mut Runner<'p>, stages: Range<usize>) -> Result<(), RunError> {
        for index in stages {
            runner.stage(index)?;
        }
        Ok(())
    }

    /// Faces of tools that a part has just left.
    pub fn faces(&self, tooling: &Tooling) -> Vec<DieFace> {
        tooling.kept.iter().map(face).collect()
    }

    /// What there is to tell of a part that is through.
    pub fn told(&self, number: u32, runner: Runner<'p>, faces: Vec<DieFace>) -> WarmPart {
        let trace = runner.finish();
        let worst = trace
            .verdicts
            .iter()
            .enumerate()
            .min_by(|a, b| a.1.margin_k.total_cmp(&b.1.margin_k));
        let number_of = |verdict: &Verdict| {
            self.plan
                .limits
                .iter()
                .position(|l| verdict.limit.is_case_of(l))
                .unwrap_or(0)
                + 1
        };
        WarmPart {
            number,
            good: trace.verdicts.iter().all(|v| v.holds),
            margins_k: trace.verdicts.iter().map(|v| v.margin_k).collect(),
            worst: worst.map(|(_, v)| WorstLimit {
                limit: number_of(v),
                stage: trace.stages.get(v.stage).map_or_else(String::new, |s| s.name.clone()),
                moment: v.moment,
                node: v.limit.node.clone(),
                value: v.value,
                margin_k: v.margin_k,
            }),
            faces,
        }
    }

    /// Leaves the tools without a part: to the next part of the takt, and a break on top of it.
    pub fn idle(&self, tooling: &mut Tooling, break_s: f64) -> Result<(), RunError> {
        tooling
            .kept
            .par_iter_mut()
            .try_for_each(|kept| self.leave_alone(kept, break_s))
    }

    /// As [`Shift::idle`], in this thread alone: a thread beside the pool would wait for one of it.
    pub fn idle_here(&self, tooling: &mut Tooling) -> Result<(), RunError> {
        tooling.kept.iter_mut().try_for_each(|kept| self.leave_alone(kept, 0.0))
    }

    fn leave_alone(&self, kept: &mut Kept, break_s: f64) -> Result<(), RunError> {
        for phase in self.phases(kept, break_s) {
            kept.ground
                .rest(phase.seconds, &phase.exchange, self.step_k)
                .map_err(|source| RunError::Solve {
                    stage: self.plan.stages[kept.stage].name.clone(),
                    source,
                })?;
        }
        if let Some(left_s) = &mut kept.left_s {
            *left_s = (*left_s - self.takt_s).max(0.0);
        }
        Ok(())
    }

    /// What a tool goes through from one part to the next.
    fn phases(&self, kept: &Kept, break_s: f64) -> Vec<Phase> {
        let (spray, blow_off) = match dies(self.plan, kept.stage) {
            Some(dies) => (dies.spray, dies.blow_off),
            None => (None, None),
        };
        let idle_s = match kept.left_s {
            // Jaws wait from when they opened to the next heater exit; the grip after that does the rest.
            Some(left_s) => (self.takt_s - left_s).max(0.0),
            None => self.takt_s - self.plan.stages[kept.stage].seconds(),
        };
        phases(spray.as_ref(), blow_off.as_ref(), &kept.air, idle_s + break_s)
    }

    /// Copies of tools that a part has left, to follow them cheaply.
    pub fn copies<'t>(&self, left: &'t Tooling) -> Vec<DieCopy<'t>> {
        let copy = |kept: &'t Kept| {
            let phases = self.phases(kept, 0.0);
            let idle_s: f64 = phases.iter().map(|phase| phase.seconds).sum();
            DieCopy::new(&kept.ground, self.takt_s - idle_s, phases)
        };
        left.kept.iter().map(copy).collect()
    }

    /// Names of tools that a part has left.
    pub fn names(&self, tooling: &Tooling, first: &WarmPart) -> Vec<DieName> {
        tooling
            .kept
            .iter()
            .zip(&first.faces)
            .map(|(kept, face)| DieName {
                stage: self.plan.stages[kept.stage].name.clone(),
                body: match &kept.gripper {
                    Some(gripper) => format!("jaws of {gripper}"),
                    None => kept.body.to_owned(),
                },
                start_c: face.before_c,
                idle_s: self.takt_s - self.plan.stages[kept.stage].seconds(),
                couple_mm: kept.ground.couple().map(|(depth_m, _)| 1e3 * depth_m),
                tempering_c: dies(self.plan, kept.stage).map(|d| d.tempering_c),
            })
            .collect()
    }
}

fn face(kept: &Kept) -> DieFace {
    DieFace {
        before_c: kept.before.mean_c,
        before_hottest_c: kept.before.hottest_c,
        peak_c: kept.peak_c,
        after_c: kept.after_c,
        through_c: kept.ground.mean_c(),
        couple_c: kept.ground.couple().map(|(_, temp_c)| temp_c),
        heat_kj: 1e-3 * kept.heat_j,
    }
}

/// The dies of a stage, if it has any.
pub(super) fn dies(plan: &Plan, index: usize) -> Option<&Dies> {
    match &plan.stages[index].kind {
        StageKind::Forge(forge) => Some(&forge.dies),
        StageKind::Trim(trim) => Some(&trim.dies),
        _ => None,
    }
}

/// Up to the last stage with dies, or on to the last that a limit needs.
fn stages_to_run(plan: &Plan, last_with_dies: usize) -> usize {
    let mut last = last_with_dies;
    for limit in &plan.limits {
        match &limit.stage {
            Some(name) => {
                if let Some(at) = plan.stages.iter().position(|s| s.name == *name) {
                    last = last.max(at);
                }
            }
            // Without a stage, blows and the exit lie before; the rest may come last.
            None if matches!(limit.moment, Moment::Start | Moment::End | Moment::Always)
                && !matches!(limit.bound, crate::judge::Bound::MaxC(_)) =>
            {
                last = plan.stages.len() - 1;
            }
            None => {}
        }
    }
    last + 1
}
