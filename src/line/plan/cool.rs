//! Cooling after the last tool: alone, on a conveyor among its neighbours, or in a heap.

use super::support::{Pose, Support};

/// A stage of cooling.
#[derive(Debug, Clone)]
pub struct Cool {
    /// Length in s.
    pub seconds: f64,
    /// What the part stands or lies on; `None` where it is in free air.
    pub support: Option<Support>,
    /// Parts like it that are near.
    pub company: Company,
    /// Forced air during a part of the stage.
    pub fan: Option<Fan>,
}

impl Cool {
    /// Temperature of the belt, where the part is on one that is given its own, degC.
    #[must_use]
    pub fn belt_c(&self) -> Option<f64> {
        match &self.company {
            Company::Conveyor(conveyor) => conveyor.belt_c,
            Company::Alone | Company::Pile { .. } => None,
        }
    }
}

/// Parts of the same kind, equally hot, about the part that is followed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Company {
    /// None near.
    Alone,
    /// Neighbours on a conveyor.
    Conveyor(Conveyor),
    /// A basket or heap of them, all alike: what leaves the heap leaves its outside, and every part
    /// gives the mean of it.
    Pile {
        /// Share of the surface of all parts that the outside of the heap makes up.
        exposed_share: f64,
    },
}

/// What a part on a conveyor sees of the hall between its neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conveyor {
    /// How it stands.
    pub pose: Pose,
    /// View factor of the side past the neighbours.
    pub side_view: f64,
    /// View factor of the end faces of a lying part past the neighbours.
    pub end_view: f64,
    /// Temperature of the belt, which lower faces look at, degC; `None` for that of the surroundings.
    pub belt_c: Option<f64>,
}

/// Forced air during a part of a stage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fan {
    /// Speed of the air past the part, m/s; `None` where the film is given.
    pub air_speed_m_s: Option<f64>,
    /// Film coefficient meanwhile, W/m²K; `None` for the correlations at the speed.
    pub film_w_m2k: Option<f64>,
    /// When it starts after the start of the stage, s.
    pub from_s: f64,
    /// When it stops after the start of the stage, s; `None` at its end.
    pub until_s: Option<f64>,
}
