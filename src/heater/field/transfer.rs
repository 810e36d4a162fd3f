//! Heat from the field grid to a thermal grid, and temperatures the other way.

use super::{FieldWorkspace, LineSection, Symmetry};
use crate::heater::error::HeaterError;
use crate::numeric::interpolate::{Between, locate};

/// Shares of source cells in target cells along one line, sparse by target cell.
#[derive(Debug, Clone)]
pub(super) struct Overlap {
    start: Vec<usize>,
    cell: Vec<usize>,
    share: Vec<f64>,
}

impl Overlap {
    /// Overlap of source cells (`nodes` from 0 to the half size) with target cells (`faces`),
    /// both measured by `measure(lo, hi)`. Positions of the target are taken relative to `centre`
    /// and may lie on both sides of it, or on one.
    pub(super) fn new(
        nodes: &[f64],
        faces: &[f64],
        centre: f64,
        measure: impl Fn(f64, f64) -> f64,
    ) -> Result<Overlap, HeaterError> {
        check_faces(nodes, faces, centre)?;
        let mut overlap = Overlap {
            start: vec![0],
            cell: Vec::new(),
            share: Vec::new(),
        };
        for w in faces.windows(2) {
            let (a, b) = (w[0] - centre, w[1] - centre);
            // A cell across the centre counts on both sides of it.
            let sides = if a < 0.0 && b > 0.0 {
                [(0.0, -a), (0.0, b)]
            } else if b <= 0.0 {
                [(-b, -a), (0.0, 0.0)]
            } else {
                [(a, b), (0.0, 0.0)]
            };
            for (lo, hi) in sides {
                let first = nodes.partition_point(|&x| x <= lo).max(1) - 1;
                for c in first..nodes.len() - 1 {
                    // The last cell takes in what rounding left outside.
                    let end = if c + 2 == nodes.len() {
                        nodes[c + 1].max(hi)
                    } else {
                        nodes[c + 1]
                    };
                    let (from, to) = (lo.max(nodes[c]), hi.min(end));
                    if nodes[c] >= hi {
                        break;
                    }
                    if to > from {
                        overlap.cell.push(c);
                        overlap.share.push(measure(from, to) / measure(nodes[c], nodes[c + 1]));
                    }
                }
            }
            overlap.start.push(overlap.cell.len());
        }
        Ok(overlap)
    }

    /// Number of target cells.
    pub(super) fn targets(&self) -> usize {
        self.start.len() - 1
    }

    /// Pairs (source cell, share) of a target cell.
    pub(super) fn of(&self, target: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        let range = self.start[target]..self.start[target + 1];
        self.cell[range.clone()]
            .iter()
            .copied()
            .zip(self.share[range].iter().copied())
    }
}

fn increasing(values: &[f64]) -> bool {
    values.windows(2).all(|w| w[1] > w[0])
}

fn check_faces(nodes: &[f64], faces: &[f64], centre: f64) -> Result<(), HeaterError> {
    let bad = |problem: String| {
        Err(HeaterError::BadGrid {
            name: "thermal",
            problem,
        })
    };
    if faces.len() < 2 || !increasing(faces) {
        return bad("faces must be at least two and increase".into());
    }
    let half = nodes[nodes.len() - 1];
    let (low, high) = (faces[0] - centre, faces[faces.len() - 1] - centre);
    let near = |x: f64, y: f64| (x - y).abs() <= 1e-9 * half;
    let whole = near(low, -half) && near(high, half);
    let side = (near(low, 0.0) && near(high, half)) || (near(low, -half) && near(high, 0.0));
    if !(whole || side) {
        return bad(format!(
            "faces run from {low:.9} m to {high:.9} m about the centre, the section to {half:.9} m"
        ));
    }
    Ok(())
}

/// Hands the loss of a [`LineSection`] to the cells of a thermal grid by exact overlap: the sum
/// over the thermal cells equals the power through the surface to rounding.
#[derive(Debug, Clone)]
pub struct Transfer {
    overlap: Overlap,
    factor: f64,
}

impl Transfer {
    /// Prepares the transfer to a thermal line with the given cell faces (m). `centre` is the
    /// place of the axis or mid-plane on that line (0 for a radius). The faces may cover the
    /// section on one side of the mid-plane or on both.
    pub fn new(section: &LineSection, faces: &[f64], centre: f64) -> Result<Transfer, HeaterError> {
        let (overlap, factor) = match section.symmetry() {
            Symmetry::Radial => (
                Overlap::new(section.nodes(), faces, centre, |a, b| (b - a) * (b + a))?,
                2.0 * std::f64::consts::PI,
            ),
            Symmetry::Planar => (Overlap::new(section.nodes(), faces, centre, |a, b| b - a)?, 1.0),
        };
        Ok(Transfer { overlap, factor })
    }

    /// Heat of each thermal cell at a surface field of `h0` [A/m RMS]: W per metre of length for a
    /// cylinder, W per square metre of face for a plate.
    pub fn heat(&self, work: &FieldWorkspace, h0: f64, out: &mut [f64]) {
        let scale = self.factor * h0 * h0;
        for (k, value) in out.iter_mut().enumerate().take(self.overlap.targets()) {
            let sum: f64 = self.overlap.of(k).map(|(c, share)| share * work.cell_loss(c)).sum();
            *value = scale * sum;
        }
    }
}

/// Linear interpolation from temperatures at given places to the middles of the field's cells;
/// level beyond the first and last place.
#[derive(Debug, Clone)]
pub struct Sampler {
    targets: Vec<Between>,
    /// Number of places.
    places: usize,
}

impl Sampler {
    /// Prepares the interpolation from `places` [m, increasing] to `targets` (m).
    pub fn new(places: &[f64], targets: &[f64]) -> Result<Sampler, HeaterError> {
        if places.is_empty() || !increasing(places) {
            return Err(HeaterError::BadGrid {
                name: "thermal",
                problem: "places of temperatures must increase".into(),
            });
        }
        Ok(Sampler {
            targets: targets.iter().filter_map(|x| locate(places, |p| *p, *x)).collect(),
            places: places.len(),
        })
    }

    /// Interpolates `values` (one per place) into `out` (one per target).
    pub fn sample(&self, values: &[f64], out: &mut [f64]) {
        for (value, between) in out.iter_mut().zip(&self.targets) {
            *value = between.of(|k| values[k]);
        }
    }

    /// Interpolates over a section: this one across (running fastest in `values` and `out`), `up` the
    /// other way.
    pub fn sample_both(&self, up: &Sampler, values: &[f64], out: &mut [f64]) {
        let row = self.places;
        for (cells, y) in out.chunks_exact_mut(self.targets.len()).zip(&up.targets) {
            for (value, x) in cells.iter_mut().zip(&self.targets) {
                *value = y.of(|j| x.of(|i| values[j * row + i]));
            }
        }
    }
}
