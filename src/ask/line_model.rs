//! The line file as a [`Model`].

use std::sync::{Arc, OnceLock};

use crate::body::Place;
use crate::judge::{Bound, Limit, Moment, Owner, Reading};
use crate::line::file::{Document, LineFileError};
use crate::line::plan::{Allowed, Heater, Input, InputValue, Resolution};
use crate::line::run::{RunError, run_judged};
use crate::line::{Plan, RunOptions, Trace, run_with};

use super::model::{Change, ExitInputs, Handover, Model, ModelError, Outcome, Probe, in_words};
use crate::text::nearest;

/// A checked line file that runs with changed numbers.
#[derive(Debug, Clone)]
pub struct LineModel {
    document: Document,
    resolution: Option<Resolution>,
    inputs: Vec<Input>,
    handovers: Vec<Handover>,
    exit: OnceLock<Option<ExitInputs>>,
    /// Limits that are judged instead of those of the document.
    judged: Option<Judged>,
}

/// Limits, and the words by which runs judged by them are kept.
#[derive(Debug, Clone)]
struct Judged {
    limits: Arc<[Limit]>,
    words: Arc<str>,
}

/// Temperature at which the emissivity of the steel stands for that of the billet, degC.
const EMISSIVITY_AT_C: f64 = 1200.0;

impl LineModel {
    /// A model of the document, at its own resolution.
    #[must_use]
    pub fn new(document: Document) -> Self {
        let plan = document.plan();
        let handovers = plan
            .hand_overs()
            .into_iter()
            .map(|index| {
                let stage = &plan.stages[index];
                let path = format!("stage.{}.seconds", stage.name);
                Handover {
                    stage: stage.name.clone(),
                    kind: stage.kind.kind(),
                    least_s: least_seconds(&document, &path, stage.seconds()),
                    path,
                    seconds: stage.seconds(),
                }
            })
            .collect();
        let inputs = all_inputs(&document);
        Self {
            document,
            resolution: None,
            inputs,
            handovers,
            exit: OnceLock::new(),
            judged: None,
        }
    }

    /// The same line judged by other limits.
    pub(crate) fn judging(&self, limits: Vec<Limit>) -> Self {
        let words: Vec<String> = limits.iter().map(ToString::to_string).collect();
        Self {
            judged: Some(Judged {
                limits: limits.into(),
                words: words.join("\n").into(),
            }),
            ..self.clone()
        }
    }

    /// By what limits its runs are judged, where those are not the ones of the document.
    fn judged_by(&self) -> &str {
        self.judged.as_ref().map_or("", |judged| &judged.words)
    }

    /// The same line at another resolution.
    #[must_use]
    pub fn at(&self, resolution: Resolution) -> Self {
        Self {
            resolution: Some(resolution),
            exit: OnceLock::new(),
            ..self.clone()
        }
    }

    /// The document.
    #[must_use]
    pub fn document(&self) -> &Document {
        &self.document
    }

    /// Runs made for answers so far, of this model and all others of its document: on the quick grid, and on any
    /// other.
    #[must_use]
    pub fn runs_made(&self) -> (usize, usize) {
        self.document.run_cache().made()
    }

    /// Resolution of its runs.
    #[must_use]
    pub fn resolution(&self) -> Resolution {
        self.resolution.unwrap_or(self.document.plan().resolution)
    }

    /// The same line with a rest of no length, called `name`, after the stage `after`: a place to hold
    /// a part during a stop.
    ///
    /// # Errors
    /// [`ModelError::Refused`] when the line file cannot be extended so.
    pub fn with_rest(&self, after: &str, name: &str) -> Result<Self, ModelError> {
        let refused = |message: String| ModelError::Refused {
            changes: format!("a rest after `{after}`"),
            message,
        };
        let mut table: toml::Table = self
            .document
            .text()
            .parse()
            .map_err(|error: toml::de::Error| refused(error.message().to_owned()))?;
        let index = self.document.plan().stages.iter().position(|stage| stage.name == after);
        let stages = table.get_mut("stage").and_then(toml::Value::as_array_mut);
        let (Some(index), Some(stages)) = (index, stages) else {
            return Err(refused("no such stage".to_owned()));
        };
        let mut rest = toml::Table::new();
        rest.insert("kind".to_owned(), "rest".into());
        rest.insert("name".to_owned(), name.into());
        rest.insert("seconds".to_owned(), 0.0.into());
        stages.insert((index + 1).min(stages.len()), rest.into());
        let document =
            Document::parse(table.to_string(), self.document.path()).map_err(|error| refused(first_line(&error)))?;
        Ok(Self {
            resolution: self.resolution,
            ..Self::new(document)
        })
    }

    /// The plan with the changes applied.
    ///
    /// # Errors
    /// [`ModelError::UnknownInput`] or [`ModelError::Refused`].
    pub fn plan(&self, changes: &[Change]) -> Result<Plan, ModelError> {
        for change in changes {
            self.input(&change.path)?;
        }
        let values: Vec<(&str, f64)> = changes
            .iter()
            .map(|change| (change.path.as_str(), change.value))
            .collect();
        let refused = |message: String| ModelError::Refused {
            changes: in_words(changes),
            message,
        };
        let mut plan = self
            .document
            .with(&values)
            .map_err(|error| refused(first_line(&error)))?;
        // Limits of the steel go by blows and zones; other limits cannot be compared one by one.
        let asked = |limit: &Limit| (limit.stage.clone(), limit.moment, limit.node.clone());
        let nominal = self.document.plan().limits.iter().map(asked);
        if plan.limits.iter().map(asked).ne(nominal) {
            return Err(refused(
                "the limits of the steel would apply at other moments".to_owned(),
            ));
        }
        if let Some(judged) = &self.judged {
            plan.limits = judged.limits.to_vec();
        }
        Ok(plan)
    }

    /// A whole trace with the changes applied.
    ///
    /// # Errors
    /// [`ModelError`].
    pub fn trace(&self, changes: &[Change], options: &RunOptions) -> Result<Trace, ModelError> {
        let plan = self.plan(changes)?;
        let options = RunOptions {
            resolution: self.resolution.or(options.resolution),
            ..*options
        };
        let trace = run_with(&plan, &options, self.document.heater_cache()).map_err(|error| failed(changes, &error))?;
        let values: Vec<(&str, f64)> = changes.iter().map(|c| (c.path.as_str(), c.value)).collect();
        let came = (trace.verdicts.clone(), trace.stages.clone());
        let cache = self.document.run_cache();
        cache.keep(trace.resolution, self.judged_by(), &values, &came);
        Ok(trace)
    }
}

/// Inputs of the document, and the emissivity of the billet where the file leaves it to the steel:
/// set as a number it replaces the curve of the steel.
fn all_inputs(document: &Document) -> Vec<Input> {
    let mut inputs = document.inputs().to_vec();
    let path = "billet.emissivity";
    if !inputs.iter().any(|input| input.path == path) {
        let place = inputs.iter().rposition(|input| input.path.starts_with("billet."));
        let value = document.plan().metal.emissivity.at(EMISSIVITY_AT_C);
        let input = Input {
            path: path.to_owned(),
            value: InputValue::Number(value),
            unit: "",
            owner: Owner::Library,
            source: format!("of the steel, at {EMISSIVITY_AT_C} degC").into(),
            follows: true,
            allowed: Some(Allowed {
                low: 0.0,
                high: 1.0,
                low_open: false,
            }),
            whole: false,
            sd: None,
        };
        inputs.insert(place.map_or(0, |k| k + 1), input);
    }
    inputs
}

/// The shortest a hand-over can be, to a hundredth of a second: a grip that closes late or a fan that
/// stops needs its time.
fn least_seconds(document: &Document, path: &str, planned_s: f64) -> f64 {
    let allowed = |seconds: f64| document.with(&[(path, seconds)]).is_ok();
    if allowed(0.0) {
        return 0.0;
    }
    let (mut refused, mut least) = (0.0, planned_s);
    while least - refused > 0.01 {
        let middle = 0.5 * (refused + least);
        if allowed(middle) {
            least = middle;
        } else {
            refused = middle;
        }
    }
    least
}

fn failed(changes: &[Change], error: &RunError) -> ModelError {
    ModelError::Failed {
        changes: in_words(changes),
        message: error.to_string(),
    }
}

/// First problem of a refused file, in one line.
fn first_line(error: &LineFileError) -> String {
    error.to_string().lines().next().unwrap_or_default().to_owned()
}

/// Inputs that set the exit temperature of a measured exit.
fn measured_exit(document: &Document) -> Option<ExitInputs> {
    if !matches!(document.plan().heater, Heater::Measured(_)) {
        return None;
    }
    let number = |path: &str| {
        document
            .input(path)
            .filter(|input| !input.follows)
            .and_then(Input::number)
            .map(|value| (path.to_owned(), value))
    };
    if let Some(surface) = number("heater.temperature_c") {
        return Some(ExitInputs {
            surface,
            base_c: 0.0,
            core: None,
        });
    }
    // A core given as so much below the surface follows it by itself.
    Some(ExitInputs {
        surface: number("heater.surface_c")?,
        base_c: 0.0,
        core: number("heater.core_c"),
    })
}

impl LineModel {
    /// The inputs of a measured exit; else the offset of the computed one, which shifts the whole
    /// field and so keeps its profile. `None` where the nominal run fails.
    fn find_exit_inputs(&self) -> Option<ExitInputs> {
        let offset_k = self.document.plan().exit_offset_k;
        if offset_k == 0.0
            && let Some(exit) = measured_exit(&self.document)
        {
            return Some(exit);
        }
        let trace = self.trace(&[], &RunOptions::bare()).ok()?;
        let surface = trace.nodes.iter().position(|name| name == Place::Surface.word())?;
        let exit = trace
            .moments
            .iter()
            .find(|m| m.stage == 0 && m.moment == Moment::Exit)?;
        let exit_c = exit.temps_c.get(surface).copied().flatten()?;
        Some(ExitInputs {
            surface: ("heater.exit_offset_k".to_owned(), exit_c),
            base_c: exit_c - offset_k,
            core: None,
        })
    }
}

impl Model for LineModel {
    fn inputs(&self) -> &[Input] {
        &self.inputs
    }

    fn limits(&self) -> &[Limit] {
        match &self.judged {
            Some(judged) => &judged.limits,
            None => &self.document.plan().limits,
        }
    }

    fn handovers(&self) -> &[Handover] {
        &self.handovers
    }

    fn exit_inputs(&self) -> Option<&ExitInputs> {
        self.exit.get_or_init(|| self.find_exit_inputs()).as_ref()
    }

    fn steel_exit_c(&self) -> Option<f64> {
        let plan = self.document.plan();
        // What the steel says besides is no word of the file.
        let said = plan
            .limits
            .iter()
            .filter(|l| matches!(l.owner, Owner::Given | Owner::Target));
        let mut said = said.filter(|limit| matches!(limit.bound, Bound::MaxC(_)));
        let own = said.any(|limit| matches!(limit.moment, Moment::Exit | Moment::Always));
        let of = &plan.metal.limits;
        let start = of.start_max_c.as_ref().filter(|_| !own).map(|limit| limit.value);
        let never = of.never_exceed_c.as_ref().map(|limit| limit.value);
        start.into_iter().chain(never).reduce(f64::min)
    }

    fn run(&self, changes: &[Change]) -> Result<Outcome, ModelError> {
        let (cache, resolution) = (self.document.run_cache(), self.resolution());
        let values: Vec<(&str, f64)> = changes.iter().map(|c| (c.path.as_str(), c.value)).collect();
        let (verdicts, stages) = match cache.of(resolution, self.judged_by(), &values) {
            Some(came) => came,
            None => {
                let options = RunOptions {
                    resolution: self.resolution,
                    judge_all: self.judged.is_none(),
                    ..RunOptions::bare()
                };
                let plan = self.plan(changes)?;
                let came = run_judged(&plan, &options, self.document.heater_cache())
                    .map_err(|error| failed(changes, &error))?;
                cache.keep(resolution, self.judged_by(), &values, &came);
                came
            }
        };
        Ok(Outcome { verdicts, stages })
    }

    fn probe(&self, changes: &[Change], probe: &Probe) -> Result<f64, ModelError> {
        let trace = self.trace(changes, &RunOptions::bare())?;
        let missing = |what: &'static str, name: &str, known: Vec<&str>| ModelError::UnknownName {
            what,
            name: name.to_owned(),
            near: nearest(name, known),
        };
        let node = trace
            .nodes
            .iter()
            .position(|name| *name == probe.node)
            .ok_or_else(|| missing("node", &probe.node, trace.nodes.iter().map(String::as_str).collect()))?;
        let stage = trace
            .stages
            .iter()
            .position(|span| span.name == probe.stage)
            .ok_or_else(|| {
                let names = trace.stages.iter().map(|span| span.name.as_str()).collect();
                missing("stage", &probe.stage, names)
            })?;
        let of_stage: Vec<&Reading> = trace.moments.iter().filter(|reading| reading.stage == stage).collect();
        let blows = of_stage.iter().filter(|reading| reading.moment.is_blow()).count() as u32;
        let found = of_stage
            .iter()
            .find(|reading| probe.moment.covers(reading.moment, blows));
        found
            .and_then(|reading| reading.temps_c.get(node).copied().flatten())
            .ok_or_else(|| {
                let labels: Vec<String> = of_stage.iter().map(|reading| reading.moment.to_string()).collect();
                let labels = labels.iter().map(String::as_str).collect();
                missing("moment with that node", &probe.moment.to_string(), labels)
            })
    }
}
