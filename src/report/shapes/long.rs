//! Drawings of the cross-sections of a long part.

use super::piece::{FILLS, Piece, draw, named, size};
use crate::body::{Ring, Shape};
use crate::picture::{Area, Canvas, Hold, Style, Type};
use crate::show::{Cell, Quantity, View};

/// Pixels between two sections, and round them.
const GAP: f64 = 60.0;
/// Least pixels across for the words under a section.
const WORDS: f64 = 330.0;
/// Pixels per metre come from this length for all sections together.
const ACROSS: f64 = 1100.0;

/// All cross-sections to one scale, from the grip end on, each whole, with their sizes below.
pub(super) fn sections_svg(title: &str, shape: &Shape, view: &View) -> String {
    let extents: Vec<Extent> = (0..shape.sections.len()).filter_map(|s| Extent::of(shape, s)).collect();
    let widths: f64 = extents.iter().map(|e| e.right - e.left).sum();
    let high = extents.iter().map(|e| e.top).fold(0.0, f64::max);
    let scale = ACROSS / widths.max(2.0 * high);
    let cell = |e: &Extent| ((e.right - e.left) * scale).max(WORDS);
    let width: f64 = extents.iter().map(cell).sum::<f64>() + GAP * (extents.len() + 1) as f64;
    let title = named(title, "", shape, view);
    let floor = 150.0 + high * scale;
    let style = view.style().sized(width as u32, (floor + 190.0) as u32);
    let mut canvas = Canvas::new(&style, &title);
    let zones: Vec<&str> = shape.zones().into_iter().map(bare).fold(Vec::new(), |mut seen, z| {
        if !seen.contains(&z) {
            seen.push(z);
        }
        seen
    });
    let mut at = GAP;
    let mut pieces = Vec::new();
    for e in &extents {
        let section = &shape.sections[e.section];
        let middle = at + 0.5 * cell(e);
        let x = |m: f64| middle + (m - 0.5 * (e.left + e.right)) * scale;
        for strip in shape.rings.iter().filter(|r| r.is_in(e.section)) {
            let zone = zones.iter().position(|z| *z == bare(&strip.zone)).unwrap_or(0);
            let area = |(from, to): (f64, f64)| Area {
                left: x(from),
                top: floor - strip.top_m * scale,
                right: x(to),
                bottom: floor - strip.bottom_m * scale,
            };
            pieces.push(Piece {
                name: view.curve(bare(&strip.zone)),
                fill: FILLS[zone % FILLS.len()],
                areas: sides(strip, section.symmetric).into_iter().map(area).collect(),
            });
        }
        let length = Cell::number(section.length_m, Quantity::Length).whole(view);
        let lines = [
            section.name.clone(),
            size(e.right - e.left, e.top, view),
            format!("\u{2194} {length}"),
            Cell::number(section.share, Quantity::Share).whole(view),
        ];
        canvas.layer(&[], |pen| {
            for (k, line) in lines.iter().enumerate() {
                let at = (middle, floor + 50.0 + 30.0 * k as f64);
                pen.text(at, line, Type::plain(20.0).hold(Hold::Middle));
            }
        });
        at += cell(e) + GAP;
    }
    // names of thin strips stand over the sections, away from the words below
    let above = Style {
        height: floor as u32 + 20,
        ..style
    };
    draw(&mut canvas, &pieces, &above);
    canvas.finish(title, None).svg
}

/// From where to where a strip reaches across, on both sides where the half stands for the whole.
fn sides(strip: &Ring, symmetric: bool) -> Vec<(f64, f64)> {
    let (inner, outer) = (strip.inner_m, strip.outer_m);
    match symmetric {
        true if inner > 0.0 => vec![(inner, outer), (-outer, -inner)],
        true => vec![(-outer, outer)],
        false => vec![(inner, outer)],
    }
}

/// A zone without the name of its section.
fn bare(zone: &str) -> &str {
    zone.split_once('.').map_or(zone, |(_, bare)| bare)
}

/// Extent of a section, mirrored where its half is given; nothing where all of it was removed.
struct Extent {
    section: usize,
    left: f64,
    right: f64,
    top: f64,
}

impl Extent {
    fn of(shape: &Shape, section: usize) -> Option<Extent> {
        let own = || shape.rings.iter().filter(|r| r.is_in(section));
        own().next()?;
        let right = own().map(|r| r.outer_m).fold(f64::NEG_INFINITY, f64::max);
        let left = own().map(|r| r.inner_m).fold(f64::INFINITY, f64::min);
        Some(Extent {
            section,
            left: if shape.sections[section].symmetric {
                -right
            } else {
                left
            },
            right,
            top: own().map(|r| r.top_m).fold(0.0, f64::max),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::{CrossSection, Strip};

    #[test]
    fn a_symmetric_section_is_drawn_whole() {
        let strip = |inner_m, outer_m, zone: &str| Ring {
            inner_m,
            outer_m,
            bottom_m: 0.0,
            top_m: 0.02,
            zone: format!("shank.{zone}"),
            strip: Some(Strip {
                section: 0,
                depth_m: 0.2,
            }),
        };
        let shape = Shape {
            rings: vec![strip(0.0, 0.01, "web"), strip(0.01, 0.03, "body")],
            sections: vec![CrossSection {
                name: "shank".to_owned(),
                share: 1.0,
                length_m: 0.1,
                symmetric: true,
            }],
        };
        let svg = super::super::shape_svg("rod", &shape, &View::default()).replace('\u{a0}', " ");
        // the paper; the web across the middle is one rectangle, the body two; a name beside its strip may have one
        assert!((4..=6).contains(&svg.matches("<rect ").count()), "{svg}");
        assert!(svg.contains("60.0 mm \u{d7} 20.0 mm"), "{svg}");
        assert!(svg.contains("rod, 120.0 cm\u{b3}"), "{svg}");
    }
}
