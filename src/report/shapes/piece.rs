//! Zones of a drawn section: their fills, and names that find their places.

use crate::body::Shape;
use crate::picture::{Area, Canvas, Hold, INK, Placer, Rgb, Style, Type, text_width, words};
use crate::show::{Cell, Joint, Quantity, View};

/// Fills of zones, in the order in which the shape names them; dark enough apart in grey.
pub(super) const FILLS: [Rgb; 6] = [
    (0xc9, 0xd7, 0xe8),
    (0xf2, 0xd9, 0xa7),
    (0xd9, 0xb3, 0xae),
    (0xbc, 0xd9, 0xbf),
    (0xd6, 0xcb, 0xe2),
    (0xe3, 0xe3, 0xe3),
];

/// One zone of a section: its rectangles, the first of which bears the name.
pub(super) struct Piece {
    pub name: String,
    pub fill: Rgb,
    pub areas: Vec<Area>,
}

/// Name, size and volume of a shape in one line.
pub(super) fn named(title: &str, size: &str, shape: &Shape, view: &View) -> String {
    let volume = Cell::number(shape.volume_m3(), Quantity::Volume).whole(view);
    [title, size, &volume].map(str::trim).join(", ").replace(", , ", ", ")
}

/// Width and height.
pub(super) fn size(width_m: f64, height_m: f64, view: &View) -> String {
    let length = |m: f64| Cell::number(m, Quantity::Length);
    length(width_m).joined(Joint::Times, length(height_m)).whole(view)
}

/// Draws the pieces, then their names: inside where they fit, else beside with a line.
pub(super) fn draw(canvas: &mut Canvas, pieces: &[Piece], style: &Style) {
    let room = Area {
        left: 10.0,
        top: canvas.head + 6.0,
        right: f64::from(style.width) - 10.0,
        bottom: f64::from(style.height) - 10.0,
    };
    let mut placer = Placer::default();
    canvas.layer(&[], |pen| {
        for piece in pieces {
            for area in &piece.areas {
                let (a, b) = ((area.left, area.top), (area.right, area.bottom));
                pen.block(a, b, piece.fill, 1.0);
                pen.outline(a, b, INK, 1);
                placer.mark(*area);
            }
        }
    });
    let kind = Type::plain(20.0);
    for piece in pieces {
        let Some(area) = piece.areas.first() else { continue };
        let wide = text_width(&piece.name, kind.size, false);
        let middle = area.middle();
        let own = Area::around(middle, wide + 8.0, 26.0);
        if own.left >= area.left && own.right <= area.right && own.top >= area.top && own.bottom <= area.bottom {
            placer.block(own);
            canvas.layer(&[], |pen| pen.text(middle, &piece.name, kind.hold(Hold::Middle)));
        } else {
            words(canvas, &room, &mut placer, &piece.name, middle, kind);
        }
    }
}
