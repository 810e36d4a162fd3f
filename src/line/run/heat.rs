//! The heater: a measured exit state, a furnace computed from cold, or coils.

use super::air::AIR;
use super::{RunError, Runner};
use crate::body::Skin;
use crate::conduction::{Exchange, Law};
use crate::heater::HeaterError;
use crate::heater::line::{Exit, Shift, TrackPoint};
use crate::judge::{Kind, Moment};
use crate::line::plan::{Heater, StartField, above_solidus};
use crate::line::trace::StageSpan;

/// Most samples of the way through a heater.
const TRACK_POINTS: usize = 400;

impl Runner<'_> {
    /// Brings the part to heater exit at time zero.
    pub(super) fn heat(&mut self) -> Result<(), RunError> {
        let failed = |source: HeaterError| RunError::Heater { source };
        match &self.plan.heater {
            Heater::Measured(field) => {
                self.recorder.begin(span(0.0));
                self.set_field(field);
                // The exit state is given, so the side face has just the given temperature.
                let account = self.part.solver.account(AIR);
                let held = Law::Fixed {
                    temp_c: (field.temp_c(1.0) + self.plan.exit_offset_k).into(),
                    account,
                };
                self.part.solver.set_law(Skin::Side as usize, held);
            }
            Heater::Furnace {
                furnace_c,
                seconds,
                start_c,
                emissivity,
                film_w_m2k,
                zones,
            } => {
                let whole = seconds + zones.iter().map(|z| z.seconds).sum::<f64>();
                self.part.solver.set_time(-whole);
                self.recorder.begin(span(-whole));
                let temps = vec![*start_c; self.part.mesh.grid.cells()];
                self.part.set_temperatures(&temps);
                self.set_everywhere(&Exchange::air(*film_w_m2k, *emissivity, *furnace_c), "furnace");
                self.recorder.moment(Moment::Start, &self.part);
                let mut until = seconds - whole;
                self.advance("heating", if zones.is_empty() { 0.0 } else { until })?;
                for (index, zone) in zones.iter().enumerate() {
                    until = if index + 1 == zones.len() {
                        0.0
                    } else {
                        until + zone.seconds
                    };
                    self.set_everywhere(&Exchange::air(*film_w_m2k, *emissivity, zone.furnace_c), "furnace");
                    self.advance("heating", until)?;
                }
            }
            Heater::CoilLine(heater) => {
                let heated = self.heated.heated(heater, self.plan, self.resolution).map_err(failed)?;
                self.take_over(&heated.exit, heater.line.start_c, &heated.track);
            }
            Heater::StaticCoil(heater) => {
                let bar = heater
                    .bar(&self.plan.piece, &self.plan.metal, self.resolution)
                    .map_err(failed)?;
                let (_, result) = heater.heat(&bar).map_err(failed)?;
                self.take_over(&result.exit, heater.set.start_c, &result.track);
            }
        }
        if let Some(scale) = &mut self.scale {
            scale.at_exit();
        }
        self.offset_exit();
        self.recorder.moment(Moment::Exit, &self.part);
        self.recorder.map("heater exit", &self.part);
        let surroundings = self.plan.surroundings;
        self.set_air(&surroundings, &super::air::BARE)?;
        self.close_stage("heater")
    }

    /// Takes over the whole field that a computed heater gives, and the way to it at mid-length.
    fn take_over(&mut self, exit: &Exit, start_c: f64, track: &[TrackPoint]) {
        let seconds = track.last().map_or(0.0, |p| p.time_s);
        if let Some(scale) = &mut self.scale {
            scale.through_heater(track);
        }
        self.recorder.begin(span(-seconds));
        let temps = vec![start_c; self.part.mesh.grid.cells()];
        self.part.set_temperatures(&temps);
        self.part.solver.set_time(-seconds);
        self.recorder.moment(Moment::Start, &self.part);
        let every = track.len().div_ceil(TRACK_POINTS).max(1);
        // An offset of the exit belongs to the whole way there, in proportion to the rise.
        let shift = Shift::new(self.plan.exit_offset_k, start_c, exit.mean_c);
        let shifted = |temp_c: f64| shift.on_the_way(temp_c);
        for (index, p) in track.iter().enumerate() {
            // The last one is the exit itself, which is recorded with all its nodes.
            if index % every == every - 1 && index + 1 < track.len() {
                let values = [
                    ("core", shifted(p.core_c)),
                    ("surface", shifted(p.surface_c)),
                    ("mean", shifted(p.mean_c)),
                    ("hottest", shifted(p.hottest_c)),
                ];
                self.recorder.values(p.time_s - seconds, &values);
            }
        }
        let warning = above_solidus(&self.plan.metal, exit.peak_c + self.plan.exit_offset_k);
        self.warnings.extend(warning);
        if let Some(peak) = track.iter().max_by(|a, b| a.hottest_c.total_cmp(&b.hottest_c)) {
            let hottest = peak.hottest_c.max(exit.peak_c) + self.plan.exit_offset_k;
            let time_s = (peak.time_s - seconds).min(0.0);
            self.recorder.peak(time_s, &[("hottest", hottest)]);
        }
        self.part.solver.set_time(0.0);
        let along = exit.along.iter().copied();
        let field = if exit.sections.is_empty() {
            StartField::Along(along.zip(exit.profiles.iter().cloned()).collect())
        } else {
            StartField::Sections(along.zip(exit.sections.iter().cloned()).collect())
        };
        self.set_field(&field);
    }

    /// Adds the offset of the plan to the whole exit field, under a name of its own in the ledger.
    fn offset_exit(&mut self) {
        let offset_k = self.plan.exit_offset_k;
        if offset_k == 0.0 {
            return;
        }
        let solver = &mut self.part.solver;
        let joules: Vec<f64> = (0..solver.enthalpy().len())
            .map(|c| {
                let branch = solver.medium().branch(solver.cooled()[c]);
                let rise = branch.enthalpy(solver.temperature(c) + offset_k) - solver.enthalpy()[c];
                rise * solver.mass()[c]
            })
            .collect();
        let account = solver.account("exit offset");
        solver.add_heat(account, &joules);
    }

    fn set_field(&mut self, field: &StartField) {
        let mesh = &self.part.mesh;
        let temps: Vec<f64> = (0..mesh.grid.cells())
            .map(|c| field.temp_at_c(mesh.relative_place(c), 1.0 - mesh.relative_length(c)))
            .collect();
        self.part.set_temperatures(&temps);
    }
}

fn span(start_s: f64) -> StageSpan {
    StageSpan {
        name: "heater".to_owned(),
        kind: Kind::Heater,
        start_s,
        end_s: 0.0,
    }
}
