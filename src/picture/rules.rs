//! Dashed lines across a chart at one value, with their words.

use super::canvas::{Canvas, Type, extent_of, text_width, wrap};
use super::frame::{Frame, TEXT};
use super::labels::{Area, Placer};
use super::palette::{INK, PAPER, SOFT};

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

const SIZE: f64 = TEXT - 2.0;
const ROW: f64 = 30.0;

/// The rules of a chart with the words of the upright ones set in rows over the frame.
pub(super) struct Rules<'a> {
    rules: &'a [Rule],
    /// Left end and row of the words, for those that have some.
    words: Vec<(&'a str, f64, usize)>,
    rows: usize,
}

impl<'a> Rules<'a> {
    /// Sets the words of upright rules in rows, each as near to its line as the others of its row allow; only the
    /// horizontal part of the frame counts.
    pub fn place(rules: &'a [Rule], frame: &Frame) -> Self {
        let mut upright: Vec<&Rule> = rules
            .iter()
            .filter(|rule| rule.upright && !rule.label.is_empty())
            .collect();
        upright.sort_by(|a, b| a.value.total_cmp(&b.value));
        let mut ends: Vec<f64> = Vec::new();
        let mut words = Vec::new();
        for rule in upright {
            let x = frame.px_x(rule.value);
            if !(x >= frame.left && x <= frame.right) {
                continue;
            }
            let wide = text_width(&rule.label, SIZE, false);
            let at = (x - wide / 2.0).clamp(frame.left, (frame.right - wide).max(frame.left));
            let row = ends.iter().position(|end| at >= end + 14.0).unwrap_or(ends.len());
            if row == ends.len() {
                ends.push(0.0);
            }
            ends[row] = at + wide;
            words.push((rule.label.as_str(), at, row));
        }
        let rows = ends.len();
        Rules { rules, words, rows }
    }

    /// Room that the words need over the frame, in pixels.
    pub fn height(&self) -> f64 {
        ROW * self.rows as f64
    }

    /// The lines.
    pub fn lines(&self, canvas: &mut Canvas, frame: &Frame) {
        canvas.layer(&[("stroke-dasharray", "10 8")], |pen| {
            for rule in self.rules.iter().filter(|r| r.value.is_finite()) {
                let (x, y) = (frame.px_x(rule.value), frame.px_y(rule.value));
                if rule.upright && x >= frame.left && x <= frame.right {
                    pen.line((x, frame.top), (x, frame.bottom), SOFT, 3);
                } else if !rule.upright && y >= frame.top && y <= frame.bottom {
                    pen.line((frame.left, y), (frame.right, y), SOFT, 3);
                }
            }
        });
    }

    /// The words: in their rows, and at level lines where there is room.
    pub fn labels(&self, canvas: &mut Canvas, frame: &Frame, placer: &mut Placer) {
        canvas.layer(&[], |pen| {
            for (words, at, row) in &self.words {
                let y = frame.top - 16.0 - ROW * *row as f64;
                pen.text((*at, y), words, Type::plain(SIZE));
            }
        });
        let room = Area {
            left: frame.left,
            top: frame.top,
            right: frame.right,
            bottom: frame.bottom,
        };
        for rule in self.rules.iter().filter(|rule| !rule.upright && !rule.label.is_empty()) {
            let y = frame.px_y(rule.value);
            if !(y >= frame.top && y <= frame.bottom) {
                continue;
            }
            let lines = wrap(&rule.label, SIZE, false, 0.6 * (frame.right - frame.left), 3);
            let (wide, high) = extent_of(&lines, SIZE, false);
            let spot = placer.place(
                (frame.left + 14.0 + wide / 2.0, y - high / 2.0 - 6.0),
                wide + 6.0,
                high,
                &room,
            );
            canvas.layer(&[], |pen| {
                pen.block((spot.left, spot.top), (spot.right, spot.bottom), PAPER, 0.8);
                pen.lines(
                    (spot.left + 3.0, spot.middle().1),
                    &lines,
                    Type::plain(SIZE).colour(INK),
                );
            });
        }
    }
}
