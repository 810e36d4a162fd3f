//! What a heat map shows.

use crate::picture::Axis;

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
    /// Whether the scale is one of its own, so that it must not be compared with other pictures.
    pub own_scale: bool,
    /// Words in the reader's language.
    pub words: MapWords,
}

/// Words of a heat map.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MapWords {
    /// For the hottest place.
    pub hottest: String,
    /// For the coldest place.
    pub coldest: String,
    /// For a scale of its own.
    pub own_scale: String,
    /// For a section that is drawn `{n}` times too wide or too high, since it would be a line in true proportions.
    pub stretched: String,
}
