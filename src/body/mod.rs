//! Bodies: axes, orthogonal grids, shapes made of rings, nodes, and reshaping.

mod axis;
mod grid;
pub mod mesh;
pub mod node;
mod profile;
pub mod reshape;
mod shape;
mod sliding;

pub use axis::{Axis, AxisKind, GridError, Growth};
pub use grid::{Face, Grid, Side};
pub use mesh::{Fineness, Layout, Mesh, Skin, Touched};
pub use node::{NodeSource, Nodes};
pub use profile::{Below, below};
pub use shape::{Ring, Shape};
pub use sliding::sliding;
