//! `billet fit`: which inputs and biases the measurements speak for.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::measured::fail;
use super::planning::{Progress, enquire, resolution};
use super::{Global, message, out, save};
use crate::line::plan::Resolution;
use crate::measured::{Bench, Wanted, calibration, fit};
use crate::report::fit::blocks;

/// Fit inputs of a line, and biases of its instruments, to its measurements.
#[derive(Debug, Args)]
pub(super) struct FitCommand {
    /// The line file, with its [[measurement]] and [[unknown]] tables.
    file: PathBuf,
    /// A further unknown by path, perhaps with the standard deviation of what is known of it: `billet.emissivity=0.05`,
    /// `instrument.camera.bias`.
    #[arg(long, value_name = "PATH[=SD]", value_parser = unknown)]
    input: Vec<Wanted>,
    /// Confidence of the intervals.
    #[arg(long, value_name = "SHARE", default_value_t = 0.95, value_parser = confidence)]
    confidence: f64,
    /// Write the estimates as a calibration file, for `calibration = "FILE"` in line files.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Date of the calibration, as it will be shown.
    #[arg(long, value_name = "TEXT", requires = "out")]
    date: Option<String>,
    /// Resolution of the runs (default: quick).
    #[arg(long, value_name = "WORD", value_parser = resolution, default_value = "quick")]
    resolution: Resolution,
}

fn unknown(text: &str) -> Result<Wanted, String> {
    let (path, sd) = match text.split_once('=') {
        Some((path, sd)) => {
            let number = sd.parse::<f64>().ok().filter(|sd| *sd > 0.0 && sd.is_finite());
            (
                path,
                Some(number.ok_or_else(|| format!("`{sd}` is no standard deviation"))?),
            )
        }
        None => (text, None),
    };
    Ok(Wanted {
        path: path.trim().to_owned(),
        sd,
        mean: None,
    })
}

pub(super) fn confidence(text: &str) -> Result<f64, String> {
    let share = text.parse::<f64>().ok().filter(|share| (0.5..0.9999).contains(share));
    share.ok_or_else(|| "0.5 to 0.9999".to_owned())
}

impl FitCommand {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match enquire(global, &self.file, Some(self.resolution)) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        let mut inputs = job.model.document().files();
        let progress = Progress::spinner(global, "fitting the line to its measurements");
        let found = Bench::fitting(&job.model, &self.input)
            .and_then(|bench| Ok((fit(&bench, &bench.given.wanted, self.confidence)?, bench)));
        progress.end();
        let (found, bench) = match found {
            Ok(found) => found,
            Err(error) => return fail(&error),
        };
        inputs.extend(bench.files());
        let mut refused = !found.refused.is_empty();
        if let Some(to) = &self.out {
            let date = self.date.clone().unwrap_or_default();
            let name = self.file.file_name().map(|name| name.to_string_lossy().into_owned());
            let text = calibration::text(&found, &name.unwrap_or_default(), &date);
            let why = match &text {
                _ if refused => Some("the fit is refused"),
                None => Some("the readings tell nothing that was not known before"),
                Some(_) => None,
            };
            if let Some(why) = why {
                message::error_line(&format!("{}: not written, {why}", to.display()));
                refused = true;
            } else if let Some(Err(exit)) = text.map(|text| save::file(to, text.as_bytes(), &inputs)) {
                return exit;
            }
        }
        out::result(
            global,
            || blocks(job.title(), &bench, &found),
            || {
                json!({
                    "schema_version": 1,
                    "title": job.title(),
                    "fit": found,
                    "joins": bench.trials.iter().flat_map(|t| &t.joins).collect::<Vec<_>>(),
                    "bad_rows": bench.bad,
                })
            },
            if refused { Exit::LimitBroken } else { Exit::Fine },
        )
    }
}
