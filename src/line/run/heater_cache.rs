//! Heated states computed so far, so that the many runs of a line that differ only behind the heater compute it once.

use std::sync::{Arc, Mutex};

use crate::heater::HeaterError;
use crate::heater::line::{Exit, TrackPoint};
use crate::line::plan::{CoilLine, Metal, Piece, Plan, Resolution};

/// What a computed heater hands to the line.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Heated {
    /// The billet as it leaves.
    pub exit: Exit,
    /// Its way through the heater at mid-length.
    pub track: Vec<TrackPoint>,
    /// Power at the terminals, W.
    pub terminals_w: f64,
}

/// Heated states, kept by whoever makes runs; copies share them. One counts only for the very inputs that it was
/// computed from.
#[derive(Debug, Clone, Default)]
pub struct HeaterCache(Arc<Mutex<Vec<Entry>>>);

#[derive(Debug)]
struct Entry {
    heater: CoilLine,
    piece: Piece,
    metal: Metal,
    resolution: Resolution,
    heated: Arc<Heated>,
}

/// Most heated states kept.
const MOST_KEPT: usize = 8;

impl HeaterCache {
    /// Takes in a state of the coil line of a plan that was computed elsewhere.
    #[cfg(feature = "command")]
    pub(crate) fn know(&self, heater: &CoilLine, plan: &Plan, resolution: Resolution, heated: Heated) {
        let mut entries = self.0.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        entries.insert(
            0,
            Entry {
                heater: heater.clone(),
                piece: plan.piece,
                metal: Arc::clone(&plan.metal),
                resolution,
                heated: Arc::new(heated),
            },
        );
        entries.truncate(MOST_KEPT);
    }

    /// The billet of a plan as a coil line gives it, computed once for the same inputs.
    pub(crate) fn heated(
        &self,
        heater: &CoilLine,
        plan: &Plan,
        resolution: Resolution,
    ) -> Result<Arc<Heated>, HeaterError> {
        // A panic while the lock is held leaves a list that is whole, so a poisoned lock is as good.
        let lock = || self.0.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        let same = |e: &&Entry| {
            e.resolution == resolution
                && e.piece == plan.piece
                && Arc::ptr_eq(&e.metal, &plan.metal)
                && e.heater == *heater
        };
        if let Some(entry) = lock().iter().find(same) {
            return Ok(Arc::clone(&entry.heated));
        }
        let bar = heater.bar(&plan.piece, &plan.metal, resolution)?;
        let drives = heater.drives(&bar, resolution)?;
        let steady = heater.line.steady(&bar, &drives, heater.slices(resolution))?;
        let heated = Arc::new(Heated {
            exit: steady.exit,
            track: steady.track,
            terminals_w: steady.balance.terminals_w,
        });
        let mut list = lock();
        if list.len() >= MOST_KEPT {
            list.remove(0);
        }
        list.push(Entry {
            heater: heater.clone(),
            piece: plan.piece,
            metal: Arc::clone(&plan.metal),
            resolution,
            heated: Arc::clone(&heated),
        });
        Ok(heated)
    }
}
