//! The line: its file, its stages, and the run that gives a [`Trace`].

pub mod trace;

pub use trace::Trace;
