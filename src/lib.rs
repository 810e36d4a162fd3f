//! How hot a forging is from the heater to the last tool, and how long each step may take.
//!
//! The crate follows one workpiece through a forge line: heating, hand-overs, impressions with
//! their blows, trimming and cooling. Load a line, run it, read it:
//!
//! ```
//! use billet_thermal::{Line, Moment, RunOptions};
//!
//! let line = Line::load("examples/hub.toml")?;
//! let trace = line.trace(&RunOptions::default())?;
//! let skin_c = trace.at("heater", Moment::Exit, "surface");
//! assert_eq!(skin_c.map(f64::round), Some(1240.0));
//! for verdict in &trace.verdicts {
//!     println!("{} {}: margin {:.0} K", verdict.limit.node, verdict.moment, verdict.margin_k);
//! }
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! or ask it how long a hand-over may take:
//!
//! ```
//! use billet_thermal::{Enquiry, Line, Resolution};
//!
//! let enquiry = Enquiry::new(Line::load("examples/flange.toml")?, Some(Resolution::Quick))?;
//! for times in enquiry.judged()?.times()? {
//!     println!("{}: latest {:?} s", times.stage, times.stated().latest().map(|edge| edge.seconds));
//! }
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! [`conduction`] is a product of its own: transient conduction on any product of up to three axes, with [`body`],
//! [`steel`] and [`surface`] to feed it, and no word of forging.
//!
//! # Layers
//!
//! A layer imports only from those listed before it. The names at the root are what a user of the crate needs of the
//! layers that are not public.
//!
//! | layer | what it knows |
//! |---|---|
//! | [`units`] | constants, temperature scales, metric and US display |
//! | `text`, `numeric` | tables and keys of files; root searches, special functions, singular values |
//! | [`steel`] | property curves, enthalpy tables, limits, flow stress, the grade library |
//! | [`body`] | axes, grids, shapes, nodes, reshaping from one shape to the next |
//! | [`conduction`] | the transient solver and its energy ledger; it knows nothing of forging |
//! | [`surface`] | radiation, convection, contact and spray laws at a face |
//! | `heater` | eddy currents, coils, lining, a column of billets, furnaces |
//! | `die` | die columns behind each face, spray, warm-up over many parts |
//! | `judge` | limits, verdicts and warnings |
//! | `line` | the line file, its stages, and the run that gives a trace |
//! | `condition` | what the history did to the metal |
//! | `ask` | working backwards: delays, moves, exit band, scatter |
//! | `draft` | a first line file from answers |
//! | `measured` | the shop's own measurements: logs, instruments, comparison, fit, sorting limits, charts |
//! | `output` | writing results: a set of files as a whole, or nothing of it |
//! | `picture` | charts as SVG: frames, ticks, labels, inks |
//! | `show` | blocks, units and words, and their renderers: terminal, HTML, CSV |
//! | `report` | tables, CSV, JSON, SVG and HTML |
//! | `page` | one line file as a live page: a small server and what it serves |
//! | `cli` | the `billet` command |
#![forbid(unsafe_code)]
#![warn(missing_docs)]
// Links into layers that are not public are plain text in the public documentation.
#![allow(rustdoc::private_intra_doc_links)]
// Without the tests' door some things are used by nobody: `cargo rustc --lib -- --force-warn dead-code` lists them.
#![cfg_attr(not(feature = "inside"), allow(dead_code, unused_imports))]

mod ask;
pub mod body;
#[cfg(feature = "command")]
mod cli;
mod condition;
pub mod conduction;
mod die;
#[cfg(feature = "command")]
mod draft;
mod heater;
mod judge;
mod line;
mod measured;
mod numeric;
mod output;
#[cfg(feature = "page")]
mod page;
#[cfg(feature = "command")]
mod picture;
#[cfg(feature = "command")]
mod report;
#[cfg(feature = "command")]
mod show;
pub mod steel;
pub mod surface;
mod text;
pub mod units;

// The line: load, change, run, read.
pub use line::file::{Document as Line, LineFileError, Problem};
pub use line::plan::{Input, InputValue, Plan, Resolution};
pub use line::run::{HeaterCache, RunError, RunOptions, run, run_with};
pub use line::trace::{Sample, SectionMap, Trace};

// What must hold, and whether it does.
pub use body::Place;
pub use judge::{Bound, Datum, Kind, Limit, Moment, Owner, Reading, StageSpan, Verdict, Warning};

// Questions.
pub use ask::Failure;
pub use ask::band::{Band, BandOptions};
pub use ask::decide::{Decision, DecisionTable, Guard};
pub use ask::enquiry::{Enquiry, ExitBands, Judged};
pub use ask::estimate::ErrorEstimate;
pub use ask::hand_overs::{HandOverTimes, State};
pub use ask::heating::{CoilAnswer, CoilQuestion};
pub use ask::stoppage::{Hold, Survival};
pub use ask::times::{Edge, Times};
pub use condition::part::{NodeCondition, of_trace as conditions};
pub use line::warmup::{Warmup, WarmupError, WarmupOptions, warmup};

/// The `billet` command: reads the arguments of the process and gives its exit status.
#[cfg(feature = "command")]
pub fn command() -> std::process::ExitCode {
    cli::main()
}

/// The layers that are not public, for the tests and benches of this package: no promise is made of them.
#[cfg(feature = "inside")]
#[doc(hidden)]
pub mod inside {
    pub mod ask {
        pub use crate::ask::*;
    }
    pub mod condition {
        pub use crate::condition::*;
    }
    pub mod die {
        pub use crate::die::*;
    }
    pub mod heater {
        pub use crate::heater::*;
    }
    pub mod judge {
        pub use crate::judge::*;
    }
    pub mod line {
        pub use crate::line::*;
    }
    pub mod measured {
        pub use crate::measured::*;
    }
    pub mod output {
        pub use crate::output::*;
    }
    #[cfg(feature = "command")]
    pub mod picture {
        pub use crate::picture::*;
    }
    #[cfg(feature = "command")]
    pub mod report {
        pub use crate::report::*;
    }
    #[cfg(feature = "command")]
    pub mod show {
        pub use crate::show::*;
    }
}
