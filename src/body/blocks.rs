//! Grids of several cross-sections side by side, for long parts.
//!
//! Each block is a product of a height axis and a width axis of its own and stands for a length of
//! the part. Blocks share the rows of one array so that the solver sees one grid; nothing flows
//! between them.

use super::axis::{Axis, GridError};
use super::block::Block;
use super::grid::Grid;

impl Grid {
    /// A grid of cross-sections side by side; `inside` tells which cell (row, column) of which
    /// block belongs to the body.
    ///
    /// # Errors
    /// No block, a block without its two axes, no cell inside.
    pub fn of_blocks(mut blocks: Vec<Block>, inside: impl Fn(usize, usize, usize) -> bool) -> Result<Grid, GridError> {
        let mut columns = 0;
        let mut rows = 0;
        for block in &mut blocks {
            if block.axes.len() != 2 {
                return Err(GridError::Axes {
                    axes: block.axes.len(),
                    radial: 0,
                });
            }
            block.first = columns;
            columns += block.axes[1].cells();
            rows = rows.max(block.axes[0].cells());
        }
        let mut active = vec![false; rows * columns];
        for (b, block) in blocks.iter().enumerate() {
            for i in 0..block.axes[0].cells() {
                for j in 0..block.axes[1].cells() {
                    active[i * columns + block.first + j] = inside(b, i, j);
                }
            }
        }
        Grid::from_blocks(blocks, [rows, columns, 1], active)
    }

    /// The blocks, where the grid is made of several cross-sections; else none.
    pub fn blocks(&self) -> &[Block] {
        &self.blocks
    }

    /// The block that a cell lies in; 0 in a plain grid.
    pub fn block_of(&self, cell: usize) -> usize {
        let column = self.position(cell)[1];
        let after = self.blocks.partition_point(|b| b.first <= column);
        after.saturating_sub(1)
    }

    /// The axes of a cell: those of its block, or of the grid.
    pub fn axes_of(&self, cell: usize) -> &[Axis] {
        match self.blocks.get(self.block_of(cell)) {
            Some(block) => &block.axes,
            None => self.axes(),
        }
    }

    /// Index of a cell along each of its own axes.
    pub fn local(&self, cell: usize) -> [usize; 3] {
        let mut at = self.position(cell);
        if let Some(block) = self.blocks.get(self.block_of(cell)) {
            at[1] -= block.first;
        }
        at
    }

    /// Extent of a cell along one of its axes, m.
    pub fn extent(&self, cell: usize, axis: usize) -> (f64, f64) {
        let faces = self.axes_of(cell)[axis].faces();
        let at = self.local(cell)[axis];
        (faces[at], faces[at + 1])
    }

    /// Middle of a cell along one of its axes, m.
    pub fn middle(&self, cell: usize, axis: usize) -> f64 {
        let (low, high) = self.extent(cell, axis);
        0.5 * (low + high)
    }

    /// Volume of each block in m³.
    pub fn block_volumes(&self) -> Vec<f64> {
        let mut volumes = vec![0.0; self.blocks.len()];
        for (cell, volume) in self.volume().iter().enumerate() {
            if *volume > 0.0 {
                volumes[self.block_of(cell)] += volume;
            }
        }
        volumes
    }
}

#[cfg(test)]
mod tests {
    use super::super::axis::AxisKind;
    use super::super::grid::Side;
    use super::*;

    /// Two sections of unlike size: volumes by hand, no path between them, faces where they meet air.
    #[test]
    fn blocks_are_apart_and_of_the_right_size() {
        let block = |name: &str, width: f64, height: f64, symmetric, length_m, n| Block {
            name: name.to_owned(),
            symmetric,
            length_m,
            axes: vec![
                Axis::uniform(AxisKind::Linear, 0.0, height, n).unwrap(),
                Axis::uniform(AxisKind::Linear, 0.0, width, 2 * n).unwrap(),
            ],
            first: 0,
        };
        let blocks = vec![
            block("a", 0.02, 0.03, true, 0.05, 3),
            block("b", 0.01, 0.02, false, 0.08, 2),
        ];
        let grid = Grid::of_blocks(blocks, |_, _, _| true).unwrap();
        let volumes = grid.block_volumes();
        assert!((volumes[0] - 2.0 * 0.02 * 0.03 * 0.05).abs() < 1e-15);
        assert!((volumes[1] - 0.01 * 0.02 * 0.08).abs() < 1e-15);
        let area = |b: usize, axis: usize, side: Side| -> f64 {
            grid.faces()
                .iter()
                .filter(|f| grid.block_of(f.cell) == b && f.axis == axis && f.side == side)
                .map(|f| f.area)
                .sum()
        };
        assert!((area(0, 1, Side::High) - 2.0 * 0.03 * 0.05).abs() < 1e-15);
        assert!((area(1, 1, Side::Low) - 0.02 * 0.08).abs() < 1e-15);
        assert!((area(1, 0, Side::High) - 0.01 * 0.08).abs() < 1e-15);
        for cell in 0..grid.cells() {
            let across = grid.between(1)[cell];
            if across > 0.0 {
                assert_eq!(grid.block_of(cell), grid.block_of(cell + 1));
            }
        }
    }
}
