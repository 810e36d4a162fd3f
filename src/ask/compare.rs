//! Two or more lines side by side.

use serde::Serialize;

use crate::judge::Limit;
use crate::line::plan::{Input, InputValue};

use super::model::Outcome;

/// An input that is not the same in all lines.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Different {
    /// Path.
    pub path: String,
    /// Unit.
    pub unit: String,
    /// Value in each line as text; `None` where the line has no such input.
    pub values: Vec<Option<String>>,
}

/// A limit with its result in each line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SideBySide {
    /// The limit in words.
    pub limit: String,
    /// The limit itself, of the first line that has it.
    #[serde(skip)]
    pub about: Limit,
    /// Value and margin in K in each line; `None` where the line has no such limit.
    pub results: Vec<Option<(f64, f64)>>,
}

/// Inputs that differ, in the order of the first line that has them. Inputs that only follow from
/// others are left out.
#[must_use]
pub fn differences(lines: &[&[Input]]) -> Vec<Different> {
    let text = |input: &Input| match &input.value {
        InputValue::Number(value) => value.to_string(),
        InputValue::Word(word) => word.clone(),
    };
    let mut paths: Vec<(&str, &str)> = Vec::new();
    for inputs in lines {
        for input in inputs.iter().filter(|input| !input.follows) {
            if !paths.iter().any(|(path, _)| *path == input.path) {
                paths.push((input.path.as_str(), input.unit));
            }
        }
    }
    paths
        .into_iter()
        .filter_map(|(path, unit)| {
            let values: Vec<Option<String>> = lines
                .iter()
                .map(|inputs| inputs.iter().find(|i| i.path == path).map(text))
                .collect();
            let differs = values.windows(2).any(|pair| pair[0] != pair[1]);
            differs.then(|| Different {
                path: path.to_owned(),
                unit: unit.to_owned(),
                values,
            })
        })
        .collect()
}

/// Limits of all lines with their results; a limit is the same when its words are.
#[must_use]
pub fn side_by_side(outcomes: &[Outcome]) -> Vec<SideBySide> {
    let mut limits: Vec<(String, &Limit)> = Vec::new();
    for verdict in outcomes.iter().flat_map(|outcome| &outcome.verdicts) {
        let name = verdict.limit.to_string();
        if !limits.iter().any(|(known, _)| *known == name) {
            limits.push((name, &verdict.limit));
        }
    }
    limits
        .into_iter()
        .map(|(name, about)| SideBySide {
            results: outcomes
                .iter()
                .map(|outcome| {
                    let verdict = outcome.verdicts.iter().find(|v| v.limit.to_string() == name)?;
                    Some((verdict.value, verdict.margin_k))
                })
                .collect(),
            limit: name,
            about: about.clone(),
        })
        .collect()
}
