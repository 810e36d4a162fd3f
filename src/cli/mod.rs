//! The `billet` command: one small file per subcommand.
//!
//! Results go to standard output, messages to standard error, each starting with `billet: `. A
//! reader that closes the pipe early ends the program quietly.

mod check;
mod compare;
mod controller;
mod decide;
mod delays;
mod estimate;
pub mod exit;
mod exit_band;
mod family;
mod heat;
mod inputs;
mod interrupt;
mod message;
mod moves;
mod out;
mod paper;
mod planning;
mod report;
mod scatter;
mod schema;
mod sensitivities;
mod sheet;
mod steels;
mod stops;
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
    Inputs(inputs::Inputs),
    Delays(delays::Delays),
    ExitBand(exit_band::ExitBand),
    Moves(moves::Moves),
    Sensitivities(sensitivities::Sensitivities),
    Scatter(scatter::Scatter),
    Stops(stops::Stops),
    Compare(compare::Compare),
    Family(family::Family),
    Decide(decide::Decide),
    Trace(trace::TraceCommand),
    Heat(heat::Heat),
    Sheet(sheet::Sheet),
    Report(report::Report),
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
        Command::Inputs(inputs) => inputs.run(global),
        Command::Delays(delays) => delays.run(global),
        Command::ExitBand(band) => band.run(global),
        Command::Moves(moves) => moves.run(global),
        Command::Sensitivities(sensitivities) => sensitivities.run(global),
        Command::Scatter(scatter) => scatter.run(global),
        Command::Stops(stops) => stops.run(global),
        Command::Compare(compare) => compare.run(global),
        Command::Family(family) => family.run(global),
        Command::Decide(decide) => decide.run(global),
        Command::Trace(trace) => trace.run(global),
        Command::Heat(heat) => heat.run(global),
        Command::Sheet(sheet) => sheet.run(global),
        Command::Report(report) => report.run(global),
        Command::Warmup(warmup) => warmup.run(global),
        Command::Steels(steels) => steels.run(global),
        Command::Schema(schema) => schema.run(global),
    };
    exit.into()
}
