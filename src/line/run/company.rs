//! What faces see among parts of their kind.

use crate::body::{Layout, Skin};
use crate::conduction::Exchange;
use crate::line::plan::{Company, Conveyor, Pose};
use crate::surface::shading::in_enclosure;
use crate::units::{celsius, kelvin};

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
