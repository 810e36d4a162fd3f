//! Contact coefficients at the low, typical and high end of what is published.

use serde::Serialize;

use crate::judge::Verdict;
use crate::line::Trace;
use crate::line::file::{Document, LineFileError};
use crate::line::plan::Plan;
use crate::line::run::{RunError, RunOptions, run};
use crate::line::trace::Owner;
use crate::surface::Situation;

/// Which end of the published spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// The lowest published order.
    Low,
    /// What the line file says and the program's defaults.
    Typical,
    /// The highest published order.
    High,
}

/// All levels in order.
pub const LEVELS: [Level; 3] = [Level::Low, Level::Typical, Level::High];

impl Level {
    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Level::Low => "low",
            Level::Typical => "typical",
            Level::High => "high",
        }
    }
}

/// Coefficients of a line file with the situation that each is for.
const COEFFICIENTS: [(&str, Situation); 7] = [
    ("die.resting_w_m2k", Situation::Resting),
    ("die.pressed_w_m2k", Situation::Gripped),
    ("die.blow_w_m2k", Situation::Blow),
    ("die.flash_w_m2k", Situation::FlashLand),
    ("die.gap_w_m2k", Situation::Gap),
    ("grip.w_m2k", Situation::Gripped),
    ("support.w_m2k", Situation::Resting),
];

/// Path and value [W/m²K] of every coefficient that the file leaves to the program, at a level. Those
/// that the user gives are the user's and stay.
pub fn contact_values(document: &Document, level: Level) -> Vec<(&'static str, f64)> {
    if level == Level::Typical {
        return Vec::new();
    }
    COEFFICIENTS
        .iter()
        .filter(|(path, _)| {
            document
                .input(path)
                .is_some_and(|input| input.owner == Owner::Default && !input.follows)
        })
        .map(|(path, situation)| {
            let (low, high) = situation.published_range();
            (*path, if level == Level::Low { low } else { high })
        })
        .collect()
}

/// The plan with its contact at a level.
///
/// # Errors
/// A file that the values make invalid.
pub fn with_contact(document: &Document, level: Level) -> Result<Plan, LineFileError> {
    document.with(&contact_values(document, level))
}

/// The verdicts of one level.
#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct LevelVerdicts {
    /// Which level.
    pub contact: Level,
    /// The verdicts.
    pub verdicts: Vec<Verdict>,
}

/// The verdicts at the low, typical and high end of what is published of contact.
#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct ContactSpread {
    /// Paths of the coefficients that the file leaves to the program.
    pub coefficients: Vec<&'static str>,
    /// Low, typical, high.
    pub levels: [LevelVerdicts; 3],
}

/// Why the levels could not be run.
#[derive(Debug, thiserror::Error)]
pub enum SpreadError {
    /// The values make the file invalid.
    #[error(transparent)]
    File(#[from] LineFileError),
    /// A run failed.
    #[error(transparent)]
    Run(#[from] RunError),
}

impl ContactSpread {
    /// Runs the line at the two ends; the trace is the typical level.
    ///
    /// # Errors
    /// Values that the file does not allow, a run that fails.
    pub fn of(document: &Document, trace: &Trace) -> Result<ContactSpread, SpreadError> {
        let end = |level: Level| -> Result<LevelVerdicts, SpreadError> {
            let plan = with_contact(document, level)?;
            Ok(LevelVerdicts {
                contact: level,
                verdicts: run(&plan, &RunOptions::bare())?.verdicts,
            })
        };
        let typical = LevelVerdicts {
            contact: Level::Typical,
            verdicts: trace.verdicts.clone(),
        };
        Ok(ContactSpread {
            coefficients: contact_values(document, Level::Low)
                .iter()
                .map(|(path, _)| *path)
                .collect(),
            levels: [end(Level::Low)?, typical, end(Level::High)?],
        })
    }
}
