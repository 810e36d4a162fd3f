//! `billet measured`: what was measured beside what the instruments would show of the run.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{Progress, enquire, resolution, unwritten};
use super::{Global, message, out, save};
use crate::line::RunOptions;
use crate::line::plan::Resolution;
use crate::measured::{Bench, MeasuredError, compare};
use crate::report::measured;

/// Compare the measurements of a line with its run: deviations by place and moment, in K and in standard deviations.
#[derive(Debug, Args)]
pub(super) struct Measured {
    /// The line file, with its [[measurement]] tables.
    file: PathBuf,
    /// Write every reading with what the instrument would show, as CSV, to this file.
    #[arg(long, value_name = "FILE")]
    readings: Option<PathBuf>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = resolution)]
    resolution: Option<Resolution>,
}

/// Tells why measurements cannot be used.
pub(super) fn fail(error: &MeasuredError) -> Exit {
    match error {
        MeasuredError::File(error) => message::line_file(error),
        other => message::error_line(&other.to_string()),
    }
    if error.exit_code() == 3 {
        Exit::Failed
    } else {
        Exit::WrongInput
    }
}

impl Measured {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match enquire(global, &self.file, self.resolution) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "running the parts that were measured");
        let found = Bench::new(&job.model).and_then(|bench| {
            let found = compare(&bench)?;
            let trace = job.model.trace(&[], &RunOptions::default())?;
            Ok((bench, found, trace))
        });
        progress.end();
        let (bench, found, trace) = match found {
            Ok(found) => found,
            Err(error) => return fail(&error),
        };
        if let Some(to) = self.readings.as_ref().filter(|_| !found.readings.is_empty()) {
            let mut inputs = job.model.document().files();
            inputs.extend(bench.files());
            let text = readings_csv(&bench, &found).map_err(|error| unwritten(&error));
            if let Err(exit) = text.and_then(|text| save::file(to, text.as_bytes(), &inputs)) {
                return exit;
            }
        }
        let done = if found.readings.is_empty() {
            message::error_line("no reading could be compared with a run");
            Exit::WrongInput
        } else {
            Exit::Fine
        };
        out::result(
            global,
            || measured::blocks(&bench, &found, &trace, &global.view()),
            || {
                json!({
                    "schema_version": 1,
                    "title": job.title(),
                    "comparison": found,
                    "measurements": bench.given.measurements.iter().map(|m| &m.name).collect::<Vec<_>>(),
                    "joins": bench.trials.iter().flat_map(|t| &t.joins).collect::<Vec<_>>(),
                    "bad_rows": bench.bad,
                    "with_usual_seconds": bench.with_usual_seconds(),
                })
            },
            done,
        )
    }
}

/// Every reading as CSV.
fn readings_csv(bench: &Bench, found: &crate::measured::Comparison) -> Result<String, crate::report::ReportError> {
    let told = |error: String| crate::report::ReportError::Text(error);
    let mut writer = csv::Writer::from_writer(Vec::new());
    let head = [
        "measurement",
        "part",
        "line",
        "time_s",
        "read_c",
        "would_show_c",
        "run_c",
        "off_k",
        "off_sd",
    ];
    writer.write_record(head).map_err(|error| told(error.to_string()))?;
    for d in &found.readings {
        let number = |value: f64| format!("{value:.3}");
        let row = [
            bench.given.measurements[d.measurement].name.clone(),
            d.part.clone(),
            d.line.to_string(),
            number(d.time_s),
            number(d.read_c),
            number(d.shown_c),
            number(d.run_c),
            number(d.off_k),
            number(d.off_sd),
        ];
        writer.write_record(row).map_err(|error| told(error.to_string()))?;
    }
    let bytes = writer.into_inner().map_err(|error| told(error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| told(error.to_string()))
}
