//! What a warm-up is asked, and why there is none.

use thiserror::Error;

use crate::line::plan::Resolution;
use crate::line::run::RunError;

/// What to work out.
#[derive(Debug, Clone, PartialEq)]
pub struct WarmupOptions {
    /// Number of parts from the start of the shift.
    pub parts: u32,
    /// Replaces the resolution of the plan.
    pub resolution: Option<Resolution>,
    /// Temperature of all dies at the start, in place of the plan's, degC.
    pub preheat_c: Option<f64>,
    /// Breaks from steady work to look at, min.
    pub breaks_min: Vec<f64>,
    /// Search for the state that repeats (breaks start from it).
    pub steady: bool,
    /// Search for the preheat that makes the first part good.
    pub preheat: bool,
}

impl Default for WarmupOptions {
    fn default() -> Self {
        WarmupOptions {
            parts: 30,
            resolution: None,
            preheat_c: None,
            breaks_min: Vec::new(),
            steady: true,
            preheat: true,
        }
    }
}

/// Why there is no warm-up.
#[derive(Debug, Error)]
pub enum WarmupError {
    /// A part failed.
    #[error(transparent)]
    Run(#[from] RunError),
    /// No time between parts.
    #[error("takt_s is missing in [shop]: a warm-up needs the time from part to part")]
    NoTakt,
    /// Nothing to warm up.
    #[error("no stage has dies that warm up: the line has neither forge nor trim, or its dies are fixed")]
    NoDies,
    /// A stage longer than the takt.
    #[error("stage `{stage}` holds its tools for {seconds:.2} s, longer than the takt of {takt_s:.2} s")]
    TaktTooShort {
        /// Stage name.
        stage: String,
        /// Its length in s.
        seconds: f64,
        /// Takt in s.
        takt_s: f64,
    },
    /// Spray and blow-off longer than the dies are free.
    #[error(
        "stage `{stage}`: spray and blow-off take {wanted_s:.2} s, but the dies are free for {free_s:.2} s of the takt"
    )]
    NoTimeToSpray {
        /// Stage name.
        stage: String,
        /// Spray and blow-off, s.
        wanted_s: f64,
        /// Time without a part, s.
        free_s: f64,
    },
    /// A number of parts outside the range.
    #[error("{parts} parts asked for, allowed 1 to 10000")]
    Parts {
        /// The number.
        parts: u32,
    },
    /// A break or preheat that is not in range.
    #[error("{what} of {value} {unit} asked for, allowed {low} to {high} {unit}")]
    OutOfRange {
        /// What.
        what: &'static str,
        /// The value.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// Lowest allowed.
        low: f64,
        /// Highest allowed.
        high: f64,
    },
}

impl WarmupError {
    /// Whether the input is to blame rather than the computation.
    pub fn is_input(&self) -> bool {
        !matches!(self, WarmupError::Run(_))
    }
}
