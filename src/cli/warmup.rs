//! `billet warmup`: many parts on the same dies.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{affordable, unwritten};
use super::progress::Progress;
use super::{Global, message, out, save};
use crate::line::plan::Resolution;
use crate::line::warmup::{Warmup, WarmupOptions, warmup};
use crate::report::warmup::{blocks, warmup_chart, warmup_csv};
use crate::report::{OutFile, ReportError};

/// Run many parts on the same dies: first good part, steady state, preheat, breaks.
#[derive(Debug, Args)]
pub(super) struct WarmupCommand {
    /// The line file; needs takt_s in [shop]. A die's depth_mm is the distance from its face to the holder, which stays
    /// at bulk_c; sideways the heat spreads as far.
    file: PathBuf,
    /// Number of parts from the start of the shift.
    #[arg(long, default_value_t = 30, value_name = "N")]
    parts: u32,
    /// Temperature of all dies at the start, in place of the file's preheat_c or bulk_c.
    #[arg(long, value_name = "DEGC", allow_negative_numbers = true)]
    preheat: Option<f64>,
    /// Breaks from steady work to look at; may be given several times.
    #[arg(long = "break-minutes", value_name = "MIN")]
    breaks: Vec<f64>,
    /// Resolution in place of the file's.
    #[arg(long, value_name = "WORD")]
    resolution: Option<Word>,
    /// Only the parts: no search for the steady state and the needed preheat.
    #[arg(long)]
    parts_only: bool,
    /// Write warmup.csv, warmup.json and warmup.svg into this folder.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Word {
    Quick,
    Standard,
    Fine,
}

impl WarmupCommand {
    pub fn run(&self, global: &Global) -> Exit {
        let document = match message::load(&self.file, global) {
            Ok(document) => document,
            Err(exit) => return exit,
        };
        let folder = match save::folder(self.out.as_deref(), document.files(), global) {
            Ok(folder) => folder,
            Err(exit) => return exit,
        };
        let options = WarmupOptions {
            parts: self.parts,
            resolution: self.resolution.map(|word| match word {
                Word::Quick => Resolution::Quick,
                Word::Standard => Resolution::Standard,
                Word::Fine => Resolution::Fine,
            }),
            preheat_c: self.preheat,
            breaks_min: self.breaks.clone(),
            steady: !self.parts_only,
            preheat: !self.parts_only,
        };
        let resolution = options.resolution.unwrap_or(document.plan().resolution);
        if let Err(exit) = affordable(global, document.plan(), resolution, self.parts) {
            return exit;
        }
        let progress = Progress::spinner(global, "following the parts");
        let result = warmup(document.plan(), &options);
        progress.end();
        let result = match result {
            Ok(result) => result,
            Err(error) => {
                message::error_line(&error.to_string());
                return if error.is_input() {
                    Exit::WrongInput
                } else {
                    Exit::Failed
                };
            }
        };
        message::warnings(&result.warnings, global);
        let done = if result.parts.iter().all(|part| part.good) {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        if let Some(folder) = &folder {
            let written = files(&result, global).map_err(|error| unwritten(&error));
            if let Err(exit) = written.and_then(|files| folder.write(&files)) {
                return exit;
            }
        }
        out::result(global, || blocks(&result), || json!(result), done)
    }
}

fn files(result: &Warmup, global: &Global) -> Result<Vec<OutFile>, ReportError> {
    Ok(vec![
        OutFile::text("warmup.csv", warmup_csv(result)?),
        OutFile::text("warmup.json", out::json(&json!(result))),
        OutFile::text("warmup.svg", warmup_chart(result, &global.view()).svg),
    ])
}
