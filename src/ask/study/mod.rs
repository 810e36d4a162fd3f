//! The `[study]` tables of a line file: what scatters, which moves and devices there are, which
//! risks are accepted. They change nothing in a run of the line itself.

mod check;

use std::path::Path;

use serde::Serialize;

use super::PlanError;
use super::kinematics::MoveElements;
use super::model::Model;
use super::random::{Copula, Scheme};
use super::schedule::Activity;
use super::uncertainty::Scattered;
use crate::line::file::tables::RawStudy;
use crate::line::file::{LineFileError, read_study};
use crate::text::{Problems, Source};

/// A checked study.
#[derive(Debug, Clone, PartialEq)]
pub struct Study {
    /// Samples of a scatter study (default 10000).
    pub samples: u64,
    /// Seed of a scatter study (default 1).
    pub seed: u64,
    /// Sampling scheme (default quasi-random).
    pub scheme: Scheme,
    /// Confidence of every interval (default 0.95).
    pub confidence: f64,
    /// Risk that a part right at its reject time is bad (default 0.05).
    pub reject_risk: f64,
    /// Risk that a part right at its alarm time is bad (default 0.00135).
    pub alarm_risk: f64,
    /// Seconds that an alarm must have cleared before it goes (default 0.2).
    pub hysteresis_s: f64,
    /// Kelvin that a sort limit must have cleared before parts are accepted again (default 5).
    pub hysteresis_k: f64,
    /// Standard uncertainty of the exit temperature as measured on each part, K. With it the table for
    /// the controller takes the exit as measured; without it, as scattering.
    pub exit_sd_k: Option<f64>,
    /// Inputs that scatter.
    pub scattered: Vec<Scattered>,
    /// Pairs of scattered inputs (by index) with their correlation.
    pub correlations: Vec<(usize, usize, f64)>,
    /// Moves with their kinematics.
    pub moves: Vec<PlannedMove>,
    /// Devices of stages that are no moves.
    pub devices: Vec<StageDevice>,
    /// Activities beside the moves and stages.
    pub activities: Vec<Activity>,
}

/// A move of the line with the devices that make it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlannedMove {
    /// Name of the stage.
    pub stage: String,
    /// Devices busy with it: two for robots that move together or hold a bar at both ends.
    pub devices: Vec<String>,
    /// Devices that take turns with it, from part to part.
    pub alternate: Vec<String>,
    /// What it consists of.
    pub elements: MoveElements,
    /// Cost weight for sharing by cost (default 1).
    pub cost: f64,
}

/// A device and the stages it is busy with.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StageDevice {
    /// Name of the device.
    pub name: String,
    /// Names of the stages.
    pub stages: Vec<String>,
}

impl Study {
    /// Copula of the correlations; `None` when all inputs are independent.
    ///
    /// # Errors
    /// Correlations that contradict each other.
    pub fn copula(&self) -> Result<Option<Copula>, PlanError> {
        if self.correlations.is_empty() {
            return Ok(None);
        }
        Copula::new(self.scattered.len(), &self.correlations).map(Some)
    }

    /// Reads and checks the `[study]` tables of the text of a line file; paths of data files are
    /// relative to the folder of `path`. Without such tables all is at its default and nothing
    /// scatters.
    ///
    /// # Errors
    /// All that is wrong with them, each with its place.
    pub fn read(text: &str, path: &Path, model: &dyn Model) -> Result<Self, LineFileError> {
        let source = Source::new(text);
        let given = read_study(&source, path)?;
        let blank = RawStudy::default();
        check::check(given.value().unwrap_or(&blank), &source, path, model)
            .map_err(|list| LineFileError::Wrong(Box::new(Problems::new(path, text, list))))
    }
}
