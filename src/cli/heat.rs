//! `billet heat`: what the heater does, and the powers that hit its target.

pub(super) mod coils;
mod fixed;

use std::fmt::Write;
use std::path::PathBuf;
use std::sync::Arc;

use clap::{Args, ValueEnum};

use super::exit::Exit;
use super::progress::Progress;
use super::{Global, message, out, save};
use crate::ask::heating::{CoilQuestion, WARMEST_C};
use crate::heater::HeaterError;
use crate::heater::energy::StopWay;
use crate::heater::line::TrackPoint;
use crate::line::plan::{Heater, Plan};
use crate::line::run::{HeaterCache, RunError, RunOptions, run_heater};
use crate::output::OutFile;
use crate::show::{Block, Cell, NoteKind, Quantity, View, limit, say};

/// Power, exit state and energy of the heater: sets the coils for the target of the line file, and
/// answers for start-up and stoppage.
#[derive(Debug, Args)]
pub(super) struct Heat {
    /// The line file, with a heater of kind coil_line or static_coil.
    file: PathBuf,
    /// Write the pictures, heater.csv and heater.json into this folder.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// A stoppage of this many seconds from the running state; may be given several times.
    #[arg(long, value_name = "SECONDS")]
    stop: Vec<f64>,
    /// What the heater does while the line stands.
    #[arg(long, value_enum, default_value = "both", value_name = "MODE")]
    stopped: Stopped,
    /// Time between billets while the heater runs on during a stop; default twice the takt.
    #[arg(long, value_name = "SECONDS")]
    run_on_takt: Option<f64>,
    /// Power of each coil while the heater runs on, in percent of the running one; default in
    /// proportion to the throughput.
    #[arg(long, value_name = "PERCENT")]
    run_on_percent: Option<f64>,
    /// Time over which the start-up and the stops asked for are spread in the energy per tonne of
    /// good billets, h (default: one shift).
    #[arg(long, value_name = "HOURS", default_value_t = 8.0)]
    shift: f64,
    /// A cold start: the heater full of cold billets, full power from the first takt.
    #[arg(long)]
    start_up: bool,
    /// An empty start: billets come into the empty heater one by one.
    #[arg(long)]
    start_empty: bool,
    /// Running out: no more billets come in, and the heater is emptied.
    #[arg(long)]
    run_out: bool,
    /// A change of pace to this takt from the running state.
    #[arg(long, value_name = "SECONDS")]
    takt: Option<f64>,
    /// The next order in the running heater: a line file with the same heater and other billets, takt, powers or target.
    #[arg(long, value_name = "LINE.toml")]
    next: Option<PathBuf>,
    /// One warm billet of this temperature among the others, and how warm one may be.
    #[arg(long, value_name = "DEGC", allow_negative_numbers = true)]
    warm_billet: Option<f64>,
    /// Search the powers even where the file gives them.
    #[arg(long)]
    search: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, ValueEnum)]
enum Stopped {
    /// No power.
    Off,
    /// Each coil makes good what its billets lose.
    Hold,
    /// The billets are pushed on slowly, at lower power; those that come out are set aside.
    RunOn,
    /// Off and hold, one answer for each.
    Both,
    /// All three.
    All,
}

/// What a command has to say: blocks, JSON and files.
pub(super) struct Answer {
    pub blocks: Vec<Block>,
    pub json: serde_json::Value,
    pub files: Vec<OutFile>,
    pub exit: Exit,
    /// The state that is shown, for judging it as the line does.
    pub heated: HeaterCache,
}

impl Answer {
    /// Judges the exit as the line does: what `heat` shows, `trace` judges.
    fn judge(&mut self, plan: &Plan) -> Result<(), RunError> {
        let trace = run_heater(plan, &RunOptions::bare(), &self.heated)?;
        for verdict in &trace.verdicts {
            if !verdict.holds {
                let by = Cell::number(-verdict.margin_k, Quantity::Margin).up();
                let text = say("heat.line_breaks")
                    .with("limit", limit(&verdict.limit))
                    .with("by", by);
                self.blocks.push(Block::Note(NoteKind::Caution, text.into()));
                self.exit = Exit::LimitBroken;
            }
        }
        self.json["exit_limits"] = serde_json::json!(trace.verdicts);
        Ok(())
    }
}

impl Heat {
    pub fn run(&self, global: &Global) -> Exit {
        let document = match message::load(&self.file, global) {
            Ok(document) => document,
            Err(exit) => return exit,
        };
        let plan = document.plan();
        if let Some(bad) = self
            .stop
            .iter()
            .find(|s| !(s.is_finite() && **s >= 0.0 && **s <= 86_400.0))
        {
            message::error_line(&format!("--stop {bad}: must be 0 to 86400 s"));
            return Exit::WrongInput;
        }
        if let Some(bad) = self.takt.filter(|t| !(t.is_finite() && *t > 0.0 && *t <= 36_000.0)) {
            message::error_line(&format!("--takt {bad}: must be above 0 up to 36000 s"));
            return Exit::WrongInput;
        }
        for (name, value, most) in [
            ("run-on-takt", self.run_on_takt, 36_000.0),
            ("run-on-percent", self.run_on_percent, 1000.0),
            ("shift", Some(self.shift), 8760.0),
        ] {
            if let Some(bad) = value.filter(|v| !(v.is_finite() && *v > 0.0 && *v <= most)) {
                message::error_line(&format!("--{name} {bad}: must be above 0 up to {most}"));
                return Exit::WrongInput;
            }
        }
        if let Some(bad) = self.warm_billet.filter(|t| !(-40.0..=WARMEST_C).contains(t)) {
            message::error_line(&format!("--warm-billet {bad}: must be -40 to {WARMEST_C} degC"));
            return Exit::WrongInput;
        }
        if let (Heater::StaticCoil(_), Some(name)) = (&plan.heater, self.of_a_line()) {
            let text = format!("--{name}: is for a row of coils; a static coil takes one charge after the other");
            message::error_line(&text);
            return Exit::WrongInput;
        }
        let next = match self.next.as_deref().map(|file| message::load(file, global)).transpose() {
            Ok(next) => next,
            Err(exit) => return exit,
        };
        if let (Heater::CoilLine(own), Some(next)) = (&plan.heater, &next)
            && let Err(error) = next.plan().heater.follows(own)
        {
            message::error_line(&format!("--next: {error}"));
            return Exit::WrongInput;
        }
        let mut read = document.files().to_vec();
        read.extend(next.iter().flat_map(|next| next.files().to_vec()));
        let folder = match save::folder(self.out.as_deref(), read, global) {
            Ok(folder) => folder,
            Err(exit) => return exit,
        };
        message::warnings(&plan.warnings, global);
        let view = global.view();
        let progress = Progress::spinner(global, "following the heater");
        let next = next.map(|next| Arc::new(next.plan().clone()));
        let answer = self.answer(plan, next, &view);
        progress.end();
        let mut answer = match answer {
            Ok(Some(answer)) => answer,
            Ok(None) => {
                message::error_line(
                    "this line file has no computed heater: kind = \"coil_line\" or \"static_coil\" is needed",
                );
                return Exit::WrongInput;
            }
            Err(error) => {
                message::error_line(&error.to_string());
                return Exit::Failed;
            }
        };
        if let Err(error) = answer.judge(plan) {
            message::error_line(&error.to_string());
            return Exit::Failed;
        }
        if let Some(folder) = &folder
            && let Err(exit) = folder.write(&answer.files)
        {
            return exit;
        }
        out::result(global, || answer.blocks, || answer.json, answer.exit)
    }

    /// An option given that only a row of coils can answer.
    fn of_a_line(&self) -> Option<&'static str> {
        let given = [
            ("start-up", self.start_up),
            ("start-empty", self.start_empty),
            ("run-out", self.run_out),
            ("stop", !self.stop.is_empty()),
            ("takt", self.takt.is_some()),
            ("run-on-takt", self.run_on_takt.is_some()),
            ("run-on-percent", self.run_on_percent.is_some()),
            ("next", self.next.is_some()),
            ("warm-billet", self.warm_billet.is_some()),
            ("search", self.search),
        ];
        given.iter().find(|(_, given)| *given).map(|(name, _)| *name)
    }

    /// What is asked of a row of coils.
    fn question(&self, next: Option<Arc<Plan>>) -> CoilQuestion {
        CoilQuestion {
            search: self.search,
            start_up: self.start_up,
            start_empty: self.start_empty,
            run_out: self.run_out,
            stops_s: self.stop.clone(),
            ways: match self.stopped {
                Stopped::Off => vec![StopWay::Off],
                Stopped::Hold => vec![StopWay::Hold],
                Stopped::RunOn => vec![StopWay::RunOn],
                Stopped::Both => vec![StopWay::Off, StopWay::Hold],
                Stopped::All => vec![StopWay::Off, StopWay::Hold, StopWay::RunOn],
            },
            run_on_takt_s: self.run_on_takt,
            run_on_share: self.run_on_percent.map(|percent| percent / 100.0),
            shift_s: self.shift * 3600.0,
            takt_s: self.takt,
            next,
            warm_c: self.warm_billet,
        }
    }

    fn answer(&self, plan: &Plan, next: Option<Arc<Plan>>, view: &View) -> Result<Option<Answer>, HeaterError> {
        match &plan.heater {
            Heater::CoilLine(heater) => coils::answer(&self.question(next), plan, heater, view).map(Some),
            Heater::StaticCoil(heater) => fixed::answer(plan, heater, view).map(Some),
            _ => Ok(None),
        }
    }
}

/// Temperatures on the way through the heater, one row a step.
fn track_csv(track: &[TrackPoint]) -> String {
    let mut text = String::from("place_m,time_s,core_c,surface_c,mean_c,hottest_c\n");
    for p in track {
        let _ = writeln!(
            text,
            "{:.4},{:.3},{:.2},{:.2},{:.2},{:.2}",
            p.place_m, p.time_s, p.core_c, p.surface_c, p.mean_c, p.hottest_c
        );
    }
    text
}
