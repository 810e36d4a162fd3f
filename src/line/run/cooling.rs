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

#[cfg(test)]
mod tests {
    use super::*;

    /// Phases are those of a fan that runs for a part of the stage; one that starts with it has no phase before it, and
    /// one that is cut short none after it.
    #[test]
    fn a_stage_is_cut_where_the_fan_starts_and_stops() {
        let of = |from_s: f64, until_s: Option<f64>| {
            let fan = Fan {
                air_speed_m_s: Some(3.0),
                film_w_m2k: None,
                from_s,
                until_s,
            };
            let cut = phases(Some(&fan), 10.0, 70.0);
            cut.iter().map(|(end, fan)| (*end, fan.is_some())).collect::<Vec<_>>()
        };
        assert_eq!(of(20.0, Some(40.0)), [(30.0, false), (50.0, true), (70.0, false)]);
        assert_eq!(of(0.0, Some(40.0)), [(50.0, true), (70.0, false)]);
        assert_eq!(of(0.0, None), [(70.0, true)]);
        assert_eq!(of(80.0, Some(90.0)), [(70.0, false)]);
        assert_eq!(phases(None, 10.0, 70.0).len(), 1);
        assert_eq!(phases(None, 10.0, 10.0).len(), 1);
    }
}
