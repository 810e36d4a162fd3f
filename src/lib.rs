//! How hot a forging is from the heater to the last tool, and how long each step may take.
//!
//! The crate follows one workpiece through a forge line: heating, hand-overs, impressions with
//! their blows, trimming and cooling. It is built in layers; a layer imports only from those
//! listed before it:
//!
//! | layer | what it knows |
//! |---|---|
//! | [`units`] | constants, temperature scales, metric and US display |
//! | [`steel`] | property curves, enthalpy tables, limits, flow stress, the grade library |
//! | [`body`] | axes, grids, shapes, nodes, reshaping from one shape to the next |
//! | [`conduction`] | the transient solver and its energy ledger; it knows nothing of forging |
//! | [`surface`] | radiation, convection, contact and spray laws at a face |
//! | [`heater`] | eddy currents, coils, lining, a column of billets, furnaces |
//! | [`die`] | die columns behind each face, spray, warm-up over many parts |
//! | [`mod@line`] | the line file, its stages, and the run that gives a trace |
//! | [`judge`] | limits, verdicts and warnings |
//! | [`condition`] | what the history did to the metal |
//! | [`ask`] | working backwards: delays, moves, exit band, scatter |
//! | [`output`] | writing results: a set of files as a whole, or nothing of it |
//! | [`show`] | blocks, units and words, and their renderers: terminal, HTML, CSV |
//! | [`report`] | tables, CSV, JSON, SVG and HTML |
//! | [`cli`] | the `billet` command |
#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod ask;
pub mod body;
#[cfg(feature = "command")]
pub mod cli;
pub mod condition;
pub mod conduction;
pub mod die;
pub mod heater;
pub mod judge;
pub mod line;
mod numeric;
pub mod output;
#[cfg(feature = "command")]
pub mod report;
#[cfg(feature = "command")]
pub mod show;
pub mod steel;
pub mod surface;
mod text;
pub mod units;
