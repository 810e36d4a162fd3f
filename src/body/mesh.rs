//! Grids for bars and ring shapes, with zones and faces that have a name.

use std::sync::Arc;

use super::axis::{Axis, AxisKind, GridError, Growth};
use super::grid::{Face, Grid, Side};
use super::shape::{Ring, Shape};

/// The parts of a body's surface. The number of each is its face group.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(usize)]
pub enum Skin {
    /// Faces that look down the bar axis (the gripped end, or the lower die).
    Bottom = 0,
    /// Faces that look up the bar axis (the free end, or the upper die).
    Top = 1,
    /// Faces that look outwards.
    Side = 2,
    /// Faces that look towards the axis (a bore).
    Bore = 3,
    /// The part of the side that is gripped at the low end.
    GripLow = 4,
    /// The part of the side that is gripped at the high end.
    GripHigh = 5,
    /// Side and bore faces that meet the walls of a filled cavity.
    Wall = 6,
}

impl Skin {
    /// All parts, in the order of their group numbers.
    pub const ALL: [Skin; 7] = [
        Skin::Bottom,
        Skin::Top,
        Skin::Side,
        Skin::Bore,
        Skin::GripLow,
        Skin::GripHigh,
        Skin::Wall,
    ];
}

/// Cell sizes wanted at the surfaces and inside, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fineness {
    /// At a face that meets a tool.
    pub contact_m: f64,
    /// At a face that only meets air.
    pub free_m: f64,
    /// Largest cell as a share of the smallest dimension across.
    pub inner_share: f64,
    /// Ratio of neighbouring cells.
    pub growth: Growth,
    /// Largest cell as a share of the ring it lies in.
    pub span_share: f64,
}

/// Which surfaces meet tools and need fine cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Touched {
    /// End faces.
    pub ends: bool,
    /// Side faces.
    pub side: bool,
}

/// How the axes of a [`Mesh`] lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// One radial axis: a long round bar.
    Radial,
    /// Height, then radius.
    Axisymmetric,
    /// One linear axis from the middle of a plate to its face.
    Plate,
    /// Two linear axes, a quarter of a rectangular section.
    Quarter,
    /// Length, then a quarter of a rectangular section.
    Bar,
    /// Height, then width, of the cross-sections of a long part side by side.
    Strips,
}

/// A grid with zones.
#[derive(Debug, Clone)]
pub struct Mesh {
    /// The grid; its face groups are those of [`Skin`].
    pub grid: Arc<Grid>,
    /// How its axes lie.
    pub layout: Layout,
    /// Zone names.
    pub zones: Vec<String>,
    /// Zone of each cell.
    pub zone: Vec<u16>,
}

impl Mesh {
    /// A long round bar, per metre.
    ///
    /// # Errors
    /// As [`Axis::new`].
    pub fn round_section(radius_m: f64, fine: &Fineness, touched: Touched) -> Result<Mesh, GridError> {
        let axis = across(AxisKind::Radial, radius_m, fine, touched)?;
        Mesh::plain(vec![axis], Layout::Radial, 1.0)
    }

    /// A plate between two faces, per square metre (half of it is meshed).
    ///
    /// # Errors
    /// As [`Axis::new`].
    pub fn plate(thickness_m: f64, fine: &Fineness, touched: Touched) -> Result<Mesh, GridError> {
        let axis = across(AxisKind::Linear, 0.5 * thickness_m, fine, touched)?;
        Mesh::plain(vec![axis], Layout::Plate, 2.0)
    }

    /// A rectangular bar; without a length its section, per metre.
    ///
    /// # Errors
    /// As [`Axis::new`].
    pub fn rectangle(
        width_m: f64,
        height_m: f64,
        length_m: Option<f64>,
        fine: &Fineness,
        touched: Touched,
    ) -> Result<Mesh, GridError> {
        let axes = Mesh::rectangle_axes((width_m, height_m), length_m, fine, touched)?;
        let layout = if length_m.is_some() {
            Layout::Bar
        } else {
            Layout::Quarter
        };
        Mesh::plain(axes, layout, 4.0)
    }

    /// The axes of a rectangular bar: length where it has one, height, width.
    pub(super) fn rectangle_axes(
        (width_m, height_m): (f64, f64),
        length_m: Option<f64>,
        fine: &Fineness,
        touched: Touched,
    ) -> Result<Vec<Axis>, GridError> {
        let along = length_m.map(|length_m| along(0.0, length_m, fine, touched, width_m.min(height_m)));
        let y = across(AxisKind::Linear, 0.5 * height_m, fine, touched)?;
        let x = across(AxisKind::Linear, 0.5 * width_m, fine, touched)?;
        let mut axes = Vec::from_iter(along.transpose()?);
        axes.extend([y, x]);
        Ok(axes)
    }

    /// A ring shape on the product of a height axis and a radial axis.
    ///
    /// # Errors
    /// As [`Axis::new`], and a shape without material.
    pub fn rings(shape: &Shape, fine: &Fineness, touched: Touched) -> Result<Mesh, GridError> {
        let (z, r) = Mesh::ring_axes(shape, fine, touched)?;
        Mesh::from_axes(shape, z, r)
    }

    /// The height axis and the radial axis of a ring shape.
    pub(super) fn ring_axes(shape: &Shape, fine: &Fineness, touched: Touched) -> Result<(Axis, Axis), GridError> {
        let radii = breaks(shape.rings.iter().flat_map(|r| [r.inner_m, r.outer_m]));
        let heights = breaks(shape.rings.iter().flat_map(|r| [r.bottom_m, r.top_m]));
        // Fine cells go to the side of a surface where the material is.
        let starts = |at: f64, of: fn(&Ring) -> (f64, f64)| shape.rings.iter().any(|q| of(q).0 == at);
        let ends = |at: f64, of: fn(&Ring) -> (f64, f64)| shape.rings.iter().any(|q| of(q).1 == at);
        let radially: fn(&Ring) -> (f64, f64) = |q| (if q.inner_m > 0.0 { q.inner_m } else { -1.0 }, q.outer_m);
        let axially: fn(&Ring) -> (f64, f64) = |q| (q.bottom_m, q.top_m);
        let side = if touched.side { fine.contact_m } else { fine.free_m };
        let end = if touched.ends { fine.contact_m } else { fine.free_m };
        let coarse = fine.inner_share * (2.0 * shape.outer_m()).min(shape.height_m());
        let axis = |kind, breaks: &[f64], of: fn(&Ring) -> (f64, f64), size: f64| {
            let ends: Vec<(bool, bool)> = breaks.windows(2).map(|w| (starts(w[0], of), ends(w[1], of))).collect();
            joined_spans(kind, breaks, &ends, size, coarse, fine)
        };
        Ok((
            axis(AxisKind::Linear, &heights, axially, end)?,
            axis(AxisKind::Radial, &radii, radially, side)?,
        ))
    }

    /// A ring shape on given height and radius axes, whose faces include every ring's.
    ///
    /// # Errors
    /// A shape without material.
    fn from_axes(shape: &Shape, z: Axis, r: Axis) -> Result<Mesh, GridError> {
        let zones: Vec<String> = shape.zones().iter().map(|z| (*z).to_owned()).collect();
        let (nz, nr) = (z.cells(), r.cells());
        let mut active = vec![false; nz * nr];
        let mut zone = vec![0; nz * nr];
        for i in 0..nz {
            for j in 0..nr {
                let (height, radius) = (z.centre(i), r.centre(j));
                let inside = shape
                    .rings
                    .iter()
                    .find(|q| q.bottom_m < height && height < q.top_m && q.inner_m < radius && radius < q.outer_m);
                if let Some(ring) = inside {
                    active[i * nr + j] = true;
                    zone[i * nr + j] = zones.iter().position(|n| *n == ring.zone).unwrap_or(0) as u16;
                }
            }
        }
        let grid = Grid::masked(vec![z, r], active, 1.0)?;
        Ok(Mesh {
            grid: Arc::new(skinned(grid, Layout::Axisymmetric)),
            layout: Layout::Axisymmetric,
            zones,
            zone,
        })
    }

    /// The same cells after a homogeneous stretch along the axis: heights times `factor`, radii
    /// over its square root, so that every cell keeps its volume and its enthalpy.
    ///
    /// # Errors
    /// As [`Axis::new`].
    pub fn stretched(&self, factor: f64) -> Result<Mesh, GridError> {
        let axes = self.grid.axes();
        let scaled = |axis: &Axis, by: f64| Axis::new(axis.kind(), axis.faces().iter().map(|f| f * by).collect());
        let (z, r) = (scaled(&axes[0], factor)?, scaled(&axes[1], factor.sqrt().recip())?);
        let grid = Grid::masked(vec![z, r], self.grid.active().to_vec(), self.grid.multiplicity())?;
        Ok(Mesh {
            grid: Arc::new(skinned(grid, self.layout)),
            layout: self.layout,
            zones: self.zones.clone(),
            zone: self.zone.clone(),
        })
    }

    /// The same cells without those marked as gone.
    ///
    /// # Errors
    /// When nothing is left.
    pub fn without(&self, gone: &[bool]) -> Result<Mesh, GridError> {
        let active = self.grid.active().iter().zip(gone).map(|(a, g)| *a && !*g).collect();
        let grid = self.grid.with_mask(active)?;
        Ok(Mesh {
            grid: Arc::new(skinned(grid, self.layout)),
            ..self.clone()
        })
    }

    /// The same cells with the side faces within `low_m` and `high_m` of the two ends marked as
    /// gripped.
    pub fn gripped(&self, low_m: f64, high_m: f64) -> Mesh {
        self.gripped_between((0.0, low_m), (0.0, high_m))
    }

    /// As [`Mesh::gripped`], for jaws from one distance to another from the low and from the high end \[m\].
    /// A face that they cover in part is gripped; [`Mesh::covered_length`] tells how much of it.
    pub fn gripped_between(&self, low_m: (f64, f64), high_m: (f64, f64)) -> Mesh {
        let mut grid = (*self.grid).clone();
        if matches!(self.layout, Layout::Axisymmetric | Layout::Bar) {
            let (low, high) = (self.from_low(low_m), self.from_high(high_m));
            let layout = self.layout;
            grid.group_faces(|f| {
                let skin = skin_of(f.axis, f.side, layout);
                let share = |reach| {
                    if skin == Skin::Side {
                        self.covered_length(f, reach)
                    } else {
                        0.0
                    }
                };
                let (low, high) = (share(low), share(high));
                let gripped = if low > 0.0 && low >= high {
                    Skin::GripLow
                } else if high > 0.0 {
                    Skin::GripHigh
                } else {
                    skin
                };
                gripped as usize
            });
        } else if self.layout == Layout::Strips {
            grid = skinned(grid, self.layout);
        }
        Mesh {
            grid: Arc::new(grid),
            ..self.clone()
        }
    }

    /// Reach \[m\] along the axis of what is given from the low end on.
    pub fn from_low(&self, (from_m, to_m): (f64, f64)) -> (f64, f64) {
        let start = self.grid.axes()[0].faces()[0];
        (start + from_m, start + to_m)
    }

    /// Reach \[m\] along the axis of what is given from the high end on.
    pub fn from_high(&self, (from_m, to_m): (f64, f64)) -> (f64, f64) {
        let axis = &self.grid.axes()[0];
        let end = axis.faces()[axis.cells()];
        (end - to_m, end - from_m)
    }

    /// Share of a side face that lies within a reach \[m\] along the axis, 0 to 1.
    pub fn covered_length(&self, face: &Face, (low, high): (f64, f64)) -> f64 {
        let axis = &self.grid.axes()[0];
        let i = self.grid.position(face.cell)[0];
        let (a, b) = (axis.faces()[i], axis.faces()[i + 1]);
        let share = (b.min(high) - a.max(low)) / (b - a);
        // What only rounding covers is free.
        if share > 1e-9 { share.min(1.0) } else { 0.0 }
    }

    /// The same cells with the side and bore faces of all zones but `open` marked as meeting the walls
    /// of a filled cavity.
    pub fn walled(&self, open: &str) -> Mesh {
        let mut grid = (*self.grid).clone();
        let open: Vec<bool> = self.zones.iter().map(|z| is_zone(z, open)).collect();
        let layout = self.layout;
        grid.group_faces(|f| {
            let skin = match skin_in(&self.grid, f, layout) {
                Skin::Bore if layout == Layout::Strips => Skin::Bore,
                Skin::Side | Skin::Bore if !open[self.zone[f.cell] as usize] => Skin::Wall,
                other => other,
            };
            skin as usize
        });
        Mesh {
            grid: Arc::new(grid),
            ..self.clone()
        }
    }

    fn plain(axes: Vec<Axis>, layout: Layout, multiplicity: f64) -> Result<Mesh, GridError> {
        let cells: usize = axes.iter().map(Axis::cells).product();
        let grid = Grid::masked(axes, vec![true; cells], multiplicity)?;
        Ok(Mesh {
            grid: Arc::new(skinned(grid, layout)),
            layout,
            zones: vec!["body".to_owned()],
            zone: vec![0; cells],
        })
    }

    /// Relative place of a cell along the bar axis, 0 at the gripped end and 1 at the free end; 0.5
    /// in a section without ends.
    pub fn relative_length(&self, cell: usize) -> f64 {
        let grid = &self.grid;
        if !matches!(self.layout, Layout::Axisymmetric | Layout::Bar) {
            return 0.5;
        }
        let axis = &grid.axes()[0];
        let faces = axis.faces();
        let (low, high) = (faces[0], faces[faces.len() - 1]);
        (axis.centre(grid.position(cell)[0]) - low) / (high - low)
    }

    /// Relative distances of a cell from the axis (0) to the surface (1) across and up; a section of
    /// one dimension has only the first.
    pub fn relative_place(&self, cell: usize) -> (f64, f64) {
        let at = self.grid.position(cell);
        let axes = self.grid.axes();
        let of = |a: usize| axes[a].centre(at[a]) / axes[a].faces()[axes[a].cells()];
        match self.layout {
            Layout::Radial | Layout::Plate => (of(0), 0.0),
            Layout::Axisymmetric => (of(1), 0.0),
            Layout::Quarter => (of(1), of(0)),
            Layout::Bar => (of(2), of(1)),
            // Nothing is heated in cross-sections; the distance would have no meaning.
            Layout::Strips => (0.0, 0.0),
        }
    }
}

/// Sorted distinct values.
pub(super) fn breaks(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut v: Vec<f64> = values.collect();
    v.sort_by(f64::total_cmp);
    v.dedup();
    v
}

fn across(kind: AxisKind, half_m: f64, fine: &Fineness, touched: Touched) -> Result<Axis, GridError> {
    let end = if touched.side { fine.contact_m } else { fine.free_m };
    Axis::graded(
        kind,
        0.0,
        half_m,
        None,
        Some(end.min(0.1 * half_m)),
        fine.growth,
        fine.inner_share * 2.0 * half_m,
    )
}

fn along(low: f64, high: f64, fine: &Fineness, touched: Touched, across_m: f64) -> Result<Axis, GridError> {
    let end = Some((if touched.ends { fine.contact_m } else { fine.free_m }).min(0.1 * (high - low)));
    let coarse = (2.0 * fine.inner_share * across_m).min(0.25 * (high - low));
    Axis::graded(AxisKind::Linear, low, high, end, end, fine.growth, coarse)
}

/// An axis of spans between breaks. Where material begins or ends (`ends`, low and high of each span), cells are of
/// `size`; in no span larger than a share of it, so that a thin ring still gets a few cells across. A span that goes on behind a break
/// begins there with cells no larger than those of its neighbour: heat that turns round the corner
/// of a step spreads as far to either side.
pub(super) fn joined_spans(
    kind: AxisKind,
    breaks: &[f64],
    ends: &[(bool, bool)],
    size: f64,
    coarse: f64,
    fine: &Fineness,
) -> Result<Axis, GridError> {
    let most: Vec<f64> = breaks.windows(2).map(|w| (w[1] - w[0]) * fine.span_share).collect();
    let beyond = |k: Option<usize>| k.and_then(|k| most.get(k)).copied();
    let spans: Result<Vec<Axis>, GridError> = (breaks.windows(2).zip(ends).enumerate())
        .map(|(k, (w, (starts, stops)))| {
            let at = |fine_end: bool, next: Option<usize>| {
                let size = if fine_end { Some(size) } else { beyond(next) };
                size.map(|s| s.min(most[k]))
            };
            let (low, high) = (at(*starts, k.checked_sub(1)), at(*stops, Some(k + 1)));
            Axis::graded(kind, w[0], w[1], low, high, fine.growth, coarse.min(most[k]))
        })
        .collect();
    Axis::joined(kind, &spans?)
}

/// Whether a zone has a name, in a cross-section behind the section's.
pub fn is_zone(zone: &str, name: &str) -> bool {
    zone.strip_suffix(name)
        .is_some_and(|before| before.is_empty() || before.ends_with('.'))
}

pub(super) fn skinned(mut grid: Grid, layout: Layout) -> Grid {
    if layout == Layout::Strips {
        let skins: Vec<Skin> = grid.faces().iter().map(|f| skin_in(&grid, f, layout)).collect();
        let mut next = skins.into_iter();
        grid.group_faces_in_order(|| next.next().map_or(0, |s| s as usize));
    } else {
        grid.group_faces(|f| skin_of(f.axis, f.side, layout) as usize);
    }
    grid
}

/// As [`skin_of`]; in a cross-section only the plane of symmetry is no skin.
fn skin_in(grid: &Grid, face: &Face, layout: Layout) -> Skin {
    let symmetry = || {
        let block = grid.blocks().get(grid.block_of(face.cell));
        block.is_some_and(|b| b.symmetric) && face.side == Side::Low && face.at[1] == 0.0
    };
    match skin_of(face.axis, face.side, layout) {
        Skin::Bore if layout == Layout::Strips && !symmetry() => Skin::Side,
        skin => skin,
    }
}

fn skin_of(axis: usize, side: Side, layout: Layout) -> Skin {
    let along = matches!(layout, Layout::Axisymmetric | Layout::Bar | Layout::Strips) && axis == 0;
    match (along, side) {
        (true, Side::Low) => Skin::Bottom,
        (true, Side::High) => Skin::Top,
        // The low side of a quarter or half model is a plane of symmetry.
        (false, Side::Low) => Skin::Bore,
        (false, Side::High) => Skin::Side,
    }
}

/// Cells for the tests of this folder.
#[cfg(test)]
pub(super) const TEST_FINE: Fineness = Fineness {
    contact_m: 5e-5,
    free_m: 2.5e-4,
    inner_share: 0.06,
    growth: Growth {
        gentle: 1.45,
        until_m: 0.0,
        then: 1.45,
    },
    span_share: 0.34,
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn volumes_match_the_shape() {
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
        let mesh = Mesh::rings(
            &hub,
            &TEST_FINE,
            Touched {
                ends: true,
                side: false,
            },
        )
        .unwrap();
        assert!((mesh.grid.total_volume() / hub.volume_m3() - 1.0).abs() < 1e-12);
        let stretched = mesh.stretched(1.7).unwrap();
        assert!((stretched.grid.total_volume() / hub.volume_m3() - 1.0).abs() < 1e-12);
        assert_eq!(mesh.zones, ["web", "body", "flash"]);
    }

    #[test]
    fn symmetry_planes_have_no_skin_of_their_own() {
        let bar = Mesh::rectangle(0.04, 0.03, Some(0.2), &TEST_FINE, Touched::default()).unwrap();
        assert!((bar.grid.total_volume() / (0.04 * 0.03 * 0.2) - 1.0).abs() < 1e-12);
        let side = bar.grid.group_area(Skin::Side as usize);
        assert!((side / (2.0 * 0.07 * 0.2) - 1.0).abs() < 1e-12);
    }
}
