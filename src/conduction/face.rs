//! The balance of one face: half a cell of conduction against the law of the face.

use super::law::ExchangeNow;
use crate::steel::Branch;

/// Newton iterations of a face balance; it converges quadratically from the last value.
const FACE_ITERATIONS: usize = 30;

/// Change of the face at which its balance has settled, K: the next one would be smaller by the
/// change of slope between two table intervals, a hundredth or less, and the flux that is given is that after
/// the change.
const FACE_CHANGE_K: f64 = 1e-2;

/// The balance of one face: where its iteration stands, to be carried on from.
#[derive(Debug, Clone, Copy)]
pub(super) struct FaceState {
    /// Enthalpy of the face, J/kg.
    pub h: f64,
    /// Potential of the cell behind it at the last balance, W/m.
    potential: f64,
    /// Change of the face's enthalpy with the cell's potential.
    gain: f64,
}

impl FaceState {
    /// A face as warm as its cell.
    pub fn at_rest(h: f64) -> FaceState {
        FaceState {
            h,
            potential: 0.0,
            gain: 0.0,
        }
    }

    /// Where the face is expected for another potential of its cell.
    #[inline]
    fn expected(&self, potential: f64) -> f64 {
        self.h + self.gain * (potential - self.potential)
    }
}

/// Solves (Θ_cell − Θ(h_face))/depth = q(T(h_face)) for the face enthalpy. Returns it with the
/// flux out [W/m²] and its slope dq/dΘ_cell [1/m].
#[inline]
pub(super) fn face_balance(
    branch: &Branch,
    potential: f64,
    depth: f64,
    law: &ExchangeNow<'_>,
    start: &FaceState,
) -> (FaceState, f64, f64) {
    let g = 1.0 / depth;
    let mut h = start.expected(potential);
    let mut last = (0.0, 0.0);
    let mut gain = 0.0;
    for _ in 0..FACE_ITERATIONS {
        let s = branch.at(h);
        let (q, dq) = law.at(s.temp_c);
        let conducted = g * (potential - s.potential);
        let slope_h = dq * s.dtemp_dh;
        let per_total = 1.0 / (g * s.dpotential_dh + slope_h);
        let change = (conducted - q) * per_total;
        h += change;
        gain = g * per_total;
        // The flux at the new point, linear in the change: conducted = q there.
        last = (q + slope_h * change, slope_h * gain);
        if (change * s.dtemp_dh).abs() < FACE_CHANGE_K {
            break;
        }
    }
    (FaceState { h, potential, gain }, last.0, last.1)
}
