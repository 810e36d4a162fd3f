//! A row of coils, gaps and soak tunnels, with billets moving through end to end.

mod aims;
mod at_work;
mod billet;
mod channel;
mod column;
mod converter;
mod criteria;
mod gone;
mod layout;
mod order;
mod panel;
mod phase;
mod result;
mod shared;
mod shift;
mod steady;
mod study;
mod transition;

pub use channel::{Channel, Highest};
pub use column::{Column, Energies, Filling, Moment};
pub use converter::{Converter, Division, Reading};
pub use criteria::{Criteria, Target, Verdict};
pub use gone::Gone;
pub use layout::{HeaterLine, Motion, Zone, ZoneKind};
pub(crate) use layout::{lined, open_air};
pub use order::NextOrder;
pub use panel::{PANEL_W, proportional_powers, set};
pub use phase::{Feed, Phase};
pub use result::{Balance, CoilResult, ColderEnd, Exit, Steady, TrackPoint, ZoneLoss};
pub use shift::Shift;
pub use study::{
    HoldTime, Judged, StopMode, Study, hold_at_terminals, hold_powers, hold_time, one_among, run_out, standing_powers,
    start_empty, start_up, stoppage, takt_change,
};
pub use transition::{Course, Origin, Transition};
