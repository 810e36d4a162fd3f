//! From when on a hot surface counts as scaling.

/// Surface temperature above which the time is counted as scaling, degC: common practice.
pub(crate) const SCALING_C: f64 = 900.0;
