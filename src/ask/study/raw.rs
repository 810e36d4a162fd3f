//! The study tables as they stand in the text.

use std::ops::Range;
use std::path::Path;

use serde::Deserialize;
use toml::Spanned;

use super::error::{StudyError, StudyProblem};

#[derive(Deserialize)]
struct Whole {
    #[serde(default)]
    study: RawStudy,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawStudy {
    pub samples: Option<Spanned<i64>>,
    pub seed: Option<Spanned<i64>>,
    pub scheme: Option<Spanned<String>>,
    pub confidence: Option<Spanned<f64>>,
    pub reject_risk: Option<Spanned<f64>>,
    pub alarm_risk: Option<Spanned<f64>>,
    pub exit_sd_k: Option<Spanned<f64>>,
    pub hysteresis_s: Option<Spanned<f64>>,
    pub hysteresis_k: Option<Spanned<f64>>,
    #[serde(default)]
    pub scatter: Vec<Spanned<RawScatter>>,
    #[serde(default)]
    pub correlation: Vec<Spanned<RawCorrelation>>,
    #[serde(default, rename = "move")]
    pub moves: Vec<Spanned<RawMove>>,
    #[serde(default)]
    pub device: Vec<Spanned<RawDevice>>,
    #[serde(default)]
    pub activity: Vec<Spanned<RawActivity>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawDevice {
    pub name: String,
    pub stages: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawScatter {
    pub input: String,
    pub kind: String,
    pub mean: Option<f64>,
    pub sd: Option<f64>,
    pub low: Option<f64>,
    pub mode: Option<f64>,
    pub high: Option<f64>,
    pub offset: Option<f64>,
    pub file: Option<String>,
    pub column: Option<String>,
    pub retry_probability: Option<f64>,
    pub retry_s: Option<f64>,
    pub retry_sd_s: Option<f64>,
    pub most_retries: Option<u32>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawCorrelation {
    pub inputs: (String, String),
    pub correlation: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawMove {
    pub stage: String,
    #[serde(default)]
    pub devices: Vec<String>,
    pub distance_m: f64,
    pub speed_m_s: f64,
    pub acceleration_m_s2: f64,
    pub jerk_m_s3: Option<f64>,
    #[serde(default)]
    pub settle_s: f64,
    #[serde(default)]
    pub settle_s_per_kg: f64,
    #[serde(default)]
    pub payload_kg: f64,
    #[serde(default)]
    pub grip_s: f64,
    #[serde(default)]
    pub release_s: f64,
    #[serde(default)]
    pub repeat_sd_s: f64,
    #[serde(default)]
    pub retry_probability: f64,
    #[serde(default)]
    pub retry_s: f64,
    pub most_retries: Option<u32>,
    pub cost: Option<f64>,
    #[serde(default)]
    pub wait: Vec<RawWait>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawWait {
    pub name: String,
    #[serde(default)]
    pub least_s: f64,
    pub most_s: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawActivity {
    pub name: String,
    #[serde(default)]
    pub devices: Vec<String>,
    pub seconds: f64,
    #[serde(default)]
    pub after: Vec<String>,
    #[serde(default)]
    pub not_before_s: f64,
}

pub(super) fn parse(text: &str, path: &Path) -> Result<RawStudy, StudyError> {
    let whole: Whole = toml::from_str(text).map_err(|error| StudyError {
        path: path.to_owned(),
        line: line_of(text, error.span().unwrap_or(0..0)),
        problem: StudyProblem::Text(error.message().to_owned()),
    })?;
    Ok(whole.study)
}

/// Line number from 1 of the start of a span.
pub(super) fn line_of(text: &str, span: Range<usize>) -> usize {
    let end = span.start.min(text.len());
    1 + text.as_bytes()[..end].iter().filter(|b| **b == b'\n').count()
}
