//! What a part stands or lies on.

use super::piece::Metal;
use crate::conduction::DeepEnd;

/// How the part stands on what is under it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pose {
    /// Bar axis upright, on the gripped-end face.
    Standing,
    /// Bar axis level, on the side face.
    Lying,
}

/// What a part rests on.
#[derive(Debug, Clone)]
pub struct Support {
    /// Which face touches it.
    pub pose: Pose,
    /// Share of that face in contact (of the whole side face when lying).
    pub share: f64,
    /// A stepped part touches by its lowest ring alone: a standing part whose share the file does not give.
    pub lowest: bool,
    /// Temperature of the support at the start, degC.
    pub bulk_c: f64,
    /// Contact coefficient, W/m²K.
    pub contact_w_m2k: f64,
    /// Metal of the support.
    pub metal: Metal,
    /// Thickness of the support behind the contact, m.
    pub depth_m: f64,
    /// What is behind that thickness.
    pub back: DeepEnd,
}
