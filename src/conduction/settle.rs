//! Where a lasting source would take tool columns: the way to their steady state.

use super::column::{Columns, DeepEnd};

/// Temperature difference that properties are taken over, K.
const STEP_K: f64 = 1.0;

impl Columns {
    /// Mean power that gains of its cells \[K\] over a period are for column `c`, W/m².
    pub fn gain_w_m2(&self, c: usize, gain_k: &[f64], period_s: f64) -> f64 {
        let cells = gain_k.iter().enumerate();
        cells.map(|(i, g)| self.capacity(c, i) * g / period_s).sum()
    }

    /// How much more column `c` loses at its depth when its last cell is hotter by `rise_k`, W/m².
    pub fn deep_loss_w_m2(&self, c: usize, rise_k: f64) -> f64 {
        match self.deep {
            DeepEnd::Fixed(_) => rise_k / self.resistance(c, self.depth_cells - 1),
            DeepEnd::Insulated => 0.0,
        }
    }

    /// Heat capacity of a cell of column `c`, J/m²K.
    fn capacity(&self, c: usize, i: usize) -> f64 {
        let branch = &self.medium.heating;
        let h = self.h[i * self.count + c];
        self.medium.density * self.size[i] * (branch.enthalpy(branch.at(h).temp_c + STEP_K) - h) / STEP_K
    }

    /// Resistance of half a cell of column `c`, m²K/W.
    fn resistance(&self, c: usize, i: usize) -> f64 {
        let branch = &self.medium.heating;
        let here = branch.at(self.h[i * self.count + c]);
        let next = branch.at(branch.enthalpy(here.temp_c + STEP_K));
        0.5 * self.size[i] * STEP_K / (next.potential - here.potential)
    }

    /// Temperature changes \[K\] after which each cell of column `c` would have come to rest, if it
    /// went on gaining `gain_k` \[K\] every `period_s`: the steady response of conduction in the
    /// column to that source, with `film_w_m2k` as the mean film of its face over the period.
    ///
    /// With a linear face one such change, added to the state, is the fixed point of the slow modes.
    pub fn steady_response(&self, c: usize, gain_k: &[f64], period_s: f64, film_w_m2k: f64, out: &mut [f64]) {
        let n = self.depth_cells;
        let resistance = |i: usize| self.resistance(c, i);
        let between = |i: usize| (resistance(i) + resistance(i + 1)).recip();
        let face = (film_w_m2k.recip() + resistance(0)).recip();
        let deep = match self.deep {
            DeepEnd::Fixed(_) => resistance(n - 1).recip(),
            DeepEnd::Insulated => 0.0,
        };
        // Thomas: diagonal below, right side in `out`.
        let mut diagonal = vec![0.0; n];
        for i in 0..n {
            let low = if i == 0 { face } else { between(i - 1) };
            let high = if i + 1 == n { deep } else { between(i) };
            diagonal[i] = low + high;
            out[i] = self.capacity(c, i) * gain_k[i] / period_s;
            if i > 0 {
                let factor = between(i - 1) / diagonal[i - 1];
                diagonal[i] -= factor * between(i - 1);
                out[i] += factor * out[i - 1];
            }
        }
        for i in (0..n).rev() {
            let above = if i + 1 < n { between(i) * out[i + 1] } else { 0.0 };
            out[i] = (out[i] + above) / diagonal[i];
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::body::{Axis, AxisKind};
    use crate::steel::ThermalTable;

    /// A flux q through the face and out at the depth L: T(0) rises by q (L/k), less what the film
    /// takes, by hand.
    #[test]
    fn response_to_a_source_at_the_face() {
        let depth = Axis::uniform(AxisKind::Linear, 0.0, 0.06, 60).unwrap();
        let metal = Arc::new(ThermalTable::constant(28.0, 550.0, 7700.0));
        let columns = Columns::new(metal, &depth, 1, 200.0, DeepEnd::Fixed(200.0), 0);
        let mut gain = vec![0.0; 60];
        // 1 kW/m2 into the first millimetre over 10 s.
        gain[0] = 1e3 * 10.0 / (7700.0 * 550.0 * 1e-3);
        let mut out = vec![0.0; 60];
        columns.steady_response(0, &gain, 10.0, 1e-9, &mut out);
        let by_hand = 1e3 * 0.0595 / 28.0;
        assert!((out[0] - by_hand).abs() < 1e-3, "{} {by_hand}", out[0]);
        columns.steady_response(0, &gain, 10.0, 100.0, &mut out);
        // Two ways out of the middle of the first cell: 59.5 mm of steel, or half a millimetre and a film.
        let ways = 28.0 / 0.0595 + (0.01_f64 + 0.0005 / 28.0).recip();
        assert!((out[0] - 1e3 / ways).abs() < 1e-3, "{} {}", out[0], 1e3 / ways);
    }
}
