//! The billet and the shapes it is forged into.

use std::f64::consts::PI;
use std::sync::Arc;

pub use crate::body::{CrossSection, Ring, Shape, Strip};
use crate::steel::Steel;

/// A metal shared between plan, stages and dies.
pub type Metal = Arc<Steel>;

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
            (Section::Round { radius_m }, Some(length_m)) => Some(Shape::disc(radius_m, length_m)),
            _ => None,
        }
    }
}
