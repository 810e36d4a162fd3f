//! One cross-section of a long part in a grid of several.

use super::axis::Axis;

/// One cross-section in a [`Grid`](super::Grid) of several.
#[derive(Debug, Clone)]
pub struct Block {
    /// Name of the section.
    pub name: String,
    /// Whether only the half right of x = 0 is meshed and counts twice.
    pub symmetric: bool,
    /// Length of the part that it stands for, m.
    pub length_m: f64,
    /// Height axis, then width axis.
    pub axes: Vec<Axis>,
    /// Its first column in the grid.
    pub first: usize,
}

impl Block {
    /// What an area of the mesh counts in volume: length times symmetric copies, m.
    pub fn depth_m(&self) -> f64 {
        self.length_m * if self.symmetric { 2.0 } else { 1.0 }
    }
}
