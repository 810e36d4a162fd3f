//! Cooling: what faces see among parts of their kind, and the phases of a fan.

use super::{RunError, Runner};
use crate::body::{Layout, Skin};
use crate::conduction::Exchange;
use crate::judge::Moment;
use crate::line::plan::{Company, Conveyor, Cool, Fan, Pose, Surroundings};
use crate::surface::shading::in_enclosure;
use crate::units::{celsius, kelvin};

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

/// The exchange of a face in company: the share of its view that is left, with the emissivity that an
/// enclosure of equal surfaces acts with; in a heap the air, too, reaches only its outside.
pub(super) fn among(company: &Company, (skin, layout): (Skin, Layout), free: Exchange, hall_c: f64) -> Exchange {
    match company {
        Company::Alone => free,
        Company::Pile { exposed_share } => Exchange {
            film: free.film.map(|h| exposed_share * h),
            ..past(free, *exposed_share)
        },
        Company::Conveyor(conveyor) => {
            let (open, down) = conveyor.outlook(skin, layout);
            let walls_c = conveyor.belt_c.map_or(hall_c, |belt_c| {
                let fourth = (1.0 - down) * kelvin(hall_c).powi(4) + down * kelvin(belt_c).powi(4);
                celsius(fourth.sqrt().sqrt())
            });
            Exchange {
                radiant_c: walls_c.into(),
                ..past(free, open)
            }
        }
    }
}

/// A view of which `open` goes past surfaces that are equal to the face.
fn past(free: Exchange, open: f64) -> Exchange {
    if open == 1.0 {
        return free;
    }
    Exchange {
        emissivity: free.emissivity.map(|e| in_enclosure(e, open)),
        view: free.view * open,
        ..free
    }
}

impl Conveyor {
    /// View past the neighbours from a skin, and the share of it that looks down at the belt: all of
    /// a lower face's, half of an upright or round one's.
    fn outlook(&self, skin: Skin, layout: Layout) -> (f64, f64) {
        let level = self.pose == Pose::Standing || layout == Layout::Strips;
        match skin {
            Skin::Bottom if level => (1.0, 1.0),
            Skin::Top if level => (1.0, 0.0),
            Skin::Bottom | Skin::Top => (self.end_view, 0.5),
            Skin::Bore => (1.0, 0.5),
            Skin::Side | Skin::GripLow | Skin::GripHigh | Skin::Wall => (self.side_view, 0.5),
        }
    }
}
