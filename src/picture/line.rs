//! The line chart: curves with direct labels, a window band, limits and stage bars.

use super::axes::label_room;
use super::canvas::{Canvas, Hold, Type, text_width};
use super::frame::{Frame, Px, TEXT};
use super::labels::{Area, Placer, words};
use super::palette::{ALARM, BAND, INK, SOFT};
use super::rules::Rules;
use super::ticks::airy;
use super::{Axis, Drawing, Style};
use stages::Stages;

mod curves;
mod marks;
mod stages;

pub use stages::StageBar;

/// One curve.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Series {
    /// Name, written at the right end of the curve.
    pub name: String,
    /// Points in the order in which they are joined; `None` breaks the curve.
    pub points: Vec<(f64, Option<f64>)>,
    /// Number of its [`super::ink`]; series of one thing keep one style across charts.
    pub ink: usize,
    /// Whether every point gets a dot (measurements, results of separate runs).
    pub dots: bool,
    /// Drawn but hidden at first (a report's node chooser can show it); hidden series do not
    /// take part in the range or the labels.
    pub hidden: bool,
}

/// A shaded region between two values of the vertical axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// From and to on the horizontal axis.
    pub x: (f64, f64),
    /// Lower edge; `None` reaches the bottom of the chart.
    pub low: Option<f64>,
    /// Upper edge; `None` reaches the top of the chart.
    pub high: Option<f64>,
    /// Words written inside at the left, may be empty.
    pub label: String,
}

/// Words at a point.
#[derive(Debug, Clone, PartialEq)]
pub struct Remark {
    /// The point.
    pub at: (f64, f64),
    /// The words.
    pub words: String,
}

/// Which side of a limit is allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MarkKind {
    /// Values must lie above; the hatching is below the bar.
    AtLeast,
    /// Values must lie below; the hatching is above the bar.
    AtMost,
}

/// A limit at a moment (or over a span), drawn as a bar hatched on the forbidden side.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitMark {
    /// From and to on the horizontal axis; equal for a single moment.
    pub x: (f64, f64),
    /// The limit.
    pub y: f64,
    /// The value that was judged, joined to the bar when the limit is broken.
    pub value: Option<(f64, f64)>,
    /// Which side is allowed.
    pub kind: MarkKind,
    /// Whether the limit is broken.
    pub broken: bool,
    /// Words beside the bar; empty draws the bar alone.
    pub label: String,
}

/// Curves over a horizontal axis.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LineChart {
    /// Title.
    pub title: String,
    /// Horizontal axis.
    pub x: Axis,
    /// Vertical axis.
    pub y: Axis,
    /// Curves.
    pub series: Vec<Series>,
    /// Shaded regions.
    pub bands: Vec<Band>,
    /// Lines across.
    pub rules: Vec<super::Rule>,
    /// Limits at moments.
    pub marks: Vec<LimitMark>,
    /// Words at points of the curves.
    pub remarks: Vec<Remark>,
    /// Stages under the axis.
    pub stages: Vec<StageBar>,
}

impl LineChart {
    /// Draws the chart.
    pub fn draw(&self, style: &Style) -> Drawing {
        let mut canvas = Canvas::new(style, &self.title);
        let alt = self.y.sentence(&self.title, &self.x);
        let Some((x, y)) = self.ranges() else {
            return canvas.no_data(style, alt);
        };
        let (frame, rules, stages) = self.layout(&canvas, style, x, y);
        let mut placer = Placer::default();
        self.draw_bands(&mut canvas, &frame, &mut placer);
        frame.grid(&mut canvas, self.stages.is_empty());
        stages::boundaries(&mut canvas, &frame, &self.stages);
        let caption = canvas.head + 28.0;
        frame.axis_y(&mut canvas, &self.y, style, caption);
        frame.axis_x(&mut canvas, &self.x, style, 62.0 + stages.height());
        stages.draw(&mut canvas, &frame);
        self.draw_inside(&mut canvas, &frame, &rules, style, &mut placer);
        canvas.finish(alt, Some(frame))
    }

    /// Draws the curves, bands and marks into a frame that is already set out, with its vertical axis
    /// but without title and horizontal axis; `y` of the frame is set from the curves.
    pub(super) fn draw_into(&self, canvas: &mut Canvas, frame: &Frame, style: &Style, caption: f64) {
        let mut chart = self.clone();
        chart.x.range = Some(frame.x);
        let Some((_, y)) = chart.ranges() else { return };
        let frame = Frame { y, ..*frame };
        let mut placer = Placer::default();
        chart.draw_bands(canvas, &frame, &mut placer);
        frame.grid(canvas, true);
        frame.axis_y(canvas, &chart.y, style, caption);
        let rules = Rules::place(&chart.rules, &frame);
        chart.draw_inside(canvas, &frame, &rules, style, &mut placer);
    }

    /// Rules, curves, limits and all their words.
    fn draw_inside(&self, canvas: &mut Canvas, frame: &Frame, rules: &Rules, style: &Style, placer: &mut Placer) {
        let room = area(frame);
        rules.lines(canvas, frame);
        let inside = curves::draw(canvas, frame, &self.series, style, placer);
        let bars = marks::draw(canvas, frame, &self.marks, placer);
        marks::labels(canvas, &room, &bars, placer);
        curves::names(canvas, &room, &inside, placer);
        rules.labels(canvas, frame, placer);
        for remark in &self.remarks {
            let at = frame.px(remark.at.0, remark.at.1);
            if room.holds(at) {
                words(
                    canvas,
                    &room,
                    placer,
                    &remark.words,
                    at,
                    Type::plain(marks::SIZE).colour(SOFT),
                );
            }
        }
    }

    /// Room that the names of the visible curves need at the right, in pixels.
    pub(super) fn names_room(&self) -> f64 {
        let names = self.visible().map(|s| text_width(&s.name, TEXT, true));
        names.fold(0.0, f64::max) + 50.0
    }

    fn layout(&self, canvas: &Canvas, style: &Style, x: (f64, f64), y: (f64, f64)) -> (Frame, Rules<'_>, Stages<'_>) {
        let (width, height) = (f64::from(style.width), f64::from(style.height));
        let named = self.visible().any(|s| !s.name.is_empty());
        let top = canvas.head + 54.0;
        let mut frame = Frame {
            left: label_room(y.0, y.1, height - 188.0, style),
            right: width
                - if named {
                    self.names_room().min(0.3 * width)
                } else {
                    40.0
                },
            top,
            bottom: height - 84.0,
            x,
            y,
        };
        let rules = Rules::place(&self.rules, &frame);
        frame.top += rules.height();
        let stages = Stages::place(&frame, &self.stages, width);
        frame.bottom = (frame.bottom - stages.height()).max(frame.top + 60.0);
        (frame, rules, stages)
    }

    fn visible(&self) -> impl Iterator<Item = &Series> {
        self.series.iter().filter(|s| !s.hidden)
    }

    /// Ranges of both axes, or nothing when there is no value to show.
    fn ranges(&self) -> Option<((f64, f64), (f64, f64))> {
        let finite = |s: &Series| {
            s.points
                .iter()
                .filter_map(|&(x, y)| y.map(|y| (x, y)))
                .filter(|(x, y)| x.is_finite() && y.is_finite())
                .collect::<Vec<_>>()
        };
        let points: Vec<Px> = self.visible().flat_map(finite).collect();
        let x = match usable(self.x.range) {
            Some(range) => range,
            None => {
                let (low, high) = extent(points.iter().map(|p| p.0))?;
                if high > low { (low, high) } else { airy(low, high, 0.0) }
            }
        };
        if points.is_empty() {
            return None;
        }
        let y = match usable(self.y.range) {
            Some(range) => range,
            None => {
                let seen = points
                    .iter()
                    .filter(|p| p.0 >= x.0 && p.0 <= x.1)
                    .map(|p| p.1)
                    .chain(self.marks.iter().filter(|m| m.x.1 >= x.0 && m.x.0 <= x.1).map(|m| m.y))
                    .chain(self.rules.iter().filter(|r| !r.upright).map(|r| r.value))
                    .filter(|v| v.is_finite());
                let (low, high) = extent(seen)?;
                airy(low, high, 0.05)
            }
        };
        Some((x, y))
    }

    fn draw_bands(&self, canvas: &mut Canvas, frame: &Frame, placer: &mut Placer) {
        canvas.layer(&[], |pen| {
            let mut labelled = false;
            for band in &self.bands {
                let low = band.low.unwrap_or(frame.y.0).clamp(frame.y.0, frame.y.1);
                let high = band.high.unwrap_or(frame.y.1).clamp(frame.y.0, frame.y.1);
                let from = band.x.0.clamp(frame.x.0, frame.x.1);
                let to = band.x.1.clamp(frame.x.0, frame.x.1);
                if !(low < high && from < to) {
                    continue;
                }
                let (a, b) = (frame.px(from, high), frame.px(to, low));
                pen.block(a, b, BAND, 1.0);
                let room = b.0 - a.0 - 20.0;
                let size = TEXT - 3.0;
                let wide = text_width(&band.label, size, false);
                // Once, where there is room for all of it.
                if !labelled && !band.label.is_empty() && wide < room {
                    labelled = true;
                    pen.text(
                        (b.0 - 10.0, a.1 + 22.0),
                        &band.label,
                        Type::plain(size).colour(SOFT).hold(Hold::Right),
                    );
                    placer.block(Area {
                        left: b.0 - 14.0 - wide,
                        top: a.1 + 6.0,
                        right: b.0,
                        bottom: a.1 + 38.0,
                    });
                }
            }
        });
    }
}

/// A range given by the user when it can be drawn.
fn usable(range: Option<(f64, f64)>) -> Option<(f64, f64)> {
    range.filter(|(low, high)| low.is_finite() && high.is_finite() && high > low)
}

/// Lowest and highest of some values.
pub(crate) fn extent(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |so_far, v| match so_far {
        None => Some((v, v)),
        Some((low, high)) => Some((low.min(v), high.max(v))),
    })
}

/// The plot area as a rectangle.
fn area(frame: &Frame) -> Area {
    Area {
        left: frame.left,
        top: frame.top,
        right: frame.right,
        bottom: frame.bottom,
    }
}

/// Colour of a limit.
fn limit_colour(broken: bool) -> super::palette::Rgb {
    if broken { ALARM } else { INK }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chart(points: Vec<(f64, Option<f64>)>) -> LineChart {
        LineChart {
            title: "t".into(),
            x: Axis::new("time", "s"),
            y: Axis::new("temperature", "degC"),
            series: vec![Series {
                name: "core".into(),
                points,
                ..Series::default()
            }],
            ..LineChart::default()
        }
    }

    #[test]
    fn nothing_to_show_is_still_a_picture() {
        for points in [
            vec![],
            vec![(0.0, None)],
            vec![(f64::NAN, Some(1.0)), (0.0, Some(f64::NAN))],
        ] {
            let drawing = chart(points).draw(&Style::default());
            assert!(drawing.svg.contains("no data"));
            assert!(drawing.frame.is_none());
        }
    }

    #[test]
    fn one_point_and_flat_lines_are_drawn() {
        for points in [vec![(0.0, Some(20.0))], vec![(0.0, Some(20.0)), (1.0, Some(20.0))]] {
            let drawing = chart(points).draw(&Style::default());
            assert!(!drawing.svg.contains("NaN") && !drawing.svg.contains("inf"));
            assert!(drawing.svg.contains("core"));
        }
    }
}
