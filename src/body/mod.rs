//! Bodies: axes, orthogonal grids, shapes made of rings or strips, nodes, and reshaping.

mod axis;
mod block;
mod blocks;
mod grid;
pub mod lengthwise;
pub mod mesh;
pub mod node;
mod outline;
mod outlook;
mod profile;
pub mod reshape;
mod shape;
mod shell;
mod sliding;
mod strips;

pub use axis::{Axis, AxisKind, GridError, Growth};
pub use block::Block;
pub use grid::{Face, Grid, Side};
pub use mesh::{Fineness, Layout, Mesh, Skin, Touched};
pub use node::{NodeSource, Nodes, Place};
pub use outline::OutlineStep;
pub use outlook::open_views;
pub use profile::{Below, below};
pub use shape::{CrossSection, Ring, Shape, Strip};
pub use sliding::sliding;
pub use strips::Body;
