//! Who does what when: activities of devices within one takt.

mod chart;
mod share;

pub use chart::{Activity, Chart, Conflict, DeviceUse, Interruption, Placed, ScheduleError, Task, chart};
pub use share::{ShareRule, share_total};
