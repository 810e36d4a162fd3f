//! How long a press holds the part: contact time from the stroke.

use std::f64::consts::PI;

use thiserror::Error;

/// How the ram moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stroke {
    /// A crank or eccentric press: the ram goes h(θ) = (s/2)(1 − cos θ) above its lowest point. A
    /// connecting rod that is not long against the crank shortens the time by about λ/2, 5 % at
    /// λ = 0.1.
    Mechanical {
        /// Full stroke, m.
        stroke_m: f64,
        /// Strokes per minute of a running press.
        per_minute: f64,
    },
    /// A screw press or hammer that stops at constant force: the mean speed is half the first.
    Screw {
        /// Speed at first contact, m/s.
        speed_m_s: f64,
    },
    /// A hydraulic press at constant speed.
    Hydraulic {
        /// Speed, m/s.
        speed_m_s: f64,
    },
}

/// A squeeze that the stroke cannot make.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error("a squeeze of {squeeze_mm} mm does not fit into a stroke of {stroke_mm} mm")]
pub struct StrokeTooShort {
    /// Squeeze, mm.
    pub squeeze_mm: f64,
    /// Stroke, mm.
    pub stroke_mm: f64,
}

/// Time from first contact to the end of the stroke \[s\] when the part is squeezed by `squeeze_m`;
/// after that the ram leaves it.
///
/// # Errors
/// A squeeze longer than the stroke of a mechanical press.
///
/// ```
/// use billet_thermal::inside::die::stroke::{Stroke, contact_s};
/// // 300 mm stroke at 80 a minute: the last 20 mm take 0.0623 s (calculated from the formula).
/// let crank = Stroke::Mechanical { stroke_m: 0.3, per_minute: 80.0 };
/// assert!((contact_s(&crank, 0.02)? - 0.0623).abs() < 5e-4);
/// assert!((contact_s(&Stroke::Screw { speed_m_s: 0.8 }, 0.02)? - 0.05).abs() < 1e-12);
/// # Ok::<(), billet_thermal::inside::die::stroke::StrokeTooShort>(())
/// ```
pub fn contact_s(stroke: &Stroke, squeeze_m: f64) -> Result<f64, StrokeTooShort> {
    match stroke {
        Stroke::Mechanical { stroke_m, per_minute } => {
            if squeeze_m > *stroke_m {
                return Err(StrokeTooShort {
                    squeeze_mm: squeeze_m * 1e3,
                    stroke_mm: stroke_m * 1e3,
                });
            }
            let angle = (1.0 - 2.0 * squeeze_m / stroke_m).acos();
            Ok(angle / (2.0 * PI) * 60.0 / per_minute)
        }
        Stroke::Screw { speed_m_s } => Ok(2.0 * squeeze_m / speed_m_s),
        Stroke::Hydraulic { speed_m_s } => Ok(squeeze_m / speed_m_s),
    }
}
