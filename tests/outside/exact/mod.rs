//! Exact solutions of transient conduction, written independently of the library.
//!
//! Source unless another is named: H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids,
//! 2nd ed., 1959.

pub mod half_space;
pub mod lumped;
pub mod plane;
pub mod radial;
pub mod special;
