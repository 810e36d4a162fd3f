//! Temperatures over a rectangular section.

use serde::Serialize;

use crate::numeric::interpolate::locate;

/// Temperatures over a quarter of a rectangular section, degC, from the axis to the corner.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SectionField {
    /// Relative places across, 0 in the middle and 1 at the upright face.
    pub across: Vec<f64>,
    /// Relative places up, 0 in the middle and 1 at the level face.
    pub up: Vec<f64>,
    /// Temperatures, the places across running fastest.
    pub temps_c: Vec<f64>,
}

impl SectionField {
    /// Temperature at a relative place (across, up), straight lines between the places and level
    /// beyond the first.
    pub fn at(&self, across: f64, up: f64) -> f64 {
        let find = |places: &[f64], s: f64| locate(places, |p| *p, s);
        let (Some(x), Some(y)) = (find(&self.across, across), find(&self.up, up)) else {
            return f64::NAN;
        };
        y.of(|j| x.of(|i| self.temps_c[j * self.across.len() + i]))
    }

    /// Points (relative distance, degC) from the axis to the corner.
    pub fn diagonal(&self) -> Vec<(f64, f64)> {
        self.across.iter().map(|s| (*s, self.at(*s, *s))).collect()
    }
}
