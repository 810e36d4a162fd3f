//! What the planner needs of a line: its inputs, its limits, its hand-overs, and runs with some
//! inputs changed.
//!
//! The one way to change a number is a [`Change`]: a path and a value. Searches, sensitivities,
//! scatter and comparison all go through [`Model::run`].

use crate::judge::{Kind, Limit, Moment, StageSpan, Verdict};
use crate::line::plan::Input;
use crate::text::nearest;

/// A number of the line file set to another value.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// Path of the input, for example `stage.upsetter.contact_ms`.
    pub path: String,
    /// New value in the unit of the input.
    pub value: f64,
}

impl Change {
    /// A change of the input at `path`.
    pub fn new(path: impl Into<String>, value: f64) -> Self {
        Self {
            path: path.into(),
            value,
        }
    }
}

/// A hand-over: a stage whose length is free to vary.
#[derive(Debug, Clone, PartialEq)]
pub struct Handover {
    /// Name of the stage.
    pub stage: String,
    /// Kind of the stage.
    pub kind: Kind,
    /// Path of its seconds.
    pub path: String,
    /// Planned length, s.
    pub seconds: f64,
    /// Shortest length that the line file allows, s.
    pub least_s: f64,
}

/// The inputs that set the temperature at heater exit.
#[derive(Debug, Clone, PartialEq)]
pub struct ExitInputs {
    /// Path of the input that sets the temperature that a pyrometer sees, and that temperature in the
    /// nominal run, degC.
    pub surface: (String, f64),
    /// The temperature at which that input is zero, degC: zero where the input is the temperature
    /// itself, that of the computed exit where the input shifts it.
    pub base_c: f64,
    /// Path and nominal value in degC of the core temperature where it is given on its own; it is
    /// shifted together with the surface.
    pub core: Option<(String, f64)>,
}

impl ExitInputs {
    /// How much hotter than the surface the core leaves the heater, K; zero where it is colder.
    #[must_use]
    pub fn hotter_inside_k(&self) -> f64 {
        self.core
            .as_ref()
            .map_or(0.0, |(_, core_c)| (core_c - self.surface.1).max(0.0))
    }

    /// Changes that bring the surface to `surface_c` with the core as far from it as before.
    #[must_use]
    pub fn at(&self, surface_c: f64) -> Vec<Change> {
        let mut changes = vec![Change::new(self.surface.0.clone(), surface_c - self.base_c)];
        if let Some((path, core_c)) = &self.core {
            changes.push(Change::new(path.clone(), core_c + surface_c - self.surface.1));
        }
        changes
    }
}

/// A node at a moment, to be read from a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Probe {
    /// Stage name.
    pub stage: String,
    /// Moment in the stage, as in a limit.
    pub moment: Moment,
    /// Node name.
    pub node: String,
}

/// Result of one run.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// One verdict per limit, in the order of [`Model::limits`].
    pub verdicts: Vec<Verdict>,
    /// Stages on the time axis.
    pub stages: Vec<StageSpan>,
}

impl Outcome {
    /// Whether every limit holds.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.verdicts.iter().all(|v| v.holds)
    }

    /// Heater exit to the end of the last stage before the conveyor, s.
    #[must_use]
    pub fn hot_time_s(&self) -> f64 {
        let hot = self.stages.iter().filter(|span| span.kind != Kind::Cool);
        hot.map(|span| span.end_s).fold(0.0, f64::max)
    }

    /// Margin in K of every limit.
    #[must_use]
    pub fn margins_k(&self) -> Vec<f64> {
        self.verdicts.iter().map(|v| v.margin_k).collect()
    }

    /// The limit with the smallest margin.
    #[must_use]
    pub fn tightest(&self) -> Option<usize> {
        let mut best: Option<usize> = None;
        for (k, verdict) in self.verdicts.iter().enumerate() {
            if best.is_none_or(|b| verdict.margin_k < self.verdicts[b].margin_k) {
                best = Some(k);
            }
        }
        best
    }
}

/// Why a run with changed inputs gave no result.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ModelError {
    /// A path that names no input.
    #[error("no input is called `{path}`{}", near.as_ref().map(|n| format!("; did you mean `{n}`?")).unwrap_or_default())]
    UnknownInput {
        /// The path given.
        path: String,
        /// Nearest path there is.
        near: Option<String>,
    },
    /// A stage, node or moment that is not there.
    #[error("{what} `{name}` is not there{}", near.as_ref().map(|n| format!("; did you mean `{n}`?")).unwrap_or_default())]
    UnknownName {
        /// Stage, node, moment, limit.
        what: &'static str,
        /// The name given.
        name: String,
        /// Nearest there is.
        near: Option<String>,
    },
    /// The changed line file is not valid.
    #[error("with {changes}: {message}")]
    Refused {
        /// The changes in words.
        changes: String,
        /// What the check said.
        message: String,
    },
    /// The computation failed.
    #[error("with {changes}: the computation failed: {message}")]
    Failed {
        /// The changes in words.
        changes: String,
        /// What the run said.
        message: String,
    },
}

/// Changes in words, for messages: `a = 1, b = 2`, or `nothing changed`.
#[must_use]
pub fn in_words(changes: &[Change]) -> String {
    if changes.is_empty() {
        return "nothing changed".to_owned();
    }
    let parts: Vec<String> = changes.iter().map(|c| format!("{} = {}", c.path, c.value)).collect();
    parts.join(", ")
}

/// Something that can be run with some of its inputs changed.
pub trait Model: Sync {
    /// Every addressable input.
    fn inputs(&self) -> &[Input];

    /// The limits, in the order of the verdicts.
    fn limits(&self) -> &[Limit];

    /// Hand-overs and waits in the order of the line.
    fn handovers(&self) -> &[Handover];

    /// The inputs that set the exit temperature, where there are such.
    fn exit_inputs(&self) -> Option<&ExitInputs>;

    /// Highest exit temperature of the metal in degC by its own limits, where it has such and the line
    /// does not set one of its own at the exit.
    fn steel_exit_c(&self) -> Option<f64> {
        None
    }

    /// Runs with the changes applied.
    ///
    /// # Errors
    /// [`ModelError`].
    fn run(&self, changes: &[Change]) -> Result<Outcome, ModelError>;

    /// Temperature in degC of a node at a moment, with the changes applied.
    ///
    /// # Errors
    /// [`ModelError`].
    fn probe(&self, changes: &[Change], probe: &Probe) -> Result<f64, ModelError>;

    /// Input by path.
    ///
    /// # Errors
    /// [`ModelError::UnknownInput`] with the nearest path there is.
    fn input(&self, path: &str) -> Result<&Input, ModelError> {
        let inputs = self.inputs();
        inputs
            .iter()
            .find(|input| input.path == path)
            .ok_or_else(|| ModelError::UnknownInput {
                path: path.to_owned(),
                near: nearest(path, inputs.iter().map(|input| input.path.as_str())),
            })
    }

    /// Nominal number of the input at `path`.
    ///
    /// # Errors
    /// [`ModelError::UnknownInput`], also for an input that is not a number.
    fn number(&self, path: &str) -> Result<f64, ModelError> {
        self.input(path)?.number().ok_or_else(|| ModelError::UnknownName {
            what: "the number",
            name: path.to_owned(),
            near: None,
        })
    }
}
