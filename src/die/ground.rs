//! A tool face as a whole, from part to part.

use super::block::{DieBlock, Well};
use super::spread::{Across, layout};
use crate::conduction::{Columns, Exchange, Link, Sideways, SolveError, Together};

/// Length of an implicit step sideways after a time with a part, as a share of the time in which heat spreads over
/// the contact, radius² over diffusivity, and its least, s.
const PIECE: f64 = 0.05;
const LEAST_PIECE_S: f64 = 1.0;
/// Length of a piece of rest after which channels and heaters give their heat, s.
const WELL_PIECE_S: f64 = 10.0;

/// A tool face with its own columns. Spans are positions across the face on which overlap is
/// proportional to area (squared radii, or lengths).
#[derive(Debug, Clone)]
pub struct Ground {
    columns: Columns,
    spans: Vec<(f64, f64)>,
    block: Option<Block>,
    /// Spans of the columns taken back since [`Ground::forget`].
    touched: Vec<Vec<(f64, f64)>>,
}

/// The block beside the face.
#[derive(Debug, Clone)]
struct Block {
    /// Columns that no part touches.
    beside: Columns,
    sideways: Sideways,
    /// Law of the faces beside the part.
    air: Exchange,
    /// Wells with the layer that each lies in.
    wells: Vec<(usize, Well)>,
    /// Area of the section of the whole block, m².
    section_m2: f64,
    /// Longest implicit step sideways, s.
    piece_s: f64,
    /// Heat of all wells up to now, J.
    wells_j: f64,
    couple_m: f64,
}

impl Block {
    /// What channels and heaters give in `seconds`.
    fn give(&mut self, face: &mut Columns, seconds: f64) {
        for (layer, well) in &self.wells {
            for set in [&mut *face, &mut self.beside] {
                self.wells_j += set.take_in(*layer, |temp_c, capacity| {
                    well.heat_j_m2(temp_c, seconds, capacity, self.section_m2)
                });
            }
        }
    }
}

/// Heat that a tool has taken in up to now other than from parts, J (negative: given off).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct GroundHeat {
    /// Through open faces, those beside the part included.
    pub open: f64,
    /// Through the back.
    pub back: f64,
    /// From channels and heaters.
    pub wells: f64,
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
            block: None,
            touched: Vec::new(),
        }
    }

    /// The face in a block: columns beside it up to the outside of the block, with faces in `air`, heat that
    /// passes sideways, and the back and wells of the block.
    #[must_use]
    pub fn within(mut self, block: &DieBlock, across: &Across, air: &Exchange) -> Ground {
        if *across == Across::Alone {
            return self;
        }
        let areas = self.columns.areas();
        let width: f64 = self.spans.iter().map(|s| s.1 - s.0).sum();
        let whole: f64 = areas.iter().sum();
        let sizes = self.columns.depth_sizes();
        let depth: f64 = sizes.iter().sum();
        let beside_m = block.beside_m.unwrap_or(depth);
        let laid = layout(across, &self.spans, whole / width, beside_m);
        let layer = |depth_m: f64| {
            let mut down = 0.0;
            let below = |size: &f64| {
                down += size;
                down >= depth_m
            };
            sizes.iter().position(below).unwrap_or(sizes.len() - 1)
        };
        let wells = block.wells.iter().map(|well| (layer(well.depth_m()), *well)).collect();
        let mut columns = self.columns.with_end(self.spans.len(), 0, block.back);
        columns.set_contacts(&vec![None; self.spans.len()], areas);
        let mut beside = columns.resized(laid.areas.len(), 0);
        beside.set_contacts(&vec![None; laid.areas.len()], &laid.areas);
        beside.set_open(Some(air.clone()));
        let reach = match across {
            Across::Disc => (whole / std::f64::consts::PI).sqrt(),
            Across::Along => 0.5 * whole / width,
            Across::Strips(strips) => {
                let length: f64 = strips.iter().map(|strip| strip.length_m).sum();
                0.5 * whole / length.max(1e-6)
            }
            Across::Alone => f64::INFINITY,
        };
        let diffusivity = columns.diffusivity(0);
        let piece_s = (PIECE * reach * reach / diffusivity).max(LEAST_PIECE_S);
        self.columns = columns;
        self.block = Some(Block {
            beside,
            sideways: Sideways::new(laid.links),
            air: air.clone(),
            wells,
            section_m2: whole + laid.areas.iter().sum::<f64>(),
            piece_s,
            wells_j: 0.0,
            couple_m: block.couple_m,
        });
        self
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
        let Some(block) = &mut self.block else {
            return self.columns.rest(seconds, exchange, step_k);
        };
        // Channels and heaters give after each piece of time.
        let pieces = match block.wells.is_empty() {
            true => 1.0,
            false => (seconds / WELL_PIECE_S).ceil().max(1.0),
        };
        for _ in 0..pieces as usize {
            let mut together = Together {
                sets: vec![(&mut self.columns, exchange), (&mut block.beside, &block.air)],
                sideways: Some(&mut block.sideways),
            };
            together.rest(seconds / pieces, step_k)?;
            block.give(&mut self.columns, seconds / pieces);
        }
        Ok(())
    }

    /// Lets only the face itself rest, as where a part covers some of it; [`Ground::spread`] does the rest.
    ///
    /// # Errors
    /// A step that cannot meet the tolerance \[K\].
    pub fn rest_face(&mut self, seconds: f64, exchange: &Exchange, step_k: f64) -> Result<(), SolveError> {
        self.columns.rest(seconds, exchange, step_k)
    }

    /// What happens beside the face and sideways in `seconds` that its columns have been through.
    ///
    /// # Errors
    /// A step that cannot meet the tolerance \[K\].
    pub fn spread(&mut self, seconds: f64, step_k: f64) -> Result<(), SolveError> {
        let Some(block) = self.block.as_mut().filter(|_| seconds > 0.0) else {
            return Ok(());
        };
        block.beside.rest(seconds, &block.air, step_k)?;
        block.give(&mut self.columns, seconds);
        let steps = (seconds / block.piece_s).ceil().max(1.0) as usize;
        block
            .sideways
            .pass([&mut self.columns, &mut block.beside], seconds, steps);
        Ok(())
    }

    /// Heat taken in other than from parts.
    pub fn heat(&self) -> GroundHeat {
        let own = self.columns.heat();
        let (beside, wells) = match &self.block {
            Some(block) => (block.beside.heat(), block.wells_j),
            None => Default::default(),
        };
        GroundHeat {
            open: own.open + beside.open,
            back: own.deep + beside.deep,
            wells,
        }
    }

    /// Heat in all of it, J.
    pub fn enthalpy(&self) -> f64 {
        self.columns.enthalpy() + self.block.as_ref().map_or(0.0, |block| block.beside.enthalpy())
    }

    /// Depth of a couple under the face \[m\] and the mean temperature there \[degC\]; none without a block.
    pub fn couple(&self) -> Option<(f64, f64)> {
        let couple_m = self.block.as_ref()?.couple_m;
        let sizes = self.columns.depth_sizes();
        let temps_c = self.columns.cell_temperatures();
        let areas = self.columns.areas();
        let whole: f64 = areas.iter().sum();
        let mean = |layer: usize| {
            let row = &temps_c[layer * areas.len()..][..areas.len()];
            areas.iter().zip(row).map(|(a, t)| a * t).sum::<f64>() / whole
        };
        let (mut down, mut last) = (0.0, (0.0, mean(0)));
        for (layer, size) in sizes.iter().enumerate() {
            let here = (down + 0.5 * size, mean(layer));
            if here.0 >= couple_m || layer + 1 == sizes.len() {
                let share = ((couple_m - last.0) / (here.0 - last.0)).clamp(0.0, 1.0);
                return Some((couple_m, last.1 + share * (here.1 - last.1)));
            }
            last = here;
            down += size;
        }
        None
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

    /// Mean of all cells under the face by mass, degC: how warm the die is through.
    pub fn mean_c(&self) -> f64 {
        let masses = self.columns.masses();
        let total: f64 = masses.iter().sum();
        let temps_c = self.columns.cell_temperatures();
        let weighted: f64 = temps_c.iter().zip(masses).map(|(t, m)| t * m).sum();
        weighted / total
    }

    /// Temperature of every cell \[degC\], layer by layer, in each the columns of the face before those beside it.
    pub fn temperatures(&self) -> Vec<f64> {
        let own = self.columns.cell_temperatures();
        let Some(block) = &self.block else { return own };
        let beside = block.beside.cell_temperatures();
        let (n, m) = (self.columns.count(), block.beside.count());
        let rows = own.chunks(n).zip(beside.chunks(m));
        rows.flat_map(|(own, beside)| own.iter().chain(beside).copied())
            .collect()
    }

    /// Replaces the temperature of every cell, degC.
    pub fn set_temperatures(&mut self, temps_c: &[f64]) {
        let Some(block) = &mut self.block else {
            self.columns.set_cell_temperatures(temps_c);
            return;
        };
        let n = self.columns.count();
        let rows = || temps_c.chunks(n + block.beside.count());
        let own: Vec<f64> = rows().flat_map(|row| row[..n].iter().copied()).collect();
        let beside: Vec<f64> = rows().flat_map(|row| row[n..].iter().copied()).collect();
        self.columns.set_cell_temperatures(&own);
        block.beside.set_cell_temperatures(&beside);
    }

    /// Number of cells.
    pub fn cells(&self) -> usize {
        let beside = self.block.as_ref().map_or(0, |block| block.beside.count());
        (self.columns.count() + beside) * self.columns.depth_cells()
    }

    /// Areas of all columns, those of the face first, m².
    pub fn areas(&self) -> Vec<f64> {
        let beside = self.block.as_ref().map_or(&[][..], |block| block.beside.areas());
        self.columns.areas().iter().chain(beside).copied().collect()
    }

    /// The links of all columns.
    pub fn links(&self) -> &[Link] {
        self.block.as_ref().map_or(&[], |block| block.sideways.links())
    }

    /// Wells with the layer that each lies in.
    pub fn wells(&self) -> &[(usize, Well)] {
        self.block.as_ref().map_or(&[], |block| &block.wells)
    }

    /// Area of the section of the whole block, m².
    pub fn section_m2(&self) -> f64 {
        self.block.as_ref().map_or(0.0, |block| block.section_m2)
    }

    /// Law of the faces beside the part.
    pub fn air(&self) -> Option<&Exchange> {
        self.block.as_ref().map(|block| &block.air)
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
        let cells = ground.cells();
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
