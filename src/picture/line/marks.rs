//! Limits in a line chart: bars hatched on the forbidden side, with direct labels.

use super::super::canvas::{Canvas, Pen, Type, fit, text_width};
use super::super::frame::{Frame, TEXT};
use super::super::labels::{Area, Placer};
use super::super::palette::{PAPER, SOFT};
use super::{LimitMark, MarkKind, area, limit_colour};

/// Half the length of the bar of a single moment, in pixels.
const HALF: f64 = 22.0;

/// Draws all marks that lie inside the frame.
pub(super) fn draw(canvas: &mut Canvas, frame: &Frame, marks: &[LimitMark], placer: &mut Placer) {
    let room = area(frame);
    let bars: Vec<(&LimitMark, f64, f64, f64)> = marks
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
    for &(_, from, to, y) in &bars {
        placer.block(Area {
            left: from,
            top: y - 9.0,
            right: to,
            bottom: y + 9.0,
        });
    }
    canvas.layer(&[], |pen| {
        for &(mark, from, to, y) in &bars {
            bar(pen, frame, mark, from, to, y);
        }
    });
    // broken limits choose their place first
    let mut order: Vec<usize> = (0..bars.len()).collect();
    order.sort_by_key(|&i| (!bars[i].0.broken, i));
    for i in order {
        let (mark, from, to, y) = bars[i];
        if mark.label.is_empty() {
            continue;
        }
        label(canvas, &room, placer, mark, (from, to, y));
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

fn label(canvas: &mut Canvas, room: &Area, placer: &mut Placer, mark: &LimitMark, (from, to, y): (f64, f64, f64)) {
    let size = TEXT - 4.0;
    let text = fit(&mark.label, size, mark.broken, 420.0);
    let wide = text_width(&text, size, mark.broken);
    let middle = if to - from > 6.0 * HALF {
        to - wide / 2.0 - 20.0
    } else {
        (from + to) / 2.0
    };
    let spot = placer.place((middle, y), wide + 8.0, size + 8.0, room);
    let (cx, cy) = ((spot.left + spot.right) / 2.0, (spot.top + spot.bottom) / 2.0);
    canvas.layer(&[], |pen| {
        if (cx - middle).hypot(cy - y) > wide / 2.0 + 34.0 || (cy - y).abs() > 44.0 {
            let foot = (
                middle.clamp(spot.left, spot.right),
                if cy > y { spot.top } else { spot.bottom },
            );
            pen.line((middle, y), foot, SOFT, 2);
        }
        pen.block((spot.left, spot.top), (spot.right, spot.bottom), PAPER, 0.82);
        let kind = Type::plain(size).colour(limit_colour(mark.broken));
        pen.text(
            (spot.left + 4.0, cy),
            &text,
            if mark.broken { kind.bold() } else { kind },
        );
    });
}
