//! Cycle chart: who is busy when, over one takt, and how hot the part is meanwhile.

use super::canvas::{Canvas, Hold, Pen, Type, text_width, title_lines, wrap};
use super::frame::{Frame, TEXT};
use super::labels::Placer;
use super::line::extent;
use super::palette::{INK, PALETTE, PAPER, Rgb, text_on};
use super::rules::{Rule, Rules};
use super::{Axis, Drawing, LineChart, Style};

/// Height of a bar, of a row of names above it, and size of the names.
const BAR: f64 = 38.0;
const OVER: f64 = 26.0;
const SIZE: f64 = TEXT - 4.0;
/// Height of the curves above the rows, and the room between.
const CURVES: f64 = 400.0;
const GAP: f64 = 60.0;
const WORK: Rgb = PALETTE[0].colour;
const WAIT: Rgb = (0xe6, 0xe8, 0xeb);

/// One activity.
#[derive(Debug, Clone, PartialEq)]
pub struct CycleBar {
    /// Name, written inside or after the bar.
    pub name: String,
    /// From and to.
    pub x: (f64, f64),
    /// Whether it is waiting (drawn as an outline) rather than work.
    pub idle: bool,
}

/// One device or place.
#[derive(Debug, Clone, PartialEq)]
pub struct CycleRow {
    /// Name at the left.
    pub name: String,
    /// Activities.
    pub bars: Vec<CycleBar>,
}

/// Activities of several devices on one time axis.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CycleChart {
    /// Title.
    pub title: String,
    /// Time axis.
    pub axis: Axis,
    /// Rows from top to bottom.
    pub rows: Vec<CycleRow>,
    /// Upright lines, for example the takt.
    pub rules: Vec<Rule>,
    /// Curves over the same axis, drawn above the rows: the temperatures of the part.
    pub above: Option<LineChart>,
}

/// A bar in pixels with the place of its name.
struct Placed<'a> {
    bar: &'a CycleBar,
    from: f64,
    to: f64,
    spot: Spot,
}

/// Where a name goes.
enum Spot {
    /// Inside the bar.
    Inside,
    /// Behind the bar.
    Behind,
    /// In a row above the bar, from a column.
    Above(usize, f64),
}

/// A row set out: its bars, the rows of names above them, its upper edge.
struct Lane<'a> {
    row: &'a CycleRow,
    bars: Vec<Placed<'a>>,
    over: usize,
    top: f64,
}

impl<'a> Lane<'a> {
    /// Sets the bars of a row out; only the horizontal part of the frame counts.
    fn place(row: &'a CycleRow, frame: &Frame, top: f64) -> Self {
        let seen = |b: &&CycleBar| b.x.0.is_finite() && b.x.1.is_finite() && b.x.1 >= frame.x.0 && b.x.0 <= frame.x.1;
        let ends: Vec<(&CycleBar, f64, f64)> = row
            .bars
            .iter()
            .filter(seen)
            .map(|b| {
                let from = frame.px_x(b.x.0).clamp(frame.left, frame.right);
                let to = frame.px_x(b.x.1).clamp(frame.left, frame.right);
                (b, from, to.max(from + 3.0))
            })
            .collect();
        let mut taken: Vec<f64> = Vec::new();
        let bars = ends.iter().enumerate().map(|(i, &(bar, from, to))| {
            let wide = text_width(&bar.name, SIZE, false);
            let next = ends.get(i + 1).map_or(frame.right + 20.0, |&(_, start, _)| start);
            let spot = if wide + 12.0 <= to - from {
                Spot::Inside
            } else if to + wide + 12.0 <= next.min(frame.right + 20.0) {
                Spot::Behind
            } else {
                let left = from.min(frame.right + 20.0 - wide).max(frame.left);
                let level = taken.iter().position(|end| left >= end + 10.0).unwrap_or(taken.len());
                if level == taken.len() {
                    taken.push(0.0);
                }
                taken[level] = left + wide;
                Spot::Above(level, left)
            };
            Placed { bar, from, to, spot }
        });
        let bars = bars.collect();
        Lane {
            row,
            bars,
            over: taken.len(),
            top,
        }
    }

    fn height(&self) -> f64 {
        16.0 + OVER * self.over as f64 + BAR
    }

    fn draw(&self, pen: &mut Pen<'_>, frame: &Frame, names: f64) {
        let top = frame.top + self.top + 8.0 + OVER * self.over as f64;
        let middle = top + BAR / 2.0;
        let name = wrap(&self.row.name, TEXT, false, names, 2);
        pen.lines((frame.left - 16.0, middle), &name, Type::plain(TEXT).hold(Hold::Right));
        for placed in &self.bars {
            let (from, to, idle) = (placed.from, placed.to, placed.bar.idle);
            pen.block((from, top), (to, top + BAR), if idle { WAIT } else { WORK }, 1.0);
            pen.outline((from, top), (to, top + BAR), if idle { INK } else { PAPER }, 1);
        }
        for placed in &self.bars {
            let (from, to, name) = (placed.from, placed.to, &placed.bar.name);
            match placed.spot {
                Spot::Inside => {
                    let colour = text_on(if placed.bar.idle { WAIT } else { WORK });
                    let kind = Type::plain(SIZE).hold(Hold::Middle).colour(colour);
                    pen.text(((from + to) / 2.0, middle), name, kind);
                }
                Spot::Behind => pen.text((to + 7.0, middle), name, Type::plain(SIZE)),
                Spot::Above(level, left) => {
                    let y = top - 14.0 - OVER * level as f64;
                    pen.line((from + 1.0, y + 10.0), (from + 1.0, top), INK, 2);
                    pen.block(
                        (left - 2.0, y - 11.0),
                        (left + text_width(name, SIZE, false), y + 11.0),
                        PAPER,
                        1.0,
                    );
                    pen.text((left, y), name, Type::plain(SIZE));
                }
            }
        }
    }
}

impl CycleChart {
    /// Draws the chart; its height follows from the number of rows.
    pub fn draw(&self, style: &Style) -> Drawing {
        let width = f64::from(style.width);
        let alt = format!("{}: {}.", self.title, self.axis.caption());
        let Some(x) = self.range() else {
            return Canvas::new(style, &self.title).no_data(style, alt);
        };
        let names = self
            .rows
            .iter()
            .map(|r| text_width(&r.name, TEXT, false))
            .fold(80.0, f64::max)
            .min(0.3 * width);
        let right = self.above.as_ref().map_or(60.0, |a| a.names_room().min(0.25 * width));
        let mut frame = Frame {
            left: names + 36.0,
            right: width - right,
            top: 0.0,
            bottom: 0.0,
            x,
            y: (0.0, 1.0),
        };
        let mut high = 0.0;
        let mut lanes = Vec::new();
        for row in &self.rows {
            let lane = Lane::place(row, &frame, high);
            high += lane.height();
            lanes.push(lane);
        }
        let rules = Rules::place(&self.rules, &frame);
        let (_, more) = title_lines(&self.title, width);
        let above = if self.above.is_some() { CURVES + GAP } else { 0.0 };
        frame.top = 76.0 + more + above + rules.height();
        frame.bottom = frame.top + high;
        let style = style.sized(style.width, (frame.bottom + 92.0).min(8000.0) as u32);
        let mut canvas = Canvas::new(&style, &self.title);
        self.draw_above(&mut canvas, &frame, frame.top - above - rules.height(), &style);
        canvas.layer(&[], |pen| {
            for &value in &frame.ticks_x().values {
                let at = frame.px_x(value);
                pen.line((at, frame.top), (at, frame.bottom), super::palette::GRID, 2);
            }
        });
        rules.lines(&mut canvas, &frame);
        canvas.layer(&[], |pen| {
            for lane in &lanes {
                lane.draw(pen, &frame, names);
            }
            pen.line((frame.left, frame.top), (frame.left, frame.bottom), INK, 2);
        });
        rules.labels(&mut canvas, &frame, &mut Placer::default());
        frame.axis_x(&mut canvas, &self.axis, &style, 62.0);
        canvas.finish(alt, Some(frame))
    }

    fn range(&self) -> Option<(f64, f64)> {
        let ends = self
            .rows
            .iter()
            .flat_map(|r| &r.bars)
            .flat_map(|b| [b.x.0, b.x.1])
            .chain(self.rules.iter().map(|r| r.value))
            .filter(|v| v.is_finite());
        let given = self.axis.range.filter(|(a, b)| a.is_finite() && b > a);
        given.or_else(|| extent(ends).filter(|(a, b)| b > a))
    }

    /// The curves of the part from a height on, with the rules without their words.
    fn draw_above(&self, canvas: &mut Canvas, frame: &Frame, top: f64, style: &Style) {
        let Some(curves) = &self.above else { return };
        let panel = Frame {
            top: top + 40.0,
            bottom: top + CURVES,
            ..*frame
        };
        let bare = |rule: &Rule| Rule {
            label: String::new(),
            ..rule.clone()
        };
        let chart = LineChart {
            rules: self.rules.iter().map(bare).collect(),
            ..curves.clone()
        };
        chart.draw_into(canvas, &panel, style, top + 14.0);
    }
}
