//! Warm-up: many parts on the same dies.
//!
//! Part after part runs through the stages of the line; every die, jaw and support keeps its heat,
//! is sprayed, blown off and left in air until the next part comes one takt later. The answers:
//! from which part on all limits hold, the state that repeats in the end, what preheat would make
//! the first part good, what a break does, and whether a face gets above the tempering limit of
//! its steel.
//!
//! A die is a block of steel ([`DieBlock`](crate::die::DieBlock)): from its face down to `depth_mm`, where it is joined to a
//! holder that keeps its temperature, and beside the part. Heat spreads sideways in it, so what counts is the
//! size of the contact more than the depth, and small contacts fall again for hours after their faces have
//! risen for some dozens of parts.

mod answers;
mod options;
mod pipeline;
mod preheat;
mod result;
mod shift;

pub use options::{WarmupError, WarmupOptions};
pub use result::{AfterBreak, DieFace, DieName, FromHot, Preheat, Steady, WARMUP_SCHEMA, WarmPart, Warmup, WorstLimit};

use super::plan::Plan;
use shift::Shift;

/// Runs a warm-up.
///
/// # Errors
/// A plan without dies or takt, times that do not fit, or a failed computation.
pub fn warmup(plan: &Plan, options: &WarmupOptions) -> Result<Warmup, WarmupError> {
    let within = |what, value: f64, unit, low: f64, high: f64| {
        if value >= low && value <= high {
            Ok(())
        } else {
            Err(WarmupError::OutOfRange {
                what,
                value,
                unit,
                low,
                high,
            })
        }
    };
    if options.parts < 1 || options.parts > 10_000 {
        return Err(WarmupError::Parts { parts: options.parts });
    }
    for minutes in &options.breaks_min {
        within("a break", *minutes, "min", 0.0, 10_000.0)?;
    }
    if let Some(preheat_c) = options.preheat_c {
        within("a preheat", preheat_c, "degC", -50.0, 1000.0)?;
    }
    let shift = Shift::new(plan, options)?;
    answers::all(&shift, options)
}
