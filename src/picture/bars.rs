//! Bars with names at their left: plain bars and the waterfall.

use super::canvas::{Canvas, Hold, LINE, Pen, Type, extent_of, fit, text_width, title_lines, wrap};
use super::frame::{Frame, TEXT};
use super::line::extent;
use super::palette::{ALARM, INK, PALETTE, PAPER, Rgb, SOFT};
use super::{Axis, Drawing, Style};
use crate::text::number::{fixed, minus, signed};

const GAIN: Rgb = (0x2c, 0x7f, 0xb8);
const LOSS: Rgb = (0x5a, 0x60, 0x69);
const TOTAL: Rgb = (0x15, 0x3e, 0x75);

/// One bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// Name at the left.
    pub name: String,
    /// Length.
    pub value: f64,
    /// Words after the bar; empty writes the value.
    pub note: String,
    /// Whether it is drawn as broken or alarming (also hatched, with a mark in the text).
    pub alarm: bool,
}

/// Horizontal bars from zero, in the order given.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BarChart {
    /// Title.
    pub title: String,
    /// The value axis.
    pub axis: Axis,
    /// Bars from top to bottom.
    pub bars: Vec<Bar>,
    /// Decimals of the values written at the bars.
    pub decimals: usize,
}

/// What a step of a waterfall does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StepKind {
    /// Starts from zero: the first value, a subtotal or the end.
    Level,
    /// Adds to what went before (negative takes away).
    Change,
}

/// One step of a waterfall.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Name at the left.
    pub name: String,
    /// Level or change.
    pub kind: StepKind,
    /// Value.
    pub value: f64,
    /// Words after the bar, for example the margin in seconds; may be empty.
    pub note: String,
}

/// Steps that lead from one level to another.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Waterfall {
    /// Title.
    pub title: String,
    /// The value axis.
    pub axis: Axis,
    /// Steps from top to bottom.
    pub steps: Vec<Step>,
    /// A limit drawn as an upright line, with its words.
    pub limit: Option<(f64, String)>,
    /// Decimals of the values written at the bars.
    pub decimals: usize,
}

/// One bar in values: name, from, to, colour, text behind it.
struct Row {
    name: String,
    from: f64,
    to: f64,
    colour: Rgb,
    text: String,
    bold: bool,
}

impl BarChart {
    /// Draws the chart; its height follows from the number of bars.
    pub fn draw(&self, style: &Style) -> Drawing {
        let rows: Vec<Row> = self
            .bars
            .iter()
            .filter(|b| b.value.is_finite())
            .map(|bar| {
                let value = minus(&fixed(bar.value, self.decimals, style.decimal_comma));
                let text = if bar.note.is_empty() { value } else { bar.note.clone() };
                Row {
                    name: bar.name.clone(),
                    from: 0.0,
                    to: bar.value,
                    colour: if bar.alarm { ALARM } else { PALETTE[0].colour },
                    text: if bar.alarm { format!("\u{2717} {text}") } else { text },
                    bold: bar.alarm,
                }
            })
            .collect();
        draw_rows(&self.title, &self.axis, &rows, None, false, style)
    }
}

impl Waterfall {
    /// Draws the chart; its height follows from the number of steps.
    pub fn draw(&self, style: &Style) -> Drawing {
        let mut at = 0.0;
        let mut rows = Vec::with_capacity(self.steps.len());
        for step in self.steps.iter().filter(|s| s.value.is_finite()) {
            let (from, to, colour, value) = match step.kind {
                StepKind::Level => (
                    0.0,
                    step.value,
                    TOTAL,
                    fixed(step.value, self.decimals, style.decimal_comma),
                ),
                StepKind::Change => (
                    at,
                    at + step.value,
                    if step.value < 0.0 { LOSS } else { GAIN },
                    signed(step.value, self.decimals, style.decimal_comma),
                ),
            };
            at = to;
            let mut text = minus(&value);
            if !step.note.is_empty() {
                text = format!("{text} ({})", step.note);
            }
            rows.push(Row {
                name: step.name.clone(),
                from,
                to,
                colour,
                text,
                bold: step.kind == StepKind::Level,
            });
        }
        draw_rows(
            &self.title,
            &self.axis,
            &rows,
            self.limit.as_ref().map(|(v, w)| (*v, w.as_str())),
            true,
            style,
        )
    }
}

/// Least height of a row, and what it has besides its lines of text.
const ROW: f64 = 46.0;
const AIR: f64 = 17.0;

/// A row set out: its lines of name and text, its upper edge and height.
struct Set<'a> {
    row: &'a Row,
    name: Vec<String>,
    text: Vec<String>,
    top: f64,
    high: f64,
}

/// Sets the rows out one under the other, and gives the room at the left and at the right of the bars.
fn set_out(rows: &[Row], width: f64) -> (Vec<Set<'_>>, f64, f64) {
    let widest = |of: fn(&Row) -> &str, least: f64| {
        let widths = rows.iter().map(|r| text_width(of(r), TEXT, r.bold));
        widths.fold(least, f64::max)
    };
    let names = widest(|r| &r.name, 80.0).min(0.4 * width);
    let notes = widest(|r| &r.text, 40.0).min(0.34 * width);
    let mut top = 0.0;
    let sets = rows.iter().map(|row| {
        let name = wrap(&row.name, TEXT, row.bold, names, 5);
        let text = wrap(&row.text, TEXT, row.bold, notes, 5);
        let high = (TEXT * LINE * name.len().max(text.len()) as f64 + AIR).max(ROW);
        let set = Set {
            row,
            name,
            text,
            top,
            high,
        };
        top += high;
        set
    });
    (sets.collect(), names, notes)
}

fn draw_rows(
    title: &str,
    axis: &Axis,
    rows: &[Row],
    limit: Option<(f64, &str)>,
    joined: bool,
    style: &Style,
) -> Drawing {
    let limit = limit.filter(|(value, _)| value.is_finite());
    let width = f64::from(style.width);
    let (sets, names, notes) = set_out(rows, width);
    let rows_high = sets.last().map_or(ROW, |set| set.top + set.high);
    let (_, more) = title_lines(title, width);
    let head = more + if limit.is_some() { 110.0 } else { 76.0 };
    let style = style.sized(style.width, (head + rows_high + 92.0).min(8000.0) as u32);
    let mut canvas = Canvas::new(&style, title);
    let alt = format!("{title}: {}.", axis.caption());
    let Some(x) = range(axis, rows, limit, joined) else {
        return canvas.no_data(&style, alt);
    };
    let frame = Frame {
        left: names + 36.0,
        right: width - notes - 40.0,
        top: head,
        bottom: head + rows_high,
        x,
        y: (0.0, 1.0),
    };
    let at = limit.map(|(value, _)| frame.px_x(value));
    canvas.layer(&[], |pen| {
        for &value in &frame.ticks_x().values {
            let at = frame.px_x(value);
            pen.line((at, frame.top), (at, frame.bottom), super::palette::GRID, 2);
        }
    });
    canvas.layer(&[("stroke-dasharray", "10 8")], |pen| {
        if let Some(at) = at {
            pen.line((at, frame.top - 12.0), (at, frame.bottom), ALARM, 4);
        }
    });
    canvas.layer(&[], |pen| {
        for (i, set) in sets.iter().enumerate() {
            draw_row(pen, &frame, set, at, joined && i + 1 < sets.len());
        }
        let base = frame.px_x(0.0_f64.clamp(x.0, x.1));
        pen.line((base, frame.top), (base, frame.bottom), INK, 2);
        if let (Some(at), Some((_, label))) = (at, limit) {
            let label = fit(label, TEXT, true, width - 40.0);
            let wide = text_width(&label, TEXT, true);
            let left = (at - wide / 2.0).clamp(12.0, (width - wide - 25.0).max(12.0));
            pen.text((left, frame.top - 28.0), &label, Type::plain(TEXT).bold().colour(ALARM));
        }
    });
    frame.axis_x(&mut canvas, axis, &style, 62.0);
    canvas.finish(alt, None)
}

/// Range of the value axis: what was given, else what the rows and the limit need.
fn range(axis: &Axis, rows: &[Row], limit: Option<(f64, &str)>, joined: bool) -> Option<(f64, f64)> {
    let given = axis.range.filter(|(a, b)| a.is_finite() && b > a);
    let seen = rows.iter().flat_map(|r| [r.from, r.to]).chain(limit.map(|(v, _)| v));
    given.or_else(|| {
        // levels far from zero (temperatures) are cut off; the axis says so by its numbers
        let (low, high) = extent(seen.filter(|v| !joined || *v != 0.0))?;
        let (low, high) = if joined {
            (low, high)
        } else {
            (low.min(0.0), high.max(0.0))
        };
        let span = (high - low).max(1e-9 * high.abs().max(1.0));
        let low = if joined && low > 0.0 && low < 1.5 * span {
            0.0
        } else {
            low
        };
        Some((
            if low == 0.0 { 0.0 } else { low - 0.06 * span },
            if high == 0.0 { 0.0 } else { high + 0.06 * span },
        ))
    })
}

/// A bar with its name and its text; the line of the limit does not go through the text.
fn draw_row(pen: &mut Pen<'_>, frame: &Frame, set: &Set<'_>, limit: Option<f64>, joint: bool) {
    let (row, x) = (set.row, frame.x);
    let top = frame.top + set.top + 7.0;
    let bottom = top + set.high - 14.0;
    let (mut a, mut b) = (frame.px_x(row.from.clamp(x.0, x.1)), frame.px_x(row.to.clamp(x.0, x.1)));
    if (b - a).abs() < 3.0 {
        (a, b) = (a - 1.5, a + 1.5);
    }
    pen.block((a, top), (b, bottom), row.colour, 1.0);
    let (low, high) = (a.min(b), a.max(b));
    if row.colour == ALARM {
        let mut at = low + 14.0;
        while at < high {
            pen.line((at, top), ((at - 12.0).max(low), bottom), PAPER, 2);
            at += 16.0;
        }
    }
    if joint {
        pen.line((b, bottom), (b, bottom + 14.0), INK, 2);
    }
    let middle = (top + bottom) / 2.0;
    let kind = weight(Type::plain(TEXT), row.bold);
    pen.lines((frame.left - 16.0, middle), &set.name, kind.hold(Hold::Right));
    let (wide, tall) = extent_of(&set.text, TEXT, row.bold);
    let mut after = high.max(frame.px_x(0.0_f64.clamp(x.0, x.1))) + 10.0;
    if let Some(limit) = limit.filter(|limit| *limit > after - 6.0 && *limit < after + wide + 6.0) {
        after = limit + 12.0;
    }
    pen.block(
        (after - 3.0, middle - tall / 2.0),
        (after + wide, middle + tall / 2.0),
        PAPER,
        0.8,
    );
    pen.lines((after, middle), &set.text, kind);
}

fn weight(kind: Type, bold: bool) -> Type {
    if bold { kind.bold() } else { kind.colour(SOFT) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn empty_and_broken_values_are_drawable() {
        let mut chart = BarChart::default();
        assert!(chart.draw(&Style::default()).svg.contains("no data"));
        chart.bars.push(Bar {
            name: "a".into(),
            value: f64::NAN,
            note: String::new(),
            alarm: false,
        });
        assert!(chart.draw(&Style::default()).svg.contains("no data"));
        chart.bars[0].value = 0.0;
        let svg = chart.draw(&Style::default()).svg;
        assert!(!svg.contains("NaN") && !svg.contains("no data"));
    }

    #[test]
    fn waterfall_runs_from_level_to_level() {
        let step = |name: &str, kind, value| Step {
            name: name.into(),
            kind,
            value,
            note: String::new(),
        };
        let chart = Waterfall {
            title: "w".into(),
            axis: Axis::new("margin", "K"),
            steps: vec![
                step("exit", StepKind::Level, 90.0),
                step("carry", StepKind::Change, -40.0),
                step("end", StepKind::Level, 50.0),
            ],
            limit: Some((0.0, "limit".into())),
            decimals: 0,
        };
        let svg = chart.draw(&Style::default()).svg;
        assert!(svg.contains("\u{2212}40") && svg.contains(">\n90\n<"));
    }
}
