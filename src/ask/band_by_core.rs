//! Bands of the exit temperature with the core at other distances from the surface.

use rayon::prelude::*;

use super::band::{Band, BandOptions, exit_band};
use super::failure::Failure;
use super::model::{Change, ExitInputs, Handover, Model, ModelError, Outcome, Probe};
use super::risk::GuardLine;
use crate::judge::Limit;
use crate::line::plan::Input;

/// Distances of the core below the surface, K.
const DIFFERENCES_K: [f64; 4] = [0.0, 20.0, 40.0, 60.0];

/// Path of the input that sets the core against the surface.
const BELOW: &str = "heater.core_below_surface_k";

/// The band for each of some distances of the core below the surface; empty where the line does not set
/// the core apart.
///
/// # Errors
/// As [`exit_band`].
pub fn bands_by_core(model: &dyn Model, options: &BandOptions) -> Result<Vec<(f64, Band)>, Failure> {
    let Some(exit) = model.exit_inputs() else {
        return Ok(Vec::new());
    };
    let of = |difference: f64| -> Result<Option<(f64, Band)>, Failure> {
        let bare = GuardLine::default();
        if model.number(BELOW).is_ok() {
            let fixed = [Change::new(BELOW, difference)];
            return Ok(Some((difference, exit_band(model, None, &fixed, &bare, options)?)));
        }
        let Some((path, core_c)) = &exit.core else {
            return Ok(None);
        };
        let at_c = exit.surface.1 - difference;
        let moved = WithCore {
            line: model,
            exit: ExitInputs {
                surface: exit.surface.clone(),
                base_c: exit.base_c,
                core: Some((path.clone(), at_c)),
            },
            shift: Change::new(path.clone(), at_c),
            nominal_core_c: *core_c,
        };
        Ok(Some((difference, exit_band(&moved, None, &[], &bare, options)?)))
    };
    let found: Vec<Result<Option<(f64, Band)>, Failure>> = DIFFERENCES_K.par_iter().map(|d| of(*d)).collect();
    let mut bands = Vec::new();
    for band in found {
        bands.extend(band?);
    }
    Ok(bands)
}

/// A line whose core stands at another distance from the surface.
struct WithCore<'a> {
    line: &'a dyn Model,
    exit: ExitInputs,
    shift: Change,
    nominal_core_c: f64,
}

impl WithCore<'_> {
    /// Without a change of the core of its own, the core goes to its new distance.
    fn moved(&self, changes: &[Change]) -> Vec<Change> {
        let mut all = changes.to_vec();
        if !all.iter().any(|c| c.path == self.shift.path) && self.shift.value != self.nominal_core_c {
            all.push(self.shift.clone());
        }
        all
    }
}

impl Model for WithCore<'_> {
    fn inputs(&self) -> &[Input] {
        self.line.inputs()
    }

    fn limits(&self) -> &[Limit] {
        self.line.limits()
    }

    fn handovers(&self) -> &[Handover] {
        self.line.handovers()
    }

    fn exit_inputs(&self) -> Option<&ExitInputs> {
        Some(&self.exit)
    }

    fn steel_exit_c(&self) -> Option<f64> {
        self.line.steel_exit_c()
    }

    fn run(&self, changes: &[Change]) -> Result<Outcome, ModelError> {
        self.line.run(&self.moved(changes))
    }

    fn probe(&self, changes: &[Change], probe: &Probe) -> Result<f64, ModelError> {
        self.line.probe(&self.moved(changes), probe)
    }
}
