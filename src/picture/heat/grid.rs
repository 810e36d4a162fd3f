//! The cells of a heat map as a smooth field, and the steps of its colour scale.

use super::super::palette::{Rgb, heat_colour, own_colour};
use super::super::ticks::nice_step;
use super::map::HeatMap;

/// The cells, checked by the caller to be as many as the faces say.
pub(super) struct Grid<'a> {
    pub(super) map: &'a HeatMap,
    pub(super) columns: usize,
    pub(super) rows: usize,
}

impl Grid<'_> {
    pub(super) fn cell(&self, i: usize, j: usize) -> Option<f64> {
        self.map
            .values
            .get(j * self.columns + i)
            .copied()
            .flatten()
            .filter(|v| v.is_finite())
    }

    pub(super) fn centre(faces: &[f64], i: usize) -> f64 {
        (faces[i] + faces[i + 1]) / 2.0
    }

    /// Value at a point of cell (i, j), between the centres of the cells around it; a missing
    /// neighbour counts as equal to the cell itself.
    pub(super) fn smooth(&self, i: usize, j: usize, x: f64, y: f64) -> Option<f64> {
        let own = self.cell(i, j)?;
        let neighbour = |faces: &[f64], k: usize, at: f64, last: usize| {
            let here = Self::centre(faces, k);
            let other = if at < here && k > 0 {
                k - 1
            } else if at > here && k + 1 < last {
                k + 1
            } else {
                return (k, 0.0);
            };
            (other, (at - here) / (Self::centre(faces, other) - here))
        };
        let (k, s) = neighbour(&self.map.across_faces, i, x, self.columns);
        let (l, t) = if self.rows > 1 {
            neighbour(&self.map.up_faces, j, y, self.rows)
        } else {
            (j, 0.0)
        };
        let side = self.cell(k, j).unwrap_or(own);
        let over = self.cell(i, l).unwrap_or(own);
        let both = self.cell(k, l).unwrap_or(own);
        Some((1.0 - t) * ((1.0 - s) * own + s * side) + t * ((1.0 - s) * over + s * both))
    }
}

/// The steps of the colour scale.
pub(super) struct Scale {
    pub(super) low: f64,
    pub(super) step: f64,
    pub(super) count: usize,
    own: bool,
}

impl Scale {
    pub(super) fn new(low: f64, high: f64, own: bool) -> Self {
        let raw = ((high - low) / 13.0).max(1.0);
        // steps of 25 and 250 as well, between the usual 20 and 50
        let quarter = 2.5 * nice_step(raw / 2.5);
        let step = if quarter >= 25.0 && quarter >= raw {
            quarter.min(nice_step(raw))
        } else {
            nice_step(raw)
        };
        let first = (low / step).floor();
        let count = ((high / step).ceil() - first).clamp(1.0, 60.0) as usize;
        Scale {
            low: first * step,
            step,
            count,
            own,
        }
    }

    pub(super) fn level(&self, value: f64) -> usize {
        (((value - self.low) / self.step).floor().max(0.0) as usize).min(self.count - 1)
    }

    pub(super) fn colour(&self, level: usize) -> Rgb {
        let share = (level as f64 + 0.5) / self.count as f64;
        if self.own {
            own_colour(share)
        } else {
            heat_colour(share)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn smooth_values_lie_between_their_cells() {
        let values = (0..6).map(|k| Some(f64::from(k) * 10.0)).collect();
        let map = HeatMap {
            across_faces: vec![0.0, 10.0, 20.0],
            up_faces: vec![0.0, 10.0, 20.0, 30.0],
            values,
            ..HeatMap::default()
        };
        let grid = Grid {
            map: &map,
            columns: 2,
            rows: 3,
        };
        assert_eq!(grid.smooth(0, 0, 5.0, 5.0), Some(0.0));
        assert_eq!(grid.smooth(0, 0, 10.0, 5.0), Some(5.0));
        assert_eq!(grid.smooth(0, 0, 10.0, 10.0), Some(15.0));
    }
}
