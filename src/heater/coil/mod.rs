//! A coil: what it loses itself, and the field it makes from the power at its terminals.

mod circuit;
mod drive;
mod short;
mod winding;

pub use circuit::{Circuit, Electrical, Load, long_coil_efficiency};
pub use drive::Drive;
pub use short::{nagaoka, short_coil_factor};
pub use winding::{Coil, copper_resistivity};
