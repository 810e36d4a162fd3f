//! What every face sees beside the part itself: the view out of recesses and bores and past steps.
//!
//! A face radiates to what it sees. Where that is the part, which is about as hot, little is lost; the view
//! factor to the rest is a mean over directions that are equally weighted by Lambert's law: equal areas of
//! the unit disc under the hemisphere (Nusselt's projection, in any textbook on radiation). A ray leaves the
//! part unless it meets one of the rings, which is decided exactly.

use std::f64::consts::PI;

use super::grid::{Face, Grid, Side};
use super::mesh::{Layout, Mesh, Skin};

/// Rays over half of the hemisphere, which is symmetric to the plane through the axis: by distance from the
/// middle of the disc, and round it. Means over bores and recesses are within 0.012 of closed forms.
const RAYS: (usize, usize) = (12, 16);

/// The same in the plane of a cross-section, in equal steps of the sine.
const PLANE_RAYS: usize = 64;

/// By how much a ray starts off its face, as a share of the largest size: far above rounding, far below a cell.
const OFF: f64 = 1e-9;

/// A rectangle of material: a ring about the axis, or a strip of a cross-section, m.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Piece {
    low: f64,
    high: f64,
    inner: f64,
    outer: f64,
}

/// View factor of every face of a mesh to everything but the part itself, in the order of the grid's faces, 0 to 1.
/// Bars without steps see nothing of themselves; cross-sections of a long part count as endless.
pub fn open_views(mesh: &Mesh) -> Vec<f64> {
    let grid = &mesh.grid;
    let mut open = vec![1.0; grid.faces().len()];
    if !matches!(mesh.layout, Layout::Axisymmetric | Layout::Strips) {
        return open;
    }
    let blocks = grid.blocks().len().max(1);
    let pieces: Vec<Vec<Piece>> = (0..blocks).map(|block| pieces(grid, block)).collect();
    let round: [(f64, f64); RAYS.1] = std::array::from_fn(|k| (PI * (k as f64 + 0.5) / RAYS.1 as f64).sin_cos());
    for (open, face) in open.iter_mut().zip(grid.faces()) {
        let block = grid.block_of(face.cell);
        let around = &pieces[block];
        *open = match mesh.layout {
            // The plane of symmetry of a section is no face of the part.
            Layout::Strips if face.group == Skin::Bore as usize => 1.0,
            Layout::Strips => in_section(around, face, grid.blocks()[block].symmetric),
            _ => about_axis(around, face, &round),
        };
    }
    open
}

/// The material of a block in as few rectangles as rows of equal cells allow.
fn pieces(grid: &Grid, block: usize) -> Vec<Piece> {
    let (axes, first) = match grid.blocks().get(block) {
        Some(block) => (&block.axes[..], block.first),
        None => (grid.axes(), 0),
    };
    let (rows, columns) = (&axes[0], &axes[1]);
    let row = |i: usize| -> Vec<(usize, usize)> {
        let mut spans: Vec<(usize, usize)> = Vec::new();
        for j in (0..columns.cells()).filter(|j| grid.active()[grid.index([i, first + j, 0])]) {
            match spans.last_mut() {
                Some(span) if span.1 == j => span.1 = j + 1,
                _ => spans.push((j, j + 1)),
            }
        }
        spans
    };
    let mut found = Vec::new();
    let mut from = 0;
    let mut spans = row(0);
    for i in 1..=rows.cells() {
        let next = if i < rows.cells() { row(i) } else { Vec::new() };
        if i == rows.cells() || next != spans {
            found.extend(spans.iter().map(|(a, b)| Piece {
                low: rows.faces()[from],
                high: rows.faces()[i],
                inner: columns.faces()[*a],
                outer: columns.faces()[*b],
            }));
            (from, spans) = (i, next);
        }
    }
    found
}

/// Direction of a face: along the first axis or the second, and its sign.
fn normal(face: &Face) -> (bool, f64) {
    let sign = match face.side {
        Side::Low => -1.0,
        Side::High => 1.0,
    };
    (face.axis == 0, sign)
}

/// Height and radius from which the rays of a face start, and the size that it was moved by.
fn start(around: &[Piece], face: &Face) -> (f64, f64, f64) {
    let size = around.iter().fold(0.0_f64, |m, p| m.max(p.outer).max(p.high - p.low));
    let (along, sign) = normal(face);
    let off = OFF * size * sign;
    if along {
        (face.at[0] + off, face.at[1], OFF * size)
    } else {
        (face.at[0], face.at[1] + off, OFF * size)
    }
}

/// Whether any material lies on the side that a face looks to.
fn sees_any(around: &[Piece], face: &Face, off: f64) -> bool {
    let (along, sign) = normal(face);
    let at = face.at[face.axis];
    around.iter().any(|p| match (along, sign > 0.0) {
        (true, true) => p.high > at + 2.0 * off,
        (true, false) => p.low < at - 2.0 * off,
        (false, true) => p.outer > at + 2.0 * off,
        (false, false) => p.inner < at - 2.0 * off,
    })
}

/// Of a face of a ring stack; `round` has the sines and cosines of the angles of its rays.
fn about_axis(around: &[Piece], face: &Face, round: &[(f64, f64)]) -> f64 {
    let (z, r, off) = start(around, face);
    let (along, sign) = normal(face);
    // A bore sees itself across the axis.
    let bore = !along && sign < 0.0;
    if !bore && !sees_any(around, face, off) {
        return 1.0;
    }
    let mut out = 0_usize;
    for i in 0..RAYS.0 {
        let square = (i as f64 + 0.5) / RAYS.0 as f64;
        let (flat, up) = (square.sqrt(), (1.0 - square).sqrt() * sign);
        for &(sin, cos) in round {
            // Along the axis, away from it, and round it.
            let way = if along {
                (up, flat * cos, flat * sin)
            } else {
                (flat * cos, up, flat * sin)
            };
            out += usize::from(!around.iter().any(|p| p.turned_is_met((z, r), way)));
        }
    }
    out as f64 / (RAYS.0 * RAYS.1) as f64
}

/// Of a face of an endless cross-section, of which the left half is the mirror image where it is symmetric.
fn in_section(around: &[Piece], face: &Face, symmetric: bool) -> f64 {
    let (z, x, off) = start(around, face);
    let mirrored = |p: &Piece| Piece {
        inner: -p.outer,
        outer: -p.inner,
        ..*p
    };
    let left: Vec<Piece> = around.iter().filter(|_| symmetric).map(mirrored).collect();
    if !sees_any(around, face, off) && !sees_any(&left, face, off) {
        return 1.0;
    }
    let (along, sign) = normal(face);
    let open = |k: &usize| {
        let sin = 2.0 * (*k as f64 + 0.5) / PLANE_RAYS as f64 - 1.0;
        let up = (1.0 - sin * sin).sqrt() * sign;
        let way = if along { (up, sin) } else { (sin, up) };
        !around.iter().chain(&left).any(|p| p.drawn_is_met((z, x), way))
    };
    (0..PLANE_RAYS).filter(open).count() as f64 / PLANE_RAYS as f64
}

/// The part of a ray, from its start on, between two planes across one of its components.
fn between(at: f64, way: f64, low: f64, high: f64) -> Option<(f64, f64)> {
    if way == 0.0 {
        return (low < at && at < high).then_some((0.0, f64::INFINITY));
    }
    let (a, b) = ((low - at) / way, (high - at) / way);
    let (from, to) = (a.min(b).max(0.0), a.max(b));
    (to > from).then_some((from, to))
}

impl Piece {
    /// Whether a ray meets the ring: from a height and a radius, along the axis, away from it and round it.
    fn turned_is_met(&self, (z, r): (f64, f64), (up, away, round): (f64, f64, f64)) -> bool {
        let Some((from, to)) = between(z, up, self.low, self.high) else {
            return false;
        };
        // Square of the distance from the axis: r² + 2 r s away + s² flat.
        let flat = away * away + round * round;
        let square = |s: f64| r * r + s * (2.0 * r * away + s * flat);
        let nearest = if flat > 0.0 { -r * away / flat } else { from };
        let least = square(nearest.clamp(from, to));
        let most = if to.is_finite() {
            square(from).max(square(to))
        } else {
            f64::INFINITY
        };
        least < self.outer * self.outer && most > self.inner * self.inner
    }

    /// Whether a ray in the plane meets the rectangle.
    fn drawn_is_met(&self, (z, x): (f64, f64), (up, across): (f64, f64)) -> bool {
        let one = between(z, up, self.low, self.high);
        let other = between(x, across, self.inner, self.outer);
        one.zip(other).is_some_and(|((a, b), (c, d))| a.max(c) < b.min(d))
    }
}
