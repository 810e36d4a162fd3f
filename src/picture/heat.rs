//! Temperatures over a section, in true proportions, in steps of a round number.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::canvas::{Canvas, Hold, Type, text_width, title_lines};
use super::frame::{Frame, TEXT};
use super::isoline::segments;
use super::line::extent;
use super::palette::{INK, PAPER, SOFT};
use super::{Drawing, Style};
use grid::{Grid, Scale};

mod grid;
mod map;

pub use map::{HeatMap, MapWords};

use crate::text::number::{fixed, minus};

/// A remark over the picture with the mark that stands before it.
enum Remark {
    Hottest(String),
    Coldest(String),
    Plain(String),
}

impl Remark {
    fn words(&self) -> &str {
        match self {
            Remark::Hottest(words) | Remark::Coldest(words) | Remark::Plain(words) => words,
        }
    }

    fn bold(&self) -> bool {
        !matches!(self, Remark::Plain(_))
    }

    /// Room of the mark.
    fn indent(&self) -> f64 {
        if self.bold() { 28.0 } else { 0.0 }
    }

    fn width(&self) -> f64 {
        self.indent() + text_width(self.words(), TEXT, self.bold())
    }
}

/// Longest side in shortest ones up to which a section is drawn in true proportions.
const SLENDER: f64 = 6.0;
/// Height of a row of remarks.
const REMARK: f64 = 32.0;

/// Longest side of a sample of the smooth picture, in pixels.
const GRAIN: f64 = 4.0;

impl HeatMap {
    /// Size that suits the proportions of the section.
    pub fn natural_size(&self) -> (u32, u32) {
        let (across, up) = self.spans();
        let ratio = if up > 0.0 && across > 0.0 { across / up } else { 1.0 };
        let ratio = match self.stretch() {
            stretch if stretch > 1.0 && ratio < 1.0 => ratio * stretch,
            stretch => ratio / stretch,
        };
        let longest = 500.0;
        let (w, h) = if ratio >= 1.0 {
            (longest, longest / ratio)
        } else {
            (longest * ratio, longest)
        };
        let width = (w + 360.0).max(700.0);
        let (_, title) = title_lines(&self.title, width);
        let remarks = rows(&self.remarks(false, self.stretch()), width).1;
        let more = title + REMARK * (remarks - 1) as f64;
        (width as u32, ((h + 250.0).max(480.0) + more) as u32)
    }

    /// Lengths across and up that are drawn.
    fn spans(&self) -> (f64, f64) {
        let span = |f: &[f64]| match (f.first(), f.last()) {
            (Some(a), Some(b)) if b > a => b - a,
            _ => 0.0,
        };
        let both = self.mirrored || self.up_faces.is_empty();
        let across = span(&self.across_faces) * if both { 2.0 } else { 1.0 };
        let up = if self.up_faces.is_empty() {
            across / 2.0
        } else {
            span(&self.up_faces)
        };
        (across, up)
    }

    /// Draws the map.
    pub fn draw(&self, style: &Style) -> Drawing {
        let mut canvas = Canvas::new(style, &self.title);
        let rings = self.up_faces.is_empty();
        let grid = Grid {
            map: self,
            columns: self.across_faces.len().saturating_sub(1),
            rows: if rings { 1 } else { self.up_faces.len() - 1 },
        };
        let alt = self.up.sentence(&self.title, &self.across);
        let seen = extent(self.values.iter().flatten().copied().filter(|v| v.is_finite()));
        let (Some((coldest, hottest)), true) = (seen, self.is_sound(&grid)) else {
            return canvas.no_data(style, alt);
        };
        let (low, high) = self
            .range
            .filter(|(a, b)| a.is_finite() && b.is_finite() && b >= a)
            .unwrap_or((coldest, hottest));
        let scale = Scale::new(low, high, self.own_scale);
        let stretch = self.stretch();
        let remarks = self.remarks(style.decimal_comma, stretch);
        let (placed, count) = rows(&remarks, f64::from(style.width));
        let top = canvas.head + REMARK * count as f64;
        let frame = self.layout(style, top + 66.0, stretch);
        if rings {
            self.draw_rings(&mut canvas, &grid, &frame, &scale);
        } else {
            self.draw_cells(&mut canvas, &grid, &frame, &scale);
            self.draw_isolines(&mut canvas, &grid, &frame, &scale);
            self.draw_outline(&mut canvas, &grid, &frame);
        }
        self.mark_extremes(&mut canvas, &grid, &frame);
        self.draw_remarks(&mut canvas, &placed);
        self.draw_scale(&mut canvas, &scale, &frame, style, top + 66.0);
        let left = Frame {
            left: frame.left - 16.0,
            ..frame
        };
        if !rings {
            left.axis_y(&mut canvas, &self.up, style, top + 28.0);
        }
        frame.axis_x_as(&mut canvas, &self.across, style, 62.0, self.mirrored || rings);
        canvas.finish(alt, Some(frame))
    }

    /// Whether cells and faces belong together.
    fn is_sound(&self, grid: &Grid<'_>) -> bool {
        let rising = |f: &[f64]| f.iter().all(|v| v.is_finite()) && f.windows(2).all(|p| p[1] > p[0]);
        grid.columns > 0
            && grid.rows > 0
            && self.values.len() == grid.columns * grid.rows
            && rising(&self.across_faces)
            && rising(&self.up_faces)
    }

    /// How many times the shorter side of a slender section is enlarged against the longer one.
    fn stretch(&self) -> f64 {
        let (across, up) = self.spans();
        let slender = if across > 0.0 && up > 0.0 {
            (across / up).max(up / across)
        } else {
            1.0
        };
        if slender > SLENDER {
            (slender / 3.0).round()
        } else {
            1.0
        }
    }

    fn layout(&self, style: &Style, top: f64, stretch: f64) -> Frame {
        let (width, height) = (f64::from(style.width), f64::from(style.height));
        let ends = |f: &[f64]| (f[0], f[f.len() - 1]);
        let (x0, x1) = ends(&self.across_faces);
        let rings = self.up_faces.is_empty();
        let x = if self.mirrored || rings { (-x1, x1) } else { (x0, x1) };
        let y = if rings { (0.0, x1) } else { ends(&self.up_faces) };
        let room = (110.0, width - 220.0, top, height - 96.0);
        let (across, up) = (x.1 - x.0, y.1 - y.0);
        let (sx, sy) = if across < up { (stretch, 1.0) } else { (1.0, stretch) };
        let scale = ((room.1 - room.0) / (sx * across)).min((room.3 - room.2) / (sy * up));
        let (w, h) = (scale * sx * across, scale * sy * up);
        let left = room.0 + ((room.1 - room.0) - w).max(0.0) / 2.0;
        Frame {
            left,
            right: left + w,
            top: room.3 - h,
            bottom: room.3,
            x,
            y,
        }
    }

    /// Smooth picture in steps: samples no larger than [`GRAIN`], merged to rectangles, one path a
    /// colour. Written directly, since the backend has no compound paths and thousands of single
    /// rectangles would make the report heavy.
    fn draw_cells(&self, canvas: &mut Canvas, grid: &Grid<'_>, frame: &Frame, scale: &Scale) {
        let edges = |faces: &[f64], px: &dyn Fn(f64) -> f64| -> Vec<(usize, i64, i64, f64)> {
            let mut out = Vec::new();
            for k in 0..faces.len() - 1 {
                let (a, b) = (px(faces[k]).round(), px(faces[k + 1]).round());
                let parts = ((b - a).abs() / GRAIN).ceil() as usize;
                for s in 0..parts {
                    let t = |s: usize| s as f64 / parts as f64;
                    out.push((
                        k,
                        (a + t(s) * (b - a)).round() as i64,
                        (a + t(s + 1) * (b - a)).round() as i64,
                        faces[k] + (t(s) + 0.5 / parts as f64) * (faces[k + 1] - faces[k]),
                    ));
                }
            }
            out
        };
        let columns = edges(&self.across_faces, &|v| frame.px_x(v));
        let rows = edges(&self.up_faces, &|v| frame.px_y(v));
        // open rectangles of the row before, by (level, left, right) -> bottom edge
        let mut open: BTreeMap<(usize, i64, i64), i64> = BTreeMap::new();
        let mut paths: Vec<String> = vec![String::new(); scale.count];
        let centre = frame.px_x(0.0).round() as i64;
        let mut emit = |level: usize, left: i64, right: i64, bottom: i64, top: i64| {
            let path = &mut paths[level];
            let mut rect = |a: i64, b: i64| {
                let _ = write!(path, "M{a} {bottom}H{b}V{top}H{a}z");
            };
            if self.mirrored {
                if left <= centre {
                    rect(2 * centre - right, right);
                } else {
                    rect(left, right);
                    rect(2 * centre - right, 2 * centre - left);
                }
            } else {
                rect(left, right);
            }
        };
        let mut top_edge = frame.bottom.round() as i64;
        for &(j, bottom, top, y) in &rows {
            let mut runs: Vec<(usize, i64, i64)> = Vec::new();
            for &(i, left, right, x) in &columns {
                if let Some(value) = grid.smooth(i, j, x, y) {
                    let level = scale.level(value);
                    match runs.last_mut() {
                        Some(run) if run.0 == level && run.2 == left => run.2 = right,
                        _ => runs.push((level, left, right)),
                    }
                }
            }
            let mut next = BTreeMap::new();
            for run in runs {
                let start = open.remove(&run).unwrap_or(bottom);
                next.insert(run, start);
            }
            for ((level, left, right), start) in std::mem::replace(&mut open, next) {
                emit(level, left, right, start, bottom);
            }
            top_edge = top;
        }
        for ((level, left, right), start) in open {
            emit(level, left, right, start, top_edge);
        }
        canvas.open(&[("shape-rendering", "crispEdges")]);
        for (level, path) in paths.iter().enumerate().filter(|(_, p)| !p.is_empty()) {
            let (r, g, b) = scale.colour(level);
            canvas.raw(&format!("<path fill=\"#{r:02x}{g:02x}{b:02x}\" d=\"{path}\"/>\n"));
        }
        canvas.close();
    }

    fn draw_isolines(&self, canvas: &mut Canvas, grid: &Grid<'_>, frame: &Frame, scale: &Scale) {
        // centres, with the outer faces as a further ring of points
        let line = |faces: &[f64]| -> Vec<(usize, f64)> {
            let n = faces.len() - 1;
            let mut points = vec![(0, faces[0])];
            points.extend((0..n).map(|k| (k, Grid::centre(faces, k))));
            points.push((n - 1, faces[n]));
            points
        };
        let (xs, ys) = (line(&self.across_faces), line(&self.up_faces));
        let mut path = String::new();
        for level in 1..scale.count {
            let value = scale.low + scale.step * level as f64;
            for (p, q) in segments(xs.len(), ys.len(), value, |i, j| {
                grid.cell(xs[i].0, ys[j].0)
                    .map(|v| (frame.px_x(xs[i].1), frame.px_y(ys[j].1), v))
            }) {
                let mut stroke = |flip: &dyn Fn(f64) -> f64| {
                    let _ = write!(path, "M{:.0} {:.0}L{:.0} {:.0}", flip(p.0), p.1, flip(q.0), q.1);
                };
                stroke(&|x| x);
                if self.mirrored {
                    stroke(&|x| 2.0 * frame.px_x(0.0) - x);
                }
            }
        }
        if !path.is_empty() {
            canvas.raw(&format!(
                "<path fill=\"none\" stroke=\"#1c1f24\" stroke-opacity=\"0.55\" stroke-width=\"1.5\" d=\"{path}\"/>\n"
            ));
        }
    }

    fn draw_outline(&self, canvas: &mut Canvas, grid: &Grid<'_>, frame: &Frame) {
        let inside = |i: isize, j: isize| {
            i >= 0
                && j >= 0
                && (i as usize) < grid.columns
                && (j as usize) < grid.rows
                && grid.cell(i as usize, j as usize).is_some()
        };
        let mut lines: Vec<(f64, f64, f64, f64)> = Vec::new();
        for j in 0..=grid.rows {
            for i in 0..grid.columns {
                if inside(i as isize, j as isize - 1) != inside(i as isize, j as isize) {
                    let (a, b) = (self.across_faces[i], self.across_faces[i + 1]);
                    let y = self.up_faces[j];
                    match lines.last_mut() {
                        Some(l) if l.1 == y && l.3 == y && l.2 == a => l.2 = b,
                        _ => lines.push((a, y, b, y)),
                    }
                }
            }
        }
        for i in 0..=grid.columns {
            if self.mirrored && i == 0 {
                continue;
            }
            for j in 0..grid.rows {
                if inside(i as isize - 1, j as isize) != inside(i as isize, j as isize) {
                    let (a, b) = (self.up_faces[j], self.up_faces[j + 1]);
                    let x = self.across_faces[i];
                    match lines.last_mut() {
                        Some(l) if l.0 == x && l.2 == x && l.3 == a => l.3 = b,
                        _ => lines.push((x, a, x, b)),
                    }
                }
            }
        }
        canvas.layer(&[("stroke-linecap", "square")], |pen| {
            for (x0, y0, x1, y1) in lines {
                pen.line(frame.px(x0, y0), frame.px(x1, y1), INK, 3);
                if self.mirrored {
                    pen.line(frame.px(-x0, y0), frame.px(-x1, y1), INK, 3);
                }
            }
        });
        if self.mirrored {
            canvas.layer(&[("stroke-dasharray", "26 7 4 7")], |pen| {
                let x = frame.px_x(0.0);
                pen.line((x, frame.top - 14.0), (x, frame.bottom), SOFT, 2);
            });
        }
    }

    fn draw_rings(&self, canvas: &mut Canvas, grid: &Grid<'_>, frame: &Frame, scale: &Scale) {
        let arc = |radius: f64| -> Vec<(f64, f64)> {
            (0..=90)
                .map(|k| {
                    let angle = f64::from(k) / 90.0 * std::f64::consts::PI;
                    frame.px(radius * angle.cos(), radius * angle.sin())
                })
                .collect()
        };
        let outer = self.across_faces[grid.columns];
        canvas.layer(&[], |pen| {
            // half discs from the outside in, one where the step changes
            let parts = 240;
            let mut before = None;
            for k in (0..parts).rev() {
                let radius = outer * (f64::from(k) + 0.5) / f64::from(parts);
                let i = self
                    .across_faces
                    .partition_point(|&f| f <= radius)
                    .saturating_sub(1)
                    .min(grid.columns - 1);
                let level = grid.smooth(i, 0, radius, 0.0).map(|v| scale.level(v));
                if level != before {
                    let colour = level.map_or(PAPER, |l| scale.colour(l));
                    let edge = outer * f64::from(k + 1) / f64::from(parts);
                    pen.fill(&arc(edge), colour, 1.0);
                    pen.path(&arc(edge), INK, if before.is_none() { 3 } else { 1 });
                    before = level;
                }
            }
        });
    }

    /// The hottest and the coldest cell: value, column, row.
    fn extremes(&self) -> [Option<(f64, usize)>; 2] {
        let mut best: [Option<(f64, usize)>; 2] = [None, None];
        for (k, v) in self.values.iter().enumerate() {
            let Some(v) = v.filter(|v| v.is_finite()) else { continue };
            if best[0].is_none_or(|(b, _)| v > b) {
                best[0] = Some((v, k));
            }
            if best[1].is_none_or(|(b, _)| v < b) {
                best[1] = Some((v, k));
            }
        }
        best
    }

    /// A ring at the hottest place and a square at the coldest, dark in light so that they show on any colour.
    fn mark_extremes(&self, canvas: &mut Canvas, grid: &Grid<'_>, frame: &Frame) {
        let [hottest, coldest] = self.extremes().map(|spot| {
            let (i, j) = spot.map(|(_, k)| (k % grid.columns, k / grid.columns))?;
            let y = if self.up_faces.is_empty() {
                0.0
            } else {
                Grid::centre(&self.up_faces, j)
            };
            Some(frame.px(Grid::centre(&self.across_faces, i), y))
        });
        canvas.layer(&[], |pen| {
            for (grow, colour) in [(3.0, PAPER), (0.0, INK)] {
                if let Some(at) = hottest {
                    pen.disc(at, 9.0 + grow, colour, false);
                }
                if let Some(at) = coldest {
                    let corner = |s: f64| (at.0 + s * (8.0 + grow), at.1 + s * (8.0 + grow));
                    pen.outline(corner(-1.0), corner(1.0), colour, 3);
                }
            }
        });
    }

    /// What stands over the picture, where it hides nothing.
    fn remarks(&self, decimal_comma: bool, stretch: f64) -> Vec<Remark> {
        let [hottest, coldest] = self.extremes();
        let text = |word: &str, value: f64| {
            format!("{word} {} {}", minus(&fixed(value, 0, decimal_comma)), self.unit)
                .trim_start()
                .to_owned()
        };
        let mut out = Vec::new();
        out.extend(hottest.map(|(value, _)| Remark::Hottest(text(&self.words.hottest, value))));
        out.extend(coldest.map(|(value, _)| Remark::Coldest(text(&self.words.coldest, value))));
        if self.own_scale {
            out.push(Remark::Plain(self.words.own_scale.clone()));
        }
        if stretch > 1.0 {
            out.push(Remark::Plain(
                self.words.stretched.replace("{n}", &fixed(stretch, 0, false)),
            ));
        }
        out
    }

    fn draw_remarks(&self, canvas: &mut Canvas, placed: &[(&Remark, f64, usize)]) {
        let head = canvas.head;
        canvas.layer(&[], |pen| {
            for (remark, left, row) in placed {
                let y = head + 18.0 + REMARK * *row as f64;
                match remark {
                    Remark::Hottest(_) => pen.disc((left + 10.0, y), 9.0, INK, false),
                    Remark::Coldest(_) => pen.outline((left + 2.0, y - 8.0), (left + 18.0, y + 8.0), INK, 3),
                    Remark::Plain(_) => {}
                }
                let kind = Type::plain(TEXT);
                let kind = if remark.bold() { kind.bold() } else { kind.colour(SOFT) };
                pen.text((left + remark.indent(), y), remark.words(), kind);
            }
        });
    }

    fn draw_scale(&self, canvas: &mut Canvas, scale: &Scale, frame: &Frame, style: &Style, least: f64) {
        let left = f64::from(style.width) - 165.0;
        let (top, bottom) = (
            frame.top.min(f64::from(style.height) - 96.0 - 320.0).max(least),
            frame.bottom,
        );
        let high = (bottom - top) / scale.count as f64;
        canvas.layer(&[], |pen| {
            pen.text((left, top - 26.0), &self.unit, Type::plain(TEXT).colour(SOFT));
            for level in 0..scale.count {
                let (a, b) = (bottom - high * level as f64, bottom - high * (level + 1) as f64);
                pen.block((left, a), (left + 54.0, b), scale.colour(level), 1.0);
                pen.outline((left, a), (left + 54.0, b), INK, 1);
            }
            let every = (28.0 / high).ceil().max(1.0) as usize;
            for level in (0..=scale.count).step_by(every) {
                let y = bottom - high * level as f64;
                let value = scale.low + scale.step * level as f64;
                pen.text(
                    (left + 140.0, y),
                    &minus(&fixed(value, 0, style.decimal_comma)),
                    Type::plain(TEXT).hold(Hold::Right),
                );
                pen.line((left + 54.0, y), (left + 62.0, y), INK, 2);
            }
        });
    }
}

/// Sets remarks in rows of a width: each with its left end and row, and the number of rows.
fn rows(remarks: &[Remark], width: f64) -> (Vec<(&Remark, f64, usize)>, usize) {
    let (mut left, mut row) = (14.0, 0);
    let placed = remarks.iter().map(|remark| {
        if left > 14.0 && left + remark.width() > width - 12.0 {
            (left, row) = (14.0, row + 1);
        }
        let at = (remark, left, row);
        left += remark.width() + 28.0;
        at
    });
    let placed = placed.collect();
    (placed, row + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(values: Vec<Option<f64>>) -> HeatMap {
        HeatMap {
            title: "m".into(),
            across: crate::picture::Axis::new("radius", "mm"),
            across_faces: vec![0.0, 10.0, 20.0],
            up: crate::picture::Axis::new("height", "mm"),
            up_faces: vec![0.0, 10.0, 20.0, 30.0],
            values,
            unit: "degC".into(),
            mirrored: true,
            ..HeatMap::default()
        }
    }

    #[test]
    fn wrong_sizes_are_no_picture_but_no_fault() {
        for values in [vec![], vec![Some(1.0); 5], vec![None; 6], vec![Some(f64::NAN); 6]] {
            assert!(map(values).draw(&Style::default()).svg.contains("no data"));
        }
    }

    #[test]
    fn masked_cells_stay_white_and_proportions_are_true() {
        let mut values = vec![Some(1000.0); 6];
        values[5] = None;
        let drawing = map(values).draw(&Style::default());
        let frame = drawing.frame.unwrap();
        let per_mm_x = (frame.right - frame.left) / (frame.x.1 - frame.x.0);
        let per_mm_y = (frame.bottom - frame.top) / (frame.y.1 - frame.y.0);
        assert!((per_mm_x / per_mm_y - 1.0).abs() < 1e-9);
        assert!(drawing.svg.contains("<path fill="));
        // a long bar would be a line: it is drawn too wide, and says so
        let mut long = map(vec![Some(1000.0); 6]);
        long.up_faces = vec![0.0, 300.0, 600.0, 900.0];
        long.words.stretched = "{n} times too wide".to_owned();
        let (width, height) = long.natural_size();
        let drawing = long.draw(&Style::default().sized(width, height));
        let frame = drawing.frame.unwrap();
        assert!(frame.right - frame.left > 100.0, "{frame:?}");
        assert!(drawing.svg.contains("8 times too wide"), "{}", drawing.svg);
    }
}
