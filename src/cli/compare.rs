//! `billet compare`: what differs between two or three line files, and what comes of it.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{Job, Progress, enquire, fail, resolution};
use super::{Global, out};
use crate::ask::Failure;
use crate::ask::compare::{differences, side_by_side};
use crate::ask::model::{Model, Outcome};
use crate::line::plan::Resolution;
use crate::report::compare::lines;

/// Set two or three line files side by side: only what differs, inputs and results.
#[derive(Debug, Args)]
pub(super) struct Compare {
    /// The line files.
    #[arg(num_args = 2..=3, required = true)]
    files: Vec<PathBuf>,
    /// Resolution of the runs, instead of that of the files.
    #[arg(long, value_name = "WORD", value_parser = resolution)]
    resolution: Option<Resolution>,
}

impl Compare {
    pub fn run(&self, global: &Global) -> Exit {
        let mut jobs = Vec::new();
        for file in &self.files {
            match enquire(file, self.resolution) {
                Ok(job) => jobs.push(job),
                Err(exit) => return exit,
            }
        }
        let progress = Progress::spinner(global, "running the lines");
        let outcomes: Result<Vec<Outcome>, Failure> = jobs.iter().map(|job| Ok(job.model.run(&[])?)).collect();
        progress.end();
        let outcomes = match outcomes {
            Ok(outcomes) => outcomes,
            Err(failure) => return fail(&failure),
        };
        let inputs: Vec<_> = jobs.iter().map(|job| job.model.document().inputs()).collect();
        let different = differences(&inputs);
        let results = side_by_side(&outcomes);
        let done = if outcomes.iter().all(Outcome::holds) {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        let files: Vec<String> = self.files.iter().map(|file| file.display().to_string()).collect();
        let value = || {
            json!({
                "schema_version": 1,
                "files": self.files,
                "titles": jobs.iter().map(Job::title).collect::<Vec<_>>(),
                "inputs": different,
                "limits": results,
                "hot_time_s": outcomes.iter().map(Outcome::hot_time_s).collect::<Vec<_>>(),
            })
        };
        out::result(global, || lines(&files, &outcomes, &different, &results), value, done)
    }
}
