//! A row of coils, gaps and soak tunnels, with billets moving through end to end.

mod layout;
mod result;
mod steady;

pub use layout::{HeaterLine, Motion, Zone, ZoneKind};
pub use result::{Balance, CoilResult, Exit, Steady, TrackPoint, ZoneLoss};
