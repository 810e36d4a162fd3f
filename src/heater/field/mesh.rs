//! Grids that resolve the skin: fine at the surface, coarser towards the middle.

use crate::heater::error::{HeaterError, positive};
use crate::units::MU_0;

/// Skin depth δ = √(2ρ/(ω μ₀ μᵣ)) in m, from resistivity in Ω m, relative permeability and
/// frequency in Hz (standard theory of the plane wave in a conductor).
///
/// ```
/// let hot = billet_thermal::inside::heater::field::skin_depth(1.15e-6, 1.0, 1000.0);
/// assert!((hot - 17.067e-3).abs() < 1e-6);
/// ```
pub fn skin_depth(resistivity_ohm_m: f64, relative_permeability: f64, frequency_hz: f64) -> f64 {
    (resistivity_ohm_m / (std::f64::consts::PI * frequency_hz * MU_0 * relative_permeability)).sqrt()
}

/// Node positions from the middle (0) to the surface, with cell sizes in geometric progression.
#[derive(Debug, Clone, PartialEq)]
pub struct Mesh {
    nodes: Vec<f64>,
}

impl Mesh {
    /// `cells` cells over `half` (m); the cell in the middle is `stretch` times as large as the
    /// one at the surface. Doubling `cells` halves every cell, so orders can be measured.
    pub fn graded(half: f64, cells: usize, stretch: f64) -> Result<Mesh, HeaterError> {
        positive("half size of the section in m", half)?;
        positive("grid stretch", stretch)?;
        if !(2..=20_000).contains(&cells) {
            return Err(HeaterError::OutOfRange {
                name: "field grid cells",
                value: cells as f64,
                allowed: "must be 2 to 20000",
            });
        }
        // Depth below the surface follows (e^{as} - 1)/(e^a - 1) with e^a = stretch.
        let a = stretch.ln();
        let nodes = (0..=cells)
            .map(|i| {
                let s = (cells - i) as f64 / cells as f64;
                let depth = if a.abs() < 1e-9 {
                    s
                } else {
                    (a * s).exp_m1() / a.exp_m1()
                };
                if i == 0 { 0.0 } else { half * (1.0 - depth) }
            })
            .collect();
        Ok(Mesh { nodes })
    }

    /// A mesh for skin depths from `thinnest` to any larger one: the surface cell is
    /// `thinnest / per_skin`, the cell in the middle a `per_skin`-th of the half size (or as large
    /// as the surface cell, where that is larger).
    pub fn for_skin(half: f64, thinnest: f64, per_skin: f64) -> Result<Mesh, HeaterError> {
        positive("half size of the section in m", half)?;
        positive("skin depth in m", thinnest)?;
        positive("grid cells per skin depth", per_skin)?;
        let first = (thinnest / per_skin).min(half / per_skin);
        Mesh::between(half, first, (half / per_skin).max(first))
    }

    /// A mesh with cells from `first` (m) at the surface to `last` (m) in the middle.
    pub fn between(half: f64, first: f64, last: f64) -> Result<Mesh, HeaterError> {
        positive("half size of the section in m", half)?;
        positive("grid cell at the surface in m", first)?;
        positive("grid cell in the middle in m", last)?;
        let stretch = last / first;
        let a = stretch.ln();
        let cells = if a.abs() < 1e-9 {
            half / first
        } else {
            half * a / (first * (stretch - 1.0))
        };
        Mesh::graded(half, (cells.ceil() as usize).max(4), stretch)
    }

    /// Node positions in m, from 0 to the half size.
    pub fn nodes(&self) -> &[f64] {
        &self.nodes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mesh_for_the_skin_ends_where_it_should() {
        let mesh = Mesh::for_skin(0.03, 1e-3, 8.0).unwrap();
        let n = mesh.nodes();
        assert_eq!(n[0], 0.0);
        assert!((n[n.len() - 1] - 0.03).abs() < 1e-15);
        let first = n[n.len() - 1] - n[n.len() - 2];
        assert!(first < 1.1 * 1e-3 / 8.0 && first > 0.8e-3 / 8.0, "{first}");
        assert!(n.windows(2).all(|w| w[1] > w[0]));
        assert!(n.len() < 50, "{}", n.len());
    }
}
