//! What of a shape can be seen from outside: its surface, and the steps of its side.

use std::f64::consts::PI;

use super::mesh::breaks;
use super::shape::{Ring, Shape};

/// A piece of the side of a shape that is at one distance from the axis (or from the middle).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutlineStep {
    /// Width in m: the diameter of a ring, the width of a cross-section.
    pub width_m: f64,
    /// Height in m.
    pub height_m: f64,
    /// Length in m of a cross-section; zero for rings.
    pub length_m: f64,
}

impl Shape {
    /// Surface in m². The ends of a long part, which its cross-sections do not show, do not count.
    pub fn surface_m2(&self) -> f64 {
        if !self.is_long() {
            let rings: Vec<&Ring> = self.rings.iter().collect();
            return surface(&rings, &|_| false, &|r| 2.0 * PI * r, &|a, b| PI * (b * b - a * a));
        }
        let of_section = |(index, section): (usize, &super::CrossSection)| {
            let strips: Vec<&Ring> = self.rings.iter().filter(|r| r.is_in(index)).collect();
            let depth = if section.symmetric {
                2.0 * section.length_m
            } else {
                section.length_m
            };
            surface(&strips, &|x| section.symmetric && x == 0.0, &|_| depth, &|a, b| {
                depth * (b - a)
            })
        };
        self.sections.iter().enumerate().map(of_section).sum()
    }

    /// The side from the bottom up, or section by section for a long part: what a neighbour faces.
    pub fn steps(&self) -> Vec<OutlineStep> {
        let most = |rings: &[&Ring], of: fn(&Ring) -> f64| rings.iter().map(|r| of(r)).fold(f64::MIN, f64::max);
        let least = |rings: &[&Ring], of: fn(&Ring) -> f64| rings.iter().map(|r| of(r)).fold(f64::MAX, f64::min);
        if self.is_long() {
            let sections = self.sections.iter().enumerate().filter_map(|(index, section)| {
                let strips: Vec<&Ring> = self.rings.iter().filter(|r| r.is_in(index)).collect();
                let half = most(&strips, |r| r.outer_m);
                let other = if section.symmetric {
                    -half
                } else {
                    least(&strips, |r| r.inner_m)
                };
                (!strips.is_empty()).then(|| OutlineStep {
                    width_m: half - other,
                    height_m: most(&strips, |r| r.top_m) - least(&strips, |r| r.bottom_m),
                    length_m: section.length_m,
                })
            });
            return sections.collect();
        }
        let heights = breaks(self.rings.iter().flat_map(|r| [r.bottom_m, r.top_m]));
        let mut steps: Vec<OutlineStep> = Vec::new();
        for level in heights.windows(2) {
            let middle = 0.5 * (level[0] + level[1]);
            let here = self.rings.iter().filter(|r| r.bottom_m < middle && middle < r.top_m);
            let Some(outer_m) = here.map(|r| r.outer_m).max_by(f64::total_cmp) else {
                continue;
            };
            let height_m = level[1] - level[0];
            match steps.last_mut() {
                Some(last) if last.width_m == 2.0 * outer_m => last.height_m += height_m,
                _ => steps.push(OutlineStep {
                    width_m: 2.0 * outer_m,
                    height_m,
                    length_m: 0.0,
                }),
            }
        }
        steps
    }
}

/// Surface of rings or strips on the raster of their own faces: `upright` is the area over height of a
/// face at a place, `level` the area between two places; a plane of symmetry is no face.
fn surface(
    rings: &[&Ring],
    symmetry: &dyn Fn(f64) -> bool,
    upright: &dyn Fn(f64) -> f64,
    level: &dyn Fn(f64, f64) -> f64,
) -> f64 {
    let across = breaks(rings.iter().flat_map(|r| [r.inner_m, r.outer_m]));
    let up = breaks(rings.iter().flat_map(|r| [r.bottom_m, r.top_m]));
    let filled = |i: usize, j: usize| {
        let z = 0.5 * (up[i] + up[i + 1]);
        let x = 0.5 * (across[j] + across[j + 1]);
        let inside = |r: &&Ring| r.inner_m < x && x < r.outer_m && r.bottom_m < z && z < r.top_m;
        rings.iter().any(inside)
    };
    let (rows, columns) = (up.len().saturating_sub(1), across.len().saturating_sub(1));
    let mut area = 0.0;
    for i in 0..rows {
        for j in (0..columns).filter(|j| filled(i, *j)) {
            let height = up[i + 1] - up[i];
            if (j == 0 || !filled(i, j - 1)) && !symmetry(across[j]) {
                area += height * upright(across[j]);
            }
            if j + 1 == columns || !filled(i, j + 1) {
                area += height * upright(across[j + 1]);
            }
            let both = usize::from(i == 0 || !filled(i - 1, j)) + usize::from(i + 1 == rows || !filled(i + 1, j));
            area += both as f64 * level(across[j], across[j + 1]);
        }
    }
    area
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bored_flange_by_hand() {
        let ring = |inner_m, outer_m, bottom_m, top_m| Ring {
            inner_m,
            outer_m,
            bottom_m,
            top_m,
            zone: "body".to_owned(),
            strip: None,
        };
        let shape = Shape {
            rings: vec![ring(0.01, 0.03, 0.0, 0.06), ring(0.03, 0.06, 0.0, 0.02)],
            sections: Vec::new(),
        };
        let ends = 2.0 * PI * (0.06 * 0.06 - 0.01 * 0.01);
        let sides = 2.0 * PI * (0.06 * 0.02 + 0.03 * 0.04 + 0.01 * 0.06);
        assert!((shape.surface_m2() / (ends + sides) - 1.0).abs() < 1e-12);
        let steps = shape.steps();
        assert_eq!(steps.len(), 2);
        assert!((steps[0].width_m - 0.12).abs() < 1e-12 && (steps[0].height_m - 0.02).abs() < 1e-12);
        assert!((steps[1].width_m - 0.06).abs() < 1e-12 && (steps[1].height_m - 0.04).abs() < 1e-12);
    }
}
