//! Drawings of the cross-sections of a long part.

use std::fmt::Write;

use super::{FILLS, escape};
use crate::body::{Ring, Shape};
use crate::units::Display;

/// Pixels between two sections, and round them.
const GAP: f64 = 60.0;
/// Least pixels across for the words under a section.
const WORDS: f64 = 330.0;
/// Pixels per metre come from this length for all sections together.
const ACROSS: f64 = 1100.0;

/// All cross-sections to one scale, from the grip end on, each whole, with their sizes below.
pub(super) fn sections_svg(title: &str, shape: &Shape, display: Display) -> String {
    let length = |m: f64| format!("{:.1} {}", display.length(m), display.length_unit());
    let extents: Vec<Extent> = (0..shape.sections.len()).filter_map(|s| Extent::of(shape, s)).collect();
    let widths: f64 = extents.iter().map(|e| e.right - e.left).sum();
    let high = extents.iter().map(|e| e.top).fold(0.0, f64::max);
    let scale = ACROSS / widths.max(2.0 * high);
    let cell = |e: &Extent| ((e.right - e.left) * scale).max(WORDS);
    let width: f64 = extents.iter().map(cell).sum::<f64>() + GAP * (extents.len() + 1) as f64;
    let height = high * scale + 230.0;
    let floor = 110.0 + high * scale;
    let words = format!("{title}: volume {:.1} cm3", shape.volume_m3() * 1e6);
    let zones: Vec<&str> = shape.zones().into_iter().map(bare).fold(Vec::new(), |mut seen, z| {
        if !seen.contains(&z) {
            seen.push(z);
        }
        seen
    });
    let mut svg = String::new();
    let _ = writeln!(
        svg,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width:.0} {height:.0}\" role=\"img\" font-family=\"sans-serif\" font-size=\"24\">"
    );
    let _ = writeln!(svg, "<title>{}</title>", escape(&words));
    let _ = writeln!(svg, "<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>");
    let _ = writeln!(svg, "<text x=\"20\" y=\"40\">{}</text>", escape(&words));
    let mut at = GAP;
    for e in &extents {
        let section = &shape.sections[e.section];
        let middle = at + 0.5 * cell(e);
        let x = |m: f64| middle + (m - 0.5 * (e.left + e.right)) * scale;
        for strip in shape.rings.iter().filter(|r| r.is_in(e.section)) {
            let zone = zones.iter().position(|z| *z == bare(&strip.zone)).unwrap_or(0);
            let mut sides = vec![(strip.inner_m, strip.outer_m)];
            if section.symmetric && strip.inner_m > 0.0 {
                sides.push((-strip.outer_m, -strip.inner_m));
            } else if section.symmetric {
                sides = vec![(-strip.outer_m, strip.outer_m)];
            }
            for (left, right) in &sides {
                rect(
                    &mut svg,
                    (x(*left), x(*right)),
                    strip,
                    (floor, scale),
                    FILLS[zone % FILLS.len()],
                );
            }
            let (left, right) = sides[0];
            let up = floor - 0.5 * (strip.bottom_m + strip.top_m) * scale;
            let above = strip.height_m() * scale < 30.0;
            let y = if above {
                floor - strip.top_m * scale - 6.0
            } else {
                up + 7.0
            };
            let _ = writeln!(
                svg,
                "<text x=\"{:.1}\" y=\"{y:.1}\" text-anchor=\"middle\" font-size=\"20\">{}</text>",
                0.5 * (x(left) + x(right)),
                escape(bare(&strip.zone))
            );
        }
        let lines = [
            section.name.clone(),
            format!("{} x {}", length(e.right - e.left), length(e.top)),
            format!(
                "{} long, {:.1} % of the mass",
                length(section.length_m),
                100.0 * section.share
            ),
        ];
        for (k, line) in lines.iter().enumerate() {
            let _ = writeln!(
                svg,
                "<text x=\"{middle:.1}\" y=\"{:.1}\" text-anchor=\"middle\" font-size=\"20\">{}</text>",
                floor + 38.0 + 28.0 * k as f64,
                escape(line)
            );
        }
        at += cell(e) + GAP;
    }
    svg.push_str("</svg>\n");
    svg
}

fn rect(svg: &mut String, (left, right): (f64, f64), strip: &Ring, (floor, scale): (f64, f64), fill: &str) {
    let _ = writeln!(
        svg,
        "<rect x=\"{left:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"{fill}\" stroke=\"#303030\"/>",
        floor - strip.top_m * scale,
        right - left,
        strip.height_m() * scale
    );
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
        let svg = super::super::shape_svg("rod", &shape, Display::Metric);
        // The web across the middle is one rectangle, the body two.
        assert_eq!(svg.matches("<rect x=").count(), 3);
        assert!(svg.contains("60.0 mm x 20.0 mm"), "{svg}");
        assert!(svg.contains("rod: volume 120.0 cm3"), "{svg}");
    }
}
