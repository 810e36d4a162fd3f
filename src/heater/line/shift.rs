//! What a heater shows above what is computed of it.

use super::criteria::Criteria;
use super::result::{Exit, Steady, TrackPoint};
use super::study::Study;
use crate::heater::slice::Nodes;

/// An offset of everything that leaves a heater. On the way there it counts in proportion to the rise of the
/// temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    by_k: f64,
    start_c: f64,
    rise_k: f64,
}

impl Shift {
    /// An offset of so many kelvin for billets that go in at `start_c` and leave with a mean of `exit_c` (degC).
    pub fn new(by_k: f64, start_c: f64, exit_c: f64) -> Shift {
        Shift {
            by_k,
            start_c,
            rise_k: exit_c - start_c,
        }
    }

    /// A temperature on the way, degC.
    pub fn on_the_way(&self, temp_c: f64) -> f64 {
        let share = match self.rise_k > 1.0 {
            true => ((temp_c - self.start_c) / self.rise_k).clamp(0.0, 1.0),
            false => 0.0,
        };
        temp_c + share * self.by_k
    }

    /// The way through the heater.
    pub fn track(&self, track: &mut [TrackPoint]) {
        for point in track {
            for temp_c in [
                &mut point.core_c,
                &mut point.surface_c,
                &mut point.mean_c,
                &mut point.hottest_c,
            ] {
                *temp_c = self.on_the_way(*temp_c);
            }
        }
    }

    /// A billet as it leaves.
    pub fn exit(&self, exit: &mut Exit) {
        for temp_c in [
            &mut exit.core_c,
            &mut exit.surface_c,
            &mut exit.mean_c,
            &mut exit.hottest_c,
            &mut exit.peak_c,
        ] {
            *temp_c += self.by_k;
        }
        for point in exit.profiles.iter_mut().flatten() {
            point.1 += self.by_k;
        }
        for temp_c in exit.sections.iter_mut().flat_map(|s| &mut s.temps_c) {
            *temp_c += self.by_k;
        }
        for nodes in &mut exit.nodes_along {
            self.nodes(nodes);
        }
    }

    /// Node temperatures at or after the exit.
    pub fn nodes(&self, nodes: &mut Nodes) {
        for temp_c in [
            &mut nodes.core_c,
            &mut nodes.surface_c,
            &mut nodes.mean_c,
            &mut nodes.hottest_c,
        ] {
            *temp_c += self.by_k;
        }
    }

    /// A settled line.
    pub fn steady(&self, steady: &mut Steady) {
        self.track(&mut steady.track);
        self.exit(&mut steady.exit);
    }

    /// What billets are judged by.
    pub fn criteria(&self, criteria: &Criteria) -> Criteria {
        criteria.shifted(self.by_k)
    }

    /// Billets that left, and the hottest point of all; each order has its own shift.
    pub fn study(shifts: &[Shift], study: &mut Study) {
        let of = |order: usize| shifts.get(order).or(shifts.first());
        for (billet, leaves) in study
            .billets
            .iter_mut()
            .map(|b| (&mut b.billet, true))
            .chain(study.inside.iter_mut().map(|b| (b, false)))
        {
            let Some(shift) = of(billet.order) else { return };
            for temp_c in [
                &mut billet.core_c,
                &mut billet.surface_c,
                &mut billet.mean_c,
                &mut billet.hottest_c,
                &mut billet.peak_c,
            ] {
                *temp_c = match leaves {
                    true => *temp_c + shift.by_k,
                    false => shift.on_the_way(*temp_c),
                };
            }
        }
        for (order, peak_c) in study.order_peaks_c.iter_mut().enumerate() {
            *peak_c += of(order).map_or(0.0, |s| s.by_k);
        }
        study.peak_c = match study.order_peaks_c.is_empty() {
            true => study.peak_c + of(0).map_or(0.0, |s| s.by_k),
            false => study.order_peaks_c.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::Shift;

    #[test]
    fn a_cold_billet_is_not_moved_and_a_hot_one_by_all_of_it() {
        let shift = Shift::new(-35.0, 20.0, 1220.0);
        assert_eq!(shift.on_the_way(20.0), 20.0);
        assert_eq!(shift.on_the_way(620.0), 602.5);
        assert_eq!(shift.on_the_way(1260.0), 1225.0);
    }
}
