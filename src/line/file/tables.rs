//! Every table of the line file, each key declared once: type, unit, range, default with its reason, kinds, meaning.
//!
//! The check, the JSON Schema, the reference of keys, the messages and the list of inputs all come from here.

mod billet;
mod cool;
mod die;
mod heater;
mod stage;
mod study;

pub(crate) use billet::{RawBillet, RawLimit, RawScale, RawSection, RawShop};
pub(crate) use cool::{RawConveyor, RawFan, RawPile};
pub(crate) use die::{Ends, RawDie, RawGrip, RawSupport};
pub(crate) use heater::{HeaterKind, RawHeater, RawPoint, RawTarget, RawZone};
pub(crate) use stage::{Machine, RawRing, RawStage};
pub(crate) use study::{RawCorrelation, RawMove, RawScatter, RawStudy};

use toml::Spanned;

use super::metals::SteelRef;
use crate::line::plan::Resolution;
use crate::surface::Situation;
use crate::surface::contact::Coefficient;
use crate::text::{Choice, Usual, any, flag, table, text};

/// Temperatures that a part or tool may have: from a winter yard to above the melting point of iron.
const TEMPERATURE: (f64, f64) = (-50.0, 1600.0);
const SHARE: (f64, f64) = (0.0, 1.0);
const COEFFICIENT: (f64, f64) = (0.0, 1.0e6);
const SECONDS: (f64, f64) = (0.0, 1.0e6);
const SIZE_MM: (f64, f64) = (0.0, 5000.0);

/// Contact under own weight, scaled.
const RESTING: Coefficient = Situation::Resting.coefficient();
/// Contact of jaws and clamps.
const GRIPPED: Coefficient = Situation::Gripped.coefficient();
/// Contact under a blow or stroke, scaled and lubricated.
const BLOW: Coefficient = Situation::Blow.coefficient();
/// Contact in the flash land.
const FLASH: Coefficient = Situation::FlashLand.coefficient();
/// Across a small gap.
const GAP: Coefficient = Situation::Gap.coefficient();

/// The published spread of a coefficient.
const fn published(of: Coefficient) -> Usual {
    Usual {
        low: of.low,
        high: of.high,
        of: "the published spread",
        code: "unusual-coefficient",
    }
}

/// Under a blow or stroke: from scaled and lubricated to descaled with large surface growth.
const UNDER_A_BLOW: Usual = Usual {
    high: Situation::BlowClean.coefficient().high,
    ..published(BLOW)
};

table! {
    /// A line file: one part number on one line, from the heater to the conveyor.
    pub(crate) struct RawFile = "File";

    /// Title of the line file, shown on every report.
    title: String = text(10_000.0).required();
    /// Part number.
    part: String = text(200.0);
    /// Revision of this file.
    revision: String = text(200.0);
    /// Free remark.
    note: String = text(10_000.0);
    /// How finely to resolve the part.
    resolution: Choice<Resolution> = any();
    /// Whether the limits of the steel are judged too. Default: only when the file has no limit of its own.
    steel_limits: bool = flag();
    /// The billet: its metal and its size.
    billet: RawBillet = any().required();
    /// The shop around the part.
    shop: RawShop = any();
    /// How the billet gets hot.
    heater: RawHeater = any().required();
    /// Scale as a layer that insulates. Without it, contact coefficients hold the scale, and radiation
    /// leaves the metal itself.
    scale: RawScale = any();
    /// What holds for the dies of all stages that do not say otherwise.
    die: RawDie = any();
    /// What holds for all grips that do not say otherwise.
    grip: RawGrip = any();
    /// What holds for all supports that do not say otherwise.
    support: RawSupport = any();
    /// Cross-sections of a long part from the grip end on, each with its share of the mass.
    section: Vec<Spanned<RawSection>> = any();
    /// The stages from heater exit on, in order.
    stage: Vec<Spanned<RawStage>> = any().required();
    /// The limits to judge. Without any, those of the steel apply.
    limit: Vec<Spanned<RawLimit>> = any();
    /// What the planning commands vary and assume; read by them, not by a run.
    study: RawStudy = any();
}
