//! Numerical choices of the field solver.

/// Numerical choices of the field solver.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldOptions {
    /// The permeability iteration ends when its next step would change the surface impedance by
    /// less than this share (first-order bound). Default 1e-4.
    pub tolerance: f64,
    /// Most iterations before the solver gives up. Default 200.
    pub max_iterations: usize,
    /// An earlier solution is kept, with its impedance corrected to first order, while changed
    /// properties can move the surface power by less than this share; 0 solves every time.
    /// Default 0.01, with which the power stays within 2e-3 of a new solution (measured while a
    /// saturated bar is heated through the Curie point).
    pub reuse: f64,
}

impl Default for FieldOptions {
    fn default() -> Self {
        FieldOptions {
            tolerance: 1e-4,
            max_iterations: 200,
            reuse: 0.01,
        }
    }
}
