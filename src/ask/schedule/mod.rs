//! Who does what when: activities of devices within one takt.

mod chart;
mod share;

pub use chart::{Activity, Chart, Conflict, DeviceUse, Interruption, Placed, ScheduleError, chart};
pub use share::{ShareRule, share_total};
