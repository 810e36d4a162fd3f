//! The heater: a measured exit state, or a furnace computed from cold.

use super::air::AIR;
use super::{RunError, Runner};
use crate::body::Skin;
use crate::conduction::{Exchange, Law};
use crate::line::plan::{Heater, StartField};
use crate::line::trace::StageSpan;

impl Runner<'_> {
    /// Brings the part to heater exit at time zero.
    pub(super) fn heat(&mut self) -> Result<(), RunError> {
        match &self.plan.heater {
            Heater::Measured(field) => {
                self.recorder.begin(span(0.0));
                self.set_field(field);
                // The exit state is given, so the side face has just the given temperature.
                let account = self.part.solver.account(AIR);
                let held = Law::Fixed {
                    temp_c: field.temp_c(1.0).into(),
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
            } => {
                self.part.solver.set_time(-seconds);
                self.recorder.begin(span(-seconds));
                let temps = vec![*start_c; self.part.mesh.grid.cells()];
                self.part.set_temperatures(&temps);
                let exchange = Exchange::air(*film_w_m2k, *emissivity, *furnace_c);
                self.set_everywhere(&exchange, "furnace");
                self.recorder.moment("start", &self.part);
                self.advance("heating", 0.0)?;
            }
        }
        self.recorder.moment("exit", &self.part);
        self.recorder.map("heater exit", &self.part);
        let surroundings = self.plan.surroundings;
        self.set_air(&surroundings, &super::air::BARE)?;
        self.close_stage("heater")
    }

    fn set_field(&mut self, field: &StartField) {
        let mesh = &self.part.mesh;
        let temps: Vec<f64> = (0..mesh.grid.cells())
            .map(|c| field.temp_c(mesh.relative_distance(c)))
            .collect();
        self.part.set_temperatures(&temps);
    }
}

fn span(start_s: f64) -> StageSpan {
    StageSpan {
        name: "heater".to_owned(),
        kind: "heater".to_owned(),
        start_s,
        end_s: 0.0,
    }
}
