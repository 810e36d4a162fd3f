//! How far the end faces of a part slide over the dies when it takes a new shape.
//!
//! Material keeps its order by cumulative volume, as in [`super::reshape`], so what lies at r in the
//! new shape came from R in the old one, where the volumes inside R and inside r are the same share
//! of the whole. On its way an element of the face grows with the square of its radius (axisymmetric) or in
//! proportion to its distance from the middle (plane), and the work of a constant shear stress τ per
//! area of the new face is τ s with the mean sliding
//!
//! s = ∫ (ρ/r)² dρ from R to r = |r³ − R³| / (3 r²), or |r² − R²| / (2 r) in the plane case.
//!
//! For homogeneous upsetting between flat dies the sum over both faces is then τ (4π/9)(r₁³ − r₀³): the
//! friction term of the classical work of upsetting, σ V ln(h₀/h₁)(1 + m d/(3√3 h)) per step, integrated
//! (Siebel; Avitzur, "Metal Forming: Processes and Analysis", 1968, from memory).

use super::axis::AxisKind;
use super::grid::Grid;

/// Mean sliding \[m\] of the end faces of each shell of `new`, innermost first, when `old` becomes `new`.
/// Both are height × radius (or height × width from the middle) grids.
pub fn sliding(old: &Grid, new: &Grid) -> Vec<f64> {
    let (from, to) = (Inside::of(old), Inside::of(new));
    let axis = &new.axes()[1];
    let power: i32 = if axis.kind() == AxisKind::Radial { 3 } else { 2 };
    (0..axis.cells())
        .map(|j| {
            // The end face of a cell stands for its whole width: its mean over the face.
            let (a, b) = (axis.faces()[j], axis.faces()[j + 1]);
            let points = [a + 0.211_324_865 * (b - a), b - 0.211_324_865 * (b - a)];
            let mean = |p: f64| {
                let origin = from.radius(to.share(p));
                (p.powi(power) - origin.powi(power)).abs() / (f64::from(power) * p.powi(power - 1))
            };
            match power {
                3 => {
                    let weighted: f64 = points.iter().map(|p| p * mean(*p)).sum();
                    weighted / (points[0] + points[1])
                }
                _ => 0.5 * (mean(points[0]) + mean(points[1])),
            }
        })
        .collect()
}

/// Share of the volume that lies inside each position of the second axis.
struct Inside {
    /// Positions, squared where the axis is radial, so that volume is linear between them.
    at: Vec<f64>,
    share: Vec<f64>,
    radial: bool,
}

impl Inside {
    fn of(grid: &Grid) -> Inside {
        let axis = &grid.axes()[1];
        let radial = axis.kind() == AxisKind::Radial;
        let [nz, nr, _] = grid.shape();
        let total = grid.total_volume();
        let mut sum = 0.0;
        let mut share = vec![0.0];
        for j in 0..nr {
            let cells = (0..nz).map(|i| i * nr + j).filter(|c| grid.active()[*c]);
            sum += cells.map(|c| grid.volume()[c]).sum::<f64>();
            share.push(sum / total);
        }
        let at = axis.faces().iter().map(|x| if radial { x * x } else { *x }).collect();
        Inside { at, share, radial }
    }

    fn share(&self, position: f64) -> f64 {
        let x = if self.radial { position * position } else { position };
        interpolate(&self.at, &self.share, x)
    }

    fn radius(&self, share: f64) -> f64 {
        let x = interpolate(&self.share, &self.at, share);
        if self.radial { x.max(0.0).sqrt() } else { x }
    }
}

/// Piecewise linear in rising `xs`; the end values outside.
fn interpolate(xs: &[f64], ys: &[f64], x: f64) -> f64 {
    let above = xs.partition_point(|v| *v < x).clamp(1, xs.len() - 1);
    let (a, b) = (xs[above - 1], xs[above]);
    if b <= a {
        return ys[above];
    }
    let f = ((x - a) / (b - a)).clamp(0.0, 1.0);
    ys[above - 1] + f * (ys[above] - ys[above - 1])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::{Fineness, Growth, Mesh, Shape, Touched};

    #[test]
    fn an_upset_disc_slides_as_far_as_the_formula_says() {
        let fine = Fineness {
            contact_m: 1e-3,
            free_m: 1e-3,
            inner_share: 0.07,
            growth: Growth {
                gentle: 1.2,
                until_m: 1e-3,
                then: 1.2,
            },
            span_share: 0.3,
        };
        let mesh = |outer, height| Mesh::rings(&Shape::disc(outer, height), &fine, Touched::default()).unwrap();
        let (r0, r1) = (0.030, 0.046);
        let (old, new) = (mesh(r0, 0.14), mesh(r1, 0.14 * r0 * r0 / (r1 * r1)));
        let s = sliding(&old.grid, &new.grid);
        let axis = &new.grid.axes()[1];
        // ∫ s 2πr dr = (2π/9)(r₁³ − r₀³) a face.
        let sum: f64 = (0..axis.cells())
            .map(|j| std::f64::consts::PI * (axis.faces()[j + 1].powi(2) - axis.faces()[j].powi(2)) * s[j])
            .sum();
        let exact = 2.0 * std::f64::consts::PI / 9.0 * (r1.powi(3) - r0.powi(3));
        assert!((sum / exact - 1.0).abs() < 1e-9, "{sum} {exact}");
        // Nothing slides where nothing changes.
        assert!(sliding(&old.grid, &old.grid).iter().all(|s| s.abs() < 1e-15));
    }
}
