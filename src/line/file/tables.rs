//! Every table of the line file, each key declared once: type, unit, range, default with its reason, kinds, meaning.
//!
//! The check, the JSON Schema, the reference of keys, the messages and the list of inputs all come from here.

mod billet;
mod cool;
mod die;
mod heater;
mod measurement;
mod ranges;
mod stage;
mod study;

pub(crate) use billet::{RawBillet, RawLimit, RawScale, RawSection, RawShop};
pub(crate) use cool::{RawConveyor, RawPile};
pub(crate) use die::{Ends, RawDie, RawGrip, RawSupport};
pub(crate) use heater::{HeaterKind, RawConverter, RawHeater, RawPoint, RawTarget, RawZone, Share};
pub(crate) use measurement::{RawInstrument, RawMeasurement, RawUnknown};
pub(crate) use stage::{Machine, RawRing, RawStage};
pub(crate) use study::{RawCorrelation, RawMove, RawScatter, RawStudy};

use toml::Spanned;

use crate::line::plan::Resolution;
use crate::text::{Choice, any, flag, table, text};

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
    /// Whether the limits of the steel are judged too. Default: only when the file has no limit of
    /// its own; but the never-exceed temperature then too, where the file does not say how hot the part may be.
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
    /// Calibration file that `billet fit` wrote, relative to this one: its numbers stand for those of this file.
    calibration: String = text(1000.0);
    /// Instruments of the shop.
    instrument: Vec<Spanned<RawInstrument>> = any();
    /// What the shop measured; read by the commands that compare and fit, not by a run.
    measurement: Vec<Spanned<RawMeasurement>> = any();
    /// What is fitted to the measurements.
    unknown: Vec<Spanned<RawUnknown>> = any();
}
