//! Grid, ticks and captions of a plot area.

use super::canvas::{Canvas, Hold, Type, text_width};
use super::frame::{Frame, TEXT};
use super::palette::{GRID, INK, SOFT};
use super::ticks::nice_ticks;
use super::{Axis, Style};
use crate::text::number::{fixed, minus};

impl Frame {
    /// Grid lines of one or both axes.
    pub(crate) fn grid(&self, canvas: &mut Canvas, vertical: bool) {
        canvas.layer(&[], |pen| {
            for &value in &self.ticks_y().values {
                let y = self.px_y(value);
                pen.line((self.left, y), (self.right, y), GRID, 2);
            }
            if vertical {
                for &value in &self.ticks_x().values {
                    let x = self.px_x(value);
                    pen.line((x, self.top), (x, self.bottom), GRID, 2);
                }
            }
        });
    }

    /// Vertical axis: line, tick labels and, at a height above it, the caption.
    pub(crate) fn axis_y(&self, canvas: &mut Canvas, axis: &Axis, style: &Style, caption: f64) {
        let ticks = self.ticks_y();
        canvas.layer(&[], |pen| {
            pen.line((self.left, self.top), (self.left, self.bottom), INK, 2);
            for &value in &ticks.values {
                let y = self.px_y(value);
                pen.line((self.left - 8.0, y), (self.left, y), INK, 2);
                pen.text(
                    (self.left - 14.0, y),
                    &minus(&fixed(value, ticks.decimals, style.decimal_comma)),
                    Type::plain(TEXT).hold(Hold::Right),
                );
            }
            pen.text(
                (12.0_f64.min(self.left), caption),
                &axis.caption(),
                Type::plain(TEXT).colour(SOFT),
            );
        });
    }

    /// Horizontal axis at the lower edge: line, tick labels; the caption `below` pixels lower.
    pub(crate) fn axis_x(&self, canvas: &mut Canvas, axis: &Axis, style: &Style, below: f64) {
        self.axis_x_as(canvas, axis, style, below, false);
    }

    /// Like [`Frame::axis_x`]; `both_ways` writes distances from a middle without their sign.
    pub(crate) fn axis_x_as(&self, canvas: &mut Canvas, axis: &Axis, style: &Style, below: f64, both_ways: bool) {
        let ticks = self.ticks_x();
        canvas.layer(&[], |pen| {
            pen.line((self.left, self.bottom), (self.right, self.bottom), INK, 2);
            for &value in &ticks.values {
                let x = self.px_x(value);
                pen.line((x, self.bottom), (x, self.bottom + 8.0), INK, 2);
                let value = if both_ways { value.abs() } else { value };
                pen.text(
                    (x, self.bottom + 26.0),
                    &minus(&fixed(value, ticks.decimals, style.decimal_comma)),
                    Type::plain(TEXT).hold(Hold::Middle),
                );
            }
            pen.text(
                ((self.left + self.right) / 2.0, self.bottom + below),
                &axis.caption(),
                Type::plain(TEXT).colour(SOFT).hold(Hold::Middle),
            );
        });
    }
}

/// Width that the labels of a vertical axis need, in pixels.
pub(crate) fn label_room(low: f64, high: f64, height: f64, style: &Style) -> f64 {
    let ticks = nice_ticks(low, high, (height / 75.0).max(2.0) as usize);
    ticks
        .values
        .iter()
        .map(|&v| text_width(&fixed(v, ticks.decimals, style.decimal_comma), TEXT, false))
        .fold(40.0, f64::max)
        + 24.0
}
