//! What a run gives: samples, moments, section maps, ledger, verdicts and warnings.

use ndarray::{Array1, Array2};
use serde::Serialize;

pub use super::plan::InputRecord;
use super::plan::Resolution;
use crate::judge::{Moment, Verdict, Warning};
pub use crate::judge::{Owner, Reading, StageSpan};

/// Version of the JSON result layout; raised when a key changes meaning or goes away.
pub const RESULT_SCHEMA: u32 = 1;

/// One part followed through one line.
#[derive(Debug, Clone, Serialize)]
pub struct Trace {
    /// Layout version of this result.
    pub schema_version: u32,
    /// Version of the program that made it.
    pub program: String,
    /// Title of the line file.
    pub title: String,
    /// Name of the metal.
    pub steel: String,
    /// How finely it was run.
    pub resolution: Resolution,
    /// Mass of the part before trimming, kg (per metre of length for a section without ends).
    pub mass_kg: f64,
    /// Node names; the columns of every sample, e.g. `core`, `surface`, `flash.mean`.
    pub nodes: Vec<String>,
    /// Stages in order, with their times.
    pub stages: Vec<StageSpan>,
    /// Temperatures over time.
    pub samples: Vec<Sample>,
    /// Temperatures at the named moments (stage start and end, each blow).
    pub moments: Vec<Reading>,
    /// Section maps at heater exit, first blow, last blow and trim.
    pub maps: Vec<SectionMap>,
    /// Die faces and other bodies in contact, one record a stage that has them.
    pub dies: Vec<DieRecord>,
    /// How much of the bar is too cold towards its ends, at each moment up to the first new shape.
    pub ends: Vec<ColdEnds>,
    /// The scale on the part at the end of each stage and before each blow; empty where it is not followed.
    pub scale: Vec<ScaleRecord>,
    /// Where the heat went, phase by phase: each blow, each time lying, each time in air.
    pub bill: Vec<HeatEntry>,
    /// Energy by name.
    pub ledger: Ledger,
    /// One verdict per limit.
    pub verdicts: Vec<Verdict>,
    /// Warnings (extrapolated property, unusual coefficient, ...).
    pub warnings: Vec<Warning>,
    /// Every input that counted, with its owner.
    pub inputs: Vec<InputRecord>,
    /// Work done by the solver.
    pub work: Work,
}

impl Trace {
    /// Column of a node, by its name.
    pub fn node(&self, name: &str) -> Option<usize> {
        self.nodes.iter().position(|node| node == name)
    }

    /// Temperature of a node at a moment of a stage, degC; stage by name, `heater` for the exit. First and last blow
    /// are those of the stage. `None` where there is no such moment, or the part has no such node then.
    pub fn at(&self, stage: &str, moment: Moment, node: &str) -> Option<f64> {
        let column = self.node(node)?;
        let stage = self.stages.iter().position(|span| span.name == stage)?;
        let mut readings = self.moments.iter().filter(|reading| reading.stage == stage);
        let reading = match moment {
            Moment::FirstBlow => readings.find(|reading| reading.moment.is_blow()),
            Moment::LastBlow => readings.rfind(|reading| reading.moment.is_blow()),
            moment => readings.find(|reading| reading.moment == moment),
        }?;
        reading.temps_c.get(column).copied().flatten()
    }

    /// Times of the samples in s after heater exit \[sample\].
    pub fn times_s(&self) -> Array1<f64> {
        self.samples.iter().map(|sample| sample.time_s).collect()
    }

    /// Temperatures of the samples in degC \[sample, node\]; not a number where the part has no such node.
    pub fn temperatures_c(&self) -> Array2<f64> {
        Array2::from_shape_fn((self.samples.len(), self.nodes.len()), |(sample, node)| {
            let value = self.samples[sample].temps_c.get(node).copied().flatten();
            value.unwrap_or(f64::NAN)
        })
    }

    /// Whether every judged limit holds; true of none.
    pub fn holds(&self) -> bool {
        self.verdicts.iter().all(|verdict| verdict.holds)
    }

    /// The verdict with the least margin in K.
    pub fn limiting(&self) -> Option<&Verdict> {
        self.verdicts.iter().min_by(|a, b| a.margin_k.total_cmp(&b.margin_k))
    }
}

/// Node temperatures at one time.
#[derive(Debug, Clone, Serialize)]
pub struct Sample {
    /// Time in s after heater exit.
    pub time_s: f64,
    /// Index into [`Trace::stages`].
    pub stage: usize,
    /// One temperature in degC per node; `None` where the shape of the moment has no such node.
    pub temps_c: Vec<Option<f64>>,
}

/// Temperatures over the section at a moment, for pictures. Rectangular cells on two axes.
#[derive(Debug, Clone, Serialize)]
pub struct SectionMap {
    /// What moment it is, in words.
    pub title: String,
    /// Index into [`Trace::stages`].
    pub stage: usize,
    /// Time in s after heater exit.
    pub time_s: f64,
    /// Name and faces (m) of the axis drawn across (`radius`, `x`).
    pub across: MapAxis,
    /// Name and faces (m) of the axis drawn up (`height`, `y`); empty faces for a radial-only grid.
    pub up: MapAxis,
    /// Row-major by height, then across, temperatures in degC; `None` outside the part.
    pub temps_c: Vec<Option<f64>>,
    /// Row-major zone index into `zones`, where the shape has zones.
    pub zone: Vec<Option<u16>>,
    /// Zone names.
    pub zones: Vec<String>,
}

/// One axis of a section map.
#[derive(Debug, Clone, Serialize)]
pub struct MapAxis {
    /// Name for the label.
    pub name: String,
    /// Cell faces in m.
    pub faces_m: Vec<f64>,
}

/// Temperatures of the tool faces in one stage.
#[derive(Debug, Clone, Serialize)]
pub struct DieRecord {
    /// Index into [`Trace::stages`].
    pub stage: usize,
    /// `lower die`, `upper die`, `jaw`, `support`.
    pub body: String,
    /// Area-mean face temperature at the start of the stage, degC.
    pub face_start_c: f64,
    /// Highest face temperature of any column during the stage, degC.
    pub face_peak_c: f64,
    /// Area-mean face temperature at the end of the stage, degC.
    pub face_end_c: f64,
    /// Heat taken from the part, kJ.
    pub heat_kj: f64,
    /// Heat of friction set free in the tool's own face, kJ.
    pub friction_kj: f64,
}

/// Length of bar colder than a temperature in the half of each end, at a moment.
#[derive(Debug, Clone, Serialize)]
pub struct ColdEnds {
    /// Index into [`Trace::stages`].
    pub stage: usize,
    /// Moment, as in [`Reading::moment`].
    #[serde(rename = "label")]
    pub moment: Moment,
    /// Time in s after heater exit.
    pub time_s: f64,
    /// The temperature, degC.
    pub below_c: f64,
    /// At the gripped end, on the side face, mm.
    pub grip_end_surface_mm: f64,
    /// At the gripped end, in the mean over the section, mm.
    pub grip_end_mean_mm: f64,
    /// At the free end, on the side face, mm.
    pub free_end_surface_mm: f64,
    /// At the free end, in the mean over the section, mm.
    pub free_end_mean_mm: f64,
}

/// Scale on the part at a moment, where the line file follows it.
#[derive(Debug, Clone, Serialize)]
pub struct ScaleRecord {
    /// Index into [`Trace::stages`].
    pub stage: usize,
    /// Moment, as in [`Reading::moment`]; before a blow it is what the blow meets.
    #[serde(rename = "label")]
    pub moment: Moment,
    /// Time in s after heater exit.
    pub time_s: f64,
    /// Mean thickness on the faces that look down (or at the gripped end), um.
    pub lower_um: f64,
    /// Mean thickness on the faces that look up (or at the free end), um.
    pub upper_um: f64,
    /// Mean thickness on the side, um.
    pub side_um: f64,
    /// How much colder the outside of the scale on the free side is than the metal, K: what a pyrometer
    /// reads too little.
    pub outside_colder_k: f64,
}

/// Heat of the part over one phase of a stage.
#[derive(Debug, Clone, Serialize)]
pub struct HeatEntry {
    /// Index into [`Trace::stages`].
    pub stage: usize,
    /// `blow 1`, `lying between`, `pressed on`, `lifted`, `air`, `resting`, ...
    pub phase: String,
    /// Start in s after heater exit.
    pub start_s: f64,
    /// Length in s.
    pub seconds: f64,
    /// Energy by name in kJ, gains positive.
    pub flows: Vec<HeatFlow>,
    /// Change of each zone; conduction between zones is part of it.
    pub zones: Vec<ZoneHeat>,
}

/// A named energy of a phase.
#[derive(Debug, Clone, Serialize)]
pub struct HeatFlow {
    /// Name as in the ledger.
    pub name: String,
    /// Energy in kJ, gains positive.
    pub energy_kj: f64,
}

/// What a phase did to one zone.
#[derive(Debug, Clone, Serialize)]
pub struct ZoneHeat {
    /// Zone name.
    pub zone: String,
    /// Mass in kg.
    pub mass_kg: f64,
    /// Change of its stored heat, kJ.
    pub change_kj: f64,
    /// Change of its mean temperature, K.
    pub mean_change_k: f64,
}

/// Energy by name, in kJ for the whole part. Gains are positive, losses negative.
#[derive(Debug, Clone, Serialize)]
pub struct Ledger {
    /// Entries in the order of first appearance.
    pub entries: Vec<LedgerEntry>,
    /// Enthalpy of the part now minus at the start, kJ.
    pub stored_kj: f64,
    /// (stored − sum of entries) over the sum of the entries' magnitudes.
    pub imbalance: f64,
}

/// One named input or loss of one stage.
#[derive(Debug, Clone, Serialize)]
pub struct LedgerEntry {
    /// Index into [`Trace::stages`].
    pub stage: usize,
    /// Name: `radiation and convection`, `lower die`, `jaws`, `deformation`, ...
    pub name: String,
    /// Energy in kJ.
    pub energy_kj: f64,
}

/// Counters of the solver.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub struct Work {
    /// Accepted steps.
    pub steps: u64,
    /// Rejected steps.
    pub rejected: u64,
    /// Evaluations of the right-hand side.
    pub evaluations: u64,
    /// Line solves (one axis over the whole grid counts one).
    pub line_solves: u64,
    /// Most cells of any grid used, tool columns included.
    pub cells: usize,
}
