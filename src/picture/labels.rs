//! Placing direct labels so that they do not cover each other or the curves.

use super::canvas::Px;

/// A rectangle in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Area {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Area {
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
    taken: Vec<Area>,
    points: Vec<Px>,
}

impl Placer {
    /// Marks a rectangle as taken.
    pub fn block(&mut self, area: Area) {
        self.taken.push(area);
    }

    /// Marks points of a curve, which labels should not cover.
    pub fn avoid(&mut self, points: impl IntoIterator<Item = Px>) {
        self.points.extend(points);
    }

    /// The best place for a label of a size near a point inside `room`, and takes it.
    pub fn place(&mut self, at: Px, width: f64, height: f64, room: &Area) -> Area {
        let mut best: Option<(f64, Area)> = None;
        for ring in 0..7 {
            let reach = 12.0 + 26.0 * f64::from(ring);
            let (left, middle, right) = (at.0 - reach - width, at.0 - width / 2.0, at.0 + reach);
            let (above, level, below) = (at.1 - reach - height, at.1 - height / 2.0, at.1 + reach);
            for (place, (x, y)) in [
                (middle, below),
                (middle, above),
                (right, level),
                (left, level),
                (right, below),
                (left, below),
                (right, above),
                (left, above),
            ]
            .into_iter()
            .enumerate()
            {
                let area = Area {
                    left: x,
                    top: y,
                    right: x + width,
                    bottom: y + height,
                };
                let outside = (room.left - area.left).max(0.0)
                    + (area.right - room.right).max(0.0)
                    + (room.top - area.top).max(0.0)
                    + (area.bottom - room.bottom).max(0.0);
                let covered: f64 = self.taken.iter().map(|t| t.overlap(&area)).sum();
                let hidden = self.points.iter().filter(|&&p| area.holds(p)).count();
                let cost = outside * 60.0 + covered * 4.0 + hidden as f64 * 18.0 + reach * 1.5 + place as f64;
                if best.is_none_or(|(least, _)| cost < least) {
                    best = Some((cost, area));
                }
            }
        }
        let area = best.map_or(
            Area {
                left: at.0,
                top: at.1,
                right: at.0 + width,
                bottom: at.1 + height,
            },
            |(_, area)| area,
        );
        self.taken.push(area);
        area
    }
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
        let a = placer.place((500.0, 300.0), 200.0, 30.0, &room);
        let b = placer.place((505.0, 302.0), 200.0, 30.0, &room);
        let c = placer.place((498.0, 299.0), 200.0, 30.0, &room);
        for (one, other) in [(a, b), (a, c), (b, c)] {
            assert_eq!(one.overlap(&other), 0.0);
        }
    }
}
