//! Meshes of the cross-sections of a long part.

use std::sync::Arc;

use super::axis::{Axis, AxisKind, GridError};
use super::block::Block;
use super::grid::Grid;
use super::mesh::{Fineness, Layout, Mesh, Touched, breaks, joined_spans, skinned};
use super::shape::{Ring, Shape};

/// A body to be meshed.
#[derive(Debug, Clone, Copy)]
pub enum Body<'s> {
    /// Rings about the axis, or cross-sections side by side.
    Shape(&'s Shape),
    /// A rectangular bar: width and height, and length where it has one, m.
    Bar((f64, f64), Option<f64>),
}

impl Mesh {
    /// A mesh of a shape: rings about the axis, or cross-sections side by side.
    ///
    /// # Errors
    /// As [`Mesh::rings`].
    pub fn of_shape(shape: &Shape, fine: &Fineness, touched: Touched) -> Result<Mesh, GridError> {
        if shape.is_long() {
            Mesh::strips(shape, fine, touched)
        } else {
            Mesh::rings(shape, fine, touched)
        }
    }

    /// How many cells the mesh of a body has, without making it.
    ///
    /// # Errors
    /// As the functions that make it.
    pub fn cells_needed(body: &Body<'_>, fine: &Fineness, touched: Touched) -> Result<usize, GridError> {
        let product = |axes: &[Axis]| axes.iter().map(Axis::cells).fold(1, usize::saturating_mul);
        match body {
            Body::Bar(size_m, length_m) => Ok(product(&Mesh::rectangle_axes(*size_m, *length_m, fine, touched)?)),
            Body::Shape(shape) if !shape.is_long() => {
                let (z, r) = Mesh::ring_axes(shape, fine, touched)?;
                Ok(product(&[z, r]))
            }
            Body::Shape(shape) => {
                let mut cells = 0_usize;
                for (index, section) in shape.sections.iter().enumerate() {
                    let strips: Vec<&Ring> = shape.rings.iter().filter(|r| r.is_in(index)).collect();
                    if !strips.is_empty() {
                        let axes = Mesh::section_axes(&strips, section.symmetric, fine, touched)?;
                        cells = cells.saturating_add(product(&axes));
                    }
                }
                Ok(cells)
            }
        }
    }

    /// The cross-sections of a long part, each on a height axis and a width axis of its own.
    ///
    /// # Errors
    /// As [`Axis::new`], and a shape without material.
    pub fn strips(shape: &Shape, fine: &Fineness, touched: Touched) -> Result<Mesh, GridError> {
        let zones: Vec<String> = shape.zones().iter().map(|z| (*z).to_owned()).collect();
        let mut blocks = Vec::with_capacity(shape.sections.len());
        for (index, section) in shape.sections.iter().enumerate() {
            let strips: Vec<&Ring> = shape.rings.iter().filter(|r| r.is_in(index)).collect();
            if strips.is_empty() {
                continue;
            }
            let axes = Mesh::section_axes(&strips, section.symmetric, fine, touched)?;
            blocks.push((
                index,
                Block {
                    name: section.name.clone(),
                    symmetric: section.symmetric,
                    length_m: section.length_m,
                    axes,
                    first: 0,
                },
            ));
        }
        let owner: Vec<usize> = blocks.iter().map(|b| b.0).collect();
        let blocks: Vec<Block> = blocks.into_iter().map(|b| b.1).collect();
        let strip_of = |b: usize, axes: &[Axis], i: usize, j: usize| {
            let (z, x) = (axes[0].centre(i), axes[1].centre(j));
            shape
                .rings
                .iter()
                .find(|r| r.is_in(owner[b]) && r.bottom_m < z && z < r.top_m && r.inner_m < x && x < r.outer_m)
        };
        let axes: Vec<Vec<Axis>> = blocks.iter().map(|b| b.axes.clone()).collect();
        let grid = Grid::of_blocks(blocks, |b, i, j| strip_of(b, &axes[b], i, j).is_some())?;
        let zone = (0..grid.cells())
            .map(|cell| {
                if !grid.active()[cell] {
                    return 0;
                }
                let (b, at) = (grid.block_of(cell), grid.local(cell));
                let strip = strip_of(b, &axes[b], at[0], at[1]);
                strip.map_or(0, |r| zones.iter().position(|n| *n == r.zone).unwrap_or(0) as u16)
            })
            .collect();
        Ok(Mesh {
            grid: Arc::new(skinned(grid, Layout::Strips)),
            layout: Layout::Strips,
            zones,
            zone,
        })
    }

    /// The height axis and the width axis of a cross-section from its strips.
    fn section_axes(
        strips: &[&Ring],
        symmetric: bool,
        fine: &Fineness,
        touched: Touched,
    ) -> Result<Vec<Axis>, GridError> {
        let width = strips.iter().map(|r| r.outer_m).fold(0.0, f64::max)
            - strips.iter().map(|r| r.inner_m).fold(f64::INFINITY, f64::min);
        let height = strips.iter().map(|r| r.top_m).fold(0.0, f64::max)
            - strips.iter().map(|r| r.bottom_m).fold(f64::INFINITY, f64::min);
        let whole = if symmetric { 2.0 * width } else { width };
        let coarse = fine.inner_share * whole.min(height);
        let across = |r: &Ring| (r.inner_m, r.outer_m);
        let up = |r: &Ring| (r.bottom_m, r.top_m);
        let size = |touched: bool| if touched { fine.contact_m } else { fine.free_m };
        let axis = |of: &dyn Fn(&Ring) -> (f64, f64), size: f64, mirror: bool| -> Result<Axis, GridError> {
            let at = breaks(strips.iter().flat_map(|r| [of(r).0, of(r).1]));
            // Material does not begin at a plane of symmetry.
            let starts = |x: f64| strips.iter().any(|r| of(r).0 == x) && !(mirror && x == 0.0);
            let stops = |x: f64| strips.iter().any(|r| of(r).1 == x);
            let ends: Vec<(bool, bool)> = at.windows(2).map(|w| (starts(w[0]), stops(w[1]))).collect();
            joined_spans(AxisKind::Linear, &at, &ends, size, coarse, fine)
        };
        Ok(vec![
            axis(&up, size(touched.ends), false)?,
            axis(&across, size(touched.side), symmetric)?,
        ])
    }
}

#[cfg(test)]
mod tests {
    use super::super::axis::Growth;
    use super::super::mesh::Skin;
    use super::super::shape::{CrossSection, Strip};
    use super::*;

    #[test]
    fn sections_have_their_volume_and_skins() {
        let section = |name: &str, symmetric, length_m| CrossSection {
            name: name.to_owned(),
            share: 0.5,
            length_m,
            symmetric,
        };
        let strip = |section, depth_m, inner_m, outer_m, bottom_m, top_m, zone: &str| Ring {
            inner_m,
            outer_m,
            bottom_m,
            top_m,
            zone: zone.to_owned(),
            strip: Some(Strip { section, depth_m }),
        };
        let shape = Shape {
            rings: vec![
                strip(0, 0.1, 0.0, 0.01, 0.004, 0.01, "a.web"),
                strip(0, 0.1, 0.01, 0.02, 0.0, 0.014, "a.body"),
                strip(1, 0.08, -0.01, 0.015, 0.0, 0.02, "b.body"),
            ],
            sections: vec![section("a", true, 0.05), section("b", false, 0.08)],
        };
        let fine = Fineness {
            contact_m: 5e-5,
            free_m: 2.5e-4,
            inner_share: 0.06,
            growth: Growth::from(1.45),
            span_share: 0.34,
        };
        let touched = Touched {
            ends: true,
            side: false,
        };
        let mesh = Mesh::of_shape(&shape, &fine, touched).unwrap();
        assert!((mesh.grid.total_volume() / shape.volume_m3() - 1.0).abs() < 1e-12);
        let area = |skin: Skin| mesh.grid.group_area(skin as usize);
        // Seen from above, both sections show their whole width.
        assert!((area(Skin::Top) - (0.1 * 0.02 + 0.08 * 0.025)).abs() < 1e-12);
        // Outer sides of the body, its inner ones above and below the web, both sides of b.
        let sides = 0.1 * (0.014 + 0.008) + 2.0 * 0.08 * 0.02;
        assert!((area(Skin::Side) - sides).abs() < 1e-12, "{}", area(Skin::Side));
        // The plane of symmetry is no skin.
        assert!((area(Skin::Bore) - 0.1 * 0.006).abs() < 1e-12);
    }
}
