//! Induction heaters of a plan.

use std::sync::Arc;

use super::{Metal, Piece, Resolution, Section};
use crate::heater::coil::Drive;
use crate::heater::fixed::{FixedCoil, FixedResult, PowerStep};
use crate::heater::line::{Criteria, HeaterLine, Shift};
use crate::heater::ratings::Ratings;
use crate::heater::search::{Goal, Missed, SetPoints, find_powers_within, find_programme};
use crate::heater::{Bar, Fineness, HeaterError, Metal as HeaterMetal};

/// A row of coils with its settings.
#[derive(Debug, Clone, PartialEq)]
pub struct CoilLine {
    /// Zones, pace and motion.
    pub line: HeaterLine,
    /// How each channel is driven, a converter by its power; `None` where a search is to find it.
    pub settings: Vec<Option<Drive>>,
    /// Highest terminal power of each channel, W.
    pub highest_w: Vec<f64>,
    /// What coils and converters may carry.
    pub ratings: Ratings,
    /// Lowest and highest frequency that each converter gives, Hz.
    pub gives_hz: Vec<(f64, f64)>,
    /// Rise of the cooling water in the windings, K.
    pub water_rise_k: f64,
    /// Target, where given.
    pub goal: Option<Goal>,
    /// What the exit shows above what is computed, K: powers are found for a target less by it.
    pub exit_offset_k: f64,
    /// When a billet at the exit is good; follows from the target or the steel.
    pub criteria: Option<Criteria>,
    /// Power at the terminals over power from the mains.
    pub supply_efficiency: f64,
    /// Emissivity of the billets while heated, in place of the steel's.
    pub emissivity: Option<f64>,
}

/// A static coil with its programme.
#[derive(Debug, Clone, PartialEq)]
pub struct StaticCoil {
    /// Coil, charge and programme.
    pub set: FixedCoil,
    /// Power at the terminals over power from the mains.
    pub supply_efficiency: f64,
    /// Emissivity of the billets while heated, in place of the steel's.
    pub emissivity: Option<f64>,
    /// Never to be exceeded anywhere inside, degC.
    pub never_above_c: Option<f64>,
    /// Largest difference between surface and core at the end, K.
    pub difference_k: Option<f64>,
    /// Target, where given; without a programme it is found for it.
    pub goal: Option<Goal>,
    /// What the exit shows above what is computed, K: a programme is found for a target less by it.
    pub exit_offset_k: f64,
    /// Highest power at the terminals, W.
    pub highest_w: f64,
}

fn fineness(resolution: Resolution) -> Fineness {
    match resolution {
        Resolution::Quick => Fineness::quick(),
        Resolution::Standard => Fineness::standard(),
        Resolution::Fine => Fineness::fine(),
    }
}

/// Pieces of each billet that are followed through an indexed line.
fn slices(resolution: Resolution) -> usize {
    match resolution {
        Resolution::Quick => 1,
        Resolution::Standard => 3,
        Resolution::Fine => 7,
    }
}

fn bar(
    piece: &Piece,
    metal: &Metal,
    emissivity: Option<f64>,
    highest_hz: f64,
    resolution: Resolution,
) -> Result<Bar, HeaterError> {
    let metal = Arc::new(HeaterMetal::of(metal, emissivity)?);
    let fine = fineness(resolution);
    match piece.section {
        Section::Round { radius_m } => Bar::round(radius_m, metal, highest_hz, fine),
        Section::Square { side_m } => Bar::rectangle(side_m, side_m, metal, highest_hz, fine.in_two_axes()),
        Section::Rectangle { width_m, height_m } => {
            Bar::rectangle(width_m, height_m, metal, highest_hz, fine.in_two_axes())
        }
        Section::Plate { .. } => Err(HeaterError::Plate),
    }
}

impl CoilLine {
    /// The bar in this heater.
    pub fn bar(&self, piece: &Piece, metal: &Metal, resolution: Resolution) -> Result<Bar, HeaterError> {
        let highest = self.line.coils().map(|(_, c)| c.frequency_hz).fold(0.0, f64::max);
        bar(piece, metal, self.emissivity, highest, resolution)
    }

    /// Pieces of each billet that are followed at a resolution.
    pub fn slices(&self, resolution: Resolution) -> usize {
        slices(resolution)
    }

    /// The heater as it is computed: what the exit shows more is taken off its target and gate.
    pub fn as_computed(&self, exit_offset_k: f64) -> CoilLine {
        CoilLine {
            goal: self.goal.map(|goal| goal.shifted(-exit_offset_k)),
            criteria: self.criteria.map(|criteria| criteria.shifted(-exit_offset_k)),
            exit_offset_k: 0.0,
            ..self.clone()
        }
    }

    fn aim(&self) -> Result<Goal, HeaterError> {
        let goal = self.goal.ok_or(HeaterError::NoGoal)?;
        Ok(goal.shifted(-self.exit_offset_k))
    }

    /// Whether every channel has a setting.
    pub fn is_set(&self) -> bool {
        self.settings.iter().all(Option::is_some)
    }

    /// Searches the powers for the target, from the settings given where there are any.
    pub fn search(&self, bar: &Bar, resolution: Resolution) -> Result<SetPoints, HeaterError> {
        let start: Option<Vec<f64>> = self.settings.iter().map(|s| s.and_then(Drive::terminals_w)).collect();
        self.search_on(&self.line, bar, start.as_deref(), slices(resolution))
    }

    /// Searches the powers for the target on another line of the same coils, as at another pace.
    pub fn search_on(
        &self,
        line: &HeaterLine,
        bar: &Bar,
        start_w: Option<&[f64]>,
        slices: usize,
    ) -> Result<SetPoints, HeaterError> {
        let goal = self.aim()?;
        let lowest = vec![0.0; self.highest_w.len()];
        let ranges = (lowest.as_slice(), self.highest_w.as_slice());
        find_powers_within(line, bar, &goal, ranges, start_w, slices, &self.ratings)
    }

    /// Whether some powers are given and the others are to be found.
    pub fn is_partly_set(&self) -> bool {
        !self.is_set() && self.settings.iter().any(Option::is_some)
    }

    /// Searches the powers that are not given for the target; those given stay.
    pub fn search_missing(&self, bar: &Bar, resolution: Resolution) -> Result<SetPoints, HeaterError> {
        let goal = self.aim()?;
        let given = self.settings.iter().map(|s| s.and_then(Drive::terminals_w));
        let ranges = given.zip(&self.highest_w).map(|(given, highest)| match given {
            Some(power) => (power, power),
            None => (0.0, *highest),
        });
        let (lowest, highest): (Vec<f64>, Vec<f64>) = ranges.unzip();
        let ranges = (lowest.as_slice(), highest.as_slice());
        find_powers_within(&self.line, bar, &goal, ranges, None, slices(resolution), &self.ratings)
    }

    /// The drives of the coils: as set; where some or all are missing, those are found for the target.
    pub fn drives(&self, bar: &Bar, resolution: Resolution) -> Result<Vec<Drive>, HeaterError> {
        let set: Option<Vec<Drive>> = self.settings.iter().copied().collect();
        match set {
            Some(settings) => Ok(self.line.spread(&settings)),
            None => Ok(self.line.at_powers(&self.search_missing(bar, resolution)?.powers_w)),
        }
    }
}

impl StaticCoil {
    /// What of the target an exit as shown misses: beyond the gate about it.
    pub fn missed(&self, result: &FixedResult) -> Vec<Missed> {
        self.goal.map_or(Vec::new(), |goal| {
            goal.missed_by(&result.exit.nodes(), result.exit.peak_c)
        })
    }

    /// The coil with its programme, as given or as found for the target, and what it gives.
    pub fn heat(&self, bar: &Bar) -> Result<(FixedCoil, FixedResult), HeaterError> {
        if !self.set.steps.is_empty() {
            return Ok((self.set.clone(), self.set.heat(bar)?));
        }
        let goal = self.goal.ok_or(HeaterError::NoGoal)?.shifted(-self.exit_offset_k);
        let found = find_programme(&self.set, bar, &goal, self.highest_w)?;
        let step = |&(seconds, power_w): &(f64, f64)| PowerStep {
            seconds,
            drive: Drive::Terminals(power_w),
        };
        let set = FixedCoil {
            steps: found.steps.iter().map(step).collect(),
            ..self.set.clone()
        };
        Ok((set, found.result))
    }

    /// The coil with its programme and what it gives, as shown with the offset of the exit.
    pub fn shown(&self, bar: &Bar, exit_offset_k: f64) -> Result<(FixedCoil, FixedResult), HeaterError> {
        let (set, mut result) = self.heat(bar)?;
        let shift = Shift::new(exit_offset_k, set.start_c, result.exit.mean_c);
        shift.track(&mut result.track);
        shift.exit(&mut result.exit);
        Ok((set, result))
    }

    /// The bar in this coil.
    pub fn bar(&self, piece: &Piece, metal: &Metal, resolution: Resolution) -> Result<Bar, HeaterError> {
        bar(piece, metal, self.emissivity, self.set.coil.frequency_hz, resolution)
    }
}
