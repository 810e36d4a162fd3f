//! The nodes of the cross-sections of a long part.

use super::{Mesh, Nodes, Place, Region, Rule, Weights, along, shares};

impl Nodes {
    /// Nodes of a long part: of the whole, of each cross-section, of each of its zones.
    pub(super) fn add_sections(&mut self, mesh: &Mesh, all: &Region) {
        self.add(Place::Mean, Rule::Mean(all.masses(mesh)));
        self.add(Place::Coldest, Rule::Coldest(all.extent(mesh)));
        self.add(Place::Hottest, Rule::Hottest(all.extent(mesh)));
        for (b, block) in mesh.grid.blocks().iter().enumerate() {
            let section = Region::select(mesh, |cell| mesh.grid.block_of(cell) == b);
            self.add_region(mesh, &block.name, &section);
            let own = format!("{}.", block.name);
            for (z, name) in mesh.zones.iter().enumerate().filter(|(_, n)| n.starts_with(&own)) {
                self.add_region(mesh, name, &Region::zone(mesh, z as u16));
            }
        }
    }
}

impl Region {
    /// The same for a region of one cross-section; on the plane of symmetry where it reaches that,
    /// and at the nearest material where there is none in the centre.
    pub(super) fn section_heart(&self, mesh: &Mesh, up: (f64, f64), across: (f64, f64)) -> Weights {
        let grid = &mesh.grid;
        let Some(first) = self.cells.first() else {
            return Vec::new();
        };
        let axes = grid.axes_of(*first);
        let block = grid.blocks().get(grid.block_of(*first));
        let mirrored = block.is_some_and(|b| b.symmetric) && across.0 == 0.0;
        let middle = |(low, high): (f64, f64)| 0.5 * (low + high);
        let point = [middle(up), if mirrored { 0.0 } else { middle(across) }];
        let rows = along(&axes[0], point[0], false);
        let columns = along(&axes[1], point[1], mirrored);
        let offset = block.map_or(0, |b| b.first);
        let spread = rows.iter().flat_map(|(i, v)| {
            let at = columns.iter();
            at.map(move |(j, w)| (grid.index([*i, offset + j, 0]), v * w))
        });
        let kept: Weights = spread.filter(|(c, w)| *w != 0.0 && self.cells.contains(c)).collect();
        if kept.iter().map(|k| k.1).sum::<f64>() > 0.5 {
            return shares(kept.into_iter());
        }
        let off = |c: usize| (0..2).map(|a| (grid.middle(c, a) - point[a]).powi(2)).sum::<f64>();
        let nearest = self.cells.iter().min_by(|a, b| off(**a).total_cmp(&off(**b)));
        nearest.map_or(Vec::new(), |c| vec![(*c, 1.0)])
    }
}
