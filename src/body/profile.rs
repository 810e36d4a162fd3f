//! How much of a bar is colder than a temperature towards its ends.

use super::grid::Side;
use super::mesh::{Layout, Mesh, Skin};

/// Length of bar in the two halves that is colder than asked, m: towards the low end, towards the high end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Below {
    /// On the side face.
    pub surface_m: (f64, f64),
    /// In the mean over the section.
    pub mean_m: (f64, f64),
}

/// Lengths below a temperature \[degC\], from the temperatures of cells and exposed faces \[degC\];
/// linear between the middles of the slices. `None` for a body without a long axis.
pub fn below(mesh: &Mesh, cells_c: &[f64], faces_c: &[f64], limit_c: f64) -> Option<Below> {
    if !matches!(mesh.layout, Layout::Axisymmetric | Layout::Bar) {
        return None;
    }
    let grid = &mesh.grid;
    let axis = &grid.axes()[0];
    let n = axis.cells();
    let mut surface = vec![(0.0, 0.0); n];
    for (face, temp_c) in grid.faces().iter().zip(faces_c) {
        let side = face.axis > 0 && face.side == Side::High && face.group != Skin::Bore as usize;
        if side && temp_c.is_finite() {
            let (sum, area) = &mut surface[grid.position(face.cell)[0]];
            *sum += face.area * temp_c;
            *area += face.area;
        }
    }
    let mut mean = vec![(0.0, 0.0); n];
    for (cell, temp_c) in cells_c.iter().enumerate() {
        let weight = grid.volume()[cell];
        if weight > 0.0 {
            let (sum, volume) = &mut mean[grid.position(cell)[0]];
            *sum += weight * temp_c;
            *volume += weight;
        }
    }
    let at: Vec<f64> = (0..n).map(|i| axis.centre(i)).collect();
    let ends = (axis.faces()[0], axis.faces()[n]);
    let lengths = |slices: &[(f64, f64)]| {
        let temps: Vec<f64> = slices.iter().map(|(sum, weight)| sum / weight).collect();
        halves(&at, &temps, ends, limit_c)
    };
    Some(Below {
        surface_m: lengths(&surface),
        mean_m: lengths(&mean),
    })
}

/// Length with a temperature below `limit` in each half of a profile.
fn halves(at: &[f64], temps: &[f64], (start, end): (f64, f64), limit: f64) -> (f64, f64) {
    let mut points: Vec<(f64, f64)> = at.iter().copied().zip(temps.iter().copied()).collect();
    if let (Some(first), Some(last)) = (points.first().copied(), points.last().copied()) {
        points.insert(0, (start, first.1));
        points.push((end, last.1));
    }
    let middle = 0.5 * (start + end);
    let mut sum = (0.0, 0.0);
    for pair in points.windows(2) {
        let ((a, ta), (b, tb)) = (pair[0], pair[1]);
        let crossing = a + (b - a) * (limit - ta) / (tb - ta);
        let (from, to) = match (ta < limit, tb < limit) {
            (true, true) => (a, b),
            (true, false) => (a, crossing),
            (false, true) => (crossing, b),
            (false, false) => continue,
        };
        sum.0 += (to.min(middle) - from.min(middle)).max(0.0);
        sum.1 += (to.max(middle) - from.max(middle)).max(0.0);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::halves;

    #[test]
    fn lengths_below_are_those_of_the_straight_lines() {
        // 700 at both ends, 1000 in the middle, straight between.
        let at: Vec<f64> = (0..10).map(|i| 0.05 + 0.1 * f64::from(i)).collect();
        let temps: Vec<f64> = at.iter().map(|x| 1000.0 - 600.0 * (x - 0.5).abs()).collect();
        let (low, high) = halves(&at, &temps, (0.0, 1.0), 850.0);
        assert!(
            (low - 0.25).abs() < 1e-12 && (high - 0.25).abs() < 1e-12,
            "{low} {high}"
        );
        assert_eq!(halves(&at, &temps, (0.0, 1.0), 600.0), (0.0, 0.0));
        let all = halves(&at, &temps, (0.0, 1.0), 2000.0);
        assert!((all.0 - 0.5).abs() < 1e-12 && (all.1 - 0.5).abs() < 1e-12, "{all:?}");
    }
}
