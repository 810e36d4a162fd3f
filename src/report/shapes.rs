//! Drawings of the shapes of a line, so that a user sees what was entered.

mod long;
mod piece;

use crate::body::Shape;
use crate::line::plan::{Plan, StageKind};
use crate::picture::{Area, Canvas, INK};
use crate::show::View;
use long::sections_svg;
use piece::{FILLS, Piece, draw, named, size};

/// Pixels of the longer side of a drawing.
const SIZE: f64 = 900.0;
/// Room round the drawing for words, pixels.
const MARGIN: f64 = 130.0;
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
pub fn shape_svg(title: &str, shape: &Shape, view: &View) -> String {
    if shape.is_long() {
        return sections_svg(title, shape, view);
    }
    let (width_m, height_m) = (2.0 * shape.outer_m(), shape.height_m());
    let scale = SIZE / width_m.max(height_m);
    let title = named(title, &format!("\u{d8} {}", size(width_m, height_m, view)), shape, view);
    let width = width_m * scale + 2.0 * MARGIN;
    let style = view
        .style()
        .sized(width as u32, (height_m * scale + 2.0 * MARGIN) as u32);
    let mut canvas = Canvas::new(&style, &title);
    let bottom = shape.rings.iter().map(|r| r.bottom_m).fold(f64::INFINITY, f64::min);
    let x = |radius_m: f64| 0.5 * width + radius_m * scale;
    let y = |at_m: f64| MARGIN + (height_m - (at_m - bottom)) * scale;
    let zones = shape.zones();
    let mut pieces = Vec::new();
    for ring in &shape.rings {
        let zone = zones.iter().position(|z| *z == ring.zone).unwrap_or(0);
        let area = |from: f64, to: f64| Area {
            left: x(from),
            top: y(ring.top_m),
            right: x(to),
            bottom: y(ring.bottom_m),
        };
        let both = [area(ring.inner_m, ring.outer_m), area(-ring.outer_m, -ring.inner_m)];
        pieces.push(Piece {
            name: view.curve(&ring.zone),
            fill: FILLS[zone % FILLS.len()],
            areas: both.to_vec(),
        });
    }
    draw(&mut canvas, &pieces, &style);
    canvas.layer(&[("stroke-dasharray", "14 5 3 5")], |pen| {
        let down = MARGIN + height_m * scale;
        pen.line((x(0.0), MARGIN - 30.0), (x(0.0), down + 30.0), INK, 2);
    });
    canvas.finish(title, None).svg
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
        let svg = shape_svg("hub & <web>", &shape, &View::default()).replace('\u{a0}', " ");
        // each with its outline, over the paper
        assert_eq!(svg.matches("<rect ").count(), 5, "{svg}");
        assert!(
            svg.contains("hub &amp; &lt;web&gt;, \u{d8} 80.0 mm \u{d7} 20.0 mm, 100.5 cm\u{b3}"),
            "{svg}"
        );
    }
}
