//! Process temperatures of a forging grade.

use super::Provenance;

/// A value with its source.
#[derive(Debug, Clone, PartialEq)]
pub struct Sourced<T> {
    /// The value.
    pub value: T,
    /// Where it comes from.
    pub source: String,
    /// Who owns it.
    pub provenance: Provenance,
}

/// The temperatures that bound forging. Any of them may be unknown.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ProcessLimits {
    /// No point of the part may ever be hotter, degC (burning, overheating).
    pub never_exceed_c: Option<Sourced<f64>>,
    /// Highest temperature at the heater exit, degC.
    pub start_max_c: Option<Sourced<f64>>,
    /// Lowest temperature at a blow, degC.
    pub forging_min_c: Option<Sourced<f64>>,
    /// Lowest temperature at trimming, degC.
    pub trim_min_c: Option<Sourced<f64>>,
    /// Highest temperature at trimming, degC.
    pub trim_max_c: Option<Sourced<f64>>,
}

impl ProcessLimits {
    /// The limits that are known, each with its key in material files.
    pub fn known(&self) -> Vec<(&'static str, &Sourced<f64>)> {
        [
            ("never_exceed_c", &self.never_exceed_c),
            ("start_max_c", &self.start_max_c),
            ("forging_min_c", &self.forging_min_c),
            ("trim_min_c", &self.trim_min_c),
            ("trim_max_c", &self.trim_max_c),
        ]
        .into_iter()
        .filter_map(|(name, limit)| limit.as_ref().map(|l| (name, l)))
        .collect()
    }
}
