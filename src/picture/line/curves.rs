//! The curves of a line chart with their names.

use super::super::Style;
use super::super::canvas::{Canvas, LINE, Type, extent_of, wrap};
use super::super::frame::{Frame, Px, TEXT, clip, thin};
use super::super::labels::{Area, Placer, spread};
use super::super::palette::{PAPER, ink};
use super::Series;

/// A curve that ends inside the frame, and where.
pub(super) type Ended<'a> = (usize, &'a Series, Px);

/// Draws the curves, names those that reach the right edge in the margin, tells the placer what is taken, and
/// gives those that end inside.
pub(super) fn draw<'a>(
    canvas: &mut Canvas,
    frame: &Frame,
    series: &'a [Series],
    style: &Style,
    placer: &mut Placer,
) -> Vec<Ended<'a>> {
    let mut ends: Vec<Ended> = Vec::new();
    let mut hidden: Vec<Ended> = Vec::new();
    for (index, series) in series.iter().enumerate() {
        let runs = visible_runs(series, frame);
        curve(canvas, index, series, &runs);
        let last = runs
            .last()
            .and_then(|run| run.last())
            .filter(|_| !series.name.is_empty());
        if series.hidden {
            hidden.extend(last.map(|&at| (index, series, at)));
        } else {
            runs.iter().for_each(|run| keep_clear(run, placer));
            ends.extend(last.map(|&at| (index, series, at)));
        }
    }
    let (margin, inside): (Vec<_>, Vec<_>) = ends.into_iter().partition(|(_, _, p)| p.0 > frame.right - 40.0);
    in_margin(canvas, frame, style, &margin);
    for one in hidden {
        in_margin(canvas, frame, style, &[one]);
    }
    inside
}

fn curve(canvas: &mut Canvas, index: usize, series: &Series, runs: &[Vec<Px>]) {
    let style = ink(series.ink);
    let (class, display) = match series.hidden {
        true => ("series hidden", "none"),
        false => ("series", "inline"),
    };
    canvas.open(&[
        ("class", class),
        ("data-series", &index.to_string()),
        ("display", display),
    ]);
    canvas.layer(&[("stroke-dasharray", style.dash)], |pen| {
        for run in runs {
            pen.path(run, style.colour, 4);
        }
    });
    canvas.layer(&[], |pen| {
        // a point alone would not be seen
        for &p in runs.iter().filter(|run| series.dots || run.len() == 1).flatten() {
            pen.disc(p, 6.0, style.colour, true);
        }
    });
    canvas.close();
}

/// Points along a curve that labels should not cover.
fn keep_clear(run: &[Px], placer: &mut Placer) {
    for pair in run.windows(2) {
        let length = (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1);
        let parts = (length / 12.0).ceil().clamp(1.0, 400.0);
        placer.avoid((0..=parts as usize).map(|i| {
            let t = i as f64 / parts;
            (
                pair[0].0 + t * (pair[1].0 - pair[0].0),
                pair[0].1 + t * (pair[1].1 - pair[0].1),
            )
        }));
    }
}

/// Names at the right of the frame, each level with its curve as far as the others leave room.
fn in_margin(canvas: &mut Canvas, frame: &Frame, style: &Style, ends: &[Ended]) {
    let at = frame.right + 34.0;
    let room = f64::from(style.width) - at - 8.0;
    let names: Vec<Vec<String>> = ends
        .iter()
        .map(|(_, s, _)| wrap(&s.name, TEXT, true, room, 4))
        .collect();
    let most = names.iter().map(Vec::len).max().unwrap_or(1);
    let high = TEXT * LINE * most as f64;
    let wanted: Vec<f64> = ends.iter().map(|(_, _, p)| p.1).collect();
    let placed = spread(
        &wanted,
        high + 2.0,
        frame.top + high / 2.0 - 12.0,
        frame.bottom - high / 2.0 + 12.0,
    );
    for ((&(index, series, end), lines), y) in ends.iter().zip(&names).zip(placed) {
        let colour = ink(series.ink).colour;
        name_layer(canvas, index, series.hidden, |pen| {
            pen.path(
                &[(end.0 + 3.0, end.1), (frame.right + 10.0, y), (at - 6.0, y)],
                colour,
                2,
            );
            pen.lines((at, y), lines, Type::plain(TEXT).bold().colour(colour));
        });
    }
}

/// Names of the curves that end inside the frame.
pub(super) fn names(canvas: &mut Canvas, room: &Area, ends: &[Ended], placer: &mut Placer) {
    for &(index, series, end) in ends {
        let lines = wrap(&series.name, TEXT, true, 300.0, 4);
        let (wide, high) = extent_of(&lines, TEXT, true);
        let spot = placer.place(end, wide + 6.0, high + 2.0, room);
        name_layer(canvas, index, series.hidden, |pen| {
            pen.block((spot.left, spot.top), (spot.right, spot.bottom), PAPER, 0.8);
            let kind = Type::plain(TEXT).bold().colour(ink(series.ink).colour);
            pen.lines((spot.left + 3.0, spot.middle().1), &lines, kind);
        });
    }
}

fn name_layer(canvas: &mut Canvas, index: usize, hidden: bool, draw: impl FnOnce(&mut super::super::canvas::Pen<'_>)) {
    let display = if hidden { "none" } else { "inline" };
    let index = index.to_string();
    canvas.layer(
        &[("class", "series name"), ("data-series", &index), ("display", display)],
        draw,
    );
}

/// The curve in pixels, cut to the frame, as unbroken runs.
fn visible_runs(series: &Series, frame: &Frame) -> Vec<Vec<Px>> {
    let mut runs: Vec<Vec<Px>> = Vec::new();
    let mut run: Vec<Px> = Vec::new();
    let mut before: Option<Px> = None;
    let mut lone: Option<Px> = None;
    for &(x, y) in &series.points {
        let here = y.filter(|y| y.is_finite() && x.is_finite()).map(|y| frame.px(x, y));
        match (before, here) {
            (Some(a), Some(b)) => {
                if let Some((from, to)) = clip(frame, a, b) {
                    if run.last() != Some(&from) {
                        if run.len() > 1 {
                            runs.push(std::mem::take(&mut run));
                        }
                        run = vec![from];
                    }
                    run.push(to);
                }
                lone = None;
            }
            (_, None) => {
                if run.len() > 1 {
                    runs.push(std::mem::take(&mut run));
                }
                run.clear();
                if let Some(p) = lone.take() {
                    runs.push(vec![p]);
                }
            }
            (None, Some(b)) => lone = clip(frame, b, b).map(|(p, _)| p),
        }
        before = here;
    }
    if run.len() > 1 {
        runs.push(run);
    }
    if let Some(p) = lone {
        runs.push(vec![p]);
    }
    if series.dots {
        return runs;
    }
    runs.iter().map(|run| thin(run, 0.5)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_break_the_curve() {
        let gap = vec![
            (0.0, Some(1.0)),
            (1.0, Some(2.0)),
            (2.0, None),
            (3.0, Some(1.0)),
            (4.0, Some(3.0)),
        ];
        let frame = Frame {
            left: 0.0,
            right: 400.0,
            top: 0.0,
            bottom: 300.0,
            x: (0.0, 4.0),
            y: (0.0, 3.0),
        };
        let runs = visible_runs(
            &Series {
                points: gap,
                ..Series::default()
            },
            &frame,
        );
        assert_eq!(runs.len(), 2);
    }
}
