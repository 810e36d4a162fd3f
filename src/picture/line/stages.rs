//! Stage bars under the horizontal axis, named without overlap.

use super::super::canvas::{Canvas, Hold, Type, fit, text_width};
use super::super::frame::{Frame, TEXT};
use super::super::palette::{GRID, INK, PAPER, Rgb, SOFT};

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

/// Colour of the thin upright lines between stages.
pub(super) const BOUNDARY: Rgb = GRID;

const BAR: f64 = 30.0;
const ROW: f64 = 27.0;
const ROWS: usize = 6;
const SIZE: f64 = TEXT - 4.0;
const DARK: Rgb = (0x5a, 0x60, 0x69);
const LIGHT: Rgb = (0xe6, 0xe8, 0xeb);

/// Thin upright lines where stages meet.
pub(super) fn boundaries(canvas: &mut Canvas, frame: &Frame, stages: &[StageBar]) {
    canvas.layer(&[], |pen| {
        let mut last = f64::NEG_INFINITY;
        for stage in stages {
            for value in [stage.x.0, stage.x.1] {
                let x = frame.px_x(value);
                if x > frame.left && x <= frame.right && x - last >= 3.0 {
                    pen.line((x, frame.top), (x, frame.bottom + 46.0), BOUNDARY, 2);
                    last = x;
                }
            }
        }
    });
}

/// A stage bar in pixels with the place of its name.
struct Placed<'a> {
    stage: &'a StageBar,
    from: f64,
    to: f64,
    text: String,
    spot: Spot,
}

/// Where a name goes.
enum Spot {
    /// Inside the bar.
    Inside,
    /// In a row below, from a column.
    Below(usize, f64),
    /// Nowhere: the table names every stage, a crowded picture does not.
    Hidden,
}

/// The bars of a chart with their names placed.
pub(super) struct Stages<'a> {
    bars: Vec<Placed<'a>>,
    rows: usize,
}

impl<'a> Stages<'a> {
    /// Places bars and names in a picture of a width; only the horizontal part of the frame counts.
    pub fn place(frame: &Frame, stages: &'a [StageBar], width: f64) -> Self {
        // each row of names remembers how far it is taken
        let mut taken = [f64::NEG_INFINITY; ROWS];
        let mut rows = 0;
        let bars = stages
            .iter()
            .filter(|s| s.x.0.is_finite() && s.x.1.is_finite())
            .filter(|s| s.x.1 >= frame.x.0 && s.x.0 <= frame.x.1)
            .map(|stage| {
                let from = frame.px_x(stage.x.0).clamp(frame.left, frame.right);
                let to = frame.px_x(stage.x.1).clamp(frame.left, frame.right);
                let to = to.max(from + 2.0);
                let text = fit(&stage.name, SIZE, false, 0.4 * width);
                let wide = text_width(&text, SIZE, false);
                let spot = if wide + 10.0 <= to - from {
                    Spot::Inside
                } else {
                    let left = ((from + to) / 2.0 - 6.0).min(width - 12.0 - wide).max(frame.left);
                    match taken.iter().position(|&end| left >= end + 14.0) {
                        Some(row) => {
                            taken[row] = left + wide;
                            rows = rows.max(row + 1);
                            Spot::Below(row, left)
                        }
                        None => Spot::Hidden,
                    }
                };
                Placed {
                    stage,
                    from,
                    to,
                    text,
                    spot,
                }
            })
            .collect();
        Stages { bars, rows }
    }

    /// Room that the bars and their names take below the tick labels, in pixels.
    pub fn height(&self) -> f64 {
        if self.bars.is_empty() {
            0.0
        } else {
            BAR + 18.0 + ROW * self.rows as f64
        }
    }

    /// Draws bars, leader lines and names.
    pub fn draw(&self, canvas: &mut Canvas, frame: &Frame) {
        let top = frame.bottom + 46.0;
        let row_y = |row: usize| top + BAR + 18.0 + ROW * row as f64;
        canvas.layer(&[], |pen| {
            for bar in &self.bars {
                let fill = if bar.stage.tool { DARK } else { LIGHT };
                pen.block((bar.from, top), (bar.to, top + BAR), fill, 1.0);
                pen.outline((bar.from, top), (bar.to, top + BAR), INK, 1);
            }
            for bar in &self.bars {
                if let Spot::Below(row, _) = bar.spot {
                    let middle = (bar.from + bar.to) / 2.0;
                    pen.line((middle, top + BAR), (middle, row_y(row) - 8.0), SOFT, 1);
                }
            }
            for bar in &self.bars {
                match bar.spot {
                    Spot::Inside => {
                        let colour = if bar.stage.tool { PAPER } else { INK };
                        pen.text(
                            ((bar.from + bar.to) / 2.0, top + BAR / 2.0),
                            &bar.text,
                            Type::plain(SIZE).colour(colour).hold(Hold::Middle),
                        );
                    }
                    Spot::Below(row, left) => {
                        let y = row_y(row);
                        let wide = text_width(&bar.text, SIZE, false);
                        // a name hides the leader lines that pass behind it
                        pen.block((left - 3.0, y - 11.0), (left + wide, y + 12.0), PAPER, 1.0);
                        pen.text((left, y), &bar.text, Type::plain(SIZE));
                    }
                    Spot::Hidden => {}
                }
            }
        });
    }
}
