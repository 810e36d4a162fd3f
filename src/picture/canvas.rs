//! A page of layers, each drawn by the SVG backend of plotters and wrapped in its own group.
//!
//! Groups carry what the backend cannot write: dash patterns, clip-free crisp edges and the name
//! by which a script can find a series.

use plotters::prelude::{DrawingBackend, IntoFont, RGBAColor, SVGBackend, ShapeStyle, TextStyle};
use plotters::style::FontStyle;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use unicode_width::UnicodeWidthChar;

use super::frame::{Frame, Px, TITLE};
use super::palette::{INK, Rgb};
use super::{Drawing, Style};
use crate::text::clean;

/// Horizontal hold of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hold {
    /// The position is the left end.
    Left,
    /// The position is the middle.
    Middle,
    /// The position is the right end.
    Right,
}

/// How a text is written; its position is the vertical middle.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Type {
    /// Font size in pixels.
    pub size: f64,
    /// Colour.
    pub colour: Rgb,
    /// Whether bold.
    pub bold: bool,
    /// Horizontal hold.
    pub hold: Hold,
}

impl Type {
    /// Plain text of a size, held at the left.
    pub fn plain(size: f64) -> Self {
        Type {
            size,
            colour: INK,
            bold: false,
            hold: Hold::Left,
        }
    }

    /// The same in another colour.
    pub fn colour(mut self, colour: Rgb) -> Self {
        self.colour = colour;
        self
    }

    /// The same with another hold.
    pub fn hold(mut self, hold: Hold) -> Self {
        self.hold = hold;
        self
    }

    /// The same in bold.
    pub fn bold(mut self) -> Self {
        self.bold = true;
        self
    }
}

/// Text with the five characters of XML escaped, cleaned first.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in clean(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// Estimated width of a text in pixels; the widest common sans-serif face is assumed, so that
/// layouts hold on any machine.
pub fn text_width(text: &str, size: f64, bold: bool) -> f64 {
    let em: f64 = text
        .chars()
        .map(|c| match c {
            'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' => 0.32,
            'f' | 't' | 'r' | ' ' | '(' | ')' | '[' | ']' | '/' | '-' => 0.40,
            'm' | 'w' | 'M' | 'W' | '%' | '@' => 0.95,
            'A'..='Z' => 0.70,
            '\u{0}'..='\u{7f}' => 0.62,
            c if c.width() == Some(2) => 1.02,
            c if c.width() == Some(0) => 0.0,
            _ => 0.68,
        })
        .sum();
    em * size * if bold { 1.09 } else { 1.0 }
}

/// A text cut with an ellipsis so that it is not wider than a number of pixels.
pub(crate) fn fit(text: &str, size: f64, bold: bool, width: f64) -> String {
    wrap(text, size, bold, width, 1).pop().unwrap_or_default()
}

/// A text in lines no wider than a number of pixels: broken behind a blank, in a name before the letters that
/// follow a dot, an underscore or a hyphen, between wide characters, and anywhere where nothing else helps. What
/// does not go into `most` lines is cut with an ellipsis.
pub(crate) fn wrap(text: &str, size: f64, bold: bool, width: f64, most: usize) -> Vec<String> {
    let wide = |text: &str| text_width(text.trim_end(), size, bold);
    let mut lines = vec![String::new()];
    let mut cut = false;
    for piece in pieces(&clean(text)) {
        let parts = if wide(&piece) > width {
            single(&piece)
        } else {
            vec![piece]
        };
        for part in parts {
            let Some(line) = lines.last_mut() else { break };
            if !line.is_empty() && wide(&format!("{line}{part}")) > width {
                if lines.len() == most {
                    cut = true;
                    break;
                }
                lines.push(part);
            } else {
                line.push_str(&part);
            }
        }
        if cut {
            break;
        }
    }
    let room = width - text_width("\u{2026}", size, bold);
    if let Some(line) = lines.last_mut().filter(|_| cut) {
        while wide(line) > room && line.pop().is_some() {}
        *line = format!("{}\u{2026}", line.trim_end());
    }
    lines.into_iter().map(|line| line.trim_end().to_owned()).collect()
}

fn single(text: &str) -> Vec<String> {
    text.chars().map(String::from).collect()
}

/// The pieces between which a text may break.
fn pieces(text: &str) -> Vec<String> {
    let mut out = vec![String::new()];
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        if let Some(piece) = out.last_mut() {
            piece.push(c);
        }
        let letters = chars.peek().is_some_and(|next| next.is_alphabetic());
        if c == ' ' || (matches!(c, '.' | '_' | '-') && letters) || c.width() == Some(2) {
            out.push(String::new());
        }
    }
    out
}

/// Pixels for the backend; far values are held inside what it can count.
fn whole(p: Px) -> (i32, i32) {
    let one = |v: f64| {
        if v.is_finite() {
            v.round().clamp(-1e6, 1e6) as i32
        } else {
            0
        }
    };
    (one(p.0), one(p.1))
}

fn shape(colour: Rgb, alpha: f64, width: u32, filled: bool) -> ShapeStyle {
    ShapeStyle {
        color: RGBAColor(colour.0, colour.1, colour.2, alpha),
        filled,
        stroke_width: width,
    }
}

/// Draws into one layer. The backend writes into memory, which cannot fail; its `Result`s, needed
/// for files, are dropped in [`Pen::done`].
pub(crate) struct Pen<'a> {
    backend: SVGBackend<'a>,
}

/// Distance of the lines of a text, in font sizes.
pub(crate) const LINE: f64 = 1.2;

/// Width and height of a text in several lines.
pub(crate) fn extent_of(lines: &[String], size: f64, bold: bool) -> (f64, f64) {
    let wide = lines
        .iter()
        .map(|line| text_width(line, size, bold))
        .fold(0.0, f64::max);
    (wide, size * LINE * lines.len() as f64)
}

impl Pen<'_> {
    fn done<E>(&mut self, _result: Result<(), E>) {}

    /// A line through points.
    pub fn path(&mut self, points: &[Px], colour: Rgb, width: u32) {
        if points.len() < 2 {
            return;
        }
        let points: Vec<_> = points.iter().map(|&p| whole(p)).collect();
        let result = self.backend.draw_path(points, &shape(colour, 1.0, width, false));
        self.done(result);
    }

    /// A straight line.
    pub fn line(&mut self, from: Px, to: Px, colour: Rgb, width: u32) {
        let result = self
            .backend
            .draw_line(whole(from), whole(to), &shape(colour, 1.0, width, false));
        self.done(result);
    }

    /// A filled polygon.
    pub fn fill(&mut self, points: &[Px], colour: Rgb, alpha: f64) {
        if points.len() < 3 {
            return;
        }
        let points: Vec<_> = points.iter().map(|&p| whole(p)).collect();
        let result = self.backend.fill_polygon(points, &shape(colour, alpha, 0, true));
        self.done(result);
    }

    /// A filled rectangle between two corners.
    pub fn block(&mut self, a: Px, b: Px, colour: Rgb, alpha: f64) {
        let (a, b) = (whole(a), whole(b));
        let low = (a.0.min(b.0), a.1.min(b.1));
        let high = (a.0.max(b.0), a.1.max(b.1));
        if high.0 > low.0 && high.1 > low.1 {
            let result = self.backend.draw_rect(low, high, &shape(colour, alpha, 0, true), true);
            self.done(result);
        }
    }

    /// An outline between two corners.
    pub fn outline(&mut self, a: Px, b: Px, colour: Rgb, width: u32) {
        self.path(&[a, (b.0, a.1), b, (a.0, b.1), a, (b.0, a.1)], colour, width);
    }

    /// A disc, filled or as a ring 3 px wide.
    pub fn disc(&mut self, centre: Px, radius: f64, colour: Rgb, filled: bool) {
        let radius = radius.clamp(0.0, 1e5).round() as u32;
        let result = self
            .backend
            .draw_circle(whole(centre), radius, &shape(colour, 1.0, 3, filled), filled);
        self.done(result);
    }

    /// A text in several lines; its position is the vertical middle of all.
    pub fn lines(&mut self, at: Px, lines: &[String], kind: Type) {
        let step = kind.size * LINE;
        let top = at.1 - 0.5 * step * (lines.len().max(1) - 1) as f64;
        for (k, line) in lines.iter().enumerate() {
            self.text((at.0, top + step * k as f64), line, kind);
        }
    }

    /// A text; its position is the vertical middle of the small letters.
    pub fn text(&mut self, at: Px, text: &str, kind: Type) {
        let hold = match kind.hold {
            Hold::Left => HPos::Left,
            Hold::Middle => HPos::Center,
            Hold::Right => HPos::Right,
        };
        // the backend divides font sizes by 1.24
        let mut font = ("sans-serif", kind.size * 1.24).into_font();
        if kind.bold {
            font = font.style(FontStyle::Bold);
        }
        let colour = RGBAColor(kind.colour.0, kind.colour.1, kind.colour.2, 1.0);
        let style = TextStyle::from(font).color(&colour).pos(Pos::new(hold, VPos::Center));
        let result = self.backend.draw_text(&clean(text), &style, whole(at));
        self.done(result);
    }
}

/// A picture under construction.
pub(crate) struct Canvas {
    size: (u32, u32),
    body: String,
    title: String,
    /// Lower edge of the title, in pixels.
    pub head: f64,
}

/// Lines of a title, and how much lower than one line they reach.
pub(crate) fn title_lines(title: &str, width: f64) -> (Vec<String>, f64) {
    let lines = wrap(title, TITLE, true, width - 24.0, 3);
    let more = TITLE * LINE * (lines.len() - 1) as f64;
    (lines, more)
}

impl Canvas {
    /// A white page with a title.
    pub fn new(style: &Style, title: &str) -> Self {
        let (width, height) = (f64::from(style.width), f64::from(style.height));
        let (lines, more) = title_lines(title, width);
        let mut canvas = Canvas {
            size: (style.width, style.height),
            body: String::new(),
            title: title.chars().take(200).collect(),
            head: 50.0 + more,
        };
        canvas.layer(&[], |pen| {
            pen.block((0.0, 0.0), (width, height), super::palette::PAPER, 1.0);
            pen.lines((12.0, 32.0 + more / 2.0), &lines, Type::plain(TITLE).bold());
        });
        canvas
    }

    /// Opens a group with attributes; further layers go inside until [`Canvas::close`].
    pub fn open(&mut self, attributes: &[(&str, &str)]) {
        self.body.push_str("<g");
        for (name, value) in attributes {
            self.body.push(' ');
            self.body.push_str(name);
            self.body.push_str("=\"");
            self.body.push_str(&escape(value));
            self.body.push('"');
        }
        self.body.push_str(">\n");
    }

    /// Closes the group opened last.
    pub fn close(&mut self) {
        self.body.push_str("</g>\n");
    }

    /// Draws a layer, in a group of its own when it has attributes.
    pub fn layer(&mut self, attributes: &[(&str, &str)], draw: impl FnOnce(&mut Pen<'_>)) {
        let mut text = String::new();
        {
            let mut pen = Pen {
                backend: SVGBackend::with_string(&mut text, self.size),
            };
            draw(&mut pen);
            let result = pen.backend.present();
            pen.done(result);
        }
        // only what lies between the backend's own <svg ...> and </svg> lines
        let inner = text
            .split_once('\n')
            .map_or("", |(_, rest)| rest)
            .trim_end()
            .trim_end_matches("</svg>")
            .replace(" opacity=\"1\"", "")
            .replace("\" stroke=\"none\"", "\"");
        if inner.is_empty() {
            return;
        }
        if attributes.is_empty() {
            self.body.push_str(&inner);
        } else {
            self.open(attributes);
            self.body.push_str(&inner);
            self.close();
        }
    }

    /// Adds SVG elements as they are; for compound paths, which the backend cannot write.
    pub fn raw(&mut self, svg: &str) {
        self.body.push_str(svg);
    }

    /// The finished picture with one sentence on what it shows.
    pub fn finish(self, alt: String, frame: Option<Frame>) -> Drawing {
        let (width, height) = self.size;
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100%\" viewBox=\"0 0 {width} {height}\" \
             role=\"img\" aria-label=\"{alt}\">\n<title>{title}</title>\n\
             <g stroke-linejoin=\"round\">\n{body}</g>\n</svg>\n",
            title = escape(&self.title),
            alt = escape(&alt),
            body = self.body,
        );
        Drawing { svg, frame, alt, width }
    }

    /// The picture of nothing.
    pub fn no_data(mut self, style: &Style, alt: String) -> Drawing {
        let middle = (f64::from(self.size.0) / 2.0, f64::from(self.size.1) / 2.0);
        self.layer(&[], |pen| {
            let kind = Type::plain(TITLE).colour(super::palette::SOFT).hold(Hold::Middle);
            pen.text(middle, style.no_data, kind);
        });
        self.finish(alt, None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_escaped_and_cleaned() {
        assert_eq!(escape("<a & \"b\"\u{7}\u{202e}>\n"), "&lt;a &amp; &quot;b&quot;&gt; ");
    }

    #[test]
    fn long_texts_are_cut_to_width() {
        let cut = fit(&"heater to upsetter ".repeat(600), 24.0, false, 300.0);
        assert!(text_width(&cut, 24.0, false) <= 300.0);
        assert!(cut.ends_with('\u{2026}'));
        assert_eq!(fit("short", 24.0, false, 300.0), "short");
        let lines = wrap("small_end.flash.mean \u{2265} 1080", 24.0, false, 150.0, 9);
        assert_eq!(lines.concat().replace(' ', ""), "small_end.flash.mean\u{2265}1080");
        assert!(
            lines.len() > 1 && lines.iter().all(|line| text_width(line, 24.0, false) <= 150.0),
            "{lines:?}"
        );
    }

    #[test]
    fn layers_nest_in_groups() {
        let mut canvas = Canvas::new(&Style::default().sized(400, 300), "t");
        canvas.layer(&[("data-name", "a\"b")], |pen| {
            pen.text((10.0, 10.0), "x < y", Type::plain(20.0));
        });
        let svg = canvas.finish("d".to_owned(), None).svg;
        assert!(svg.contains("data-name=\"a&quot;b\""));
        assert!(svg.contains("x &lt; y"));
        assert_eq!(svg.matches("<svg").count(), 1);
        assert_eq!(svg.matches("</svg>").count(), 1);
    }
}
