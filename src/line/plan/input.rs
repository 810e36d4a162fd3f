//! An addressable input of the plan.

use std::borrow::Cow;

use serde::Serialize;

use crate::judge::Owner;
use crate::text::Allowed;

/// Value of an input, in the unit of the file.
#[derive(Debug, Clone, PartialEq)]
pub enum InputValue {
    /// A number.
    Number(f64),
    /// A word or name.
    Word(String),
}

/// One input with its owner.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Path, for example `stage.upsetter.blows`; what [`crate::line::file::Document`] takes to set it.
    pub path: String,
    /// Value in `unit`.
    pub value: InputValue,
    /// Unit as in the key: `mm`, `s`, `degC`, ...; empty for a plain number or a word.
    pub unit: &'static str,
    /// Who set it.
    pub owner: Owner,
    /// Source for library values, reason for defaults, the line in the file for given ones.
    pub source: Cow<'static, str>,
    /// Whether it was computed from other inputs, so that it changes when they do.
    pub follows: bool,
    /// Range that the check accepts, for numbers.
    pub allowed: Option<Allowed>,
    /// Whether only whole numbers are taken.
    pub whole: bool,
    /// Standard deviation of what is known of it, where it was fitted to measurements.
    pub sd: Option<f64>,
}

/// An input of the run with its owner.
#[derive(Debug, Clone, Serialize)]
pub struct InputRecord {
    /// Path in the line file, for example `stage.upsetter.blows`.
    pub path: String,
    /// Value as text.
    pub value: String,
    /// Unit, empty for a plain number or a name.
    pub unit: String,
    /// Who set it.
    pub owner: Owner,
    /// Source for library values, reason for defaults.
    pub source: String,
}

impl Input {
    /// The value as a number, if it is one.
    pub fn number(&self) -> Option<f64> {
        match self.value {
            InputValue::Number(value) => Some(value),
            InputValue::Word(_) => None,
        }
    }

    /// As a record for the result.
    pub fn record(&self) -> InputRecord {
        InputRecord {
            path: self.path.clone(),
            value: match &self.value {
                InputValue::Number(value) => value.to_string(),
                InputValue::Word(word) => word.clone(),
            },
            unit: self.unit.to_owned(),
            owner: self.owner,
            source: self.source.to_string(),
        }
    }
}
