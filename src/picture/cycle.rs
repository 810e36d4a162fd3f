//! Cycle chart: who is busy when, over one takt, and how hot the part is meanwhile.

use super::canvas::{Canvas, Hold, Type, fit, text_width};
use super::frame::{Frame, TEXT, TITLE, no_data};
use super::labels::Area;
use super::line::{Rule, extent};
use super::palette::{INK, PALETTE, PAPER, Rgb, text_on};
use super::{Axis, Drawing, LineChart, Style};

const ROW: f64 = 84.0;
/// Height of the curves above the rows, and the room between.
const CURVES: f64 = 400.0;
const GAP: f64 = 60.0;
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

impl CycleChart {
    /// Draws the chart; its height follows from the number of rows.
    pub fn draw(&self, style: &Style) -> Drawing {
        let head = if self.rules.is_empty() { 76.0 } else { 116.0 };
        let above = if self.above.is_some() { CURVES + GAP } else { 0.0 };
        let height = head + above + ROW * self.rows.len().max(1) as f64 + 92.0;
        let style = style.sized(style.width, height.min(8000.0) as u32);
        let width = f64::from(style.width);
        let mut canvas = Canvas::new(style.width, style.height);
        canvas.layer(&[], |pen| {
            pen.text(
                (12.0, 32.0),
                &fit(&self.title, TITLE, true, width - 40.0),
                Type::plain(TITLE).bold(),
            );
        });
        let alt = self.words();
        let ends = self
            .rows
            .iter()
            .flat_map(|r| &r.bars)
            .flat_map(|b| [b.x.0, b.x.1])
            .chain(self.rules.iter().map(|r| r.value))
            .filter(|v| v.is_finite());
        let x = self
            .axis
            .range
            .filter(|(a, b)| a.is_finite() && b > a)
            .or_else(|| extent(ends).filter(|(a, b)| b > a));
        let Some(x) = x else {
            no_data(&mut canvas, &style);
            return Drawing {
                svg: canvas.finish(&self.title, &alt),
                frame: None,
                alt,
            };
        };
        let names = self
            .rows
            .iter()
            .map(|r| text_width(&r.name, TEXT, false))
            .fold(80.0, f64::max)
            .min(0.3 * width);
        let right = self.above.as_ref().map_or(60.0, |a| a.names_room().min(0.25 * width));
        let frame = Frame {
            left: names + 36.0,
            right: width - right,
            top: head + above,
            bottom: head + above + ROW * self.rows.len() as f64,
            x,
            y: (0.0, 1.0),
        };
        if let Some(curves) = &self.above {
            let panel = Frame {
                top: head + 40.0,
                bottom: head + CURVES,
                ..frame
            };
            let chart = LineChart {
                rules: self
                    .rules
                    .iter()
                    .map(|r| Rule {
                        label: String::new(),
                        ..r.clone()
                    })
                    .collect(),
                ..curves.clone()
            };
            chart.draw_into(&mut canvas, &panel, &style);
        }
        canvas.layer(&[], |pen| {
            for &value in &frame.ticks_x().values {
                let at = frame.px_x(value);
                pen.line((at, frame.top), (at, frame.bottom), super::palette::GRID, 2);
            }
            for (i, row) in self.rows.iter().enumerate() {
                let top = frame.top + ROW * i as f64 + 38.0;
                let bottom = top + 38.0;
                let middle = (top + bottom) / 2.0;
                pen.text(
                    (frame.left - 16.0, middle),
                    &fit(&row.name, TEXT, false, names),
                    Type::plain(TEXT).hold(Hold::Right),
                );
                self.draw_row(pen, &frame, row, (top, bottom));
            }
            pen.line((frame.left, frame.top), (frame.left, frame.bottom), INK, 2);
        });
        LineChart {
            rules: self.rules.clone(),
            ..LineChart::default()
        }
        .draw_rules(&mut canvas, &frame);
        frame.axis_x(&mut canvas, &self.axis, &style, 62.0);
        Drawing {
            svg: canvas.finish(&self.title, &alt),
            frame: Some(frame),
            alt,
        }
    }

    fn draw_row(&self, pen: &mut super::canvas::Pen<'_>, frame: &Frame, row: &CycleRow, (top, bottom): (f64, f64)) {
        let size = TEXT - 4.0;
        let bars: Vec<(&CycleBar, f64, f64)> = row
            .bars
            .iter()
            .filter(|b| b.x.0.is_finite() && b.x.1.is_finite())
            .filter(|b| b.x.1 >= frame.x.0 && b.x.0 <= frame.x.1)
            .map(|b| {
                let from = frame.px_x(b.x.0).clamp(frame.left, frame.right);
                let to = frame.px_x(b.x.1).clamp(frame.left, frame.right);
                (b, from, to.max(from + 3.0))
            })
            .collect();
        let mut above: Vec<Area> = Vec::new();
        for (i, &(bar, from, to)) in bars.iter().enumerate() {
            let fill = if bar.idle { WAIT } else { PALETTE[0].colour };
            pen.block((from, top), (to, bottom), fill, 1.0);
            pen.outline((from, top), (to, bottom), if bar.idle { INK } else { PAPER }, 1);
            let middle = (top + bottom) / 2.0;
            let wide = text_width(&bar.name, size, false);
            let next = bars.get(i + 1).map_or(f64::INFINITY, |&(_, start, _)| start);
            let over = Area {
                left: from,
                top: top - 30.0,
                right: from + wide,
                bottom: top - 2.0,
            };
            if wide + 12.0 <= to - from {
                pen.text(
                    ((from + to) / 2.0, middle),
                    &bar.name,
                    Type::plain(size).hold(Hold::Middle).colour(text_on(fill)),
                );
            } else if to + wide + 12.0 <= next.min(frame.right + 50.0) {
                pen.text((to + 7.0, middle), &bar.name, Type::plain(size));
            } else if above.iter().all(|a| a.overlap(&over) == 0.0) {
                above.push(over);
                pen.text((from, top - 16.0), &bar.name, Type::plain(size));
                pen.line((from, top - 6.0), (from, top), INK, 2);
            }
        }
    }

    fn words(&self) -> String {
        let rows: Vec<String> = self
            .rows
            .iter()
            .map(|r| {
                let bars: Vec<String> = r
                    .bars
                    .iter()
                    .map(|b| format!("{} {:.1} to {:.1}", b.name, b.x.0, b.x.1))
                    .collect();
                format!("{}: {}", r.name, bars.join(", "))
            })
            .collect();
        let above = self
            .above
            .as_ref()
            .map_or(String::new(), |a| format!(" Above: {}", a.alt));
        format!("{} ({}). {}.{above}", self.title, self.axis.caption(), rows.join("; "))
    }
}
