//! The line chart: curves with direct labels, a window band, limits and stage bars.

use super::canvas::{Canvas, Hold, Px, Type, fit, text_width};
use super::frame::{Frame, TEXT, TITLE, clip, label_room, no_data, thin};
use super::labels::{Area, Placer, spread};
use super::palette::{ALARM, BAND, GRID, INK, PALETTE, PAPER, SOFT};
use super::ticks::airy;
use super::{Axis, Drawing, Style};
use stages::Stages;

mod marks;
mod stages;

/// One curve.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Series {
    /// Name, written at the right end of the curve.
    pub name: String,
    /// Points in the order in which they are joined; `None` breaks the curve.
    pub points: Vec<(f64, Option<f64>)>,
    /// Index into [`super::PALETTE`]; series of one thing keep one style across charts.
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

/// A dashed line across the whole chart at one value.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// The value.
    pub value: f64,
    /// Whether it stands upright (a value of the horizontal axis).
    pub upright: bool,
    /// Words beside the line.
    pub label: String,
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

/// A stage under the horizontal axis.
#[derive(Debug, Clone, PartialEq)]
pub struct StageBar {
    /// Name.
    pub name: String,
    /// From and to on the horizontal axis.
    pub x: (f64, f64),
    /// Whether a tool works on the part (drawn dark).
    pub tool: bool,
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
    pub rules: Vec<Rule>,
    /// Limits at moments.
    pub marks: Vec<LimitMark>,
    /// Stages under the axis.
    pub stages: Vec<StageBar>,
    /// The picture in words; empty lets the chart say what it holds.
    pub alt: String,
}

impl LineChart {
    /// Draws the chart.
    pub fn draw(&self, style: &Style) -> Drawing {
        let mut canvas = Canvas::new(style.width, style.height);
        let alt = self.words();
        let width = f64::from(style.width);
        canvas.layer(&[], |pen| {
            pen.text(
                (12.0, 32.0),
                &fit(&self.title, TITLE, true, width - 40.0),
                Type::plain(TITLE).bold(),
            );
        });
        let Some((x, y)) = self.ranges() else {
            no_data(&mut canvas, style);
            return Drawing {
                svg: canvas.finish(&self.title, &alt),
                frame: None,
                alt,
            };
        };
        let (frame, stages) = self.layout(style, x, y);
        let mut placer = Placer::default();
        self.draw_bands(&mut canvas, &frame, &mut placer);
        frame.grid(&mut canvas, self.stages.is_empty());
        stages::boundaries(&mut canvas, &frame, &self.stages);
        frame.axis_y(&mut canvas, &self.y, style);
        frame.axis_x(&mut canvas, &self.x, style, 62.0 + stages.height());
        stages.draw(&mut canvas, &frame);
        self.draw_rules(&mut canvas, &frame);
        self.draw_series(&mut canvas, &frame, style, &mut placer);
        marks::draw(&mut canvas, &frame, &self.marks, &mut placer);
        Drawing {
            svg: canvas.finish(&self.title, &alt),
            frame: Some(frame),
            alt,
        }
    }

    /// Draws the curves, bands and marks into a frame that is already set out, with its vertical axis
    /// but without title and horizontal axis; `y` of the frame is set from the curves.
    pub(super) fn draw_into(&self, canvas: &mut Canvas, frame: &Frame, style: &Style) {
        let mut chart = self.clone();
        chart.x.range = Some(frame.x);
        let Some((_, y)) = chart.ranges() else { return };
        let frame = Frame { y, ..*frame };
        let mut placer = Placer::default();
        chart.draw_bands(canvas, &frame, &mut placer);
        frame.grid(canvas, true);
        frame.axis_y(canvas, &chart.y, style);
        chart.draw_rules(canvas, &frame);
        chart.draw_series(canvas, &frame, style, &mut placer);
        marks::draw(canvas, &frame, &chart.marks, &mut placer);
    }

    /// Room that the names of the visible curves need at the right, in pixels.
    pub(super) fn names_room(&self) -> f64 {
        let names = self.visible().map(|s| text_width(&s.name, TEXT, true));
        names.fold(0.0, f64::max) + 50.0
    }

    fn layout(&self, style: &Style, x: (f64, f64), y: (f64, f64)) -> (Frame, Stages<'_>) {
        let (width, height) = (f64::from(style.width), f64::from(style.height));
        let names = self
            .visible()
            .filter(|s| !s.name.is_empty())
            .map(|s| text_width(&s.name, TEXT, true))
            .fold(0.0, f64::max);
        let right = if names > 0.0 {
            (names + 50.0).min(0.3 * width)
        } else {
            40.0
        };
        let top = 104.0;
        let mut frame = Frame {
            left: label_room(y.0, y.1, height - 188.0, style),
            right: width - right,
            top,
            bottom: height - 84.0,
            x,
            y,
        };
        let stages = Stages::place(&frame, &self.stages);
        frame.bottom = (frame.bottom - stages.height()).max(top + 60.0);
        (frame, stages)
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
                if !band.label.is_empty() && room > 60.0 {
                    let size = TEXT - 3.0;
                    let label = fit(&band.label, size, false, room);
                    let wide = text_width(&label, size, false);
                    pen.text(
                        (b.0 - 10.0, a.1 + 22.0),
                        &label,
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

    pub(super) fn draw_rules(&self, canvas: &mut Canvas, frame: &Frame) {
        canvas.layer(&[("stroke-dasharray", "10 8")], |pen| {
            for rule in self.rules.iter().filter(|r| r.value.is_finite()) {
                if rule.upright {
                    let x = frame.px_x(rule.value);
                    if x >= frame.left && x <= frame.right {
                        pen.line((x, frame.top), (x, frame.bottom), SOFT, 3);
                    }
                } else {
                    let y = frame.px_y(rule.value);
                    if y >= frame.top && y <= frame.bottom {
                        pen.line((frame.left, y), (frame.right, y), SOFT, 3);
                    }
                }
            }
        });
        canvas.layer(&[], |pen| {
            let (mut over, mut row_end) = (0.0, f64::NEG_INFINITY);
            for rule in self.rules.iter().filter(|r| r.value.is_finite()) {
                let size = TEXT - 2.0;
                if rule.upright {
                    let x = frame.px_x(rule.value);
                    if x >= frame.left && x <= frame.right {
                        let wide = text_width(&rule.label, size, false);
                        let at = (x - wide / 2.0).clamp(frame.left, (frame.right - wide).max(frame.left));
                        // labels above the frame step down a row where they would touch
                        over = if at < row_end + 14.0 { over + 26.0 } else { 0.0 };
                        row_end = row_end.max(at + wide);
                        pen.text(
                            (at, frame.top - 14.0 + over * 1.3),
                            &rule.label,
                            Type::plain(size).colour(INK),
                        );
                    }
                } else {
                    let y = frame.px_y(rule.value);
                    if y >= frame.top && y <= frame.bottom {
                        pen.text(
                            (frame.left + 12.0, y - 16.0),
                            &rule.label,
                            Type::plain(size).colour(INK),
                        );
                    }
                }
            }
        });
    }

    /// Draws the curves and their end labels, and tells the placer what is taken.
    fn draw_series(&self, canvas: &mut Canvas, frame: &Frame, style: &Style, placer: &mut Placer) {
        let mut ends: Vec<(usize, Px)> = Vec::new();
        for (index, series) in self.series.iter().enumerate() {
            let ink = PALETTE[series.ink % PALETTE.len()];
            let runs = visible_runs(series, frame);
            let class = if series.hidden { "series hidden" } else { "series" };
            let display = if series.hidden { "none" } else { "inline" };
            let index_text = index.to_string();
            canvas.open(&[("class", class), ("data-series", &index_text), ("display", display)]);
            canvas.layer(&[("stroke-dasharray", ink.dash)], |pen| {
                for run in &runs {
                    pen.path(run, ink.colour, 4);
                }
            });
            canvas.layer(&[], |pen| {
                if series.dots {
                    for run in &runs {
                        for &p in run {
                            pen.disc(p, 6.0, ink.colour, true);
                        }
                    }
                }
            });
            canvas.close();
            if series.hidden {
                continue;
            }
            for run in &runs {
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
            if let Some(&last) = runs.last().and_then(|run| run.last())
                && !series.name.is_empty()
            {
                ends.push((index, last));
            }
        }
        // curves that reach the right edge are named in the margin, others at their end
        let (margin, inside): (Vec<_>, Vec<_>) = ends.into_iter().partition(|(_, p)| p.0 > frame.right - 40.0);
        self.draw_names(canvas, frame, style, &margin);
        for (index, end) in inside {
            let series = &self.series[index];
            let ink = PALETTE[series.ink % PALETTE.len()];
            let name = fit(&series.name, TEXT, true, 300.0);
            let wide = text_width(&name, TEXT, true);
            let spot = placer.place(end, wide + 6.0, TEXT + 6.0, &area(frame));
            let index_text = index.to_string();
            canvas.layer(&[("class", "series name"), ("data-series", &index_text)], |pen| {
                pen.block((spot.left, spot.top), (spot.right, spot.bottom), PAPER, 0.8);
                pen.text(
                    (spot.left + 3.0, (spot.top + spot.bottom) / 2.0),
                    &name,
                    Type::plain(TEXT).bold().colour(ink.colour),
                );
            });
        }
    }

    fn draw_names(&self, canvas: &mut Canvas, frame: &Frame, style: &Style, ends: &[(usize, Px)]) {
        let wanted: Vec<f64> = ends.iter().map(|(_, p)| p.1).collect();
        let placed = spread(&wanted, TEXT + 6.0, frame.top + 6.0, frame.bottom - 6.0);
        for (&(index, end), y) in ends.iter().zip(placed) {
            let series = &self.series[index];
            let ink = PALETTE[series.ink % PALETTE.len()];
            let at = frame.right + 34.0;
            let room = f64::from(style.width) - at - 8.0;
            let index_text = index.to_string();
            canvas.layer(&[("class", "series name"), ("data-series", &index_text)], |pen| {
                pen.path(
                    &[(end.0 + 3.0, end.1), (frame.right + 10.0, y), (at - 6.0, y)],
                    ink.colour,
                    2,
                );
                pen.text(
                    (at, y),
                    &fit(&series.name, TEXT, true, room),
                    Type::plain(TEXT).bold().colour(ink.colour),
                );
            });
        }
    }

    fn words(&self) -> String {
        if !self.alt.is_empty() {
            return self.alt.clone();
        }
        let names: Vec<&str> = self
            .visible()
            .map(|s| s.name.as_str())
            .filter(|n| !n.is_empty())
            .collect();
        format!(
            "{}: {} over {}; curves: {}.",
            self.title,
            self.y.caption(),
            self.x.caption(),
            if names.is_empty() {
                "none".to_owned()
            } else {
                names.join(", ")
            }
        )
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

/// Colour of the thin upright lines between stages.
const BOUNDARY: super::palette::Rgb = GRID;

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
        let runs = visible_runs(&chart(gap).series[0], &frame);
        assert_eq!(runs.len(), 2);
    }
}
