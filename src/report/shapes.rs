//! Drawings of the shapes of a line, so that a user sees what was entered.

mod long;

use std::fmt::Write;

use crate::body::Shape;
use crate::line::plan::{Plan, StageKind};
use crate::units::Display;
use long::sections_svg;

/// Pixels of the longer side of a drawing.
const SIZE: f64 = 900.0;
/// Room round the drawing for words, pixels.
const MARGIN: f64 = 130.0;
/// Fills of zones, in the order in which the shape names them; dark enough apart in grey.
const FILLS: [&str; 6] = ["#c9d7e8", "#f2d9a7", "#d9b3ae", "#bcd9bf", "#d6cbe2", "#e3e3e3"];

/// Name and shape of the billet and of the part after each stage that changes it.
pub fn shapes(plan: &Plan) -> Vec<(String, Shape)> {
    let mut out: Vec<(String, Shape)> = plan
        .piece
        .shape()
        .map(|shape| ("billet".to_owned(), shape))
        .into_iter()
        .collect();
    for (index, stage) in plan.stages.iter().enumerate() {
        let changes = match &stage.kind {
            StageKind::Forge(forge) => forge.shape.is_some(),
            StageKind::Trim(trim) => !trim.removes.is_empty(),
            _ => false,
        };
        if let Some(shape) = plan.shape_after(index).filter(|_| changes) {
            out.push((stage.name.clone(), shape));
        }
    }
    out
}

/// A shape as an SVG picture: the whole section through the axis, each ring in the colour of its
/// zone, with outer size, height and volume; of a long part its cross-sections.
pub fn shape_svg(title: &str, shape: &Shape, display: Display) -> String {
    if shape.is_long() {
        return sections_svg(title, shape, display);
    }
    let (width_m, height_m) = (2.0 * shape.outer_m(), shape.height_m());
    let scale = SIZE / width_m.max(height_m);
    let (width, height) = (width_m * scale + 2.0 * MARGIN, height_m * scale + 2.0 * MARGIN);
    let bottom = shape.rings.iter().map(|r| r.bottom_m).fold(f64::INFINITY, f64::min);
    let x = |radius_m: f64| 0.5 * width + radius_m * scale;
    let y = |at_m: f64| MARGIN + (height_m - (at_m - bottom)) * scale;
    let zones = shape.zones();
    let length = |m: f64| format!("{:.1} {}", display.length(m), display.length_unit());
    let volume = format!("{:.1} cm3", shape.volume_m3() * 1e6);
    let mut svg = String::new();
    let words = format!(
        "{title}: diameter {}, height {}, volume {volume}",
        length(width_m),
        length(height_m)
    );
    let _ = writeln!(
        svg,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width:.0} {height:.0}\" role=\"img\" font-family=\"sans-serif\" font-size=\"24\">"
    );
    let _ = writeln!(svg, "<title>{}</title>", escape(&words));
    let _ = writeln!(svg, "<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>");
    let _ = writeln!(svg, "<text x=\"20\" y=\"40\">{}</text>", escape(&words));
    for ring in &shape.rings {
        let zone = zones.iter().position(|z| *z == ring.zone).unwrap_or(0);
        let fill = FILLS[zone % FILLS.len()];
        let high = (ring.top_m - ring.bottom_m) * scale;
        let wide = (ring.outer_m - ring.inner_m) * scale;
        for left in [x(ring.inner_m), x(-ring.outer_m)] {
            let _ = writeln!(
                svg,
                "<rect x=\"{left:.1}\" y=\"{:.1}\" width=\"{wide:.1}\" height=\"{high:.1}\" fill=\"{fill}\" stroke=\"#303030\"/>",
                y(ring.top_m)
            );
        }
        // The words stand in the right half where they fit, else above the ring.
        let middle = x(0.5 * (ring.inner_m + ring.outer_m));
        let up = if high > 30.0 {
            y(0.5 * (ring.bottom_m + ring.top_m)) + 8.0
        } else {
            y(ring.top_m) - 6.0
        };
        let _ = writeln!(
            svg,
            "<text x=\"{middle:.1}\" y=\"{up:.1}\" text-anchor=\"middle\" font-size=\"20\">{}</text>",
            escape(&ring.zone)
        );
    }
    let _ = writeln!(
        svg,
        "<line x1=\"{0:.1}\" y1=\"{1:.1}\" x2=\"{0:.1}\" y2=\"{2:.1}\" stroke=\"#303030\" stroke-dasharray=\"14 5 3 5\"/>",
        x(0.0),
        MARGIN - 30.0,
        height - MARGIN + 30.0
    );
    svg.push_str("</svg>\n");
    svg
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::Ring;

    #[test]
    fn every_ring_is_drawn_on_both_sides() {
        let ring = |inner_m, outer_m, zone: &str| Ring {
            inner_m,
            outer_m,
            bottom_m: 0.0,
            top_m: 0.02,
            zone: zone.to_owned(),
            strip: None,
        };
        let shape = Shape {
            rings: vec![ring(0.0, 0.01, "web"), ring(0.01, 0.04, "body")],
            sections: Vec::new(),
        };
        let svg = shape_svg("hub & <web>", &shape, Display::Metric);
        assert_eq!(svg.matches("<rect x=").count(), 4);
        assert!(
            svg.contains("hub &amp; &lt;web&gt;: diameter 80.0 mm, height 20.0 mm, volume 100.5 cm3"),
            "{svg}"
        );
    }
}
