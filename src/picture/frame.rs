//! The plot area: data to pixels, grid, tick labels, axis captions.

use super::ticks::{Ticks, nice_ticks};

/// A point in pixels, from the upper left corner.
pub(crate) type Px = (f64, f64);

/// Font size of tick labels and direct labels in pixels.
pub(crate) const TEXT: f64 = 24.0;
/// Font size of titles in pixels.
pub(crate) const TITLE: f64 = 30.0;

/// The plot area of a drawing in pixels and in values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Left edge in pixels.
    pub left: f64,
    /// Right edge in pixels.
    pub right: f64,
    /// Upper edge in pixels.
    pub top: f64,
    /// Lower edge in pixels.
    pub bottom: f64,
    /// Values at the left and right edges.
    pub x: (f64, f64),
    /// Values at the lower and upper edges.
    pub y: (f64, f64),
}

impl Frame {
    /// Pixel position of a value pair.
    pub fn px(&self, x: f64, y: f64) -> Px {
        (self.px_x(x), self.px_y(y))
    }

    /// Pixel column of a value.
    pub fn px_x(&self, x: f64) -> f64 {
        self.left + (x - self.x.0) / (self.x.1 - self.x.0) * (self.right - self.left)
    }

    /// Pixel row of a value.
    pub fn px_y(&self, y: f64) -> f64 {
        self.bottom - (y - self.y.0) / (self.y.1 - self.y.0) * (self.bottom - self.top)
    }

    /// Ticks of the horizontal axis, at a distance that leaves room for their labels.
    pub(crate) fn ticks_x(&self) -> Ticks {
        let wanted = ((self.right - self.left) / 130.0).max(3.0) as usize;
        // a range that lies badly to the round numbers still gets three of them
        (wanted..wanted + 4)
            .map(|wanted| nice_ticks(self.x.0, self.x.1, wanted))
            .find(|ticks| ticks.values.len() > 2)
            .unwrap_or_else(|| nice_ticks(self.x.0, self.x.1, wanted))
    }

    /// Ticks of the vertical axis.
    pub(crate) fn ticks_y(&self) -> Ticks {
        let wanted = ((self.bottom - self.top) / 75.0).max(2.0) as usize;
        nice_ticks(self.y.0, self.y.1, wanted)
    }
}

/// The part of a segment inside a frame (Liang and Barsky's clipping, ACM TOG 3, 1984), if any.
pub(crate) fn clip(frame: &Frame, a: Px, b: Px) -> Option<(Px, Px)> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (p, q) in [
        (-dx, a.0 - frame.left),
        (dx, frame.right - a.0),
        (-dy, a.1 - frame.top),
        (dy, frame.bottom - a.1),
    ] {
        if p == 0.0 {
            if q < 0.0 {
                return None;
            }
        } else if p < 0.0 {
            enter = enter.max(q / p);
        } else {
            leave = leave.min(q / p);
        }
    }
    (enter <= leave).then_some((
        (a.0 + enter * dx, a.1 + enter * dy),
        (a.0 + leave * dx, a.1 + leave * dy),
    ))
}

/// Fewer points for the same line: those nearer than `tolerance` pixels to the chord are dropped
/// (Douglas and Peucker, 1973; without recursion).
pub(crate) fn thin(points: &[Px], tolerance: f64) -> Vec<Px> {
    if points.len() < 3 {
        return points.to_vec();
    }
    let mut keep = vec![false; points.len()];
    keep[0] = true;
    keep[points.len() - 1] = true;
    let mut open = vec![(0, points.len() - 1)];
    while let Some((from, to)) = open.pop() {
        let (a, b) = (points[from], points[to]);
        let length = (b.0 - a.0).hypot(b.1 - a.1);
        let mut worst = (0.0, from);
        for (i, p) in points.iter().enumerate().take(to).skip(from + 1) {
            let off = if length > 0.0 {
                ((b.0 - a.0) * (a.1 - p.1) - (a.0 - p.0) * (b.1 - a.1)).abs() / length
            } else {
                (p.0 - a.0).hypot(p.1 - a.1)
            };
            if off > worst.0 {
                worst = (off, i);
            }
        }
        if worst.0 > tolerance {
            keep[worst.1] = true;
            open.push((from, worst.1));
            open.push((worst.1, to));
        }
    }
    points
        .iter()
        .zip(keep)
        .filter_map(|(&p, keep)| keep.then_some(p))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frame_maps_corners_and_clips() {
        let frame = Frame {
            left: 100.0,
            right: 300.0,
            top: 50.0,
            bottom: 150.0,
            x: (0.0, 10.0),
            y: (1000.0, 1200.0),
        };
        assert_eq!(frame.px(0.0, 1000.0), (100.0, 150.0));
        assert_eq!(frame.px(10.0, 1200.0), (300.0, 50.0));
        let (a, b) = clip(&frame, (0.0, 100.0), (400.0, 100.0)).unwrap();
        assert_eq!((a, b), ((100.0, 100.0), (300.0, 100.0)));
        assert!(clip(&frame, (0.0, 0.0), (400.0, 0.0)).is_none());
    }

    #[test]
    fn thinning_keeps_corners() {
        let line: Vec<Px> = (0..100).map(|i| (f64::from(i), 0.0)).collect();
        assert_eq!(thin(&line, 0.3).len(), 2);
        let mut bent = line.clone();
        bent[50].1 = 8.0;
        assert!(thin(&bent, 0.3).contains(&(50.0, 8.0)));
    }
}
