//! Sections of the report made from the results of other layers.

pub mod planning;

use super::dossier::PartTable;

/// A table from heads and rows.
fn table(caption: &str, header: &[&str], rows: Vec<Vec<String>>) -> PartTable {
    PartTable {
        caption: caption.to_owned(),
        header: header.iter().map(|h| (*h).to_owned()).collect(),
        rows,
    }
}
