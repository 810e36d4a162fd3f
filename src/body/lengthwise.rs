//! From a round bar to the cross-sections of a long part.
//!
//! The bar lies across the dies. Each section takes its share of the mass as a piece of the bar's
//! length, in their order from the grip end on; along that piece the rings of the bar are mixed
//! (the ends of the bar are colder, and the sections there get that cold). Across, the volume order
//! is kept: slices of the circle keep their order from left to right by cumulative area, and within a
//! slice the order from bottom to top is kept. Areas of slices and rings are exact, so energy is
//! conserved to rounding and no new extreme appears.

use super::grid::Grid;
use super::mesh::{Layout, Mesh};
use super::shell::{Shell, columns, ends, overlaps};

/// Slices of half the circle; a slice is then thinner than any cell but those of a chilled skin.
const SLICES: usize = 96;

/// Carries a per-kilogram quantity of a bar (height × radius, height along the bar) to the
/// cross-sections of `new`, of which `shares` are the shares of the bar's mass in their order.
pub fn carry_bar(bar: &Grid, shares: &[f64], new: &Mesh, old: &[f64]) -> Vec<f64> {
    debug_assert!(new.layout == Layout::Strips && new.grid.blocks().len() == shares.len());
    let mixed = rings_of_pieces(bar, shares, old);
    let mut out = vec![0.0; new.grid.cells()];
    let radii: Vec<f64> = bar.axes()[1].faces().to_vec();
    let halves = slices(&radii);
    for (b, block) in new.grid.blocks().iter().enumerate() {
        // The right half of the circle goes to the right half of a section given by its half.
        let mut circle: Vec<Shell> = Vec::with_capacity(2 * SLICES);
        if !block.symmetric {
            circle.extend(halves.iter().rev().cloned());
        }
        circle.extend(halves.iter().cloned());
        let columns = columns(&new.grid, b);
        let volumes = |shells: &[Shell]| ends(&shells.iter().map(|s| s.volume).collect::<Vec<_>>());
        let mut weight = vec![0.0; new.grid.cells()];
        overlaps(&volumes(&circle), &volumes(&columns), |a, c, across| {
            let (from, to) = (&circle[a], &columns[c]);
            overlaps(&from.ends, &to.ends, |i, j, up| {
                let share = across * up;
                out[to.cells[j]] += share * mixed[b][from.cells[i]];
                weight[to.cells[j]] += share;
            });
        });
        for (value, w) in out.iter_mut().zip(&weight) {
            if *w > 0.0 {
                *value /= w;
            }
        }
    }
    out
}

/// Mean of each ring over each piece of the bar's length.
fn rings_of_pieces(bar: &Grid, shares: &[f64], old: &[f64]) -> Vec<Vec<f64>> {
    let [nz, nr, _] = bar.shape();
    let z = &bar.axes()[0];
    let (low, high) = (z.faces()[0], z.faces()[nz]);
    let total: f64 = shares.iter().sum();
    let mut from = low;
    shares
        .iter()
        .map(|share| {
            let to = from + (high - low) * share / total;
            let mut rings = vec![0.0; nr];
            let mut length = 0.0;
            for i in 0..nz {
                let part = (z.faces()[i + 1].min(to) - z.faces()[i].max(from)).max(0.0);
                length += part;
                for (j, ring) in rings.iter_mut().enumerate() {
                    *ring += part * old[i * nr + j];
                }
            }
            for ring in &mut rings {
                *ring /= length;
            }
            from = to;
            rings
        })
        .collect()
}

/// Slices of the right half of a circle from the middle out, each a column of pieces of the rings.
fn slices(radii: &[f64]) -> Vec<Shell> {
    let n = radii.len() - 1;
    let whole = radii[n];
    // Area of a circle of radius r right of 0 and left of x, upper half.
    let area = |r: f64, x: f64| {
        let x = x.min(r);
        // The angle by its tangent: its sine is blunt where a slice grazes a ring.
        let up = ((r - x) * (r + x)).max(0.0).sqrt();
        0.5 * (x * up + r * r * x.atan2(up))
    };
    let within = |r: f64, a: f64, b: f64| if r > 0.0 { area(r, b) - area(r, a) } else { 0.0 };
    (0..SLICES)
        .map(|s| {
            // Slices grow finer towards the skin, where the bar is coldest.
            let at = |k: usize| whole * (0.5 * std::f64::consts::PI * k as f64 / SLICES as f64).sin();
            let (a, b) = (at(s), at(s + 1));
            let mut upper: Vec<(usize, f64)> = (0..n)
                .map(|k| (k, (within(radii[k + 1], a, b) - within(radii[k], a, b)).max(0.0)))
                .filter(|(_, part)| *part > 0.0)
                .collect();
            // The innermost ring of the slice lies across the middle line in one piece.
            let mut pieces: Vec<(usize, f64)> = upper.iter().rev().copied().collect();
            if let (Some(inner), Some(first)) = (pieces.last_mut(), upper.first().copied()) {
                inner.1 += first.1;
                upper.remove(0);
            }
            pieces.extend(upper);
            let sizes: Vec<f64> = pieces.iter().map(|p| p.1).collect();
            Shell {
                cells: pieces.iter().map(|p| p.0).collect(),
                ends: ends(&sizes),
                volume: sizes.iter().sum(),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::axis::Growth;
    use super::super::mesh::{Fineness, Touched};
    use super::super::shape::{CrossSection, Ring, Shape, Strip};
    use super::*;

    #[test]
    fn slices_cover_the_half_circle() {
        let radii: Vec<f64> = (0..=20).map(|i| 0.025 * f64::from(i) / 20.0).collect();
        let slices = slices(&radii);
        let mut ring = [0.0; 20];
        for s in &slices {
            let mut from = 0.0;
            for (cell, end) in s.cells.iter().zip(&s.ends) {
                ring[*cell] += (end - from) * s.volume;
                from = *end;
            }
        }
        for (k, area) in ring.iter().enumerate() {
            let exact = 0.5 * std::f64::consts::PI * (radii[k + 1].powi(2) - radii[k].powi(2));
            assert!((area / exact - 1.0).abs() < 1e-9, "{k}: {area} {exact}");
        }
    }

    /// Energy goes over to rounding piece by piece, bounds are kept, the cold skin stays outside.
    #[test]
    fn a_bar_becomes_sections() {
        let fine = Fineness {
            contact_m: 5e-5,
            free_m: 2.5e-4,
            inner_share: 0.06,
            growth: Growth::from(1.45),
            span_share: 0.34,
        };
        let bar = Mesh::rings(&Shape::disc(0.025, 0.16), &fine, Touched::default()).unwrap();
        let section = |name: &str, share: f64, symmetric, length_m| CrossSection {
            name: name.to_owned(),
            share,
            length_m,
            symmetric,
        };
        let strip = |section, depth_m, inner_m, outer_m, top_m| Ring {
            inner_m,
            outer_m,
            bottom_m: 0.0,
            top_m,
            zone: format!("{section}.body"),
            strip: Some(Strip { section, depth_m }),
        };
        let volume = bar.grid.total_volume();
        let (v0, v1) = (0.7 * volume, 0.3 * volume);
        let shape = Shape {
            rings: vec![
                strip(0, 0.12, 0.0, 0.04, v0 / (0.12 * 0.04)),
                strip(1, 0.10, -0.015, 0.02, v1 / (0.10 * 0.035)),
            ],
            sections: vec![section("a", 0.7, true, 0.06), section("b", 0.3, false, 0.10)],
        };
        let touched = Touched {
            ends: true,
            side: false,
        };
        let new = Mesh::of_shape(&shape, &fine, touched).unwrap();
        let nr = bar.grid.shape()[1];
        let old: Vec<f64> = (0..bar.grid.cells())
            .map(|c| {
                let (z, r) = (bar.grid.middle(c, 0), bar.grid.axes()[1].centre(c % nr));
                8e5 + 1e5 * z - 4e7 * r * r
            })
            .collect();
        let carried = carry_bar(&bar.grid, &[0.7, 0.3], &new, &old);
        let energy = |grid: &Grid, h: &[f64]| -> f64 { grid.volume().iter().zip(h).map(|(v, h)| v * h).sum() };
        let (before, after) = (energy(&bar.grid, &old), energy(&new.grid, &carried));
        assert!((after / before - 1.0).abs() < 1e-9, "{before} {after}");
        let (low, high) = old
            .iter()
            .fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(*x), b.max(*x)));
        for (cell, h) in carried.iter().enumerate().filter(|(c, _)| new.grid.active()[*c]) {
            assert!(*h >= low && *h <= high, "{cell}: {h}");
        }
        // Left, right, bottom and top skin of the full section are the skin of the bar.
        let first = new.grid.blocks()[1].first;
        let columns = new.grid.blocks()[1].axes[1].cells();
        let middle = carried[5 * new.grid.shape()[1] + first + columns / 2];
        assert!(carried[5 * new.grid.shape()[1] + first] < middle + 1.0);
    }
}
