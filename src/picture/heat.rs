//! Temperatures over a section, in true proportions, in steps of a round number.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::canvas::{Canvas, Hold, Type, fit, text_width};
use super::frame::{Frame, TEXT, TITLE, no_data};
use super::isoline::segments;
use super::line::extent;
use super::palette::{INK, PAPER, SOFT, text_on};
use super::{Axis, Drawing, Style};
use grid::{Grid, Scale};

mod grid;
use crate::text::number::{fixed, minus};

/// Values on rectangular cells; the first row lies at the bottom.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HeatMap {
    /// Title.
    pub title: String,
    /// Axis drawn across, in the unit of `across_faces`.
    pub across: Axis,
    /// Cell faces across, rising.
    pub across_faces: Vec<f64>,
    /// Axis drawn up.
    pub up: Axis,
    /// Cell faces up, rising; empty for cells that are rings around a centre (drawn as half a disc).
    pub up_faces: Vec<f64>,
    /// Row-major by height, then across, values; `None` outside the part.
    pub values: Vec<Option<f64>>,
    /// Unit of the values.
    pub unit: String,
    /// Whether the left edge is an axis of rotation, so that the left half is drawn as a mirror image.
    pub mirrored: bool,
    /// Range of the colour scale; `None` takes what the values need. A common range makes several
    /// maps comparable.
    pub range: Option<(f64, f64)>,
    /// Words for the hottest and coldest place, in the reader's language.
    pub words: (String, String),
}

/// Longest side of a sample of the smooth picture, in pixels.
const GRAIN: f64 = 4.0;

impl HeatMap {
    /// Size that suits the proportions of the section.
    pub fn natural_size(&self) -> (u32, u32) {
        let span = |f: &[f64]| match (f.first(), f.last()) {
            (Some(a), Some(b)) if b > a => b - a,
            _ => 0.0,
        };
        let across = span(&self.across_faces) * if self.mirrored { 2.0 } else { 1.0 };
        let up = if self.up_faces.is_empty() {
            across / 2.0
        } else {
            span(&self.up_faces)
        };
        let ratio = if up > 0.0 && across > 0.0 { across / up } else { 1.0 };
        let longest = 500.0;
        let (w, h) = if ratio >= 1.0 {
            (longest, longest / ratio)
        } else {
            (longest * ratio, longest)
        };
        ((w + 360.0).max(700.0) as u32, (h + 250.0).max(480.0) as u32)
    }

    /// Draws the map.
    pub fn draw(&self, style: &Style) -> Drawing {
        let mut canvas = Canvas::new(style.width, style.height);
        let width = f64::from(style.width);
        canvas.layer(&[], |pen| {
            pen.text(
                (12.0, 32.0),
                &fit(&self.title, TITLE, true, width - 40.0),
                Type::plain(TITLE).bold(),
            );
        });
        let rings = self.up_faces.is_empty();
        let grid = Grid {
            map: self,
            columns: self.across_faces.len().saturating_sub(1),
            rows: if rings { 1 } else { self.up_faces.len() - 1 },
        };
        let rising = |f: &[f64]| f.iter().all(|v| v.is_finite()) && f.windows(2).all(|p| p[1] > p[0]);
        let seen = extent(self.values.iter().flatten().copied().filter(|v| v.is_finite()));
        let sound = grid.columns > 0
            && grid.rows > 0
            && self.values.len() == grid.columns * grid.rows
            && rising(&self.across_faces)
            && rising(&self.up_faces);
        let (Some((coldest, hottest)), true) = (seen, sound) else {
            no_data(&mut canvas, style);
            let alt = format!("{}: no data.", self.title);
            return Drawing {
                svg: canvas.finish(&self.title, &alt),
                frame: None,
                alt,
            };
        };
        let (low, high) = self
            .range
            .filter(|(a, b)| a.is_finite() && b.is_finite() && b >= a)
            .unwrap_or((coldest, hottest));
        let scale = Scale::new(low, high);
        let frame = self.layout(style, rings);
        let number = |v: f64| minus(&fixed(v, 0, style.decimal_comma));
        let alt = format!(
            "{}: section from {} {} to {} {}.",
            self.title,
            number(coldest),
            self.unit,
            number(hottest),
            self.unit
        );
        if rings {
            self.draw_rings(&mut canvas, &grid, &frame, &scale);
        } else {
            self.draw_cells(&mut canvas, &grid, &frame, &scale);
            self.draw_isolines(&mut canvas, &grid, &frame, &scale);
            self.draw_outline(&mut canvas, &grid, &frame);
        }
        self.draw_extremes(&mut canvas, &grid, &frame, &scale, style);
        self.draw_scale(&mut canvas, &scale, &frame, style);
        let left = Frame {
            left: frame.left - 16.0,
            ..frame
        };
        if !rings {
            left.axis_y(&mut canvas, &self.up, style);
        }
        frame.axis_x_as(&mut canvas, &self.across, style, 62.0, self.mirrored || rings);
        Drawing {
            svg: canvas.finish(&self.title, &alt),
            frame: Some(frame),
            alt,
        }
    }

    fn layout(&self, style: &Style, rings: bool) -> Frame {
        let (width, height) = (f64::from(style.width), f64::from(style.height));
        let ends = |f: &[f64]| (f[0], f[f.len() - 1]);
        let (x0, x1) = ends(&self.across_faces);
        let x = if self.mirrored || rings { (-x1, x1) } else { (x0, x1) };
        let y = if rings { (0.0, x1) } else { ends(&self.up_faces) };
        let room = (110.0, width - 220.0, 148.0, height - 96.0);
        let scale = ((room.1 - room.0) / (x.1 - x.0)).min((room.3 - room.2) / (y.1 - y.0));
        let (w, h) = (scale * (x.1 - x.0), scale * (y.1 - y.0));
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

    fn draw_extremes(&self, canvas: &mut Canvas, grid: &Grid<'_>, frame: &Frame, scale: &Scale, style: &Style) {
        let mut best: [Option<(f64, usize, usize)>; 2] = [None, None];
        for j in 0..grid.rows {
            for i in 0..grid.columns {
                let Some(v) = grid.cell(i, j) else { continue };
                if best[0].is_none_or(|(b, _, _)| v > b) {
                    best[0] = Some((v, i, j));
                }
                if best[1].is_none_or(|(b, _, _)| v < b) {
                    best[1] = Some((v, i, j));
                }
            }
        }
        // the words stand over the picture, where they hide nothing; ring and square mark the places
        let texts = [(&self.words.0, "hottest"), (&self.words.1, "coldest")];
        let mut left = 14.0;
        for (k, (spot, (word, fallback))) in best.into_iter().zip(texts).enumerate() {
            let Some((value, i, j)) = spot else { continue };
            let x = Grid::centre(&self.across_faces, i);
            let y = if self.up_faces.is_empty() {
                0.0
            } else {
                Grid::centre(&self.up_faces, j)
            };
            let at = frame.px(x, y);
            let word = if word.is_empty() { fallback } else { word.as_str() };
            let number = minus(&fixed(value, 0, style.decimal_comma));
            let text = format!("{word} {number} {}", self.unit);
            let wide = text_width(&text, TEXT, true);
            let on_part = text_on(scale.colour(scale.level(value)));
            canvas.layer(&[], |pen| {
                for (place, colour) in [(at, on_part), ((left + 10.0, 72.0), INK)] {
                    if k == 0 {
                        pen.disc(place, 9.0, colour, false);
                    } else {
                        let corner = |s: f64| (place.0 + s * 8.0, place.1 + s * 8.0);
                        pen.outline(corner(-1.0), corner(1.0), colour, 3);
                    }
                }
                pen.text((left + 28.0, 72.0), &text, Type::plain(TEXT).bold());
            });
            left += wide + 56.0;
        }
    }

    fn draw_scale(&self, canvas: &mut Canvas, scale: &Scale, frame: &Frame, style: &Style) {
        let left = f64::from(style.width) - 165.0;
        let (top, bottom) = (
            frame.top.min(f64::from(style.height) - 96.0 - 320.0).max(148.0),
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

#[cfg(test)]
mod tests {
    use super::*;

    fn map(values: Vec<Option<f64>>) -> HeatMap {
        HeatMap {
            title: "m".into(),
            across: Axis::new("radius", "mm"),
            across_faces: vec![0.0, 10.0, 20.0],
            up: Axis::new("height", "mm"),
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
    }
}
