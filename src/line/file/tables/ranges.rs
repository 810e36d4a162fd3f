//! Ranges and usual values that several tables share.

use crate::surface::Situation;
use crate::surface::contact::Coefficient;
use crate::text::Usual;

/// Temperatures that a part or tool may have: from a winter yard to above the melting point of iron.
pub(super) const TEMPERATURE: (f64, f64) = (-50.0, 1600.0);
pub(super) const SHARE: (f64, f64) = (0.0, 1.0);
pub(super) const COEFFICIENT: (f64, f64) = (0.0, 1.0e6);
pub(super) const SECONDS: (f64, f64) = (0.0, 1.0e6);
pub(super) const SIZE_MM: (f64, f64) = (0.0, 5000.0);

/// Contact under own weight, scaled.
pub(super) const RESTING: Coefficient = Situation::Resting.coefficient();
/// Contact of jaws and clamps.
pub(super) const GRIPPED: Coefficient = Situation::Gripped.coefficient();
/// Contact under a blow or stroke, scaled and lubricated.
pub(super) const BLOW: Coefficient = Situation::Blow.coefficient();
/// Contact in the flash land.
pub(super) const FLASH: Coefficient = Situation::FlashLand.coefficient();
/// Across a small gap.
pub(super) const GAP: Coefficient = Situation::Gap.coefficient();

/// The published spread of a coefficient.
pub(super) const fn published(of: Coefficient) -> Usual {
    Usual {
        low: of.low,
        high: of.high,
        of: "the published spread",
        code: "unusual-coefficient",
    }
}

/// Under a blow or stroke: from scaled and lubricated to descaled with large surface growth.
pub(super) const UNDER_A_BLOW: Usual = Usual {
    high: Situation::BlowClean.coefficient().high,
    ..published(BLOW)
};
