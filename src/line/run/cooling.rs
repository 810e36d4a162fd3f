//! Cooling, and the phases of a fan.

use super::{RunError, Runner};
use crate::judge::Moment;
use crate::line::plan::{Company, Cool, Fan, Surroundings};

impl Runner<'_> {
    /// Cools to `end`: on what it stands on, among its neighbours, and with the fan while that runs.
    pub(super) fn cool(&mut self, cool: &Cool, surroundings: &Surroundings, end: f64) -> Result<(), RunError> {
        if let Company::Conveyor(conveyor) = &cool.company {
            self.part.pose = conveyor.pose;
        }
        let (mut tool, covered) = match &cool.support {
            Some(support) => {
                let (tool, covered) = self.stand(support, surroundings)?;
                (Some(tool), covered)
            }
            None => (None, super::air::BARE),
        };
        let quiet = if tool.is_some() { "resting" } else { "air" };
        let start = self.part.solver.time_s();
        for (until, fan) in phases(cool.fan.as_ref(), start, end) {
            let now = fan.map_or(*surroundings, |fan| fan.on(surroundings));
            self.set_air_among(&now, &covered, &cool.company)?;
            self.advance(if fan.is_some() { "fan" } else { quiet }, until)?;
        }
        if let Some(tool) = &mut tool {
            self.note_tool(tool);
            self.recorder.moment(Moment::End, &self.part);
        }
        if let Some(tool) = tool {
            self.lift_off(tool, surroundings)?;
        }
        Ok(())
    }
}

/// From each start or stop of the fan to the next, with the fan where it runs. A stage cut short cuts it
/// short.
fn phases(fan: Option<&Fan>, start: f64, end: f64) -> Vec<(f64, Option<&Fan>)> {
    let mut phases = Vec::new();
    let mut from = start;
    if let Some(fan) = fan {
        let starts = (start + fan.from_s).min(end);
        let stops = fan.until_s.map_or(end, |s| (start + s).min(end));
        for (until, running) in [(starts, None), (stops, Some(fan))] {
            if until - from > 1e-9 {
                phases.push((until, running));
                from = until;
            }
        }
    }
    if end - from > 1e-9 || phases.is_empty() {
        phases.push((end, None));
    }
    phases
}

impl Fan {
    /// The surroundings while it runs.
    fn on(&self, surroundings: &Surroundings) -> Surroundings {
        Surroundings {
            air_speed_m_s: self.air_speed_m_s.unwrap_or(surroundings.air_speed_m_s),
            film_w_m2k: self.film_w_m2k,
            ..*surroundings
        }
    }
}
