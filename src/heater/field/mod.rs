//! The harmonic eddy-current problem in a section, with properties that vary over it.
//!
//! A section in an axial field H₀ obeys div(ρ grad H) = jωμH with H = H₀ on the surface (Davies,
//! Conduction and Induction Heating, 1990; Lupi, Fundamentals of Electroheat, 2017, ch. 6). The
//! loss is p = ρ|J|², J = |grad H|. [`LineSection`] solves it on a radius or across half a plate,
//! [`Rectangle`] over a quarter of a rectangular section.
//!
//! Unknowns sit at grid nodes, properties in the cells between them. The discrete equations are
//! symmetric, so the loss summed over the cells *is* the real power that enters through the
//! surface, to rounding (the discrete Poynting theorem); [`Transfer`] hands each cell's loss to a
//! thermal grid by exact overlap, so the sum survives.
//!
//! Below the Curie point the permeability is that of the local RMS field, μ = B(|H|)/|H|, found by
//! fixed-point iteration, with relaxation 0.5 where it converges slowly. Against a time-domain solution with the same
//! magnetisation curve this rule gives the surface power within 3 % (calculated; hysteresis
//! neglected).

mod medium;
mod mesh;
mod options;
mod rectangle;
mod section;
mod solution;
mod transfer;

pub use medium::{FnMedium, Medium, Uniform};
pub use mesh::{Mesh, skin_depth};
pub use options::FieldOptions;
pub use rectangle::{Rectangle, RectangleTransfer, RectangleWorkspace};
pub use section::{FieldWorkspace, LineSection, SurfaceImpedance, Symmetry};
pub use transfer::{Sampler, Transfer};
