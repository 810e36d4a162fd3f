//! Pictures as SVG: one house style for every chart of the program.
//!
//! All charts are plain data structures with a `draw` method that takes a [`Style`] and gives a
//! [`Drawing`]: the SVG text and, for charts with two number axes, the [`Frame`] that maps pixels
//! to values (the report's pointer read-out uses it). Drawing goes through the SVG backend of
//! plotters, whose coordinates are whole pixels; so every picture is drawn large and scaled by its
//! `viewBox` to the width of whatever holds it.
//!
//! The style: no meaning by colour alone (every series has its own dash pattern and marker and is
//! named at its end), colours that keep different lightness in grey, units on every axis, ticks on
//! round numbers, no legend box. Labels know each other's boxes: none covers another or is cut. Values that are not finite are left out and break their line; a
//! chart without any value says "no data" and is still a valid picture.

mod axes;
mod bars;
mod canvas;
mod cycle;
mod frame;
mod heat;
mod histogram;
mod isoline;
mod labels;
mod line;
mod palette;
mod rules;
mod ticks;

pub use bars::{Bar, BarChart, Step, StepKind, Waterfall};
pub use canvas::text_width;
pub(crate) use canvas::{Canvas, Hold, Type};
pub use cycle::{CycleBar, CycleChart, CycleRow};
pub use frame::Frame;
pub use heat::{HeatMap, MapWords};
pub use histogram::Histogram;
pub(crate) use labels::{Area, Placer, words};
pub use line::{Band, LimitMark, LineChart, MarkKind, Remark, Series, StageBar};
pub(crate) use palette::{INK, Rgb};
pub use palette::{Ink, PALETTE, heat_colour, ink};
pub use rules::Rule;
#[cfg(feature = "page")]
pub(crate) use ticks::nice_step;
pub use ticks::{Ticks, nice_ticks};

/// Size and number style of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// Width of the drawing in pixels; the text is 24 px high, so 1600 reads well at half a page.
    pub width: u32,
    /// Height of the drawing in pixels.
    pub height: u32,
    /// Whether numbers are written with a decimal comma.
    pub decimal_comma: bool,
    /// What a picture of nothing says.
    pub no_data: &'static str,
}

impl Default for Style {
    fn default() -> Self {
        Style {
            width: 1600,
            height: 960,
            decimal_comma: false,
            no_data: "no data",
        }
    }
}

impl Style {
    /// The same style with another size.
    pub fn sized(self, width: u32, height: u32) -> Self {
        Style {
            width: width.clamp(400, 8000),
            height: height.clamp(160, 8000),
            ..self
        }
    }
}

/// A number axis.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Axis {
    /// What is drawn, for example `time after heater exit`.
    pub label: String,
    /// Its unit as shown, for example `s`; empty for a plain number.
    pub unit: String,
    /// Lowest and highest value shown; `None` takes what the data need.
    pub range: Option<(f64, f64)>,
}

impl Axis {
    /// An axis whose range follows from the data.
    pub fn new(label: impl Into<String>, unit: impl Into<String>) -> Self {
        Axis {
            label: label.into(),
            unit: unit.into(),
            range: None,
        }
    }

    /// The same axis over a fixed range.
    pub fn over(mut self, low: f64, high: f64) -> Self {
        self.range = Some((low, high));
        self
    }

    /// One sentence on a picture of this quantity over another.
    pub(crate) fn sentence(&self, title: &str, over: &Axis) -> String {
        format!("{title}: {}, {}.", self.caption(), over.caption())
    }

    /// Label with its unit, as written beside the axis.
    pub fn caption(&self) -> String {
        if self.unit.is_empty() {
            self.label.clone()
        } else {
            format!("{} [{}]", self.label, self.unit)
        }
    }
}

/// A finished picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// The SVG document, width 100 % with a `viewBox`; it can stand alone or inside HTML.
    pub svg: String,
    /// Where the plot area lies and what it spans; `None` for pictures without two number axes.
    pub frame: Option<Frame>,
    /// What the picture shows, in one sentence, for readers who cannot see it.
    pub alt: String,
    /// Width of the drawing in pixels.
    pub width: u32,
}
