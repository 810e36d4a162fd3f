//! What a warm-up gives.

use serde::Serialize;

use crate::judge::{Moment, Warning};
use crate::line::trace::InputRecord;

/// Version of the JSON layout of a [`Warmup`].
pub const WARMUP_SCHEMA: u32 = 1;

/// Many parts on the same dies.
#[derive(Debug, Clone, Serialize)]
pub struct Warmup {
    /// Layout version.
    pub schema_version: u32,
    /// Version of the program.
    pub program: String,
    /// Title of the line file.
    pub title: String,
    /// `quick`, `standard` or `fine`.
    pub resolution: String,
    /// Time from part to part, s.
    pub takt_s: f64,
    /// The tools, in the order of every list of faces.
    pub dies: Vec<DieName>,
    /// The parts from the start of the shift.
    pub parts: Vec<WarmPart>,
    /// First part from which on all limits hold; `None` when the last part breaks one.
    pub first_good: Option<u32>,
    /// The state that repeats.
    pub steady: Option<Steady>,
    /// What preheat does for the first part.
    pub preheat: Option<Preheat>,
    /// What breaks do.
    pub breaks: Vec<AfterBreak>,
    /// Warnings: faces above the tempering limit, and those of the check.
    pub warnings: Vec<Warning>,
    /// Every input that counted, with its owner.
    pub inputs: Vec<InputRecord>,
}

/// A tool that warms up.
#[derive(Debug, Clone, Serialize)]
pub struct DieName {
    /// Stage name.
    pub stage: String,
    /// `lower die`, `upper die`, `die walls`, `jaws at free end`, ...
    pub body: String,
    /// Temperature at the start of the shift, degC.
    pub start_c: f64,
    /// Time without a part in each takt, s.
    pub idle_s: f64,
    /// Depth of a couple under the face, mm; jaws have none.
    pub couple_mm: Option<f64>,
    /// Tempering limit of its steel, degC; only dies have one.
    pub tempering_c: Option<f64>,
}

/// Temperatures of one tool round one part \[degC\], and its heat.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DieFace {
    /// Mean by area when the part comes.
    pub before_c: f64,
    /// Hottest place when the part comes.
    pub before_hottest_c: f64,
    /// Hottest place while the part is there.
    pub peak_c: f64,
    /// Mean by area when the part has left.
    pub after_c: f64,
    /// Mean through the depth when the part has left.
    pub through_c: f64,
    /// Mean under the face at the depth of the couple when the part has left, see [`DieName::couple_mm`].
    pub couple_c: Option<f64>,
    /// Heat that the part gave it, kJ.
    pub heat_kj: f64,
}

/// One part of the shift.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WarmPart {
    /// Number, from 1.
    pub number: u32,
    /// Whether all limits hold.
    pub good: bool,
    /// The limit with the least margin.
    pub worst: Option<WorstLimit>,
    /// Margin of every verdict, K.
    #[serde(skip)]
    pub margins_k: Vec<f64>,
    /// Faces, one a tool.
    pub faces: Vec<DieFace>,
}

/// The limit with the least margin.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WorstLimit {
    /// Number of the limit, from 1.
    pub limit: usize,
    /// Stage of the worst moment.
    pub stage: String,
    /// Moment.
    pub moment: Moment,
    /// Node.
    pub node: String,
    /// Value there, degC (K for a difference).
    pub value: f64,
    /// Distance to the limit in K, positive when it holds.
    pub margin_k: f64,
}

/// The state that repeats from part to part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Steady {
    /// The part in that state; its number is 0.
    pub part: WarmPart,
    /// Parts computed to find it.
    pub evaluations: usize,
    /// Largest change of any die cell over one takt, K.
    pub residual_k: f64,
    /// Largest distance of any die cell from the state that repeats, K, as a cheap copy of the dies tells
    /// that is followed from here until it rests.
    pub distance_k: f64,
    /// Whether the distance met its tolerance of 0.3 K.
    pub converged: bool,
    /// First part of the shift whose faces are within 5 K of it. Beyond the parts that were computed the
    /// copy tells.
    pub near_from: u32,
    /// Where dies that start hot end, when they are sprayed by the law that falls as a face gets too hot to
    /// wet.
    pub from_hot: Option<FromHot>,
}

/// The state that repeats for dies that start at their tempering limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FromHot {
    /// Temperature at the start, degC.
    pub start_c: f64,
    /// Largest distance of any die cell from the state that dies reach as they start, K.
    pub apart_k: f64,
    /// Whether it is the same state (2 K).
    pub same: bool,
    /// The part in that state; its number is 0.
    pub part: WarmPart,
    /// Parts computed to find it.
    pub evaluations: usize,
    /// Whether it was found to 0.3 K.
    pub converged: bool,
}

/// What preheat does for the first part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Preheat {
    /// Least die temperature at the start with which the first part is good, degC.
    pub needed_c: Option<f64>,
    /// Highest die temperature up to which it stays good, degC; `None` where that is the highest tried.
    pub most_c: Option<f64>,
    /// The limit that breaks one degree above.
    pub too_hot: Option<WorstLimit>,
    /// Lowest temperature tried, degC: that of the shop.
    pub tried_from_c: f64,
    /// Highest temperature tried, degC: the lowest tempering limit of the dies.
    pub tried_to_c: f64,
    /// The limit that decides at the needed preheat, or at the one that comes nearest to a good part.
    pub worst: Option<WorstLimit>,
    /// What 100 K of preheat are worth to the limit that decides for the first part as the dies start, K.
    pub gain_k_per_100_k: f64,
}

/// What a break from steady work does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AfterBreak {
    /// Length, min.
    pub minutes: f64,
    /// Parts after it, up to the first good one (at most as many as the shift has).
    pub parts: Vec<WarmPart>,
    /// Number of the first good part after it.
    pub first_good: Option<u32>,
}
