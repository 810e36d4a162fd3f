//! Results looked at last, so that a pinned variant or a panel is not worked out twice.

use std::collections::VecDeque;
use std::sync::Mutex;

/// Most results kept.
const MOST: usize = 12;

/// Results by the changes that they are of.
pub(super) struct Kept<T>(Mutex<VecDeque<(Vec<(String, u64)>, T)>>);

impl<T> Default for Kept<T> {
    fn default() -> Self {
        Kept(Mutex::default())
    }
}

impl<T: Clone> Kept<T> {
    /// The result, worked out where it is not known. Two who ask at once may both work it out.
    pub fn get_or<E>(&self, changes: &[(String, f64)], make: impl FnOnce() -> Result<T, E>) -> Result<T, E> {
        let key: Vec<(String, u64)> = changes
            .iter()
            .map(|(path, value)| (path.clone(), value.to_bits()))
            .collect();
        let find = || {
            let list = self.0.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
            list.iter()
                .find(|(known, _)| *known == key)
                .map(|(_, result)| result.clone())
        };
        if let Some(known) = find() {
            return Ok(known);
        }
        let made = make()?;
        let mut list = self.0.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        list.push_front((key, made.clone()));
        list.truncate(MOST);
        Ok(made)
    }
}
