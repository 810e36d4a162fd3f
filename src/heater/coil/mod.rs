//! A coil: what it loses itself, and the field it makes from the power at its terminals.

mod circuit;
mod short;
mod winding;

pub use circuit::{Circuit, Electrical, Load, long_coil_efficiency};
pub use short::{nagaoka, short_coil_factor};
pub use winding::{Coil, Drive, copper_resistivity};
