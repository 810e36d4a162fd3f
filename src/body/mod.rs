//! Bodies: axes, orthogonal grids, shapes made of rings, nodes, and reshaping.

mod axis;
mod grid;

pub use axis::{Axis, AxisKind, GridError};
pub use grid::{Face, Grid, Side};
