//! Carrying enthalpy from one shape to the next by the volume order of the material.
//!
//! Radial shells keep their order by cumulative volume, and within a shell the axial order is
//! kept. Each new cell receives a volume-weighted mean of old cells, so the transfer is exact for
//! a homogeneous upset on matching cells, conserves energy to rounding, and cannot make a new
//! maximum or minimum.

use super::grid::Grid;
use super::shell::{Shell, columns, ends, overlaps};

/// One piece of material: which old cell goes to which new cell, as a share of the new cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parcel {
    /// Cell of the old grid.
    pub from: usize,
    /// Cell of the new grid.
    pub to: usize,
    /// Share of the new cell's volume.
    pub share: f64,
}

/// Parcels from an old height × radius grid to a new one, or from the cross-sections of a long part
/// to the same sections in a new shape, whose columns keep their order from left to right. Both
/// volumes are scaled to one, so a small difference (scale lost, rounding of a drawing) spreads evenly.
pub fn parcels(old: &Grid, new: &Grid) -> Vec<Parcel> {
    let mut out = Vec::with_capacity(2 * (old.cells() + new.cells()));
    if new.blocks().is_empty() {
        ordered(&shells(old), &shells(new), new, &mut out);
    }
    for (b, block) in new.blocks().iter().enumerate() {
        let before = old.blocks().iter().position(|o| o.name == block.name);
        if let Some(before) = before {
            ordered(&columns(old, before), &columns(new, b), new, &mut out);
        }
    }
    out
}

/// Parcels between shells in their order.
fn ordered(old_shells: &[Shell], new_shells: &[Shell], new: &Grid, out: &mut Vec<Parcel>) {
    let volumes = |shells: &[Shell]| ends(&shells.iter().map(|s| s.volume).collect::<Vec<_>>());
    let total: f64 = new_shells.iter().map(|s| s.volume).sum();
    overlaps(&volumes(old_shells), &volumes(new_shells), |a, b, radial| {
        let (from, to) = (&old_shells[a], &new_shells[b]);
        overlaps(&from.ends, &to.ends, |i, j, axial| {
            // `radial` is a share of the whole, `axial` a share of the shell.
            let cell = to.cells[j];
            let share = radial * axial * total / new.volume()[cell];
            out.push(Parcel {
                from: from.cells[i],
                to: cell,
                share,
            });
        });
    });
}

/// Applies parcels to a per-kilogram quantity.
pub fn carry(parcels: &[Parcel], old: &[f64], new_cells: usize) -> Vec<f64> {
    let mut sum = vec![0.0; new_cells];
    let mut weight = vec![0.0; new_cells];
    for p in parcels {
        sum[p.to] += p.share * old[p.from];
        weight[p.to] += p.share;
    }
    // The shares of a cell add to one but for rounding; dividing keeps the bounds exactly.
    sum.iter()
        .zip(&weight)
        .map(|(s, w)| if *w > 0.0 { s / w } else { 0.0 })
        .collect()
}

fn shells(grid: &Grid) -> Vec<Shell> {
    let [nz, nr, _] = grid.shape();
    (0..nr)
        .filter_map(|j| {
            let cells: Vec<usize> = (0..nz).map(|i| i * nr + j).filter(|c| grid.active()[*c]).collect();
            Shell::of(grid, cells)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::mesh::{Mesh, TEST_FINE, Touched};
    use super::super::shape::{Ring, Shape};
    use super::*;

    const TOUCHED: Touched = Touched {
        ends: true,
        side: false,
    };

    fn energy(grid: &Grid, h: &[f64]) -> f64 {
        grid.volume().iter().zip(h).map(|(v, h)| v * h).sum()
    }

    #[test]
    fn upset_on_matching_cells_is_exact() {
        let old = Mesh::rings(&Shape::disc(0.03, 0.14), &TEST_FINE, TOUCHED).unwrap();
        let new = old.stretched(0.425).unwrap();
        let h: Vec<f64> = (0..old.grid.cells())
            .map(|c| 8e5 + (c as f64 * 0.37).sin() * 1e4)
            .collect();
        let back = carry(&parcels(&old.grid, &new.grid), &h, new.grid.cells());
        for (a, b) in h.iter().zip(&back) {
            assert!((a - b).abs() < 1e-6, "{a} {b}");
        }
    }

    #[test]
    fn energy_and_bounds_are_kept_into_a_hub() {
        let old = Mesh::rings(&Shape::disc(0.03, 0.14), &TEST_FINE, TOUCHED).unwrap();
        let ring = |inner_m, outer_m, bottom_m, top_m, zone: &str| Ring {
            inner_m,
            outer_m,
            bottom_m,
            top_m,
            zone: zone.to_owned(),
            strip: None,
        };
        let hub = Shape {
            rings: vec![
                ring(0.0, 0.015, 0.01, 0.018, "web"),
                ring(0.015, 0.05, 0.0, 0.04, "body"),
                ring(0.05, 0.06, 0.018, 0.021, "flash"),
            ],
            sections: Vec::new(),
        };
        let new = Mesh::rings(&hub, &TEST_FINE, TOUCHED).unwrap();
        let h: Vec<f64> = (0..old.grid.cells())
            .map(|c| 8e5 + (c as f64 * 0.37).sin() * 1e4)
            .collect();
        let carried = carry(&parcels(&old.grid, &new.grid), &h, new.grid.cells());
        let before = energy(&old.grid, &h) / old.grid.total_volume();
        let after = energy(&new.grid, &carried) / new.grid.total_volume();
        assert!((after / before - 1.0).abs() < 1e-12, "{before} {after}");
        let (low, high) = h.iter().fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(*x), b.max(*x)));
        for (c, x) in carried.iter().enumerate() {
            if new.grid.active()[c] {
                assert!(*x >= low && *x <= high);
            }
        }
    }
}
