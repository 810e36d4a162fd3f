//! Temperatures over a rectangular section.

use ndarray::ArrayView2;
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
    /// The temperatures as an array [up, across], degC; `None` when they are not one per place.
    pub fn array(&self) -> Option<ArrayView2<'_, f64>> {
        ArrayView2::from_shape((self.up.len(), self.across.len()), &self.temps_c).ok()
    }

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_and_array_agree() {
        let field = SectionField {
            across: vec![0.0, 0.5, 1.0],
            up: vec![0.0, 1.0],
            temps_c: vec![10.0, 20.0, 30.0, 40.0, 50.0, 60.0],
        };
        let array = field.array().unwrap();
        assert_eq!((array.dim(), array[[1, 0]], field.at(0.0, 1.0)), ((2, 3), 40.0, 40.0));
        assert_eq!([field.at(0.25, 0.5), field.at(2.0, -1.0)], [30.0, 30.0]);
    }
}
