//! Verdicts of runs made so far, so that the same question asked by several answers is run once.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use crate::judge::{StageSpan, Verdict};
use crate::line::plan::Resolution;

/// What a run came to.
pub(crate) type Came = (Vec<Verdict>, Vec<StageSpan>);

/// A run: the resolution, and the numbers that differ from the file, bit by bit.
type Key = (Resolution, Vec<(String, u64)>);

/// Verdicts of the runs of one line file; copies share them.
#[derive(Debug, Clone, Default)]
pub(crate) struct RunCache(Arc<Mutex<HashMap<Key, Came>>>);

/// Most runs kept: searches come back to what they ran, studies of thousands of samples do not.
const MOST_KEPT: usize = 2000;

impl RunCache {
    /// The run with these numbers, where it was made.
    pub fn of(&self, resolution: Resolution, changes: &[(&str, f64)]) -> Option<Came> {
        // A panic while the lock is held leaves a map that is whole, so a poisoned lock is as good.
        let runs = self.0.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        runs.get(&key(resolution, changes)).cloned()
    }

    /// Keeps a run.
    pub fn keep(&self, resolution: Resolution, changes: &[(&str, f64)], came: &Came) {
        let mut runs = self.0.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        if runs.len() < MOST_KEPT {
            runs.insert(key(resolution, changes), came.clone());
        }
    }
}

fn key(resolution: Resolution, changes: &[(&str, f64)]) -> Key {
    let bits = changes
        .iter()
        .map(|(path, value)| ((*path).to_owned(), value.to_bits()));
    (resolution, bits.collect())
}
