//! The heat bill: what each phase took, by name and by zone.

use super::Runner;
use crate::line::trace::{HeatEntry, HeatFlow, ZoneHeat};

/// Heat of the part at one time.
pub(super) struct HeatNow {
    time_s: f64,
    /// Energy of each account up to now, J.
    accounts: Vec<(String, f64)>,
    /// Mass \[kg\] and enthalpy \[J\] of each zone.
    zones: Vec<(f64, f64)>,
}

impl Runner<'_> {
    pub(super) fn heat_now(&self) -> HeatNow {
        let (solver, mesh) = (&self.part.solver, &self.part.mesh);
        let mut zones = vec![(0.0, 0.0); mesh.zones.len()];
        for ((zone, mass), h) in mesh.zone.iter().zip(solver.mass()).zip(solver.enthalpy()) {
            let (m, q) = &mut zones[*zone as usize];
            *m += mass;
            *q += mass * h;
        }
        HeatNow {
            time_s: solver.time_s(),
            accounts: solver.ledger().entries().map(|(n, e)| (n.to_owned(), e)).collect(),
            zones,
        }
    }

    /// Writes what has happened since `before` under the present stage.
    pub(super) fn write_bill(&mut self, phase: &str, before: &HeatNow) {
        let now = self.heat_now();
        let seconds = now.time_s - before.time_s;
        let earlier = |name: &str| before.accounts.iter().find(|a| a.0 == name).map_or(0.0, |a| a.1);
        let flows = now
            .accounts
            .iter()
            .map(|(name, energy)| HeatFlow {
                energy_kj: 1e-3 * (energy - earlier(name)),
                name: name.clone(),
            })
            .filter(|f| f.energy_kj != 0.0)
            .collect();
        let medium = self.part.solver.medium();
        let cooled = self.part.solver.cooled().iter().any(|c| *c);
        let temp = |(mass, heat): (f64, f64)| medium.branch(cooled).at(heat / mass).temp_c;
        let zones = self
            .part
            .mesh
            .zones
            .iter()
            .zip(before.zones.iter().zip(&now.zones))
            .filter(|(_, (before, _))| before.0 > 0.0)
            .map(|(zone, (before, after))| ZoneHeat {
                zone: zone.clone(),
                mass_kg: after.0,
                change_kj: 1e-3 * (after.1 - before.1),
                mean_change_k: temp(*after) - temp(*before),
            })
            .collect();
        let phase = if phase == "blow" {
            format!("blow {}", self.recorder.blows_done())
        } else {
            phase.to_owned()
        };
        let stage = self.recorder.stage();
        if let Some(bill) = &mut self.bill {
            bill.push(HeatEntry {
                stage,
                phase,
                start_s: before.time_s,
                seconds,
                flows,
                zones,
            });
        }
    }
}
