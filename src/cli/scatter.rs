//! `billet scatter`: how likely a bad part is, and what it depends on.

mod answer;

use std::path::PathBuf;
use std::time::{Duration, Instant};

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::interrupt::Interrupt;
use super::planning::{Job, Progress, enquire, fail, resolution, unwritten, write};
use super::{Global, message, out};
use crate::ask::Failure;
use crate::ask::answer::ScatterAnswer;
use crate::ask::model::Model;
use crate::ask::respond::{Response, run_near};
use crate::ask::scatter::{run_part, study_key};
use crate::ask::shards::{Shard, ShardError, merge, read_shard, write_shard};
use crate::line::plan::Resolution;
use crate::report::{scatter, write_file};

/// Run the line with scattered inputs: probability of breaking each limit, capability, causes.
#[derive(Debug, Args)]
pub(super) struct Scatter {
    /// The line file with its [[study.scatter]] tables.
    file: PathBuf,
    /// Number of samples, instead of that of the file.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=4_294_967_296))]
    samples: Option<u64>,
    /// Seed, instead of that of the file.
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Keep the results in this file as they come, and go on from it when it exists.
    #[arg(long, value_name = "FILE")]
    results: Option<PathBuf>,
    /// Run only part I of N of the study, for spreading it over machines; needs --results.
    #[arg(long, value_name = "I/N", requires = "results")]
    shard: Option<String>,
    /// Run nothing: put these result files together and evaluate them.
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with_all = ["results", "shard"])]
    merge: Vec<PathBuf>,
    /// Run only the samples near a limit; take the others from a response surface, its error stated.
    #[arg(long, conflicts_with_all = ["results", "shard", "merge"])]
    response_surface: bool,
    /// Find first-order and total variance shares with N samples an input (N a power of two is best).
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(2..=1_000_000))]
    causes: Option<u64>,
    /// Also estimate each limit's probability by importance sampling, and that of any by subset simulation.
    #[arg(long)]
    rare: bool,
    /// Write inputs and margins of every sample as CSV to this file.
    #[arg(long, value_name = "FILE", conflicts_with = "shard")]
    samples_file: Option<PathBuf>,
    /// Write scatter.json, scatter.csv and a histogram of each limited temperature.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = resolution)]
    resolution: Option<Resolution>,
}

impl Scatter {
    pub fn run(&self, global: &Global) -> Exit {
        let mut job = match enquire(&self.file, self.resolution) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        job.study.samples = self.samples.unwrap_or(job.study.samples);
        job.study.seed = self.seed.unwrap_or(job.study.seed);
        let start = Instant::now();
        let (shard, response) = match self.rows(&job, global) {
            Ok(rows) => rows,
            Err(failure) => return fail(&failure),
        };
        if shard.parts > 1 {
            let (part, complete) = ((shard.part, shard.parts), shard.missing().is_empty());
            let value =
                || json!({ "part": part.0, "parts": part.1, "samples": shard.rows.len(), "complete": complete });
            let blocks = || scatter::part(part, shard.rows.len(), complete);
            return out::result(global, blocks, value, Exit::Fine);
        }
        if let Some(path) = &self.samples_file {
            let written = answer::samples(&job, &shard).map(|text| write_file(path, text.as_bytes()));
            match written {
                Ok(Ok(())) => {}
                Ok(Err(error)) => return unwritten(&error),
                Err(failure) => return fail(&failure),
            }
        }
        let seconds = start.elapsed().as_secs_f64();
        let progress = Progress::spinner(global, "evaluating");
        let (line, limits) = ((&job.model, &job.study), job.model.limits());
        let found = job
            .nominal()
            .and_then(|nominal| ScatterAnswer::of(line, &nominal, shard, response, self.causes, self.rare));
        progress.end();
        let found = match found {
            Ok(found) => found,
            Err(failure) => return fail(&failure),
        };
        if let Some(folder) = &self.out {
            let files = match answer::files(&job, &found, &global.view()) {
                Ok(files) => files,
                Err(error) => return unwritten(&error),
            };
            if let Err(exit) = write(folder, &files, global) {
                return exit;
            }
        }
        let done = match found.nominal_holds {
            true => Exit::Fine,
            false => Exit::LimitBroken,
        };
        let run = (job.title(), job.model.resolution().word(), seconds);
        let blocks = || scatter::answer(&found, &job.study, limits, run);
        out::result(global, blocks, || answer::json(&job, &found), done)
    }

    /// The rows of the study: read, resumed or run.
    fn rows(&self, job: &Job, global: &Global) -> Result<(Shard, Option<Response>), Failure> {
        let model = &job.model;
        let key = study_key(model, &job.study, model.document().text(), model.resolution().word());
        let belongs = |shard: Shard| {
            if shard.key == key {
                Ok(shard)
            } else {
                Err(ShardError::OtherStudy {
                    expected: key.study.clone(),
                    found: shard.key.study,
                })
            }
        };
        if !self.merge.is_empty() {
            let shards = self
                .merge
                .iter()
                .map(|path| read_shard(path).and_then(belongs))
                .collect::<Result<Vec<_>, _>>()?;
            return Ok((merge(shards)?, None));
        }
        let (part, parts) = self.part()?;
        let mut shard = match &self.results {
            Some(path) if path.exists() => {
                let shard = belongs(read_shard(path)?)?;
                if (shard.part, shard.parts) != (part, parts) {
                    return Err(ShardError::OtherPart {
                        part: shard.part,
                        parts: shard.parts,
                    }
                    .into());
                }
                if !global.quiet && !shard.rows.is_empty() {
                    message::remark(&format!("going on after {} samples", shard.rows.len()));
                }
                shard
            }
            _ => Shard::new(key, part, parts)?,
        };
        let all = shard.indices().end - shard.indices().start;
        let bar = Progress::bar(global, "samples", all);
        bar.set(shard.rows.len() as u64);
        let mut saved = Instant::now();
        let block = 16 * rayon::current_num_threads();
        let interrupt = Interrupt::watch();
        let after = |shard: &Shard| {
            bar.set(shard.rows.len() as u64);
            let last = shard.rows.len() as u64 == all;
            let stop = interrupt.came();
            if let Some(path) = &self.results
                && (last || stop || saved.elapsed() > Duration::from_secs(2))
            {
                write_shard(path, shard)?;
                saved = Instant::now();
            }
            Ok(!stop)
        };
        let response = if self.response_surface {
            run_near(model, &job.study, &mut shard, block, after)?
        } else {
            run_part(model, &job.study, &mut shard, block, after)?;
            None
        };
        bar.end();
        if interrupt.came() && !global.quiet {
            message::remark(&format!("stopped after {} of {all} samples", shard.rows.len()));
        }
        Ok((shard, response))
    }

    fn part(&self) -> Result<(u64, u64), Failure> {
        let Some(text) = &self.shard else {
            return Ok((1, 1));
        };
        let numbers = text
            .split_once('/')
            .and_then(|(i, n)| Some((i.parse::<u64>().ok()?, n.parse::<u64>().ok()?)));
        numbers.ok_or_else(|| Failure::NothingToDo(format!("--shard `{text}`: write it as 2/8 for part 2 of 8")))
    }
}
