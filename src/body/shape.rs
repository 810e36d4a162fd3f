//! Shapes as stacks of rings with zones.

use std::f64::consts::PI;

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
    /// A single disc or bar of zone `body`.
    pub fn disc(outer_m: f64, height_m: f64) -> Shape {
        Shape {
            rings: vec![Ring {
                inner_m: 0.0,
                outer_m,
                bottom_m: 0.0,
                top_m: height_m,
                zone: "body".to_owned(),
            }],
        }
    }

    /// Volume in m³.
    pub fn volume_m3(&self) -> f64 {
        self.rings.iter().map(Ring::volume_m3).sum()
    }

    /// Lowest and highest point along the bar axis in m.
    pub fn span_m(&self) -> (f64, f64) {
        let low = self.rings.iter().map(|r| r.bottom_m).fold(f64::INFINITY, f64::min);
        let high = self.rings.iter().map(|r| r.top_m).fold(f64::NEG_INFINITY, f64::max);
        (low, high)
    }

    /// Extent along the bar axis in m.
    pub fn height_m(&self) -> f64 {
        let (low, high) = self.span_m();
        high - low
    }

    /// Largest radius in m.
    pub fn outer_m(&self) -> f64 {
        self.rings.iter().map(|r| r.outer_m).fold(0.0, f64::max)
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

    /// Mean height over the volume, Σ V h / Σ V, in m: the height that a forging strain is
    /// counted from.
    pub fn mean_height_m(&self) -> f64 {
        let weighted: f64 = self.rings.iter().map(|r| r.volume_m3() * r.height_m()).sum();
        weighted / self.volume_m3()
    }

    /// The shape stretched along the axis by `factor` and drawn in sideways so that every ring
    /// keeps its volume: a homogeneous deformation.
    pub fn stretched(&self, factor: f64) -> Shape {
        let side = factor.sqrt().recip();
        let rings = self
            .rings
            .iter()
            .map(|r| Ring {
                inner_m: r.inner_m * side,
                outer_m: r.outer_m * side,
                bottom_m: r.bottom_m * factor,
                top_m: r.top_m * factor,
                zone: r.zone.clone(),
            })
            .collect();
        Shape { rings }
    }

    /// The shape with all heights scaled so that it has a volume in m³.
    pub fn with_volume(&self, volume_m3: f64) -> Shape {
        let scale = volume_m3 / self.volume_m3();
        let rings = self
            .rings
            .iter()
            .map(|r| Ring {
                bottom_m: r.bottom_m * scale,
                top_m: r.top_m * scale,
                ..r.clone()
            })
            .collect();
        Shape { rings }
    }

    /// Whether a homogeneous deformation turns `self` into `other`.
    pub fn is_stretched_into(&self, other: &Shape) -> Option<f64> {
        let factor = other.height_m() / self.height_m();
        if self.rings.len() != other.rings.len() {
            return None;
        }
        let near = |a: f64, b: f64| (a - b).abs() <= 5e-3 * a.abs().max(b.abs()).max(1e-3);
        let same = self.stretched(factor).rings.iter().zip(&other.rings).all(|(a, b)| {
            a.zone == b.zone
                && near(a.inner_m, b.inner_m)
                && near(a.outer_m, b.outer_m)
                && near(a.bottom_m, b.bottom_m)
                && near(a.top_m, b.top_m)
        });
        same.then_some(factor)
    }
}
