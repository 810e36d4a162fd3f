//! Nodes: the named places of a body that limits, tables and files speak of.

mod place;
mod sections;

pub use place::Place;

use super::axis::{Axis, AxisKind};
use super::grid::{Face, Side};
use super::mesh::{Layout, Mesh, Skin};

/// Width of the `edge` ring in m.
const EDGE_M: f64 = 2e-3;

/// Indices of cells or faces with their weights.
type Weights = Vec<(usize, f64)>;

/// How a node value comes from cells and faces.
#[derive(Debug, Clone)]
enum Rule {
    /// Weighted cell temperatures (the weights add to one).
    Cells(Weights),
    /// Weighted face temperatures.
    Faces(Weights),
    /// The colder of two weighted means of cells.
    Colder(Weights, Weights),
    /// Temperature of the mean enthalpy of the listed cells (mass weights).
    Mean(Weights),
    /// Coldest of a region.
    Coldest(Extent),
    /// Hottest of a region.
    Hottest(Extent),
}

/// Where the extremes of a region are sought: in its cells, on its exposed faces, and on the joints
/// to its neighbours inside the part, where a thin zone is as hot or cold as what it hangs on.
#[derive(Debug, Clone)]
struct Extent {
    cells: Vec<usize>,
    faces: Vec<usize>,
    joints: Vec<Joint>,
}

/// The face between two cells: T = T_a + share (T_b − T_a).
#[derive(Debug, Clone, Copy)]
struct Joint {
    a: usize,
    b: usize,
    share: f64,
}

/// The nodes of one mesh.
#[derive(Debug, Clone)]
pub struct Nodes {
    names: Vec<String>,
    rules: Vec<Rule>,
}

/// The temperatures that node values are taken from.
pub struct NodeSource<'a> {
    /// Temperature of each cell, degC.
    pub cells_c: &'a [f64],
    /// Temperature of each exposed face, degC.
    pub faces_c: &'a [f64],
    /// Specific enthalpy of each cell, J/kg.
    pub enthalpy: &'a [f64],
    /// Temperature of a specific enthalpy [J/kg] for a cell's branch, degC.
    pub temperature_of: &'a dyn Fn(usize, f64) -> f64,
}

impl Nodes {
    /// The nodes of a mesh: the plain ones, then those of each zone when there is more than one
    /// zone or a zone other than `body`.
    pub fn of(mesh: &Mesh) -> Nodes {
        let mut nodes = Nodes {
            names: Vec::new(),
            rules: Vec::new(),
        };
        let all = Region::whole(mesh);
        if mesh.layout == Layout::Strips {
            nodes.add_sections(mesh, &all);
            return nodes;
        }
        nodes.add(Place::Core, Rule::Cells(core(mesh, all.middle(mesh))));
        nodes.add(Place::Surface, Rule::Faces(side_at_middle(mesh)));
        if matches!(mesh.layout, Layout::Axisymmetric | Layout::Bar) {
            nodes.add(Place::GripEnd, Rule::Faces(end_centre(mesh, Skin::Bottom)));
            nodes.add(Place::FreeEnd, Rule::Faces(end_centre(mesh, Skin::Top)));
            let (low, high) = rims(mesh);
            nodes.add(Place::Edge, Rule::Colder(low, high));
        }
        nodes.add(Place::Mean, Rule::Mean(all.masses(mesh)));
        nodes.add(Place::Coldest, Rule::Coldest(all.extent(mesh)));
        nodes.add(Place::Hottest, Rule::Hottest(all.extent(mesh)));
        if mesh.zones.len() > 1 || mesh.zones[0] != "body" {
            for (z, name) in mesh.zones.iter().enumerate() {
                nodes.add_region(mesh, name, &Region::zone(mesh, z as u16));
            }
        }
        nodes
    }

    /// The nodes of a zone or section.
    fn add_region(&mut self, mesh: &Mesh, name: &str, region: &Region) {
        if region.cells.is_empty() {
            return;
        }
        let faces = region.areas(mesh);
        let mut add = |place: Place, rule| {
            self.names.push(place.in_zone(name));
            self.rules.push(rule);
        };
        add(Place::Mean, Rule::Mean(region.masses(mesh)));
        add(Place::Core, Rule::Cells(region.heart(mesh)));
        if !faces.is_empty() {
            add(Place::Surface, Rule::Faces(faces));
        }
        add(Place::Coldest, Rule::Coldest(region.extent(mesh)));
        add(Place::Hottest, Rule::Hottest(region.extent(mesh)));
    }

    fn add(&mut self, place: Place, rule: Rule) {
        self.names.push(place.word().to_owned());
        self.rules.push(rule);
    }

    /// Names in order.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// Values in degC, in the order of the names.
    pub fn values(&self, source: &NodeSource<'_>, out: &mut Vec<f64>) {
        self.values_of(&|_| true, source, out);
    }

    /// Values in degC of the wanted nodes, in the order of the names; the others are NaN.
    pub fn values_of(&self, wanted: &dyn Fn(usize) -> bool, source: &NodeSource<'_>, out: &mut Vec<f64>) {
        out.clear();
        for (node, rule) in self.rules.iter().enumerate() {
            out.push(if wanted(node) { rule.value(source) } else { f64::NAN });
        }
    }
}

impl Rule {
    fn value(&self, source: &NodeSource<'_>) -> f64 {
        let weighted = |list: &[(usize, f64)], of: &[f64]| list.iter().map(|(i, w)| w * of[*i]).sum::<f64>();
        let extreme = |of: &Extent, pick: fn(f64, f64) -> f64, start: f64| {
            let inner = of.cells.iter().map(|c| source.cells_c[*c]).fold(start, pick);
            let outer = of.faces.iter().map(|f| source.faces_c[*f]).fold(inner, pick);
            let at = |j: &Joint| source.cells_c[j.a] + j.share * (source.cells_c[j.b] - source.cells_c[j.a]);
            of.joints.iter().map(at).fold(outer, pick)
        };
        match self {
            Rule::Cells(list) => weighted(list, source.cells_c),
            Rule::Faces(list) => weighted(list, source.faces_c),
            Rule::Colder(a, b) => weighted(a, source.cells_c).min(weighted(b, source.cells_c)),
            Rule::Mean(list) => {
                let h = weighted(list, source.enthalpy);
                list.first()
                    .map_or(f64::NAN, |(cell, _)| (source.temperature_of)(*cell, h))
            }
            Rule::Coldest(of) => extreme(of, f64::min, f64::INFINITY),
            Rule::Hottest(of) => extreme(of, f64::max, f64::NEG_INFINITY),
        }
    }
}

/// Cells and faces of the whole body or of one zone.
struct Region {
    cells: Vec<usize>,
    faces: Vec<usize>,
}

impl Region {
    fn whole(mesh: &Mesh) -> Region {
        Region::select(mesh, |_| true)
    }

    fn zone(mesh: &Mesh, zone: u16) -> Region {
        Region::select(mesh, |cell| mesh.zone[cell] == zone)
    }

    fn select(mesh: &Mesh, keep: impl Fn(usize) -> bool) -> Region {
        let grid = &mesh.grid;
        let cells = (0..grid.cells()).filter(|c| grid.active()[*c] && keep(*c)).collect();
        let faces = (0..grid.faces().len())
            .filter(|f| {
                let face = &grid.faces()[*f];
                keep(face.cell) && !is_symmetry(mesh, face)
            })
            .collect();
        Region { cells, faces }
    }

    /// Where this region's extremes are sought.
    fn extent(&self, mesh: &Mesh) -> Extent {
        let grid = &mesh.grid;
        let mut inside = vec![false; grid.cells()];
        for c in &self.cells {
            inside[*c] = true;
        }
        let mut joints = Vec::new();
        for axis in 0..grid.axes().len() {
            let stride = grid.stride()[axis];
            for a in 0..grid.cells().saturating_sub(stride) {
                let b = a + stride;
                if grid.between(axis)[a] > 0.0 && inside[a] != inside[b] {
                    let (along, i) = (&grid.axes_of(a)[axis], grid.local(a)[axis]);
                    let share = (along.faces()[i + 1] - along.centre(i)) / (along.centre(i + 1) - along.centre(i));
                    joints.push(Joint { a, b, share });
                }
            }
        }
        Extent {
            cells: self.cells.clone(),
            faces: self.faces.clone(),
            joints,
        }
    }

    /// Mass shares; the density is uniform.
    fn masses(&self, mesh: &Mesh) -> Weights {
        shares(self.cells.iter().map(|c| (*c, mesh.grid.volume()[*c])))
    }

    fn areas(&self, mesh: &Mesh) -> Weights {
        shares(self.faces.iter().map(|f| (*f, mesh.grid.faces()[*f].area)))
    }

    /// Middle of the extent along the first axis, m.
    fn middle(&self, mesh: &Mesh) -> f64 {
        let faces = mesh.grid.axes()[0].faces();
        0.5 * (faces[0] + faces[faces.len() - 1])
    }

    /// Centre of the region's extent on every axis; on the axis of rotation for a full disc.
    fn heart(&self, mesh: &Mesh) -> Weights {
        let grid = &mesh.grid;
        let axes = grid.axes();
        let mut low = [f64::INFINITY; 3];
        let mut high = [f64::NEG_INFINITY; 3];
        for c in &self.cells {
            for a in 0..axes.len() {
                let (from, to) = grid.extent(*c, a);
                low[a] = low[a].min(from);
                high[a] = high[a].max(to);
            }
        }
        if mesh.layout == Layout::Strips {
            return self.section_heart(mesh, (low[0], high[0]), (low[1], high[1]));
        }
        let point: Vec<f64> = (0..axes.len())
            .map(|a| {
                let symmetric = mesh.layout != Layout::Axisymmetric && !(mesh.layout == Layout::Bar && a == 0)
                    || (mesh.layout == Layout::Axisymmetric && a == 1);
                if symmetric && low[a] == 0.0 {
                    0.0
                } else {
                    0.5 * (low[a] + high[a])
                }
            })
            .collect();
        let spread = interpolation(mesh, &point);
        let kept: Weights = spread.into_iter().filter(|(c, _)| self.cells.contains(c)).collect();
        shares(kept.into_iter())
    }
}

fn is_symmetry(mesh: &Mesh, face: &Face) -> bool {
    if mesh.layout == Layout::Strips {
        return face.group == Skin::Bore as usize;
    }
    let along = mesh.layout == Layout::Bar && face.axis == 0;
    face.side == Side::Low && !along && !matches!(mesh.layout, Layout::Axisymmetric | Layout::Radial)
}

fn shares(parts: impl Iterator<Item = (usize, f64)>) -> Weights {
    let parts: Weights = parts.collect();
    let total: f64 = parts.iter().map(|p| p.1).sum();
    parts.into_iter().map(|(i, w)| (i, w / total)).collect()
}

/// Weights of two neighbouring cell middles for a coordinate on one axis; on an axis of symmetry
/// (coordinate 0) the parabola through the first two middles with zero slope at 0.
fn on_axis(mesh: &Mesh, axis: usize, x: f64) -> Weights {
    let a = &mesh.grid.axes()[axis];
    let mirrored = !(axis == 0 && matches!(mesh.layout, Layout::Axisymmetric | Layout::Bar));
    along(a, x, mirrored)
}

fn along(a: &Axis, x: f64, mirrored: bool) -> Weights {
    let n = a.cells();
    if n == 1 {
        return vec![(0, 1.0)];
    }
    if x == 0.0 && a.faces()[0] == 0.0 && mirrored {
        let (r1, r2) = (a.centre(0), a.centre(1));
        let w = r1 * r1 / (r2 * r2 - r1 * r1);
        return vec![(0, 1.0 + w), (1, -w)];
    }
    let above = (0..n).find(|i| a.centre(*i) >= x).unwrap_or(n - 1).max(1);
    let (low, high) = (a.centre(above - 1), a.centre(above));
    let f = ((x - low) / (high - low)).clamp(0.0, 1.0);
    vec![(above - 1, 1.0 - f), (above, f)]
}

/// Weights of cells for a point.
fn interpolation(mesh: &Mesh, point: &[f64]) -> Weights {
    let mut out = vec![([0usize; 3], 1.0)];
    for (axis, x) in point.iter().enumerate() {
        let on = on_axis(mesh, axis, *x);
        out = out
            .into_iter()
            .flat_map(|(at, w)| {
                on.iter().map(move |(i, v)| {
                    let mut at = at;
                    at[axis] = *i;
                    (at, w * v)
                })
            })
            .collect();
    }
    let cells: Weights = out.into_iter().map(|(at, w)| (mesh.grid.index(at), w)).collect();
    let active: Weights = cells
        .iter()
        .copied()
        .filter(|(c, w)| *w != 0.0 && mesh.grid.active()[*c])
        .collect();
    if active.is_empty() {
        nearest(mesh, point)
    } else {
        shares(active.into_iter())
    }
}

/// The active cell whose middle is nearest to a point.
fn nearest(mesh: &Mesh, point: &[f64]) -> Weights {
    let grid = &mesh.grid;
    let distance = |c: usize| {
        let at = grid.position(c);
        point
            .iter()
            .enumerate()
            .map(|(a, x)| (grid.axes()[a].centre(at[a]) - x).powi(2))
            .sum::<f64>()
    };
    (0..grid.cells())
        .filter(|c| grid.active()[*c])
        .min_by(|a, b| distance(*a).total_cmp(&distance(*b)))
        .map_or(Vec::new(), |c| vec![(c, 1.0)])
}

fn core(mesh: &Mesh, middle: f64) -> Weights {
    let point = match mesh.layout {
        Layout::Radial | Layout::Plate => vec![0.0],
        Layout::Quarter | Layout::Strips => vec![0.0, 0.0],
        Layout::Axisymmetric => vec![middle, hollow_middle(mesh, middle)],
        Layout::Bar => vec![middle, 0.0, 0.0],
    };
    interpolation(mesh, &point)
}

/// Radius of the core of an axisymmetric body: zero, or the middle of the wall where the body has
/// a bore at this height.
fn hollow_middle(mesh: &Mesh, height: f64) -> f64 {
    let grid = &mesh.grid;
    let (z, r) = (&grid.axes()[0], &grid.axes()[1]);
    let row = (0..z.cells())
        .find(|i| z.faces()[i + 1] > height)
        .unwrap_or(z.cells() - 1);
    let inside: Vec<usize> = (0..r.cells())
        .filter(|j| grid.active()[grid.index([row, *j, 0])])
        .collect();
    match (inside.first(), inside.last()) {
        (Some(first), Some(last)) if *first > 0 => 0.5 * (r.faces()[*first] + r.faces()[last + 1]),
        _ => 0.0,
    }
}

/// The outermost side faces at mid-length; of a rectangle those in the middle of its wider sides, which
/// are as far from its corners as a side can be, whichever of its dimensions is called width.
fn side_at_middle(mesh: &Mesh) -> Weights {
    let grid = &mesh.grid;
    let normal = side_axis(mesh);
    let outer = grid
        .faces()
        .iter()
        .filter(|f| f.axis == normal && f.side == Side::High)
        .map(|f| f.at[normal])
        .fold(0.0, f64::max);
    let candidates: Vec<usize> = (0..grid.faces().len())
        .filter(|i| {
            let f = &grid.faces()[*i];
            f.axis == normal && f.side == Side::High && f.at[normal] == outer
        })
        .collect();
    match mesh.layout {
        // Sections have nodes of their own.
        Layout::Strips => Vec::new(),
        Layout::Radial | Layout::Plate => shares(candidates.into_iter().map(|f| (f, 1.0))),
        Layout::Axisymmetric => {
            // Mid-height of the outermost material, which may be a thin flash.
            let heights: Vec<f64> = candidates.iter().map(|f| grid.faces()[*f].at[0]).collect();
            let axis = &grid.axes()[0];
            let at = |f: &usize| grid.position(grid.faces()[*f].cell)[0];
            let low = candidates
                .iter()
                .map(|f| axis.faces()[at(f)])
                .fold(f64::INFINITY, f64::min);
            let high = candidates
                .iter()
                .map(|f| axis.faces()[at(f) + 1])
                .fold(f64::NEG_INFINITY, f64::max);
            between(&candidates, &heights, 0.5 * (low + high))
        }
        Layout::Quarter => {
            let aside: Vec<f64> = candidates.iter().map(|f| grid.faces()[*f].at[1 - normal]).collect();
            between(&candidates, &aside, 0.0)
        }
        Layout::Bar => {
            let faces = grid.axes()[0].faces();
            let middle = 0.5 * (faces[0] + faces[faces.len() - 1]);
            let lowest = candidates
                .iter()
                .map(|f| grid.faces()[*f].at[3 - normal])
                .fold(f64::INFINITY, f64::min);
            let row: Vec<usize> = candidates
                .into_iter()
                .filter(|f| grid.faces()[*f].at[3 - normal] == lowest)
                .collect();
            let lengths: Vec<f64> = row.iter().map(|f| grid.faces()[*f].at[0]).collect();
            between(&row, &lengths, middle)
        }
    }
}

/// The axis on which the side lies that `surface` is taken from: the last one, of a rectangle the one
/// across its wider sides.
fn side_axis(mesh: &Mesh) -> usize {
    let axes = mesh.grid.axes();
    let last = axes.len() - 1;
    let half = |a: usize| axes[a].faces()[axes[a].cells()];
    match mesh.layout {
        Layout::Quarter | Layout::Bar if half(last - 1) < half(last) => last - 1,
        _ => last,
    }
}

/// Linear weights of the two candidates whose positions enclose `x` (or the nearest one).
fn between(candidates: &[usize], at: &[f64], x: f64) -> Weights {
    let pick = |keep: &dyn Fn(f64) -> bool| {
        (0..at.len())
            .filter(|i| keep(at[*i]))
            .min_by(|a, b| (at[*a] - x).abs().total_cmp(&(at[*b] - x).abs()))
    };
    match (pick(&|p| p <= x), pick(&|p| p > x)) {
        (Some(a), Some(b)) => {
            let f = (x - at[a]) / (at[b] - at[a]);
            vec![(candidates[a], 1.0 - f), (candidates[b], f)]
        }
        (Some(a), None) | (None, Some(a)) => vec![(candidates[a], 1.0)],
        (None, None) => Vec::new(),
    }
}

/// Faces at the centre of an end: on the axis of rotation, or nearest to it.
fn end_centre(mesh: &Mesh, skin: Skin) -> Weights {
    let grid = &mesh.grid;
    let side = if skin == Skin::Bottom { Side::Low } else { Side::High };
    let ends: Vec<usize> = (0..grid.faces().len())
        .filter(|f| grid.faces()[*f].axis == 0 && grid.faces()[*f].side == side)
        .collect();
    let off = |f: &usize| {
        let at = grid.faces()[*f].at;
        at[1] * at[1] + at[2] * at[2]
    };
    let mut order = ends;
    order.sort_by(|a, b| off(a).total_cmp(&off(b)));
    match (mesh.layout, order.as_slice()) {
        (Layout::Axisymmetric, [a, b, ..])
            if grid.faces()[*a].at[0] == grid.faces()[*b].at[0]
                && grid.axes()[1].faces()[grid.position(grid.faces()[*a].cell)[1]] == 0.0 =>
        {
            let (r1, r2) = (grid.faces()[*a].at[1], grid.faces()[*b].at[1]);
            let w = r1 * r1 / (r2 * r2 - r1 * r1);
            vec![(*a, 1.0 + w), (*b, -w)]
        }
        (_, [a, ..]) => vec![(*a, 1.0)],
        (_, []) => Vec::new(),
    }
}

/// Weights of an axis' cells for the integral over [from, to]. A cell that the border cuts counts
/// at the middle of its inner part, between its own middle and that of the neighbour inside.
fn covered(axis: &Axis, from: f64, to: f64) -> Vec<f64> {
    let faces = axis.faces();
    let mut out = vec![0.0; axis.cells()];
    for i in 0..axis.cells() {
        let (low, high) = (faces[i].max(from), faces[i + 1].min(to));
        if high <= low {
            continue;
        }
        let (measure, middle) = match axis.kind() {
            AxisKind::Linear => (high - low, 0.5 * (low + high)),
            AxisKind::Radial => (
                0.5 * (high * high - low * low),
                2.0 / 3.0 * (high.powi(3) - low.powi(3)) / (high * high - low * low),
            ),
        };
        let inner = match (low > faces[i], high < faces[i + 1]) {
            (true, false) if i + 1 < axis.cells() => Some(i + 1),
            (false, true) if i > 0 => Some(i - 1),
            _ => None,
        };
        let share = inner.map_or(0.0, |n| (middle - axis.centre(i)) / (axis.centre(n) - axis.centre(i)));
        out[i] += measure * (1.0 - share);
        if let Some(n) = inner {
            out[n] += measure * share;
        }
    }
    out
}

/// Cells within [`EDGE_M`] of the rim of the lower and of the upper end face, by volume.
fn rims(mesh: &Mesh) -> (Weights, Weights) {
    let rim = |side: Side| {
        let grid = &mesh.grid;
        let ends: Vec<_> = grid.faces().iter().filter(|f| f.axis == 0 && f.side == side).collect();
        let level = ends.iter().map(|f| f.at[0]).fold(
            if side == Side::Low {
                f64::INFINITY
            } else {
                f64::NEG_INFINITY
            },
            if side == Side::Low { f64::min } else { f64::max },
        );
        let position = |cell: usize| grid.position(cell);
        let upper = |axis: usize, i: usize| grid.axes()[axis].faces()[i + 1];
        let outer: Vec<f64> = (1..grid.axes().len())
            .map(|a| {
                ends.iter()
                    .filter(|f| f.at[0] == level)
                    .map(|f| upper(a, position(f.cell)[a]))
                    .fold(0.0, f64::max)
            })
            .collect();
        let (from, to) = if side == Side::Low {
            (level, level + EDGE_M)
        } else {
            (level - EDGE_M, level)
        };
        let length = covered(&grid.axes()[0], from, to);
        // Near any of the outer faces of the section: all of it less what lies deeper.
        let section = |depth: f64| -> Vec<Vec<f64>> {
            let axes = grid.axes()[1..].iter().zip(&outer);
            axes.map(|(axis, o)| covered(axis, f64::NEG_INFINITY, o - depth))
                .collect()
        };
        let (whole, deep) = (section(0.0), section(EDGE_M));
        let parts = (0..grid.cells()).filter(|c| grid.active()[*c]).filter_map(|c| {
            let at = position(c);
            let product = |of: &[Vec<f64>]| of.iter().enumerate().map(|(k, w)| w[at[k + 1]]).product::<f64>();
            let weight = length[at[0]] * (product(&whole) - product(&deep));
            (weight != 0.0).then_some((c, weight))
        });
        shares(parts)
    };
    (rim(Side::Low), rim(Side::High))
}

#[cfg(test)]
mod tests;
