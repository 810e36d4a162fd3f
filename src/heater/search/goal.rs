//! What a set-point search is to reach.

use serde::Serialize;

use crate::heater::error::{HeaterError, not_negative, positive};
use crate::heater::line::Target;
use crate::heater::slice::Nodes;

/// What is to be small once the target is reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Least {
    /// Energy at the terminals.
    Energy,
    /// Time with a surface above 900 degC.
    Scaling,
}

/// Target and limits of a search.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Goal {
    /// Which temperature is to be reached, at mid-length.
    pub target: Target,
    /// The temperature, degC.
    pub value_c: f64,
    /// When: this long after the exit, in still air, s (0 at the exit, or the time to the first blow).
    pub after_s: f64,
    /// Largest difference between surface and core at that moment, K.
    pub difference_k: Option<f64>,
    /// Never to be exceeded anywhere inside, degC.
    pub never_above_c: f64,
    /// How far off the target may be, and how far within the limits a search aims, K.
    pub tolerance_k: f64,
    /// What is to be small besides.
    pub least: Least,
}

impl Goal {
    /// Refuses a goal that contradicts itself.
    pub fn check(&self) -> Result<(), HeaterError> {
        not_negative("time after exit in s", self.after_s)?;
        positive("tolerance of the search in K", self.tolerance_k)?;
        if let Some(k) = self.difference_k {
            positive("largest surface-core difference in K", k)?;
        }
        if !(self.value_c.is_finite() && self.value_c < self.never_above_c) {
            return Err(HeaterError::GoalAboveLimit {
                target_c: self.value_c,
                never_above_c: self.never_above_c,
            });
        }
        Ok(())
    }

    /// The same for temperatures that are all so many kelvin higher.
    pub fn shifted(&self, by_k: f64) -> Goal {
        Goal {
            value_c: self.value_c + by_k,
            never_above_c: self.never_above_c + by_k,
            ..*self
        }
    }

    /// The limits that a search keeps, so that what it finds is within those that are judged: largest difference of
    /// surface and core, K, and never-exceed temperature, degC.
    pub(super) fn aimed(&self, margin_k: f64) -> (Option<f64>, f64) {
        let difference_k = self.difference_k.map(|k| (k - margin_k).max(0.5 * k));
        (difference_k, (self.never_above_c - margin_k).max(self.value_c))
    }

    /// What a billet of these node temperatures (degC) misses, whose hottest point ever was `peak_c` (degC).
    pub fn missed_by(&self, nodes: &Nodes, peak_c: f64) -> Vec<Missed> {
        let tolerance = self.tolerance_k;
        let mut missed = Vec::new();
        let value = self.target.among(nodes);
        let apart = (nodes.surface_c - nodes.core_c).abs();
        let miss = |miss, value, wanted| Missed { miss, value, wanted };
        if value < self.value_c - tolerance {
            missed.push(miss(Miss::TooCold, value, self.value_c));
        } else if value > self.value_c + tolerance {
            missed.push(miss(Miss::TooHot, value, self.value_c));
        }
        if let Some(allowed) = self.difference_k.filter(|k| apart > *k) {
            missed.push(miss(Miss::Uneven, apart, allowed));
        }
        if peak_c > self.never_above_c {
            missed.push(miss(Miss::PeakTooHot, peak_c, self.never_above_c));
        }
        missed
    }
}

impl Missed {
    /// The same for temperatures that are all so many kelvin higher.
    pub fn shifted(self, by_k: f64) -> Missed {
        let by_k = match self.miss {
            Miss::Uneven => 0.0,
            Miss::TooCold | Miss::TooHot | Miss::PeakTooHot => by_k,
        };
        Missed {
            value: self.value + by_k,
            wanted: self.wanted + by_k,
            ..self
        }
    }
}

/// One limit that the nearest result does not keep.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub enum Miss {
    /// The target is not reached.
    TooCold,
    /// The target is exceeded.
    TooHot,
    /// Surface and core lie too far apart.
    Uneven,
    /// The hottest point exceeds its limit.
    PeakTooHot,
}

/// A miss with its numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Missed {
    /// Which limit.
    pub miss: Miss,
    /// Value reached, degC or K.
    pub value: f64,
    /// Value wanted, degC or K.
    pub wanted: f64,
}

impl std::fmt::Display for Missed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (value, wanted) = (self.value, self.wanted);
        match self.miss {
            Miss::TooCold => write!(f, "target {wanted:.0} degC is missed from below: {value:.0} degC"),
            Miss::TooHot => write!(f, "target {wanted:.0} degC is missed from above: {value:.0} degC"),
            Miss::Uneven => write!(f, "surface and core differ by {value:.0} K, allowed {wanted:.0} K"),
            Miss::PeakTooHot => write!(f, "hottest point {value:.0} degC, allowed {wanted:.0} degC"),
        }
    }
}
