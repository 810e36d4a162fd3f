//! The billet and the shapes it is forged into.

use std::f64::consts::PI;

/// Cross-section of the billet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Section {
    /// A round bar.
    Round {
        /// Radius in m.
        radius_m: f64,
    },
    /// A square bar with sharp corners.
    Square {
        /// Side in m.
        side_m: f64,
    },
    /// A rectangular bar with sharp corners.
    Rectangle {
        /// Width in m.
        width_m: f64,
        /// Height in m.
        height_m: f64,
    },
    /// A wide plate, cooled on its two faces only.
    Plate {
        /// Thickness in m.
        thickness_m: f64,
    },
}

impl Section {
    /// Area of the section in m² (per metre of width for a plate).
    pub fn area_m2(self) -> f64 {
        match self {
            Section::Round { radius_m } => PI * radius_m * radius_m,
            Section::Square { side_m } => side_m * side_m,
            Section::Rectangle { width_m, height_m } => width_m * height_m,
            Section::Plate { thickness_m } => thickness_m,
        }
    }
}

/// The billet as it leaves the heater, cold geometry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// Cross-section.
    pub section: Section,
    /// Length in m; `None` for a long bar, modelled by its section alone, per metre.
    pub length_m: Option<f64>,
}

impl Piece {
    /// Volume in m³; of one metre of bar when there is no length, of one square metre for a plate.
    pub fn volume_m3(&self) -> f64 {
        self.section.area_m2() * self.length_m.unwrap_or(1.0)
    }

    /// The billet as a one-ring shape; `None` unless it is round and has a length.
    pub fn shape(&self) -> Option<Shape> {
        match (self.section, self.length_m) {
            (Section::Round { radius_m }, Some(length_m)) => Some(Shape {
                rings: vec![Ring {
                    inner_m: 0.0,
                    outer_m: radius_m,
                    bottom_m: 0.0,
                    top_m: length_m,
                    zone: "body".to_owned(),
                }],
            }),
            _ => None,
        }
    }
}

/// One ring of a shape: a rectangle turned about the bar axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// Inner radius in m, zero for a disc.
    pub inner_m: f64,
    /// Outer radius in m.
    pub outer_m: f64,
    /// Bottom face above the lowest point of the shape in m (the gripped end of the bar is down).
    pub bottom_m: f64,
    /// Top face in m.
    pub top_m: f64,
    /// Zone it belongs to: `body`, `web`, `flash`, ...
    pub zone: String,
}

impl Ring {
    /// Volume in m³.
    pub fn volume_m3(&self) -> f64 {
        PI * (self.outer_m * self.outer_m - self.inner_m * self.inner_m) * self.height_m()
    }

    /// Height in m.
    pub fn height_m(&self) -> f64 {
        self.top_m - self.bottom_m
    }
}

/// An axisymmetric shape: rings that do not overlap.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// The rings, in the order of the file.
    pub rings: Vec<Ring>,
}

impl Shape {
    /// Volume in m³.
    pub fn volume_m3(&self) -> f64 {
        self.rings.iter().map(Ring::volume_m3).sum()
    }

    /// Extent along the bar axis in m.
    pub fn height_m(&self) -> f64 {
        let top = self.rings.iter().map(|r| r.top_m).fold(0.0, f64::max);
        let bottom = self.rings.iter().map(|r| r.bottom_m).fold(top, f64::min);
        top - bottom
    }

    /// Zone names in order of first appearance.
    pub fn zones(&self) -> Vec<&str> {
        let mut zones: Vec<&str> = Vec::new();
        for ring in &self.rings {
            if !zones.contains(&ring.zone.as_str()) {
                zones.push(&ring.zone);
            }
        }
        zones
    }

    /// Mean height over the volume, Σ V h / Σ V, in m: the height that a forging strain is counted from.
    pub fn mean_height_m(&self) -> f64 {
        let weighted: f64 = self.rings.iter().map(|r| r.volume_m3() * r.height_m()).sum();
        weighted / self.volume_m3()
    }
}
