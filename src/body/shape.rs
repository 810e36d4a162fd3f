//! Shapes as stacks of rings with zones, and of strips in the cross-sections of a long part.

use std::f64::consts::PI;

/// What makes a rectangle of a shape a strip of a cross-section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strip {
    /// Index of its section in [`Shape::sections`].
    pub section: usize,
    /// Volume over area in m: the length of the section, twice that where half of it is given.
    pub depth_m: f64,
}

/// A cross-section of a long part and the piece of the part that it stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossSection {
    /// Name, the first word of its zones' names.
    pub name: String,
    /// Its share of the mass.
    pub share: f64,
    /// Its length in the forging, m.
    pub length_m: f64,
    /// Whether its strips are the right half of it.
    pub symmetric: bool,
}

/// One ring of a shape: a rectangle turned about the bar axis; or one strip of a cross-section: a
/// rectangle drawn along the bar axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// Inner radius in m, zero for a disc; left face of a strip.
    pub inner_m: f64,
    /// Outer radius in m; right face of a strip.
    pub outer_m: f64,
    /// Bottom face above the lowest point of the shape in m (the gripped end of the bar is down).
    pub bottom_m: f64,
    /// Top face in m.
    pub top_m: f64,
    /// Zone it belongs to: `body`, `web`, `flash`, ...; in a cross-section its name comes first, as
    /// in `shank.web`.
    pub zone: String,
    /// Set for a strip.
    pub strip: Option<Strip>,
}

impl Ring {
    /// Volume in m³.
    pub fn volume_m3(&self) -> f64 {
        match self.strip {
            Some(strip) => (self.outer_m - self.inner_m) * self.height_m() * strip.depth_m,
            None => PI * (self.outer_m * self.outer_m - self.inner_m * self.inner_m) * self.height_m(),
        }
    }

    /// Whether it is a strip of a section.
    pub fn is_in(&self, section: usize) -> bool {
        self.strip.is_some_and(|s| s.section == section)
    }

    /// Height in m.
    pub fn height_m(&self) -> f64 {
        self.top_m - self.bottom_m
    }
}

/// An axisymmetric shape: rings that do not overlap; or the cross-sections of a long part.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shape {
    /// The rings or strips, in the order of the file.
    pub rings: Vec<Ring>,
    /// The cross-sections of a long part from the grip end on; empty for rings.
    pub sections: Vec<CrossSection>,
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
                strip: None,
            }],
            sections: Vec::new(),
        }
    }

    /// Whether it is made of cross-sections.
    pub fn is_long(&self) -> bool {
        !self.sections.is_empty()
    }

    /// The ring or strip at a height and a radius (or x) in m; `section` counts for strips.
    pub fn ring_at(&self, section: usize, z: f64, r: f64) -> Option<usize> {
        self.rings.iter().position(|q| {
            (q.strip.is_none() || q.is_in(section))
                && q.bottom_m <= z
                && z <= q.top_m
                && q.inner_m <= r
                && r <= q.outer_m
        })
    }

    /// Volume of a section in m³.
    pub fn section_volume_m3(&self, section: usize) -> f64 {
        let own = self.rings.iter().filter(|r| r.is_in(section));
        own.map(Ring::volume_m3).sum()
    }

    /// Mean height of a section over its volume, m. A bar that is to become a long part lies on its
    /// side: ∫h²dx/A of a circle, 16 R/(3π).
    pub fn section_height_m(&self, section: usize) -> f64 {
        if !self.is_long() {
            return 16.0 * self.outer_m() / (3.0 * PI);
        }
        let own = || self.rings.iter().filter(|r| r.is_in(section));
        let weighted: f64 = own().map(|r| r.volume_m3() * r.height_m()).sum();
        weighted / self.section_volume_m3(section)
    }

    /// Mean height in the direction of the blow that turns this shape into `next`, m.
    pub fn height_towards_m(&self, next: &Shape) -> f64 {
        if next.is_long() && !self.is_long() {
            self.section_height_m(0)
        } else {
            self.mean_height_m()
        }
    }

    /// The cross-sections with heights scaled so that each has its volume in m³.
    pub fn with_section_volumes(&self, volumes: &[f64]) -> Shape {
        let mut shape = self.clone();
        for (section, volume) in volumes.iter().enumerate() {
            let scale = volume / self.section_volume_m3(section);
            for ring in shape.rings.iter_mut().filter(|r| r.is_in(section)) {
                ring.bottom_m *= scale;
                ring.top_m *= scale;
            }
        }
        shape
    }

    /// One section stretched upwards by `factor` and drawn in sideways: plane strain.
    pub fn stretch_section(&mut self, section: usize, factor: f64) {
        for ring in self.rings.iter_mut().filter(|r| r.is_in(section)) {
            ring.bottom_m *= factor;
            ring.top_m *= factor;
            ring.inner_m /= factor;
            ring.outer_m /= factor;
        }
    }

    /// Volume in m³.
    pub fn volume_m3(&self) -> f64 {
        self.rings.iter().map(Ring::volume_m3).sum()
    }

    /// Lowest and highest point along the bar axis in m.
    fn span_m(&self) -> (f64, f64) {
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
                ..r.clone()
            })
            .collect();
        Shape {
            rings,
            sections: self.sections.clone(),
        }
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
        Shape {
            rings,
            sections: self.sections.clone(),
        }
    }

    /// Whether a homogeneous deformation turns `self` into `other`.
    pub fn is_stretched_into(&self, other: &Shape) -> Option<f64> {
        let factor = other.height_m() / self.height_m();
        if self.rings.len() != other.rings.len() || self.is_long() || other.is_long() {
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
