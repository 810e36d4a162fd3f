//! Steels and other forging metals: property curves, enthalpy, limits, flow stress, grades.
//!
//! A [`Steel`] comes from the [`Library`] or from the user's own TOML by the same reader. Every number
//! carries its source and its owner.

mod check;
mod check_flow;
mod composition;
mod cooling;
mod curve;
mod embedded;
pub mod en1993;
mod error;
mod expansion;
mod flow_stress;
mod formula;
mod grade;
mod input;
mod library;
mod limits;
mod magnetic;
mod open;
mod read;
mod thermal;

pub use composition::Composition;
pub use curve::{Curve, Law, Provenance};
pub use error::SteelError;
pub use flow_stress::{
    FlowLaw, FlowRange, FlowStress, HenselSpittel, OutOfRange, misaka_mean_pa, shida_pa, shida_transformation,
};
pub use formula::{CONVERGENCE_C, FORMULAS, Formula, Property, carbon_conductivity};
pub use grade::{PropertyInfo, Steel};
pub(crate) use input::SteelInput;
pub use library::{GradeSummary, Library};
pub use limits::{ProcessLimits, Sourced};
pub use magnetic::{Magnetic, spontaneous_share};
pub(crate) use read::from_input;
pub use thermal::{Branch, State, ThermalTable};
