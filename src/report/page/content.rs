//! What stands on the first page of a sheet.

use super::wall::Wall;

/// All texts of the first page.
pub(super) struct Content {
    /// Title, what kind of page it is.
    pub title: String,
    /// Part, revision and so on.
    pub facts: Vec<(&'static str, String)>,
    /// Whether every limit holds; a sheet that is not released gives no times and has nobody to release it.
    pub released: bool,
    /// The verdict.
    pub verdict: String,
    /// Settings by name, and whether one of them is a default.
    pub settings: Vec<(String, String)>,
    pub starred: bool,
    /// Limits, times, what to know of them.
    pub limits: Wall,
    pub times: Option<Wall>,
    pub notes: Vec<String>,
    /// What to do, and what to beware of.
    pub reactions: Vec<String>,
    pub cautions: Vec<String>,
}
