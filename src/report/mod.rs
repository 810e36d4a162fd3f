//! Tables, CSV, JSON, pictures and pages from results.
//!
//! Nothing here calculates temperatures: everything is drawn or written from a
//! [`Trace`](crate::line::Trace) and the results of planning. The same input gives the same bytes.

pub mod accuracy;
pub mod band;
pub mod bill;
pub mod certainty;
pub mod check;
pub mod compare;
pub mod csv;
pub mod decision;
mod dossier;
pub(crate) mod ends;
pub mod fit;
pub mod heater;
mod history;
pub mod inputs;
pub mod json;
pub(crate) mod layer;
mod limits;
mod map;
pub mod measured;
pub mod metal;
pub mod moves;
mod page;
#[cfg(feature = "png")]
pub mod png;
pub mod scatter;
mod sections;
pub mod sensitivities;
pub mod shapes;
pub mod shift;
pub mod sorting;
pub mod steels;
pub mod stops;
pub mod times;
mod verdict;
pub mod warmup;

pub use crate::output::{OutFile, write_file, write_set};
pub use crate::show::{Language, Side, View, number};
pub use dossier::{DelayRow, Dossier};
pub use history::{Span, history, history_chart, history_svg};
pub use map::{common_range, heat_map, map_svg, section};
pub use page::{Paper, blocks_html, report_html, sheet_html};
pub use sections::{heat as where_heat_went, warnings};
pub use verdict::{
    answer, blocks, headline, limiting, moments, sentence, sentences, tables as limit_tables, verdict_text,
};

/// Why results could not be written.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReportError {
    /// A result holds a number that no file can carry.
    #[error("{name}, row {row}: {value} is not a finite number, so the result is not written")]
    NotFinite {
        /// Column or field.
        name: String,
        /// Row, from 0.
        row: usize,
        /// The value.
        value: f64,
    },
    /// A picture could not be drawn as PNG.
    #[error("cannot draw {name}: {why}")]
    Picture {
        /// Name of the picture.
        name: String,
        /// What the renderer said.
        why: String,
    },
    /// Text could not be encoded.
    #[error("cannot encode the result: {0}")]
    Text(String),
}
