//! Induction heaters of a plan.

use std::sync::{Arc, Mutex};

use super::{Metal, Piece, Resolution, Section};
use crate::heater::coil::Drive;
use crate::heater::fixed::FixedCoil;
use crate::heater::line::{Criteria, Exit, HeaterLine, TrackPoint};
use crate::heater::search::{Goal, SetPoints, find_powers};
use crate::heater::{Bar, Fineness, HeaterError, Metal as HeaterMetal};

/// A row of coils with its settings.
#[derive(Debug, Clone, PartialEq)]
pub struct CoilLine {
    /// Zones, pace and motion.
    pub line: HeaterLine,
    /// How each coil is driven; `None` where a search is to find it.
    pub settings: Vec<Option<Drive>>,
    /// Highest terminal power of each coil, W.
    pub highest_w: Vec<f64>,
    /// Target, where given.
    pub goal: Option<Goal>,
    /// When a billet at the exit is good; follows from the target or the steel.
    pub criteria: Option<Criteria>,
    /// Power at the terminals over power from the mains.
    pub supply_efficiency: f64,
    /// Emissivity of the billets while heated, in place of the steel's.
    pub emissivity: Option<f64>,
    /// Heated states computed so far.
    pub kept: Kept,
}

/// What a computed heater hands to the line.
#[derive(Debug, Clone, PartialEq)]
pub struct Heated {
    /// The billet as it leaves.
    pub exit: Exit,
    /// Its way through the heater at mid-length.
    pub track: Vec<TrackPoint>,
}

/// Heated states computed for a plan, kept so that the many runs of a plan that differ only behind
/// the heater compute it once. An entry counts only for the very inputs it was computed from.
#[derive(Debug, Clone, Default)]
pub struct Kept(Arc<Mutex<Vec<Entry>>>);

#[derive(Debug)]
struct Entry {
    heater: CoilLine,
    piece: Piece,
    metal: Metal,
    resolution: Resolution,
    heated: Arc<Heated>,
}

/// Most heated states kept for one plan.
const MOST_KEPT: usize = 8;

impl PartialEq for Kept {
    /// What is kept says nothing about the heater.
    fn eq(&self, _other: &Kept) -> bool {
        true
    }
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

    /// The billet as the line gets it, computed once for the same inputs.
    pub fn heated(&self, piece: &Piece, metal: &Metal, resolution: Resolution) -> Result<Arc<Heated>, HeaterError> {
        let same = |e: &&Entry| {
            e.resolution == resolution && e.piece == *piece && Arc::ptr_eq(&e.metal, metal) && e.heater == *self
        };
        if let Some(entry) = self
            .kept
            .0
            .lock()
            .ok()
            .as_deref()
            .and_then(|list| list.iter().find(same))
        {
            return Ok(Arc::clone(&entry.heated));
        }
        let bar = self.bar(piece, metal, resolution)?;
        let drives = self.drives(&bar, resolution)?;
        let steady = self.line.steady(&bar, &drives, slices(resolution))?;
        let heated = Arc::new(Heated {
            exit: steady.exit,
            track: steady.track,
        });
        if let Ok(mut list) = self.kept.0.lock() {
            if list.len() >= MOST_KEPT {
                list.remove(0);
            }
            list.push(Entry {
                heater: CoilLine {
                    kept: Kept::default(),
                    ..self.clone()
                },
                piece: *piece,
                metal: Arc::clone(metal),
                resolution,
                heated: Arc::clone(&heated),
            });
        }
        Ok(heated)
    }

    /// Shares what is kept with another coil line, whose plan differs from this one's by some numbers.
    pub fn keep_with(&mut self, other: &CoilLine) {
        self.kept = other.kept.clone();
    }

    /// Whether every coil has a setting.
    pub fn is_set(&self) -> bool {
        self.settings.iter().all(Option::is_some)
    }

    /// Searches the powers for the target, from the settings given where there are any.
    pub fn search(&self, bar: &Bar, resolution: Resolution) -> Result<SetPoints, HeaterError> {
        let goal = self.goal.ok_or(HeaterError::NoGoal)?;
        let start: Option<Vec<f64>> = self
            .settings
            .iter()
            .map(|s| match s {
                Some(Drive::Terminals(p)) => Some(*p),
                _ => None,
            })
            .collect();
        find_powers(
            &self.line,
            bar,
            &goal,
            &self.highest_w,
            start.as_deref(),
            slices(resolution),
        )
    }

    /// The drives: as set, or as found for the target where any is missing.
    pub fn drives(&self, bar: &Bar, resolution: Resolution) -> Result<Vec<Drive>, HeaterError> {
        let set: Option<Vec<Drive>> = self.settings.iter().copied().collect();
        match set {
            Some(drives) => Ok(drives),
            None => {
                let found = self.search(bar, resolution)?;
                Ok(found.powers_w.into_iter().map(Drive::Terminals).collect())
            }
        }
    }
}

impl StaticCoil {
    /// The bar in this coil.
    pub fn bar(&self, piece: &Piece, metal: &Metal, resolution: Resolution) -> Result<Bar, HeaterError> {
        bar(piece, metal, self.emissivity, self.set.coil.frequency_hz, resolution)
    }
}
