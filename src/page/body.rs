//! What a page may send.

use serde::Deserialize;
use std::collections::BTreeMap;

use super::line::Changes;

/// Longest body, bytes.
pub(super) const LONGEST: usize = 64 * 1024;
/// Most changed numbers.
const MOST: usize = 400;
/// Longest path of an input, and longest name of a page.
const LONGEST_NAME: usize = 300;

/// A request.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Body {
    /// Name that a page gives itself; a newer question of it takes the place of an older one that waits.
    pub page: String,
    /// Changed numbers.
    changes: BTreeMap<String, f64>,
    /// Those of the pinned variant.
    pinned: Option<BTreeMap<String, f64>>,
    /// Whether the answer is to be that of the file's own resolution.
    pub settle: bool,
    /// Which section map is shown.
    pub map: Option<usize>,
    /// What a panel is about.
    pub panel: String,
    /// Samples of a scatter study.
    pub samples: Option<u64>,
    /// Number of a piece of work.
    pub work: u64,
}

impl Body {
    /// Reads a body.
    ///
    /// # Errors
    /// Why it is none.
    pub fn read(bytes: &[u8]) -> Result<Body, String> {
        let body: Body = serde_json::from_slice(bytes).map_err(|error| format!("not a question: {error}"))?;
        let lists = [Some(&body.changes), body.pinned.as_ref()];
        for list in lists.into_iter().flatten() {
            if list.len() > MOST {
                return Err(format!("{} changes are too many, most are {MOST}", list.len()));
            }
            if list.keys().any(|path| path.chars().count() > LONGEST_NAME) {
                return Err("a path is too long".to_owned());
            }
        }
        if body.page.len() > LONGEST_NAME || body.panel.len() > LONGEST_NAME {
            return Err("a name is too long".to_owned());
        }
        Ok(body)
    }

    /// The changed numbers in the order of their paths.
    pub fn changes(&self) -> Changes {
        self.changes.clone().into_iter().collect()
    }

    /// Those of the pinned variant.
    pub fn pinned(&self) -> Option<Changes> {
        self.pinned.clone().map(|pinned| pinned.into_iter().collect())
    }
}
