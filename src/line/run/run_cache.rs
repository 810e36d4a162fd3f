//! Verdicts of runs made so far, so that the same question asked by several answers is run once.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard};

use crate::judge::{StageSpan, Verdict};
use crate::line::plan::Resolution;

/// What a run came to.
pub(crate) type Came = (Vec<Verdict>, Vec<StageSpan>);

/// A run: the resolution, the limits that it is judged by where they are not those of the file, and the numbers that differ
/// from the file, bit by bit.
type Key = (Resolution, String, Vec<(String, u64)>);

/// Verdicts of the runs of one line file; copies share them.
#[derive(Debug, Clone, Default)]
pub(crate) struct RunCache(Arc<Mutex<Runs>>);

#[derive(Debug, Default)]
struct Runs {
    kept: HashMap<Key, Came>,
    /// Runs made, quick ones and all others.
    made: (usize, usize),
}

/// Most runs kept: searches come back to what they ran, studies of thousands of samples do not.
const MOST_KEPT: usize = 2000;

impl RunCache {
    // A panic while the lock is held leaves a map that is whole, so a poisoned lock is as good.
    fn runs(&self) -> MutexGuard<'_, Runs> {
        self.0.lock().unwrap_or_else(|poisoned| poisoned.into_inner())
    }

    /// The run with these numbers, where it was made.
    pub fn of(&self, resolution: Resolution, judged_by: &str, changes: &[(&str, f64)]) -> Option<Came> {
        self.runs().kept.get(&key(resolution, judged_by, changes)).cloned()
    }

    /// Keeps a run.
    pub fn keep(&self, resolution: Resolution, judged_by: &str, changes: &[(&str, f64)], came: &Came) {
        let mut runs = self.runs();
        let made = &mut runs.made;
        *(if resolution == Resolution::Quick {
            &mut made.0
        } else {
            &mut made.1
        }) += 1;
        if runs.kept.len() < MOST_KEPT {
            runs.kept.insert(key(resolution, judged_by, changes), came.clone());
        }
    }

    /// Runs made so far: on the quick grid, and on any other.
    pub fn made(&self) -> (usize, usize) {
        self.runs().made
    }
}

fn key(resolution: Resolution, judged_by: &str, changes: &[(&str, f64)]) -> Key {
    let bits = changes
        .iter()
        .map(|(path, value)| ((*path).to_owned(), value.to_bits()));
    (resolution, judged_by.to_owned(), bits.collect())
}
