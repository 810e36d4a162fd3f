//! What can be wrong with a heater.

use thiserror::Error;

/// A heater that cannot be, or a computation that failed. Every message carries the numbers.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum HeaterError {
    /// A number outside what is physically possible.
    #[error("{name} = {value}: {allowed}")]
    OutOfRange {
        /// What the number is, with its unit.
        name: &'static str,
        /// The value given.
        value: f64,
        /// What is allowed, in words.
        allowed: &'static str,
    },
    /// The billet does not fit into the coil's clear bore.
    #[error("billet of {billet_mm:.1} mm does not fit into a clear bore of {bore_mm:.1} mm")]
    TooLarge {
        /// Diameter (or diagonal) of the section in mm.
        billet_mm: f64,
        /// Clear bore in mm.
        bore_mm: f64,
    },
    /// Grid faces or nodes that do not increase, or lists of different length.
    #[error("grid {name}: {problem}")]
    BadGrid {
        /// Which grid.
        name: &'static str,
        /// What is wrong with it.
        problem: String,
    },
    /// A steel that cannot be heated by induction for lack of data.
    #[error("steel {steel} has no electrical resistivity; an induction heater needs it")]
    NoResistivity {
        /// Name of the steel.
        steel: String,
    },
    /// A target that the never-exceed limit excludes.
    #[error("target {target_c} degC is not below the never-exceed limit {never_above_c} degC")]
    GoalAboveLimit {
        /// The target, degC.
        target_c: f64,
        /// The limit, degC.
        never_above_c: f64,
    },
    /// Another order that cannot go through this heater.
    #[error(
        "the other line has another heater: {what} must be the same; only billets, takt, powers and target may differ"
    )]
    OtherHeater {
        /// What is different.
        what: &'static str,
    },
    /// Coil lines and static coils take bars.
    #[error(
        "coils follow round and rectangular bars; a plate has no width to go round, give its exit state as measured"
    )]
    Plate,
    /// A coil without power, and no target to find it for.
    #[error("a coil has no power, and there is no [heater.target] to find it for")]
    NoGoal,
    /// A heater line without any coil.
    #[error("a heater line needs at least one coil")]
    NoCoil,
    /// Power settings do not match the coils.
    #[error("{coils} coils, but {drives} power settings")]
    Drives {
        /// Coils of the line.
        coils: usize,
        /// Settings given.
        drives: usize,
    },
    /// Coils of one converter with settings of their own, or a common setting for a coil on none.
    #[error("the coils of {name} hang on one converter and need one and the same setting")]
    NotCommon {
        /// Name of the converter or coil.
        name: String,
    },
    /// The coils of a converter did not settle at its power.
    #[error(
        "the coils of {name} did not settle at its power in {iterations} iterations (last miss {residual:.2e} of it)"
    )]
    ConverterNotSettled {
        /// Name of the converter.
        name: String,
        /// Iterations made.
        iterations: usize,
        /// Last relative miss.
        residual: f64,
    },
    /// The field of a coil did not settle at the power prescribed.
    #[error(
        "the field of the {frequency_hz} Hz coil did not settle in {iterations} iterations (last change {residual:.2e})"
    )]
    CoilNotSettled {
        /// Frequency in Hz.
        frequency_hz: f64,
        /// Iterations made.
        iterations: usize,
        /// Last relative change of H².
        residual: f64,
    },
    /// A grid that cannot be.
    #[error(transparent)]
    Grid(#[from] crate::body::GridError),
    /// The conduction solver stopped.
    #[error("heating of the billet: {0}")]
    Conduction(#[from] crate::conduction::SolveError),
    /// The surface laws refused a number.
    #[error(transparent)]
    Surface(#[from] crate::surface::SurfaceError),
    /// The permeability iteration below the Curie point did not settle.
    #[error(
        "field at {frequency_hz} Hz and {field_a_m:.4e} A/m did not converge in {iterations} iterations (residual {residual:.2e})"
    )]
    FieldNotConverged {
        /// Frequency in Hz.
        frequency_hz: f64,
        /// Surface field strength in A/m RMS.
        field_a_m: f64,
        /// Iterations made.
        iterations: usize,
        /// Last relative change of the surface impedance.
        residual: f64,
    },
}

/// Accepts a finite number above zero.
pub(crate) fn positive(name: &'static str, value: f64) -> Result<f64, HeaterError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(HeaterError::OutOfRange {
            name,
            value,
            allowed: "must be a number above 0",
        })
    }
}

/// Accepts a finite number not below zero.
pub(crate) fn not_negative(name: &'static str, value: f64) -> Result<f64, HeaterError> {
    if value.is_finite() && value >= 0.0 {
        Ok(value)
    } else {
        Err(HeaterError::OutOfRange {
            name,
            value,
            allowed: "must be a number not below 0",
        })
    }
}

/// Accepts a number from 0 to 1.
pub(crate) fn share(name: &'static str, value: f64) -> Result<f64, HeaterError> {
    if (0.0..=1.0).contains(&value) {
        Ok(value)
    } else {
        Err(HeaterError::OutOfRange {
            name,
            value,
            allowed: "must be 0 to 1",
        })
    }
}

/// Accepts a number above 0 and up to 1.
pub(crate) fn fraction(name: &'static str, value: f64) -> Result<f64, HeaterError> {
    if value > 0.0 && value <= 1.0 {
        Ok(value)
    } else {
        Err(HeaterError::OutOfRange {
            name,
            value,
            allowed: "must be above 0 and at most 1",
        })
    }
}
