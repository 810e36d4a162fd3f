//! What a billet at the exit is judged by.

use serde::Serialize;

use super::gone::Gone;
use crate::heater::slice::Nodes;

/// Which temperature of the billet a lower limit is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Target {
    /// Temperature of the mean enthalpy.
    Mean,
    /// Surface at mid-length.
    Surface,
    /// Core at mid-length.
    Core,
}

impl Target {
    /// The temperature of a billet, degC.
    pub fn of(self, billet: &Gone) -> f64 {
        match self {
            Target::Mean => billet.mean_c,
            Target::Surface => billet.surface_c,
            Target::Core => billet.core_c,
        }
    }

    /// The temperature among those of a section or a billet, degC.
    pub fn among(self, nodes: &Nodes) -> f64 {
        match self {
            Target::Mean => nodes.mean_c,
            Target::Surface => nodes.surface_c,
            Target::Core => nodes.core_c,
        }
    }
}

/// When a billet at the exit is good.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Criteria {
    /// Lowest temperature and what it is about, degC.
    pub at_least: (Target, f64),
    /// Highest temperature of the same node, degC; `None` for no upper sort limit.
    pub at_most_c: Option<f64>,
    /// Never to be exceeded anywhere inside at any time, degC.
    pub never_above_c: f64,
    /// Largest difference between surface and core, K.
    pub difference_k: Option<f64>,
}

/// What the exit gate should do with a billet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// On to the line.
    Good,
    /// Below the lower limit: back, from cold.
    TooCold,
    /// Above a limit at some time: to be examined.
    TooHot,
    /// Surface and core too far apart.
    Uneven,
}

impl Criteria {
    /// The same for temperatures that are all so many kelvin higher.
    pub fn shifted(&self, by_k: f64) -> Criteria {
        Criteria {
            at_least: (self.at_least.0, self.at_least.1 + by_k),
            at_most_c: self.at_most_c.map(|c| c + by_k),
            never_above_c: self.never_above_c + by_k,
            difference_k: self.difference_k,
        }
    }

    /// Whether a temperature of the gated node, degC, is within the gate.
    pub fn admits(&self, value_c: f64) -> bool {
        value_c >= self.at_least.1 && self.at_most_c.is_none_or(|most| value_c <= most)
    }

    /// Judges a billet; too hot weighs most, for it cannot be mended.
    pub fn judge(&self, billet: &Gone) -> Verdict {
        let value = self.at_least.0.of(billet);
        if billet.peak_c > self.never_above_c || self.at_most_c.is_some_and(|m| value > m) {
            Verdict::TooHot
        } else if value < self.at_least.1 {
            Verdict::TooCold
        } else if self
            .difference_k
            .is_some_and(|d| (billet.surface_c - billet.core_c).abs() > d)
        {
            Verdict::Uneven
        } else {
            Verdict::Good
        }
    }
}
