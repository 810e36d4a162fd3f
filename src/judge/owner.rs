//! Who set a number.

use serde::{Deserialize, Serialize};

/// Who owns a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum Owner {
    /// Given by the user in the line file.
    Given,
    /// From the steel library or a steel file, with its source.
    Library,
    /// A default of the program.
    Default,
    /// Fitted to measurements of the line: a calibration file.
    Measured,
    /// The target of a computed heater.
    Target,
}

impl Owner {
    /// The word of results.
    pub fn word(self) -> &'static str {
        match self {
            Owner::Given => "given",
            Owner::Library => "library",
            Owner::Default => "default",
            Owner::Measured => "measured",
            Owner::Target => "target",
        }
    }
}
