//! Placing direct labels so that they do not cover each other or the curves.

use super::canvas::{Canvas, Type, extent_of, wrap};
use super::frame::Px;
use super::palette::{PAPER, SOFT};

/// A rectangle in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Area {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Area {
    /// A rectangle about its middle.
    pub fn around(middle: Px, width: f64, height: f64) -> Area {
        Area {
            left: middle.0 - width / 2.0,
            top: middle.1 - height / 2.0,
            right: middle.0 + width / 2.0,
            bottom: middle.1 + height / 2.0,
        }
    }

    /// Its middle.
    pub fn middle(&self) -> Px {
        ((self.left + self.right) / 2.0, (self.top + self.bottom) / 2.0)
    }

    /// The same moved to lie inside another, as far as it fits.
    fn pushed_into(self, room: &Area) -> Area {
        let push = |low: f64, high: f64, from: f64, to: f64| (to - high).min(0.0).max(from - low);
        let x = push(self.left, self.right, room.left, room.right);
        let y = push(self.top, self.bottom, room.top, room.bottom);
        Area {
            left: self.left + x,
            top: self.top + y,
            right: self.right + x,
            bottom: self.bottom + y,
        }
    }

    /// Area shared with another rectangle, in square pixels.
    pub fn overlap(&self, other: &Area) -> f64 {
        let width = self.right.min(other.right) - self.left.max(other.left);
        let height = self.bottom.min(other.bottom) - self.top.max(other.top);
        width.max(0.0) * height.max(0.0)
    }

    /// Whether a point lies inside.
    pub fn holds(&self, p: Px) -> bool {
        p.0 >= self.left && p.0 <= self.right && p.1 >= self.top && p.1 <= self.bottom
    }
}

/// Moves wanted positions apart to at least `gap`, keeping their order, as near to the wanted ones
/// as the room `low..=high` allows. When the room is too small the gap shrinks.
pub(crate) fn spread(wanted: &[f64], gap: f64, low: f64, high: f64) -> Vec<f64> {
    let n = wanted.len();
    if n == 0 {
        return Vec::new();
    }
    let gap = if n > 1 {
        gap.min((high - low).max(0.0) / (n - 1) as f64)
    } else {
        gap
    };
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| wanted[a].total_cmp(&wanted[b]).then(a.cmp(&b)));
    // pooled blocks: (sum of wanted positions reduced by their place in the block, members)
    let mut blocks: Vec<(f64, usize)> = Vec::new();
    for &i in &order {
        blocks.push((wanted[i], 1));
        while blocks.len() > 1 {
            let last = blocks[blocks.len() - 1];
            let before = blocks[blocks.len() - 2];
            let end_before = before.0 / before.1 as f64 + gap * before.1 as f64;
            if end_before <= last.0 / last.1 as f64 {
                break;
            }
            blocks.pop();
            blocks.pop();
            blocks.push((before.0 + last.0 - gap * (before.1 * last.1) as f64, before.1 + last.1));
        }
    }
    let mut placed = Vec::with_capacity(n);
    for (sum, members) in blocks {
        let first = sum / members as f64;
        placed.extend((0..members).map(|k| first + gap * k as f64));
    }
    // push into the room from both ends
    let mut floor = low;
    for p in &mut placed {
        *p = p.max(floor);
        floor = *p + gap;
    }
    let mut ceiling = high;
    for p in placed.iter_mut().rev() {
        *p = p.min(ceiling);
        ceiling = *p - gap;
    }
    let mut out = vec![0.0; n];
    for (&i, p) in order.iter().zip(placed) {
        out[i] = p;
    }
    out
}

/// Finds free places for labels beside their points.
#[derive(Debug, Default)]
pub(crate) struct Placer {
    texts: Vec<Area>,
    marks: Vec<Area>,
    points: Vec<Px>,
}

/// Directions in which a label may lie from its point, best first: the box reaches from its point by these shares
/// of its own width and height.
const SIDES: [(f64, f64); 12] = [
    (0.0, 1.0),
    (0.0, -1.0),
    (1.0, 0.0),
    (-1.0, 0.0),
    (1.0, 1.0),
    (-1.0, 1.0),
    (1.0, -1.0),
    (-1.0, -1.0),
    (0.5, 1.0),
    (-0.5, 1.0),
    (0.5, -1.0),
    (-0.5, -1.0),
];

/// Cost of a pixel outside the room or on another text: more than that of any place that has none.
const CLASH: f64 = 1e4;

impl Placer {
    /// Marks a rectangle as taken by a text, which no other text may touch.
    pub fn block(&mut self, area: Area) {
        self.texts.push(area);
    }

    /// Marks a rectangle that labels should not cover.
    pub fn mark(&mut self, area: Area) {
        self.marks.push(area);
    }

    /// Marks points of a curve, which labels should not cover.
    pub fn avoid(&mut self, points: impl IntoIterator<Item = Px>) {
        self.points.extend(points);
    }

    /// The best place for a label of a size near a point inside `room`, and takes it: free of other texts wherever
    /// the room has such a place.
    pub fn place(&mut self, at: Px, width: f64, height: f64, room: &Area) -> Area {
        let mut best = (f64::INFINITY, Area::around(at, width, height));
        for ring in 0..24 {
            let reach = 12.0 + 22.0 * f64::from(ring);
            // farther places cost more than the best so far: nothing better comes
            if best.0 < reach * 1.5 {
                break;
            }
            for (place, (x, y)) in SIDES.into_iter().enumerate() {
                let middle = (at.0 + x * (reach + width / 2.0), at.1 + y * (reach + height / 2.0));
                let area = Area::around(middle, width, height).pushed_into(room);
                let cost = self.cost(&area, room) + reach * 1.5 + place as f64;
                if cost < best.0 {
                    best = (cost, area);
                }
            }
        }
        if best.0 >= CLASH {
            best.1 = self.anywhere(at, &best.1, room).unwrap_or(best.1);
        }
        self.texts.push(best.1);
        best.1
    }

    /// The place in the whole room that touches no text and is nearest to a point.
    fn anywhere(&self, at: Px, area: &Area, room: &Area) -> Option<Area> {
        let (width, height) = (area.right - area.left, area.bottom - area.top);
        let steps = |span: f64, size: f64| (2.0 * (span - size) / size).floor().clamp(0.0, 200.0) as usize;
        let (columns, rows) = (
            steps(room.right - room.left, width),
            steps(room.bottom - room.top, height),
        );
        let middles = (0..=rows).flat_map(|j| (0..=columns).map(move |i| (i as f64, j as f64)));
        let middles = middles.map(|(i, j)| (room.left + 0.5 * width * (1.0 + i), room.top + 0.5 * height * (1.0 + j)));
        let far = |a: &Area| (a.middle().0 - at.0).hypot(a.middle().1 - at.1);
        middles
            .map(|middle| Area::around(middle, width, height))
            .filter(|area| self.texts.iter().all(|text| text.overlap(area) == 0.0))
            .min_by(|a, b| far(a).total_cmp(&far(b)))
    }

    fn cost(&self, area: &Area, room: &Area) -> f64 {
        let outside = (room.left - area.left).max(0.0)
            + (area.right - room.right).max(0.0)
            + (room.top - area.top).max(0.0)
            + (area.bottom - room.bottom).max(0.0);
        let over = |taken: &[Area]| taken.iter().map(|t| t.overlap(area)).sum::<f64>();
        let hidden = self.points.iter().filter(|&&p| area.holds(p)).count();
        (outside + over(&self.texts)) * CLASH + over(&self.marks) * 0.4 + hidden as f64 * 18.0
    }
}

/// Words at a point, with a line to it where they stand apart.
pub(crate) fn words(canvas: &mut Canvas, room: &Area, placer: &mut Placer, text: &str, at: Px, kind: Type) {
    let lines = wrap(text, kind.size, kind.bold, 420.0, 4);
    let (wide, high) = extent_of(&lines, kind.size, kind.bold);
    let spot = placer.place(at, wide + 8.0, high + 4.0, room);
    canvas.layer(&[], |pen| {
        let foot = (at.0.clamp(spot.left, spot.right), at.1.clamp(spot.top, spot.bottom));
        if (foot.0 - at.0).hypot(foot.1 - at.1) > 24.0 {
            pen.line(at, foot, SOFT, 2);
        }
        pen.block((spot.left, spot.top), (spot.right, spot.bottom), PAPER, 0.82);
        pen.lines((spot.left + 4.0, spot.middle().1), &lines, kind);
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_move_apart_and_keep_their_order() {
        let placed = spread(&[100.0, 104.0, 101.0, 300.0], 28.0, 0.0, 400.0);
        assert!(placed[0] < placed[2] && placed[2] < placed[1]);
        assert!(placed[2] - placed[0] >= 28.0 - 1e-9);
        assert!(placed[1] - placed[2] >= 28.0 - 1e-9);
        assert_eq!(placed[3], 300.0);
        // the pool stays centred on what was wanted
        assert!((placed[0] + placed[1] + placed[2] - 305.0).abs() < 1e-9);
    }

    #[test]
    fn labels_stay_in_the_room() {
        let placed = spread(&[390.0; 6], 30.0, 0.0, 400.0);
        assert!(placed.iter().all(|p| (0.0..=400.0).contains(p)));
        let crowded = spread(&[10.0; 100], 30.0, 0.0, 400.0);
        assert!(crowded.iter().all(|p| (-1e-9..=400.0 + 1e-9).contains(p)));
    }

    #[test]
    fn placed_labels_do_not_overlap() {
        let room = Area {
            left: 0.0,
            top: 0.0,
            right: 1000.0,
            bottom: 600.0,
        };
        let mut placer = Placer::default();
        let placed: Vec<Area> = (0..40)
            .map(|k| placer.place((900.0 + f64::from(k), 300.0), 200.0, 30.0, &room))
            .collect();
        for (k, one) in placed.iter().enumerate() {
            assert!(
                one.left >= 0.0 && one.right <= 1000.0 && one.top >= 0.0 && one.bottom <= 600.0,
                "{one:?}"
            );
            for other in &placed[k + 1..] {
                assert_eq!(one.overlap(other), 0.0, "{one:?} {other:?}");
            }
        }
    }
}
