//! The `billet` command: one small file per subcommand.
//!
//! Results go to standard output, messages to standard error, each starting with `billet: `. A
//! reader that closes the pipe early ends the program quietly.

mod check;
pub mod exit;
mod message;
mod out;
mod schema;
mod steels;
mod trace;
mod warmup;

use std::process::ExitCode;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::units::Display;

/// How hot a forging is from the heater to the last tool, and how long each step may take.
#[derive(Debug, Parser)]
#[command(name = "billet", version, about, after_help = exit::TABLE, propagate_version = true)]
struct Cli {
    #[command(flatten)]
    global: Global,
    #[command(subcommand)]
    command: Command,
}

/// What every command understands.
#[derive(Debug, Clone, Args)]
struct Global {
    /// Print the result as JSON (always metric) instead of text.
    #[arg(long, global = true)]
    json: bool,
    /// Units of printed text; line files are always metric.
    #[arg(long, global = true, value_enum, default_value = "metric", value_name = "UNITS")]
    units: Units,
    /// No progress, warnings or remarks on standard error; errors are still told.
    #[arg(long, short, global = true)]
    quiet: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, ValueEnum)]
enum Units {
    /// degC, mm, kg.
    Metric,
    /// degF, in, lb.
    Us,
}

impl Global {
    fn display(&self) -> Display {
        match self.units {
            Units::Metric => Display::Metric,
            Units::Us => Display::Us,
        }
    }
}

#[derive(Debug, Subcommand)]
enum Command {
    Check(check::Check),
    Trace(trace::TraceCommand),
    Warmup(warmup::WarmupCommand),
    Steels(steels::Steels),
    Schema(schema::Schema),
}

/// Entry point of the binary.
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => return message::usage(&error).into(),
    };
    let global = &cli.global;
    let exit = match &cli.command {
        Command::Check(check) => check.run(global),
        Command::Trace(trace) => trace.run(global),
        Command::Warmup(warmup) => warmup.run(global),
        Command::Steels(steels) => steels.run(global),
        Command::Schema(schema) => schema.run(global),
    };
    exit.into()
}
