//! How the columns of a tool face lie to each other and to the block beside them.

use crate::conduction::Link;

/// How cells beside a contact grow away from it, and the first of them as a share of half the contact's width: the
/// spreading resistance of a disc comes out within 3 %.
const RATIO: f64 = 1.4;
const FIRST: f64 = 0.05;
/// Cells of a gap within the contact.
const INSIDE: usize = 5;

/// What the spans of a tool face are, and so which way heat spreads from them.
#[derive(Debug, Clone, PartialEq)]
pub enum Across {
    /// Squared radii: heat spreads along the radius.
    Disc,
    /// Widths across a strip times its length, each strip at an offset of its own.
    Strips(Vec<Strip>),
    /// Places along a strip as narrow as area over length: heat spreads to both of its sides, into one block
    /// that all places share.
    Along,
    /// Nothing beside the face: jaws.
    Alone,
}

/// A strip among others on one line of spans.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strip {
    /// Where its spans begin.
    pub offset: f64,
    /// Length that its widths are multiplied by, m.
    pub length_m: f64,
    /// Whether its first edge is a plane of symmetry.
    pub symmetric: bool,
}

/// The cells beside a face: areas \[m²\] of one column each, and the links of all columns, those of the face
/// counted first.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Layout {
    pub areas: Vec<f64>,
    pub links: Vec<Link>,
}

/// Lays cells beside a face with columns over `spans`, each an area of `area_per_span` times its length, in a block
/// that reaches `beside_m` beyond them.
pub fn layout(across: &Across, spans: &[(f64, f64)], area_per_span: f64, beside_m: f64) -> Layout {
    let mut out = Layout::default();
    match across {
        Across::Alone => {}
        Across::Along => along(spans, area_per_span, beside_m, &mut out),
        Across::Disc => {
            let radius = |s: f64| s.max(0.0).sqrt();
            let own = ordered(spans.iter().map(|(a, b)| (radius(*a), radius(*b))).enumerate());
            let measure = Measure {
                area: &|a, b| area_per_span * (b * b - a * a),
                width: &|r| 2.0 * area_per_span * r,
            };
            chain(&own, spans.len(), (0.0, beside_m), &measure, &mut out);
        }
        Across::Strips(strips) => {
            for (at, strip) in strips.iter().enumerate() {
                let end = strips.get(at + 1).map_or(f64::INFINITY, |next| next.offset);
                let place = |s: f64| (s - strip.offset) / strip.length_m;
                let mine = spans.iter().enumerate().filter(|(_, s)| {
                    let middle = 0.5 * (s.0 + s.1);
                    middle > strip.offset && middle < end
                });
                let own = ordered(mine.map(|(c, (a, b))| (c, (place(*a), place(*b)))));
                let Some(first) = own.first() else { continue };
                let low = if strip.symmetric { 0.0 } else { first.1.0 - beside_m };
                let length = area_per_span * strip.length_m;
                let measure = Measure {
                    area: &|a, b| length * (b - a),
                    width: &|_| length,
                };
                chain(&own, spans.len(), (low, beside_m), &measure, &mut out);
            }
        }
    }
    out
}

/// A cell across: its column and where it lies.
type Cell = (usize, (f64, f64));

/// What a piece across amounts to: its area between two places, and the width of the way at a place.
struct Measure<'a> {
    area: &'a dyn Fn(f64, f64) -> f64,
    width: &'a dyn Fn(f64) -> f64,
}

fn ordered(cells: impl Iterator<Item = Cell>) -> Vec<Cell> {
    let mut cells: Vec<Cell> = cells.collect();
    cells.sort_by(|a, b| a.1.0.total_cmp(&b.1.0));
    cells
}

/// Cells side by side from `low` over the face's own to `beside_m` beyond the last, each linked to the next.
fn chain(own: &[Cell], faces: usize, (low, beside_m): (f64, f64), measure: &Measure<'_>, out: &mut Layout) {
    let mut cells: Vec<Cell> = Vec::new();
    let fill = |sizes: Vec<f64>, from: f64, cells: &mut Vec<Cell>, out: &mut Layout| {
        let mut at = from;
        for size in sizes {
            cells.push((faces + out.areas.len(), (at, at + size)));
            out.areas.push((measure.area)(at, at + size).max(1e-12));
            at += size;
        }
    };
    let half: f64 = 0.5 * own.iter().map(|cell| cell.1.1 - cell.1.0).sum::<f64>();
    let mut until = low;
    for (number, cell) in own.iter().enumerate() {
        let gap = cell.1.0 - until;
        if gap > 1e-6 {
            let sizes = match number {
                0 => graded(gap, FIRST * half).into_iter().rev().collect(),
                _ => vec![gap / INSIDE as f64; INSIDE],
            };
            fill(sizes, until, &mut cells, out);
        }
        cells.push(*cell);
        until = cell.1.1;
    }
    fill(graded(beside_m, FIRST * half), until, &mut cells, out);
    out.links.extend(cells.windows(2).map(|pair| {
        let ((from, a), (to, b)) = (pair[0], pair[1]);
        Link {
            from,
            to,
            width_over_length: (measure.width)(b.0) / (0.5 * (b.1 - a.0)),
        }
    }));
}

/// Places along a narrow strip, each linked to the first of the cells that lie on both of its sides.
fn along(spans: &[(f64, f64)], width_m: f64, beside_m: f64, out: &mut Layout) {
    let length: f64 = spans.iter().map(|(a, b)| b - a).sum();
    let sizes = graded(beside_m, FIRST * 0.5 * width_m);
    let faces = spans.len();
    for (column, (a, b)) in spans.iter().enumerate() {
        // From the mean of a strip that takes heat evenly to its edge: a third of its half width.
        let way = width_m / 6.0 + 0.5 * sizes[0];
        out.links.push(Link {
            from: column,
            to: faces,
            width_over_length: 2.0 * (b - a) / way,
        });
    }
    out.areas.extend(sizes.iter().map(|size| 2.0 * length * size));
    out.links.extend(sizes.windows(2).enumerate().map(|(at, pair)| Link {
        from: faces + at,
        to: faces + at + 1,
        width_over_length: 2.0 * length / (0.5 * (pair[0] + pair[1])),
    }));
}

/// Sizes that grow by [`RATIO`] from about `first` and fill a length.
fn graded(length: f64, first: f64) -> Vec<f64> {
    let cells = ((1.0 + (RATIO - 1.0) * length / first).ln() / RATIO.ln())
        .ceil()
        .clamp(2.0, 20.0);
    let sizes: Vec<f64> = (0..cells as i32).map(|i| RATIO.powi(i)).collect();
    let whole: f64 = sizes.iter().sum();
    sizes.iter().map(|size| size * length / whole).collect()
}
