//! Bodies: axes, orthogonal grids, shapes made of rings, nodes, and reshaping.

mod axis;
mod grid;
pub mod mesh;
pub mod node;
pub mod reshape;
mod shape;

pub use axis::{Axis, AxisKind, GridError, Growth};
pub use grid::{Face, Grid, Side};
pub use mesh::{Fineness, Layout, Mesh, Skin, Touched};
pub use node::{NodeSource, Nodes};
pub use shape::{Ring, Shape};
