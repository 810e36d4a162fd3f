//! Limits in a line chart: bars hatched on the forbidden side, with direct labels.

use super::super::canvas::{Canvas, Pen, Type};
use super::super::frame::{Frame, TEXT};
use super::super::labels::{Area, Placer, words};
use super::{LimitMark, MarkKind, limit_colour};

/// Font size of the words.
pub(super) const SIZE: f64 = TEXT - 4.0;

/// A limit with its bar in pixels: from, to, height.
pub(super) type Bar<'a> = (&'a LimitMark, f64, f64, f64);

/// Half the length of the bar of a single moment, in pixels.
const HALF: f64 = 22.0;

/// Draws the bars of all limits that lie inside the frame.
pub(super) fn draw<'a>(
    canvas: &mut Canvas,
    frame: &Frame,
    marks: &'a [LimitMark],
    placer: &mut Placer,
) -> Vec<Bar<'a>> {
    let bars: Vec<Bar> = marks
        .iter()
        .filter(|m| m.y.is_finite() && m.x.0.is_finite() && m.x.1.is_finite())
        .filter(|m| m.x.1 >= frame.x.0 && m.x.0 <= frame.x.1)
        .map(|mark| {
            let from = frame.px_x(mark.x.0).clamp(frame.left, frame.right);
            let to = frame.px_x(mark.x.1).clamp(frame.left, frame.right);
            let (from, to) = if to - from < 2.0 * HALF {
                let middle = (from + to) / 2.0;
                (middle - HALF, middle + HALF)
            } else {
                (from, to)
            };
            (mark, from, to, frame.px_y(mark.y))
        })
        .filter(|&(_, _, _, y)| y >= frame.top - 1.0 && y <= frame.bottom + 1.0)
        .collect();
    canvas.layer(&[], |pen| {
        for &(mark, from, to, y) in &bars {
            placer.mark(Area {
                left: from,
                top: y - 12.0,
                right: to,
                bottom: y + 12.0,
            });
            bar(pen, frame, mark, from, to, y);
        }
    });
    bars
}

/// The words of the limits; broken ones choose their place first.
pub(super) fn labels(canvas: &mut Canvas, room: &Area, bars: &[Bar], placer: &mut Placer) {
    let named = || bars.iter().filter(|bar| !bar.0.label.is_empty());
    for &(mark, from, to, y) in named().filter(|b| b.0.broken).chain(named().filter(|b| !b.0.broken)) {
        // the words of a long bar stand at its right end
        let middle = if to - from > 6.0 * HALF {
            to - 160.0
        } else {
            (from + to) / 2.0
        };
        let kind = Type::plain(SIZE).colour(limit_colour(mark.broken));
        let kind = if mark.broken { kind.bold() } else { kind };
        words(canvas, room, placer, &mark.label, (middle, y), kind);
    }
}

fn bar(pen: &mut Pen<'_>, frame: &Frame, mark: &LimitMark, from: f64, to: f64, y: f64) {
    let colour = limit_colour(mark.broken);
    let side = match mark.kind {
        MarkKind::AtLeast => 1.0,
        MarkKind::AtMost => -1.0,
    };
    pen.line((from, y), (to, y), colour, 4);
    let step = if to - from > 4.0 * HALF { 26.0 } else { 11.0 };
    let strokes = ((to - from) / step).floor().min(400.0) as usize;
    for i in 0..=strokes {
        let x = from + step * i as f64;
        pen.line((x, y), (x - 8.0, y + side * 10.0), colour, 2);
    }
    if let Some((x, value)) = mark.value
        && mark.broken
    {
        let (x, v) = (frame.px_x(x), frame.px_y(value));
        if x >= frame.left && x <= frame.right && v >= frame.top && v <= frame.bottom {
            pen.line((x, y), (x, v), colour, 3);
            pen.line((x - 11.0, v - 11.0), (x + 11.0, v + 11.0), colour, 5);
            pen.line((x - 11.0, v + 11.0), (x + 11.0, v - 11.0), colour, 5);
        }
    }
}
