//! A tool face as a whole, from part to part.

use crate::conduction::{Columns, Exchange, SolveError};

/// A tool face with its own columns. Spans are positions across the face on which overlap is
/// proportional to area (squared radii, or lengths).
#[derive(Debug, Clone)]
pub struct Ground {
    columns: Columns,
    spans: Vec<(f64, f64)>,
    /// Spans of the columns taken back since [`Ground::forget`].
    touched: Vec<Vec<(f64, f64)>>,
}

/// Face temperatures of a tool that nothing touches, degC.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Faces {
    /// Mean by area.
    pub mean_c: f64,
    /// Hottest column.
    pub hottest_c: f64,
    /// Coldest column.
    pub coldest_c: f64,
}

impl Ground {
    /// A face made of the same columns as `like`, one per span, all at the state that those have at
    /// their start. `area_per_span` turns the length of a span into m².
    pub fn new(like: &Columns, spans: Vec<(f64, f64)>, area_per_span: f64) -> Ground {
        let mut columns = like.resized(spans.len(), 0);
        let areas: Vec<f64> = spans
            .iter()
            .map(|(a, b)| ((b - a) * area_per_span).max(1e-12))
            .collect();
        columns.set_contacts(&vec![None; spans.len()], &areas);
        Ground::over(columns, spans)
    }

    /// A face that is just the given columns over the given spans.
    pub fn over(columns: Columns, spans: Vec<(f64, f64)>) -> Ground {
        Ground {
            columns,
            spans,
            touched: Vec::new(),
        }
    }

    /// Specific enthalpies [J/kg] for columns over other spans: the overlap-weighted means, and the
    /// state at the start where this face has nothing.
    pub fn lend(&self, spans: &[(f64, f64)], to: &mut Columns) {
        let start = self.columns.start_enthalpy();
        let mut profile = vec![0.0; self.columns.depth_cells()];
        for (c, span) in spans.iter().enumerate() {
            profile.fill(0.0);
            let mut covered = 0.0;
            for (own, from) in self.spans.iter().enumerate() {
                let overlap = overlap(*span, *from);
                if overlap > 0.0 {
                    covered += overlap;
                    for (p, h) in profile.iter_mut().zip(self.columns.profile(own)) {
                        *p += overlap * h;
                    }
                }
            }
            let rest = (1.0 - covered).max(0.0);
            for p in &mut profile {
                *p = (*p + rest * start) / (covered + rest);
            }
            to.set_profile(c, &profile);
        }
    }

    /// Takes back columns that lay over `spans`; what they did not cover keeps its own state.
    pub fn take_back(&mut self, spans: &[(f64, f64)], from: &Columns) {
        if self.touched.last().is_none_or(|last| last != spans) {
            self.touched.push(spans.to_vec());
        }
        let mut profile = vec![0.0; self.columns.depth_cells()];
        for own in 0..self.spans.len() {
            let here = self.spans[own];
            profile.fill(0.0);
            let mut covered = 0.0;
            for (c, span) in spans.iter().enumerate() {
                let overlap = overlap(here, *span);
                if overlap > 0.0 {
                    covered += overlap;
                    for (p, h) in profile.iter_mut().zip(from.profile(c)) {
                        *p += overlap * h;
                    }
                }
            }
            if covered > 0.0 {
                let rest = (1.0 - covered).max(0.0);
                for (p, h) in profile.iter_mut().zip(self.columns.profile(own)) {
                    *p = (*p + rest * h) / (covered + rest);
                }
                self.columns.set_profile(own, &profile);
            }
        }
    }

    /// Spans of the columns taken back since the last [`Ground::forget`], in their order.
    pub fn touched(&self) -> &[Vec<(f64, f64)>] {
        &self.touched
    }

    /// Forgets who touched the face.
    pub fn forget(&mut self) {
        self.touched.clear();
    }

    /// What lending to columns over `spans` and taking them back makes of a value on every own
    /// column: for each of these its sources and their weights.
    pub fn mixing(&self, spans: &[(f64, f64)]) -> Vec<Vec<(usize, f64)>> {
        let lent: Vec<Vec<(usize, f64)>> = spans
            .iter()
            .map(|span| {
                let parts: Vec<(usize, f64)> = self
                    .spans
                    .iter()
                    .map(|own| overlap(*span, *own))
                    .enumerate()
                    .filter(|(_, o)| *o > 0.0)
                    .collect();
                let whole = parts.iter().map(|(_, o)| o).sum::<f64>().max(1.0);
                parts.iter().map(|(own, o)| (*own, o / whole)).collect()
            })
            .collect();
        let back = |(own, here): (usize, &(f64, f64))| {
            let shares: Vec<f64> = spans.iter().map(|span| overlap(*here, *span)).collect();
            let covered: f64 = shares.iter().sum();
            let whole = covered.max(1.0);
            let mut row: Vec<(usize, f64)> = vec![(own, (1.0 - covered).max(0.0) / whole)];
            for (share, parts) in shares.iter().zip(&lent).filter(|(s, _)| **s > 0.0) {
                for (from, weight) in parts {
                    match row.iter_mut().find(|(known, _)| known == from) {
                        Some((_, sum)) => *sum += weight * share / whole,
                        None => row.push((*from, weight * share / whole)),
                    }
                }
            }
            row
        };
        self.spans.iter().enumerate().map(back).collect()
    }

    /// Whether columns over `spans` cover all of the face.
    pub fn covered_by(&self, spans: &[(f64, f64)]) -> bool {
        let covered = |own: &(f64, f64)| spans.iter().map(|span| overlap(*own, *span)).sum::<f64>();
        self.spans.iter().all(|own| covered(own) > 1.0 - 1e-9)
    }

    /// Lets the face rest in the open for `seconds`.
    ///
    /// # Errors
    /// A step that cannot meet the tolerance \[K\].
    pub fn rest(&mut self, seconds: f64, exchange: &Exchange, step_k: f64) -> Result<(), SolveError> {
        self.columns.rest(seconds, exchange, step_k)
    }

    /// Face temperatures now, in the surroundings of the last rest.
    pub fn faces(&self) -> Faces {
        let mut faces = Faces {
            mean_c: 0.0,
            hottest_c: f64::NEG_INFINITY,
            coldest_c: f64::INFINITY,
        };
        let areas = self.columns.areas();
        let total: f64 = areas.iter().sum();
        for (c, area) in areas.iter().enumerate() {
            let temp_c = self.columns.open_face(c, 0.0);
            faces.mean_c += temp_c * area / total;
            faces.hottest_c = faces.hottest_c.max(temp_c);
            faces.coldest_c = faces.coldest_c.min(temp_c);
        }
        faces
    }

    /// Mean enthalpy of all columns by area as a temperature, degC: how warm the die is through.
    pub fn mean_c(&self) -> f64 {
        let masses = self.columns.masses();
        let total: f64 = masses.iter().sum();
        let weighted: f64 = self.temperatures().iter().zip(masses).map(|(t, m)| t * m).sum();
        weighted / total
    }

    /// Temperature of every cell, degC, with the mass \[kg\] that each stands for in [`Ground::masses`].
    pub fn temperatures(&self) -> Vec<f64> {
        self.columns.cell_temperatures()
    }

    /// Replaces the temperature of every cell, degC.
    pub fn set_temperatures(&mut self, temps_c: &[f64]) {
        self.columns.set_cell_temperatures(temps_c);
    }

    /// Mass of every cell, kg.
    pub fn masses(&self) -> &[f64] {
        self.columns.masses()
    }

    /// The columns.
    pub fn columns(&self) -> &Columns {
        &self.columns
    }

    /// Where the columns lie.
    pub fn spans(&self) -> &[(f64, f64)] {
        &self.spans
    }
}

/// Share of `of` that lies in `other`.
fn overlap(of: (f64, f64), other: (f64, f64)) -> f64 {
    ((of.1.min(other.1) - of.0.max(other.0)) / (of.1 - of.0)).max(0.0)
}

/// Spans with the edges of both lists, over everything that either covers.
pub fn merged(first: &[(f64, f64)], second: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut edges: Vec<f64> = first.iter().chain(second).flat_map(|s| [s.0, s.1]).collect();
    edges.sort_by(f64::total_cmp);
    let extent = edges.last().copied().unwrap_or(0.0) - edges.first().copied().unwrap_or(0.0);
    edges.dedup_by(|b, a| *b - *a <= 1e-9 * extent);
    edges
        .windows(2)
        .map(|w| (w[0], w[1]))
        .filter(|w| {
            let middle = 0.5 * (w.0 + w.1);
            first.iter().chain(second).any(|s| s.0 < middle && middle < s.1)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::{Axis, AxisKind};
    use crate::conduction::DeepEnd;
    use crate::steel::ThermalTable;
    use std::sync::Arc;

    fn tool(count: usize) -> Columns {
        let depth = Axis::graded(AxisKind::Linear, 0.0, 0.06, Some(5e-5), None, 1.6, 0.012).unwrap();
        let metal = Arc::new(ThermalTable::constant(28.0, 550.0, 7700.0));
        Columns::new(metal, &depth, count, 200.0, DeepEnd::Fixed(200.0), 0)
    }

    #[test]
    fn lending_and_taking_back_keeps_the_heat() {
        let face = merged(&[(0.0, 1.0), (1.0, 4.0)], &[(0.0, 0.5), (0.5, 2.0), (2.0, 3.0)]);
        assert_eq!(face, [(0.0, 0.5), (0.5, 1.0), (1.0, 2.0), (2.0, 3.0), (3.0, 4.0)]);
        let mut ground = Ground::new(&tool(1), face, 1e-3);
        let cells = ground.temperatures().len();
        let temps: Vec<f64> = (0..cells).map(|i| 150.0 + 7.0 * (i % 13) as f64).collect();
        ground.set_temperatures(&temps);
        let heat = ground.columns().enthalpy();
        let spans = [(0.0, 0.8), (0.8, 2.5)];
        let mut part = tool(2);
        ground.lend(&spans, &mut part);
        ground.take_back(&spans, &part);
        assert!((ground.columns().enthalpy() / heat - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_resting_face_books_its_heat() {
        let mut columns = tool(3);
        columns.set_contacts(&[None; 3], &[1e-3, 2e-3, 5e-4]);
        columns.set_temperatures(1, &vec![420.0; columns.depth_cells()]);
        let before = columns.enthalpy();
        columns.rest(20.0, &Exchange::air(10.0, 0.8, 25.0), 0.5).unwrap();
        let heat = columns.heat();
        assert!(heat.open < -100.0 && heat.deep < -100.0, "{heat:?}");
        let change = columns.enthalpy() - before;
        assert!(
            (change - heat.open - heat.deep).abs() < 1e-9 * change.abs(),
            "{change} {heat:?}"
        );
    }
}
