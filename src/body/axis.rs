//! One axis of an orthogonal grid.

use thiserror::Error;

/// What can be wrong with an axis or a grid.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum GridError {
    /// Fewer than one cell.
    #[error("an axis needs at least two faces, got {0}")]
    TooFewFaces(usize),
    /// Faces not strictly ascending or not finite.
    #[error("axis faces must ascend and be finite; face {index} is {value}")]
    NotAscending {
        /// Index of the offending face.
        index: usize,
        /// Its value in m.
        value: f64,
    },
    /// A cell size that is not above zero, or a ratio of neighbours below one.
    #[error("{what} of a graded axis is {value}; allowed: {allowed}")]
    Grading {
        /// Which number.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What it may be.
        allowed: &'static str,
    },
    /// More cells than anyone wants.
    #[error("an axis of {length_m} m has at most {MOST_CELLS} cells; the finest asked for is {fine_m} m")]
    TooManyCells {
        /// Smallest cell size asked for, m.
        fine_m: f64,
        /// Length of the axis, m.
        length_m: f64,
    },
    /// A radial axis below zero.
    #[error("a radial axis starts at {0} m; it cannot be negative")]
    NegativeRadius(f64),
    /// More than three axes, none, or more than one radial axis.
    #[error("a grid has one to three axes with at most one radial, got {axes} axes, {radial} radial")]
    Axes {
        /// Number of axes.
        axes: usize,
        /// Number of radial axes.
        radial: usize,
    },
    /// A mask of the wrong length, or without any active cell.
    #[error("the mask has {got} cells of which {active} active; the grid has {cells} cells")]
    Mask {
        /// Entries of the mask.
        got: usize,
        /// Active entries.
        active: usize,
        /// Cells of the grid.
        cells: usize,
    },
}

/// Most cells along one axis: far beyond what a computer of today solves, near enough to end a mistake.
const MOST_CELLS: usize = 1_000_000;

/// How lengths along an axis turn into volumes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AxisKind {
    /// A straight axis.
    Linear,
    /// The distance from an axis of rotation, full circle.
    Radial,
}

/// How fast cells grow away from a fine end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Growth {
    /// Ratio of neighbours while cells are smaller than `until_m`, where a fresh contact bends the
    /// temperature most.
    pub gentle: f64,
    /// Size up to which `gentle` holds, m.
    pub until_m: f64,
    /// Ratio of neighbours beyond.
    pub then: f64,
}

impl From<f64> for Growth {
    fn from(ratio: f64) -> Growth {
        Growth {
            gentle: ratio,
            until_m: 0.0,
            then: ratio,
        }
    }
}

impl Growth {
    fn after(self, size: f64) -> f64 {
        size * if size < self.until_m { self.gentle } else { self.then }
    }
}

/// Faces of the cells along one axis, in metres.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    kind: AxisKind,
    faces: Vec<f64>,
}

impl Axis {
    /// An axis from its faces (m), strictly ascending.
    ///
    /// # Errors
    /// Fewer than two faces, faces not ascending or not finite, a negative radius.
    pub fn new(kind: AxisKind, faces: Vec<f64>) -> Result<Axis, GridError> {
        if faces.len() < 2 {
            return Err(GridError::TooFewFaces(faces.len()));
        }
        if kind == AxisKind::Radial && faces[0] < 0.0 {
            return Err(GridError::NegativeRadius(faces[0]));
        }
        for (i, &f) in faces.iter().enumerate() {
            if !f.is_finite() || (i > 0 && f <= faces[i - 1]) {
                return Err(GridError::NotAscending { index: i, value: f });
            }
        }
        Ok(Axis { kind, faces })
    }

    /// `cells` equal cells from `low` to `high` (m).
    ///
    /// # Errors
    /// As [`Axis::new`], and more than a million cells.
    pub fn uniform(kind: AxisKind, low: f64, high: f64, cells: usize) -> Result<Axis, GridError> {
        if cells > MOST_CELLS {
            return Err(GridError::TooManyCells {
                fine_m: (high - low) / cells as f64,
                length_m: high - low,
            });
        }
        let faces = (0..=cells)
            .map(|i| low + (high - low) * i as f64 / cells.max(1) as f64)
            .collect();
        Axis::new(kind, faces)
    }

    /// Cells that grow geometrically from fine ends: `fine_low` and `fine_high` are the cell
    /// sizes (m) wanted at the ends (`None` for an end that needs none), `growth` the ratio of
    /// neighbours and `coarsest` the largest size. All cells are then scaled by one factor
    /// (between ½ and 1) to fit the length.
    ///
    /// # Errors
    /// As [`Axis::new`]; a size that is not above zero, a growth below 1, more than a million cells.
    pub fn graded(
        kind: AxisKind,
        low: f64,
        high: f64,
        fine_low: Option<f64>,
        fine_high: Option<f64>,
        growth: impl Into<Growth>,
        coarsest: f64,
    ) -> Result<Axis, GridError> {
        Axis::new(kind, vec![low, high])?;
        let growth = growth.into();
        for (what, value) in [
            ("finest cell at the lower end", fine_low),
            ("finest cell at the upper end", fine_high),
        ]
        .into_iter()
        .filter_map(|(what, value)| Some((what, value?)))
        .chain([("coarsest cell", coarsest)])
        {
            let allowed = "above 0 m";
            if value.is_nan() || value <= 0.0 {
                return Err(GridError::Grading { what, value, allowed });
            }
        }
        for (what, value) in [("gentle growth", growth.gentle), ("growth", growth.then)] {
            let allowed = "1 or more";
            if value.is_nan() || value < 1.0 {
                return Err(GridError::Grading { what, value, allowed });
            }
        }
        let sizes = graded_sizes(high - low, fine_low, fine_high, growth, coarsest)?;
        let mut faces = vec![low];
        let mut at = low;
        for s in &sizes {
            at += s;
            faces.push(at);
        }
        if let Some(last) = faces.last_mut() {
            *last = high;
        }
        Axis::new(kind, faces)
    }

    /// Joins spans that share end faces into one axis.
    ///
    /// # Errors
    /// As [`Axis::new`].
    pub fn joined(kind: AxisKind, spans: &[Axis]) -> Result<Axis, GridError> {
        let mut faces: Vec<f64> = Vec::new();
        for span in spans {
            let from = usize::from(!faces.is_empty());
            faces.extend_from_slice(&span.faces[from..]);
        }
        Axis::new(kind, faces)
    }

    /// The kind of the axis.
    pub fn kind(&self) -> AxisKind {
        self.kind
    }

    /// Cell faces in m, one more than cells.
    pub fn faces(&self) -> &[f64] {
        &self.faces
    }

    /// Number of cells.
    pub fn cells(&self) -> usize {
        self.faces.len() - 1
    }

    /// Middle of cell `i` in m.
    pub fn centre(&self, i: usize) -> f64 {
        0.5 * (self.faces[i] + self.faces[i + 1])
    }

    /// Size of cell `i` in m.
    pub fn size(&self, i: usize) -> f64 {
        self.faces[i + 1] - self.faces[i]
    }

    /// Factor of cell `i` in a volume: its length (m), or the ring area π(r₂² − r₁²) (m²).
    pub fn measure(&self, i: usize) -> f64 {
        let (a, b) = (self.faces[i], self.faces[i + 1]);
        match self.kind {
            AxisKind::Linear => b - a,
            AxisKind::Radial => std::f64::consts::PI * (b - a) * (b + a),
        }
    }

    /// Factor of face `i` in an area: 1, or the circumference 2πr (m).
    pub fn face_measure(&self, i: usize) -> f64 {
        match self.kind {
            AxisKind::Linear => 1.0,
            AxisKind::Radial => 2.0 * std::f64::consts::PI * self.faces[i],
        }
    }
}

/// Cell sizes for [`Axis::graded`].
fn graded_sizes(
    length: f64,
    fine_low: Option<f64>,
    fine_high: Option<f64>,
    growth: Growth,
    coarsest: f64,
) -> Result<Vec<f64>, GridError> {
    let mut low = Vec::new();
    let mut high = Vec::new();
    let mut next_low = fine_low.unwrap_or(coarsest).min(coarsest);
    let mut next_high = fine_high.unwrap_or(coarsest).min(coarsest);
    let mut sum = 0.0;
    // The finer front advances, so that the two fronts meet at equal sizes.
    while sum < length {
        if low.len() + high.len() >= MOST_CELLS {
            return Err(GridError::TooManyCells {
                fine_m: fine_low
                    .unwrap_or(coarsest)
                    .min(fine_high.unwrap_or(coarsest))
                    .min(coarsest),
                length_m: length,
            });
        }
        if next_low <= next_high {
            low.push(next_low);
            sum += next_low;
            next_low = growth.after(next_low).min(coarsest);
        } else {
            high.push(next_high);
            sum += next_high;
            next_high = growth.after(next_high).min(coarsest);
        }
    }
    let scale = length / sum;
    Ok(low.iter().chain(high.iter().rev()).map(|s| s * scale).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn graded_axis_fits_and_stays_smooth() {
        let axis = Axis::graded(AxisKind::Linear, 0.0, 0.14, Some(5e-5), Some(5e-5), 1.4, 5e-3).unwrap();
        assert_eq!(axis.faces()[0], 0.0);
        assert_eq!(*axis.faces().last().unwrap(), 0.14);
        assert!(axis.size(0) <= 5.0e-5 && axis.size(axis.cells() - 1) <= 5.0e-5 * 1.0001);
        for i in 1..axis.cells() {
            let ratio = axis.size(i) / axis.size(i - 1);
            assert!((0.6..1.6).contains(&ratio), "{i}: {ratio}");
        }
    }

    #[test]
    fn gradings_without_end_are_refused() {
        let graded = |low: f64, fine, growth: f64, coarsest| {
            Axis::graded(AxisKind::Radial, low, 0.1, fine, None, growth, coarsest)
        };
        let grading = |axis| matches!(axis, Err(GridError::Grading { .. }));
        assert!(graded(0.0, Some(1e-3), 1.4, 1e-2).is_ok() && graded(0.0, None, 1.0, f64::INFINITY).is_ok());
        for fine in [0.0, -1e-3, f64::NAN] {
            assert!(grading(graded(0.0, Some(fine), 1.4, 1e-2)) && grading(graded(0.0, None, 1.4, fine)));
        }
        assert!(grading(graded(0.0, Some(1e-3), 0.5, 1e-2)) && grading(graded(0.0, Some(1e-3), f64::NAN, 1e-2)));
        assert!(matches!(
            graded(0.0, Some(1e-12), 1.0, 1e-2),
            Err(GridError::TooManyCells { .. })
        ));
        assert!(matches!(
            graded(-0.01, Some(1e-3), 1.4, 1e-2),
            Err(GridError::NegativeRadius(_))
        ));
        assert!(matches!(
            graded(0.1, Some(1e-3), 1.4, 1e-2),
            Err(GridError::NotAscending { .. })
        ));
        assert!(graded(f64::NEG_INFINITY, None, 1.4, 1e-2).is_err());
        assert!(Axis::uniform(AxisKind::Linear, 0.0, 1.0, usize::MAX).is_err());
    }

    #[test]
    fn bad_axes_are_refused() {
        assert!(Axis::new(AxisKind::Linear, vec![0.0]).is_err());
        assert!(Axis::new(AxisKind::Linear, vec![0.0, 0.0]).is_err());
        assert!(Axis::new(AxisKind::Linear, vec![0.0, f64::NAN]).is_err());
        assert!(Axis::new(AxisKind::Radial, vec![-1.0, 1.0]).is_err());
    }
}
