//! Shells and columns of cells in the order that the material keeps.

use super::grid::Grid;

/// Cells in their order from bottom to top.
#[derive(Clone)]
pub(super) struct Shell {
    pub cells: Vec<usize>,
    /// Where each cell ends in the volume of the shell, the whole being one.
    pub ends: Vec<f64>,
    pub volume: f64,
}

impl Shell {
    /// A shell of some cells of a grid; none without material.
    pub fn of(grid: &Grid, cells: Vec<usize>) -> Option<Shell> {
        let volumes: Vec<f64> = cells.iter().map(|c| grid.volume()[*c]).collect();
        let volume = volumes.iter().sum();
        (volume > 0.0).then(|| Shell {
            ends: ends(&volumes),
            cells,
            volume,
        })
    }
}

/// Columns of a section of `grid` from left to right.
pub(super) fn columns(grid: &Grid, block: usize) -> Vec<Shell> {
    let [rows, width, _] = grid.shape();
    let (first, count) = match grid.blocks().get(block) {
        Some(b) => (b.first, b.axes[1].cells()),
        None => (0, width),
    };
    (first..first + count)
        .filter_map(|j| {
            let cells: Vec<usize> = (0..rows).map(|i| i * width + j).filter(|c| grid.active()[*c]).collect();
            Shell::of(grid, cells)
        })
        .collect()
}

/// Ends of the parts of a whole that is one, given their sizes.
pub(super) fn ends(parts: &[f64]) -> Vec<f64> {
    let total: f64 = parts.iter().sum();
    let mut at = 0.0;
    let mut ends: Vec<f64> = parts
        .iter()
        .map(|p| {
            at += p / total;
            at
        })
        .collect();
    if let Some(last) = ends.last_mut() {
        *last = 1.0;
    }
    ends
}

/// Overlaps of two partitions of the unit interval given by the ends of their parts: index in the
/// first, index in the second, length.
pub(super) fn overlaps(a: &[f64], b: &[f64], mut seen: impl FnMut(usize, usize, f64)) {
    let (mut i, mut j, mut at) = (0, 0, 0.0);
    while i < a.len() && j < b.len() {
        let end = a[i].min(b[j]);
        // Slivers of rounding would only add noise to the table.
        if end - at > 1e-13 {
            seen(i, j, end - at);
            at = end;
        }
        let (next_i, next_j) = (a[i] <= end + 1e-13, b[j] <= end + 1e-13);
        i += usize::from(next_i);
        j += usize::from(next_j);
    }
}
