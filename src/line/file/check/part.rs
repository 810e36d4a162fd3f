//! The part on its way through the stages that are checked.

use crate::line::plan::{CrossSection, Section, Shape};

/// The part as a stage meets it.
pub(crate) struct Part {
    /// The billet's section.
    pub section: Section,
    /// Extent along the bar axis, m; `None` for a long bar.
    pub length_m: Option<f64>,
    /// Rings; `None` unless round and with a length.
    pub shape: Option<Shape>,
    /// Share of the volume that comes off with the next new shape.
    pub scale_loss: f64,
    /// Whether it has been forged already.
    pub forged: bool,
    /// Whether a shape on the way was refused, so that nothing is known of the later ones.
    pub lost: bool,
    /// Cross-sections of a long part; empty for a part made of rings.
    pub sections: Vec<CrossSection>,
    /// Whether cross-sections were refused, so that no shape can be read.
    pub unread: bool,
}

impl Part {
    /// Whether it is followed by its cross-sections now.
    pub fn is_long(&self) -> bool {
        self.shape.as_ref().is_some_and(Shape::is_long)
    }

    /// Volume in m³ and surface in m²; `None` for a bar without a length and for a plate.
    pub fn volume_and_surface(&self) -> Option<(f64, f64)> {
        if let Some(shape) = &self.shape {
            return Some((shape.volume_m3(), shape.surface_m2()));
        }
        let (length_m, area_m2) = (self.length_m?, self.section.area_m2());
        let round_m = match self.section {
            Section::Round { radius_m } => 2.0 * std::f64::consts::PI * radius_m,
            Section::Square { side_m } => 4.0 * side_m,
            Section::Rectangle { width_m, height_m } => 2.0 * (width_m + height_m),
            Section::Plate { .. } => return None,
        };
        Some((area_m2 * length_m, 2.0 * area_m2 + round_m * length_m))
    }
}
