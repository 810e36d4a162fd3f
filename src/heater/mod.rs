//! The heater: eddy currents in the section, coils and linings around it, and what moves through.
//!
//! | module | what it knows |
//! |---|---|
//! | [`field`] | the harmonic eddy-current problem in a section, and its heat |
//! | [`coil`] | a coil's losses, efficiency, power factor, short-coil correction |
//! | [`mod@line`] | a row of coils with its column of billets: periodic state, start-up, stoppage |
//! | [`fixed`] | billets in a static coil, by a programme of power and time |
//! | [`energy`] | where the energy goes, down to the tonne of good billets |
//! | [`search`] | the powers that hit a target |
//! | [`ratings`] | what coils and converters may carry, and what of it is passed |
//! | [`lining`] | heat from the billet through a refractory lining, and from open ends |
//!
//! Field strengths and current densities are RMS values throughout; the phasor convention is
//! exp(+jωt).

pub mod advice;
mod bar;
pub mod coil;
pub mod energy;
mod error;
pub mod field;
pub mod fixed;
pub mod line;
pub mod lining;
mod metal;
pub mod ratings;
pub(crate) mod scaling;
pub mod search;
mod section_field;
mod slice;

pub use bar::{Bar, BarField, Fineness};
pub use error::HeaterError;
pub use metal::{Metal, Permeability};
pub use section_field::SectionField;
pub use slice::{Nodes, Slice, State};
