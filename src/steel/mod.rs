//! Steels and other forging metals: property curves, enthalpy, limits, flow stress, grades.

mod thermal;

pub use thermal::{Branch, ThermalTable};
