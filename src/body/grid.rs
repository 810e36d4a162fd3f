//! Orthogonal grids: a product of up to three axes with a mask of active cells.

use ndarray::ArrayView3;

use super::axis::{Axis, AxisKind, GridError};
use super::block::Block;

/// Which end of an axis a face looks to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Towards smaller coordinates.
    Low,
    /// Towards larger coordinates.
    High,
}

/// A face of an active cell with no active neighbour behind it.
#[derive(Debug, Clone, Copy)]
pub struct Face {
    /// Cell that owns the face.
    pub cell: usize,
    /// Axis it is normal to.
    pub axis: usize,
    /// Side of the cell it is on.
    pub side: Side,
    /// Area in m² (over all symmetric copies).
    pub area: f64,
    /// Distance from the cell centre in m.
    pub depth: f64,
    /// Position of its middle on each axis in m.
    pub at: [f64; 3],
    /// Group that shares one boundary law.
    pub group: usize,
}

/// Cells, volumes and areas. Geometry enters the solver only through this.
///
/// Index of cell (i, j, k) is `(i·n₁ + j)·n₂ + k`; missing axes count as one cell of measure 1,
/// so a grid of one linear axis is a wall of 1 m² and a single radial axis a bar of 1 m length.
#[derive(Debug, Clone)]
pub struct Grid {
    axes: Vec<Axis>,
    /// Cross-sections side by side; empty in a plain grid.
    pub(super) blocks: Vec<Block>,
    shape: [usize; 3],
    stride: [usize; 3],
    multiplicity: f64,
    active: Vec<bool>,
    volume: Vec<f64>,
    between: Vec<Vec<f64>>,
    faces: Vec<Face>,
    groups: usize,
}

impl Grid {
    /// A grid of all cells of the given axes.
    ///
    /// # Errors
    /// No axis, more than three, or more than one radial axis.
    ///
    /// ```
    /// use billet_thermal::body::{Axis, AxisKind, Grid};
    /// let radius = Axis::uniform(AxisKind::Radial, 0.0, 0.03, 20)?;
    /// let length = Axis::uniform(AxisKind::Linear, 0.0, 0.14, 48)?;
    /// let billet = Grid::new(vec![length, radius])?;
    /// assert!((billet.total_volume() - 3.958e-4).abs() < 1e-6);
    /// # Ok::<(), billet_thermal::body::GridError>(())
    /// ```
    pub fn new(axes: Vec<Axis>) -> Result<Grid, GridError> {
        let cells = axes.iter().map(Axis::cells).product();
        Grid::masked(axes, vec![true; cells], 1.0)
    }

    /// A grid with a mask of active cells; `multiplicity` symmetric copies count in volumes and
    /// areas (4 for a quarter model).
    ///
    /// # Errors
    /// As [`Grid::new`], and a mask of the wrong length or without active cells.
    pub fn masked(axes: Vec<Axis>, active: Vec<bool>, multiplicity: f64) -> Result<Grid, GridError> {
        let radial = axes.iter().filter(|a| a.kind() == AxisKind::Radial).count();
        if axes.is_empty() || axes.len() > 3 || radial > 1 {
            return Err(GridError::Axes {
                axes: axes.len(),
                radial,
            });
        }
        let mut shape = [1; 3];
        for (n, axis) in shape.iter_mut().zip(&axes) {
            *n = axis.cells();
        }
        let cells = shape.iter().product();
        let count = active.iter().filter(|a| **a).count();
        if active.len() != cells || count == 0 {
            return Err(GridError::Mask {
                got: active.len(),
                active: count,
                cells,
            });
        }
        let stride = [shape[1] * shape[2], shape[2], 1];
        let mut grid = Grid {
            shape,
            stride,
            multiplicity,
            volume: vec![0.0; cells],
            between: vec![vec![0.0; cells]; axes.len()],
            faces: Vec::new(),
            groups: 0,
            axes,
            blocks: Vec::new(),
            active,
        };
        grid.measure();
        grid.group_faces(|f| 2 * f.axis + usize::from(f.side == Side::High));
        Ok(grid)
    }

    /// A grid of blocks that share one array, see [`Grid::of_blocks`].
    pub(super) fn from_blocks(blocks: Vec<Block>, shape: [usize; 3], active: Vec<bool>) -> Result<Grid, GridError> {
        let cells = shape.iter().product();
        let count = active.iter().filter(|a| **a).count();
        let Some(first) = blocks.first().filter(|_| active.len() == cells && count > 0) else {
            return Err(GridError::Mask {
                got: active.len(),
                active: count,
                cells,
            });
        };
        let mut grid = Grid {
            shape,
            stride: [shape[1] * shape[2], shape[2], 1],
            multiplicity: 1.0,
            volume: vec![0.0; cells],
            between: vec![vec![0.0; cells]; 2],
            faces: Vec::new(),
            groups: 0,
            axes: first.axes.clone(),
            blocks,
            active,
        };
        grid.measure();
        grid.group_faces(|f| 2 * f.axis + usize::from(f.side == Side::High));
        Ok(grid)
    }

    /// The same grid with another mask.
    ///
    /// # Errors
    /// As [`Grid::masked`].
    pub fn with_mask(&self, active: Vec<bool>) -> Result<Grid, GridError> {
        if self.blocks.is_empty() {
            Grid::masked(self.axes.clone(), active, self.multiplicity)
        } else {
            Grid::from_blocks(self.blocks.clone(), self.shape, active)
        }
    }

    fn measure(&mut self) {
        for cell in 0..self.volume.len() {
            if !self.active[cell] {
                continue;
            }
            let at = self.local(cell);
            let (axes, copies) = match self.blocks.get(self.block_of(cell)) {
                Some(block) => (&block.axes, block.depth_m()),
                None => (&self.axes, self.multiplicity),
            };
            let measures: Vec<f64> = axes.iter().zip(at).map(|(a, i)| a.measure(i)).collect();
            self.volume[cell] = copies * measures.iter().product::<f64>();
            for axis in 0..axes.len() {
                let i = at[axis];
                let others: f64 = measures
                    .iter()
                    .enumerate()
                    .filter(|(b, _)| *b != axis)
                    .map(|(_, m)| m)
                    .product();
                let n = axes[axis].cells();
                let half = 0.5 * axes[axis].size(i);
                for side in [Side::Low, Side::High] {
                    let (face, neighbour) = match side {
                        Side::Low => (i, (i > 0).then(|| cell - self.stride[axis])),
                        Side::High => (i + 1, (i + 1 < n).then(|| cell + self.stride[axis])),
                    };
                    let area = copies * others * axes[axis].face_measure(face);
                    match neighbour.filter(|c| self.active[*c]) {
                        Some(_) if side == Side::High => {
                            let apart = half + 0.5 * axes[axis].size(i + 1);
                            self.between[axis][cell] = area / apart;
                        }
                        Some(_) => {}
                        None if area > 0.0 => {
                            let mut middle = [0.0; 3];
                            for (b, a) in axes.iter().enumerate() {
                                middle[b] = a.centre(at[b]);
                            }
                            middle[axis] = axes[axis].faces()[face];
                            self.faces.push(Face {
                                cell,
                                axis,
                                side,
                                area,
                                depth: half,
                                at: middle,
                                group: 0,
                            });
                        }
                        None => {}
                    }
                }
            }
        }
    }

    /// Puts every exposed face into a group; faces of a group share one boundary law. A new grid
    /// has the groups `2·axis` (low side) and `2·axis + 1` (high side).
    pub fn group_faces(&mut self, group_of: impl Fn(&Face) -> usize) {
        let mut groups = 0;
        for face in &mut self.faces {
            face.group = group_of(face);
            groups = groups.max(face.group + 1);
        }
        self.groups = groups;
    }

    /// Puts the faces, in their order, into the groups given one after another.
    pub(super) fn group_faces_in_order(&mut self, mut next: impl FnMut() -> usize) {
        self.groups = 0;
        for face in &mut self.faces {
            face.group = next();
            self.groups = self.groups.max(face.group + 1);
        }
    }

    /// The axes; those of the first block where there are several (see [`Grid::axes_of`]).
    pub fn axes(&self) -> &[Axis] {
        &self.axes
    }

    /// Cells along each axis, 1 where there is none.
    pub fn shape(&self) -> [usize; 3] {
        self.shape
    }

    /// Index distance of neighbours along each axis.
    pub fn stride(&self) -> [usize; 3] {
        self.stride
    }

    /// Number of cells, active or not.
    pub fn cells(&self) -> usize {
        self.volume.len()
    }

    /// One value per cell as an array [first axis, second axis, third axis] of the grid's
    /// [`shape`](Grid::shape), without a copy: temperatures, enthalpies, volumes. In a grid of several
    /// cross-sections the second axis runs over all their columns, see [`Grid::blocks`]. `None` when the
    /// values are not one per cell.
    ///
    /// ```
    /// use billet_thermal::body::{Axis, AxisKind, Grid};
    /// let height = Axis::uniform(AxisKind::Linear, 0.0, 0.1, 4)?;
    /// let radius = Axis::uniform(AxisKind::Radial, 0.0, 0.03, 3)?;
    /// let grid = Grid::new(vec![height, radius])?;
    /// let volumes = grid.array(grid.volume()).ok_or("one volume per cell")?;
    /// assert_eq!(volumes.dim(), (4, 3, 1));
    /// assert!(volumes[[0, 2, 0]] > volumes[[0, 1, 0]]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn array<'a>(&self, values: &'a [f64]) -> Option<ArrayView3<'a, f64>> {
        ArrayView3::from_shape(self.shape, values).ok()
    }

    /// Which cells belong to the body.
    pub fn active(&self) -> &[bool] {
        &self.active
    }

    /// Volume of each cell in m³, zero outside the body.
    pub fn volume(&self) -> &[f64] {
        &self.volume
    }

    /// Volume of the body in m³ (or m³ per metre or square metre for missing axes).
    pub fn total_volume(&self) -> f64 {
        self.volume.iter().sum()
    }

    /// Area over centre distance (m) between each cell and its higher neighbour on `axis`; zero
    /// at the end of a line and at the mask.
    pub fn between(&self, axis: usize) -> &[f64] {
        &self.between[axis]
    }

    /// The exposed faces.
    pub fn faces(&self) -> &[Face] {
        &self.faces
    }

    /// Number of face groups.
    pub fn groups(&self) -> usize {
        self.groups
    }

    /// Symmetric copies counted in volumes and areas.
    pub fn multiplicity(&self) -> f64 {
        self.multiplicity
    }

    /// Cell index along each axis.
    pub fn position(&self, cell: usize) -> [usize; 3] {
        [
            cell / self.stride[0],
            (cell / self.stride[1]) % self.shape[1],
            cell % self.shape[2],
        ]
    }

    /// Index of the cell at a position.
    pub fn index(&self, at: [usize; 3]) -> usize {
        at[0] * self.stride[0] + at[1] * self.stride[1] + at[2]
    }

    /// Total area of a face group in m².
    pub fn group_area(&self, group: usize) -> f64 {
        self.faces.iter().filter(|f| f.group == group).map(|f| f.area).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cylinder_has_the_right_volume_and_areas() {
        let r = Axis::uniform(AxisKind::Radial, 0.0, 0.03, 7).unwrap();
        let z = Axis::uniform(AxisKind::Linear, 0.0, 0.14, 5).unwrap();
        let g = Grid::new(vec![z, r]).unwrap();
        let pi = std::f64::consts::PI;
        assert!((g.total_volume() / (pi * 9e-4 * 0.14) - 1.0).abs() < 1e-12);
        assert!((g.group_area(3) / (2.0 * pi * 0.03 * 0.14) - 1.0).abs() < 1e-12);
        assert!((g.group_area(0) / (pi * 9e-4) - 1.0).abs() < 1e-12);
        assert_eq!(g.group_area(2), 0.0, "no face on the axis of rotation");
    }

    #[test]
    fn mask_exposes_inner_faces() {
        let x = Axis::uniform(AxisKind::Linear, 0.0, 2.0, 2).unwrap();
        let y = Axis::uniform(AxisKind::Linear, 0.0, 2.0, 2).unwrap();
        let g = Grid::masked(vec![x, y], vec![true, true, true, false], 1.0).unwrap();
        assert_eq!(g.total_volume(), 3.0);
        assert_eq!(g.faces().iter().map(|f| f.area).sum::<f64>(), 8.0);
    }
}
