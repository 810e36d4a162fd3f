//! A row of coils, gaps and soak tunnels, with billets moving through end to end.

mod at_work;
mod channel;
mod column;
mod converter;
mod layout;
mod result;
mod shared;
mod steady;
mod study;
mod transition;

pub use channel::{Channel, Highest};
pub use column::{Column, Energies, Filling, Gone, Moment, Phase};
pub use converter::{Converter, Division, Reading};
pub use layout::{HeaterLine, Motion, Zone, ZoneKind};
pub(crate) use layout::{lined, open_air};
pub use result::{Balance, CoilResult, ColderEnd, Exit, Steady, TrackPoint, ZoneLoss};
pub use study::{
    Criteria, HoldTime, Judged, StopMode, Study, Target, Verdict, hold_at_terminals, hold_powers, hold_time, run_out,
    standing_powers, start_empty, start_up, stoppage, takt_change,
};
pub use transition::{Course, Origin, Transition, proportional_powers};
