//! The `billet` command: one small file per subcommand.
//!
//! Results go to standard output, messages to standard error, each starting with `billet: `. A
//! reader that closes the pipe early ends the program quietly.

mod check;
mod compare;
mod controller;
mod decide;
mod delays;
pub mod exit;
mod exit_band;
mod family;
mod fit;
mod heat;
mod help;
mod inputs;
mod interrupt;
mod measured;
mod message;
mod moves;
mod new;
mod out;
#[cfg(feature = "page")]
mod page;
mod paper;
mod planning;
mod progress;
mod report;
mod save;
mod scatter;
mod schema;
mod sensitivities;
mod sheet;
mod shift;
mod sort;
mod steels;
mod stops;
mod trace;
mod warmup;

use std::process::ExitCode;

use clap::{Args, CommandFactory, Parser, Subcommand, ValueEnum};

use crate::show::terminal::Terminal;
use crate::show::{Language, View};
use crate::units::Display;

/// How hot a forging is from the heater to the last tool, and how long each step may take.
#[derive(Debug, Parser)]
#[command(name = "billet", version, about, after_help = after_help(), propagate_version = true, disable_help_subcommand = true)]
struct Cli {
    #[command(flatten)]
    global: Global,
    #[command(subcommand)]
    command: Command,
}

/// Heading in the help of what every command understands.
const COMMON: &str = "Options of every command";

fn after_help() -> String {
    format!("{}\n{}", help::topics(), exit::TABLE)
}

/// What every command understands.
#[derive(Debug, Clone, Args)]
struct Global {
    /// Print the result as JSON (always metric) instead of text.
    #[arg(long, global = true, help_heading = COMMON)]
    json: bool,
    /// Units of printed text; line files are always metric.
    #[arg(long, global = true, help_heading = COMMON, value_enum, default_value = "metric", value_name = "UNITS")]
    units: Units,
    /// Language of printed text: en, de, fr, it, es, pl, cs, pt, tr or zh.
    #[arg(long, global = true, help_heading = COMMON, value_name = "CODE", default_value = "en", value_parser = language)]
    language: Language,
    /// Printed text, or its tables as CSV (semicolons and decimal commas where the language has them).
    #[arg(
        long,
        global = true, help_heading = COMMON,
        value_enum,
        default_value = "text",
        value_name = "FORMAT",
        conflicts_with = "json"
    )]
    format: Format,
    /// Widest line of printed text, 60 to 160 columns; default that of the terminal, or 80.
    #[arg(long, global = true, help_heading = COMMON, value_name = "COLUMNS", value_parser = clap::value_parser!(u16).range(60..=160))]
    width: Option<u16>,
    /// How many times the usual budget of memory and time the work may need; what is over it is refused.
    #[arg(long, global = true, help_heading = COMMON, value_name = "TIMES", default_value_t = 1.0, value_parser = times)]
    budget: f64,
    /// No progress, warnings or remarks on standard error; errors are still told.
    #[arg(long, short, global = true, help_heading = COMMON)]
    quiet: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, ValueEnum)]
enum Units {
    /// degC, mm, kg.
    Metric,
    /// degF, in, lb.
    Us,
}

#[derive(Debug, Clone, Copy, PartialEq, ValueEnum)]
enum Format {
    /// Text for a terminal.
    Text,
    /// Tables only, comma-separated.
    Csv,
}

fn times(text: &str) -> Result<f64, String> {
    let times = text.parse::<f64>().ok().filter(|times| (1e-3..=1e6).contains(times));
    times.ok_or_else(|| "0.001 to 1000000".to_owned())
}

fn language(code: &str) -> Result<Language, String> {
    Language::from_code(code).ok_or_else(|| {
        let known: Vec<&str> = Language::ALL.iter().map(|l| l.code()).collect();
        format!("known languages: {}", known.join(", "))
    })
}

impl Global {
    /// Units, language and its decimal sign.
    fn view(&self) -> View {
        View::new(self.display(), self.language)
    }

    /// Width and colour of printed text.
    fn terminal(&self) -> Terminal {
        Terminal::of_stdout(self.width.map(usize::from))
    }

    fn display(&self) -> Display {
        match self.units {
            Units::Metric => Display::Metric,
            Units::Us => Display::Us,
        }
    }
}

#[derive(Debug, Subcommand)]
enum Command {
    New(new::New),
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
    Measured(measured::Measured),
    Fit(fit::FitCommand),
    Sort(sort::SortCommand),
    Shift(shift::ShiftCommand),
    Trace(trace::TraceCommand),
    Heat(heat::Heat),
    Sheet(sheet::Sheet),
    Report(report::Report),
    #[cfg(feature = "page")]
    Page(page::Page),
    Warmup(warmup::WarmupCommand),
    Steels(steels::Steels),
    Schema(schema::Schema),
    Help(help::Help),
}

impl Command {
    /// Whether the command prints tables; the others write a page or a schema.
    fn has_tables(&self) -> bool {
        #[cfg(feature = "page")]
        if let Command::Page(_) = self {
            return false;
        }
        !matches!(
            self,
            Command::New(_) | Command::Sheet(_) | Command::Report(_) | Command::Schema(_) | Command::Help(_)
        )
    }
}

/// Entry point of the binary.
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => return message::usage(&error).into(),
    };
    interrupt::watch();
    let global = &cli.global;
    if global.format == Format::Csv && !cli.command.has_tables() {
        message::error_line("--format csv: this command does not print its tables as CSV");
        return exit::Exit::WrongInput.into();
    }
    let exit = match &cli.command {
        Command::New(new) => new.run(global),
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
        Command::Measured(measured) => measured.run(global),
        Command::Fit(fit) => fit.run(global),
        Command::Sort(sort) => sort.run(global),
        Command::Shift(shift) => shift.run(global),
        Command::Trace(trace) => trace.run(global),
        Command::Heat(heat) => heat.run(global),
        Command::Sheet(sheet) => sheet.run(global),
        Command::Report(report) => report.run(global),
        #[cfg(feature = "page")]
        Command::Page(page) => page.run(global),
        Command::Warmup(warmup) => warmup.run(global),
        Command::Steels(steels) => steels.run(global),
        Command::Schema(schema) => schema.run(global),
        Command::Help(help) => help.run(Cli::command()),
    };
    exit.into()
}
