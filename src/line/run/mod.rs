//! Following one part through a plan.
//!
//! The run goes stage by stage. Each stage sets the laws of the part's faces, marches the solver
//! to the exact end of each of its phases, and records node temperatures; forging changes the
//! shape between phases. Limits are judged from what was recorded.

mod air;
mod bill;
mod company;
mod cooling;
mod dense;
mod error;
mod forge;
mod forming;
mod handover;
mod heat;
mod heater_cache;
mod judged;
mod need;
mod part;
mod record;
mod run_cache;
mod scale;
pub(crate) mod tooling;
mod tools;

use super::plan::{Plan, Resolution, StageKind};
use super::trace::{HeatEntry, Ledger, LedgerEntry, RESULT_SCHEMA, StageSpan, Trace, Work};
use crate::judge::{Moment, Verdict, Warning, judge};
pub use error::RunError;
#[cfg(feature = "command")]
pub(crate) use heater_cache::Heated;
pub use heater_cache::HeaterCache;
pub(crate) use judged::run_judged;
pub use need::{Budget, Need};
use part::Part;
use record::Recorder;
pub(crate) use run_cache::RunCache;

/// What a run should bring beside the temperatures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RunOptions {
    /// Replaces the resolution of the plan.
    pub resolution: Option<Resolution>,
    /// Keep every step as a sample and take section maps.
    pub record: bool,
    /// Fail where a limit comes to none of its moments.
    pub judge_all: bool,
}

impl Default for RunOptions {
    fn default() -> Self {
        RunOptions {
            resolution: None,
            record: true,
            judge_all: true,
        }
    }
}

impl RunOptions {
    /// Moments and verdicts only: no samples, no maps.
    pub fn bare() -> RunOptions {
        RunOptions {
            resolution: None,
            record: false,
            judge_all: true,
        }
    }
}

/// Runs a plan.
///
/// # Errors
/// A failed computation; a checked plan gives none in ordinary use.
pub fn run(plan: &Plan, options: &RunOptions) -> Result<Trace, RunError> {
    run_with(plan, options, &HeaterCache::default())
}

/// Runs a plan, with heated states of earlier runs at hand.
///
/// # Errors
/// As [`run`].
pub fn run_with(plan: &Plan, options: &RunOptions, heated: &HeaterCache) -> Result<Trace, RunError> {
    let mut runner = Runner::new(plan, options, heated)?;
    for index in 0..plan.stages.len() {
        runner.stage(index)?;
    }
    runner.finish_whole()
}

/// Node temperatures in degC at one time; `None` where the shape of the moment has no such node.
pub(crate) type NodeRow = Vec<Option<f64>>;

/// Runs a plan and reads all nodes at some times, in s after heater exit: the steps of the solver end there, so nothing
/// is interpolated. Times before the exit or after the end of the line give nothing.
///
/// # Errors
/// As [`run`].
pub(crate) fn run_at(
    plan: &Plan,
    options: &RunOptions,
    heated: &HeaterCache,
    times_s: &[f64],
) -> Result<(Trace, Vec<Option<NodeRow>>), RunError> {
    let mut order: Vec<usize> = (0..times_s.len()).filter(|k| times_s[*k] >= 0.0).collect();
    order.sort_by(|a, b| times_s[*b].total_cmp(&times_s[*a]));
    let mut runner = Runner::new(plan, options, heated)?;
    runner.stops = order.iter().map(|k| times_s[*k]).collect();
    for index in 0..plan.stages.len() {
        runner.stage(index)?;
    }
    let mut found = vec![None; times_s.len()];
    for (row, k) in std::mem::take(&mut runner.stopped)
        .into_iter()
        .zip(order.into_iter().rev())
    {
        found[k] = Some(row);
    }
    Ok((runner.finish_whole()?, found))
}

/// Runs the heater of a plan alone: its verdicts are those of the limits at the exit and on the way there.
///
/// # Errors
/// As [`run`].
pub fn run_heater(plan: &Plan, options: &RunOptions, heated: &HeaterCache) -> Result<Trace, RunError> {
    Ok(Runner::new(plan, options, heated)?.finish())
}

/// A run under way.
#[derive(Clone)]
pub(crate) struct Runner<'a> {
    plan: &'a Plan,
    resolution: Resolution,
    /// Heated states of earlier runs.
    heated: HeaterCache,
    films: air::Films,
    part: Part,
    scale: Option<scale::Scale>,
    /// Share of the mass that the next new shape leaves behind.
    scale_loss: f64,
    recorder: Recorder,
    pub(crate) tooling: tooling::Tooling,
    /// Times at which nodes are to be read, the next one last.
    stops: Vec<f64>,
    /// What was read there.
    stopped: Vec<NodeRow>,
    /// Whether a limit that comes to none of its moments fails the run.
    judge_all: bool,
    bill: Option<Vec<HeatEntry>>,
    ledger: Vec<LedgerEntry>,
    stored_j: f64,
    warnings: Vec<Warning>,
    cells: usize,
    work: crate::conduction::Work,
}

impl<'a> Runner<'a> {
    pub(crate) fn new(plan: &'a Plan, options: &RunOptions, heated: &HeaterCache) -> Result<Runner<'a>, RunError> {
        let resolution = options.resolution.unwrap_or(plan.resolution);
        let part = Part::at_start(plan, resolution)?;
        let recorder = Recorder::new(plan, &part, options.record);
        let mut runner = Runner {
            plan,
            resolution,
            heated: heated.clone(),
            films: air::Films::default(),
            part,
            scale: plan.scale.map(scale::Scale::new),
            scale_loss: plan.scale_loss,
            recorder,
            tooling: tooling::Tooling::default(),
            stops: Vec::new(),
            stopped: Vec::new(),
            bill: options.record.then(Vec::new),
            judge_all: options.judge_all,
            ledger: Vec::new(),
            stored_j: 0.0,
            warnings: plan.warnings.clone(),
            cells: 0,
            work: crate::conduction::Work::default(),
        };
        runner.heat()?;
        Ok(runner)
    }

    /// Step tolerance, K.
    pub(crate) fn step_k(&self) -> f64 {
        self.part.solver.tolerance().step_k
    }

    /// The word of the resolution.
    pub(crate) fn resolution_word(&self) -> &'static str {
        self.resolution.word()
    }

    /// Runs stage `index` of the plan; stage 0 of the trace is the heater.
    pub(crate) fn stage(&mut self, index: usize) -> Result<(), RunError> {
        let stage = &self.plan.stages[index];
        let start = self.part.solver.time_s();
        self.recorder.begin(StageSpan {
            name: stage.name.clone(),
            kind: stage.kind.kind(),
            start_s: start,
            end_s: start,
        });
        self.recorder.moment(Moment::Start, &self.part);
        match &stage.kind {
            StageKind::Forge(forge) => self.forge(index, forge)?,
            StageKind::Trim(trim) => self.trim(index, trim)?,
            _ => self.hand_over(index)?,
        }
        self.recorder.moment(Moment::End, &self.part);
        self.close_stage(&stage.name)
    }

    /// Books the ledger of the solver under the present stage.
    fn close_stage(&mut self, name: &str) -> Result<(), RunError> {
        let end = self.part.solver.time_s();
        self.note_scale(if self.recorder.in_heater() {
            Moment::Exit
        } else {
            Moment::End
        });
        self.recorder.end(end);
        self.book();
        self.recorder.check(name)
    }

    fn book(&mut self) {
        let stage = self.recorder.stage();
        self.cells = self.cells.max(self.part.cells());
        for (name, joules) in self.part.solver.ledger().entries() {
            if joules != 0.0 {
                let known = self.ledger.iter_mut().find(|e| e.stage == stage && e.name == name);
                match known {
                    Some(entry) => entry.energy_kj += joules * 1e-3,
                    None => self.ledger.push(LedgerEntry {
                        stage,
                        name: name.to_owned(),
                        energy_kj: joules * 1e-3,
                    }),
                }
            }
        }
        self.stored_j += self.part.solver.ledger().stored();
        let work = self.part.solver.take_work();
        self.work.steps += work.steps;
        self.work.rejected += work.rejected;
        self.work.evaluations += work.evaluations;
        self.work.line_solves += work.line_solves;
        self.part.solver.ledger_mut().clear();
    }

    /// Marches to a time; `phase` says what happens meanwhile, for the heat bill.
    fn advance(&mut self, phase: &'static str, until_s: f64) -> Result<(), RunError> {
        let before = self.bill.is_some().then(|| self.heat_now());
        // A stop this near to the end of a phase is its end.
        const SAME_S: f64 = 1e-9;
        while let Some(stop) = self.stops.last().copied().filter(|stop| *stop <= until_s + SAME_S) {
            let stop = if stop > until_s - SAME_S { until_s } else { stop };
            if stop > self.part.solver.time_s() {
                self.march(stop)?;
            }
            self.stops.pop();
            self.stopped.push(self.recorder.nodes_now(&self.part));
        }
        self.march(until_s)?;
        self.part.solver.hold_faces();
        if let Some(before) = before {
            self.write_bill(phase, &before);
        }
        Ok(())
    }

    /// Marches to a time.
    fn march(&mut self, until_s: f64) -> Result<(), RunError> {
        let stage = self.recorder.stage_name().to_owned();
        let (recorder, nodes, scale) = (&mut self.recorder, &self.part.nodes, &mut self.scale);
        if let Some(scale) = scale {
            scale.begin(&self.part.solver);
        }
        self.part
            .solver
            .advance(until_s, &mut |solver| {
                recorder.observe(solver, nodes);
                if let Some(scale) = scale {
                    scale.step(solver);
                }
            })
            .map_err(|source| RunError::Solve { stage, source })
    }

    /// Takes a warning up, unless the same was told before.
    fn warn(&mut self, warning: Warning) {
        if !self.warnings.iter().any(|w| w.message == warning.message) {
            self.warnings.push(warning);
        }
    }

    /// The trace of a run that has met every moment that is judged.
    pub(crate) fn finish_whole(self) -> Result<Trace, RunError> {
        let (plan, judge_all) = (self.plan, self.judge_all);
        let trace = self.finish();
        let mut verdicts = trace.verdicts.iter().peekable();
        for limit in plan.limits.iter().filter(|_| judge_all) {
            let of = |v: &&Verdict| {
                let of = &v.limit;
                (&of.stage, of.moment, of.bound, &of.source) == (&limit.stage, limit.moment, limit.bound, &limit.source)
            };
            if verdicts.next_if(of).is_none() {
                return Err(RunError::NotJudged {
                    limit: limit.to_string(),
                    node: limit.node.clone(),
                });
            }
        }
        Ok(trace)
    }

    pub(crate) fn finish(self) -> Trace {
        let plan = self.plan;
        let mass_kg = self.recorder.mass_kg();
        let through: f64 = self.ledger.iter().map(|e| e.energy_kj.abs()).sum();
        let named: f64 = self.ledger.iter().map(|e| e.energy_kj).sum();
        let stored_kj = self.stored_j * 1e-3;
        let imbalance = if through > 0.0 {
            (stored_kj - named) / through
        } else {
            0.0
        };
        let mut warnings = self.warnings;
        let mut recorded = self.recorder.into_recorded();
        warnings.extend(recorded.property_warnings(plan));
        let verdicts = judge(
            &plan.limits,
            &recorded.stages,
            (&recorded.nodes, &plan.section_names()),
            &recorded.moments,
            &recorded.watched,
        );
        for die in &mut recorded.dies {
            let of_die = self
                .ledger
                .iter()
                .filter(|e| e.stage == die.stage && e.name == die.body);
            die.heat_kj = -of_die.map(|e| e.energy_kj).sum::<f64>();
        }
        Trace {
            schema_version: RESULT_SCHEMA,
            program: concat!("billet-thermal ", env!("CARGO_PKG_VERSION")).to_owned(),
            title: plan.title.clone(),
            steel: plan.metal.name.clone(),
            resolution: self.resolution,
            mass_kg,
            nodes: recorded.nodes,
            stages: recorded.stages,
            samples: recorded.samples,
            moments: recorded.moments,
            maps: recorded.maps,
            dies: recorded.dies,
            ends: recorded.ends,
            scale: recorded.scale,
            bill: self.bill.unwrap_or_default(),
            ledger: Ledger {
                entries: self.ledger,
                stored_kj,
                imbalance,
            },
            verdicts,
            warnings,
            inputs: plan.records(),
            work: Work {
                steps: self.work.steps,
                rejected: self.work.rejected,
                evaluations: self.work.evaluations,
                line_solves: self.work.line_solves,
                cells: self.cells,
            },
        }
    }
}
