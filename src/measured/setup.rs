//! A trial as it is run: its parts, what sets them, and what is compared.

use super::gather::BadRow;

/// A place and time that is compared.
#[derive(Debug, Clone, PartialEq)]
pub struct Slot {
    /// Index of the measurement.
    pub measurement: usize,
    /// Seconds of a curve after its moment.
    pub time_s: f64,
}

/// A part of a trial: what sets it and what is compared.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Name.
    pub name: String,
    /// Line of the first file.
    pub line: usize,
    /// Reading at the exit that sets it.
    pub exit: Option<f64>,
    /// Seconds of the stages that are measured, in the order of [`Setup::times`]; the usual ones where none were read.
    pub seconds: Vec<f64>,
    /// Whether they are the usual ones, none having been read.
    pub assumed: Vec<bool>,
    /// Slot, reading, line of its file.
    pub readings: Vec<(usize, f64, usize)>,
}

/// A trial as it is run.
#[derive(Debug, Clone)]
pub struct Setup {
    /// Name of the trial.
    pub trial: String,
    /// Index of its line.
    pub line: usize,
    /// Measurement that sets the exit temperature of each part.
    pub driver: Option<usize>,
    /// Paths of the seconds that are measured.
    pub times: Vec<String>,
    /// What is compared.
    pub slots: Vec<Slot>,
    /// Parts.
    pub parts: Vec<Part>,
    /// Rows of parts that cannot be run, each with the reason.
    pub not_run: Vec<BadRow>,
}
