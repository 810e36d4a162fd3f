//! `billet scatter`: how likely a bad part is, and what it depends on.

mod answer;

use std::path::PathBuf;
use std::time::{Duration, Instant};

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{Job, MOST_HOURS, Progress, enquire, fail, resolution, unwritten};
use super::{Global, interrupt, message, out, save};
use crate::ask::Failure;
use crate::ask::answer::ScatterAnswer;
use crate::ask::model::Model;
use crate::ask::respond::{Response, run_near};
use crate::ask::scatter::{run_part, study_key};
use crate::ask::shards::{Shard, ShardError, gather, merge, read_shard, write_shard};
use crate::line::plan::Resolution;
use crate::line::run::{Budget, Need};
use crate::report::scatter;

/// What a run takes besides its steps: changing the plan, judging (from memory of profiles), s.
const RUN_S: f64 = 5e-4;
/// Memory of a kept row, and of each of its values with the text that is written of it, bytes.
const ROW_BYTES: f64 = 64.0;
const VALUE_BYTES: f64 = 30.0;

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
    /// With --merge: evaluate what there is, although samples are missing; the result says how many.
    #[arg(long, requires = "merge")]
    incomplete: bool,
    /// Run every sample. Without it a study that keeps no results runs the samples near a limit alone and takes the
    /// others from a response surface, its error stated.
    #[arg(long)]
    every_sample: bool,
    /// Find first-order and total variance shares with N samples an input (N a power of two is best).
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(2..=1_000_000))]
    causes: Option<u64>,
    /// Also estimate each limit's probability by importance sampling, and that of any by subset simulation.
    #[arg(long)]
    rare: bool,
    /// Write inputs and margins of every sample as CSV to this file; the column `from` says whether its margins are of
    /// a run or of the response surface.
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
        let mut job = match enquire(global, &self.file, self.resolution) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        job.study.samples = self.samples.unwrap_or(job.study.samples);
        job.study.seed = self.seed.unwrap_or(job.study.seed);
        let inputs: Vec<PathBuf> = [job.model.document().files(), self.merge.clone()].concat();
        for path in [&self.results, &self.samples_file].into_iter().flatten() {
            if let Err(exit) = save::check_file(path, &inputs) {
                return exit;
            }
        }
        let folder = match save::folder(self.out.as_deref(), inputs.clone(), global) {
            Ok(folder) => folder,
            Err(exit) => return exit,
        };
        if let Err(exit) = self.within_budget(&job, global) {
            return exit;
        }
        let start = Instant::now();
        let asking = interrupt::Asking::begin();
        let (shard, response) = match self.rows(&job, global) {
            Ok(rows) => rows,
            Err(failure) => return fail(&failure),
        };
        if interrupt::came() {
            return self.stopped(&shard);
        }
        drop(asking);
        if shard.parts > 1 {
            let (part, complete) = ((shard.part, shard.parts), shard.is_complete());
            let value =
                || json!({ "part": part.0, "parts": part.1, "samples": shard.rows.len(), "complete": complete });
            let blocks = || scatter::part(part, shard.rows.len(), complete);
            return out::result(global, blocks, value, Exit::Fine);
        }
        if let Some(path) = &self.samples_file {
            let text = answer::samples(&job, &shard, response.as_ref()).map_err(|failure| fail(&failure));
            if let Err(exit) = text.and_then(|text| save::file(path, text.as_bytes(), &inputs)) {
                return exit;
            }
        }
        let seconds = start.elapsed().as_secs_f64();
        let progress = Progress::spinner(global, "evaluating");
        let (line, limits) = ((&job.model, job.quick.as_ref(), &job.study), job.model.limits());
        let found = job
            .nominal()
            .and_then(|nominal| ScatterAnswer::of(line, &nominal, shard, response, self.causes, self.rare));
        progress.end();
        let found = match found {
            Ok(found) => found,
            Err(failure) => return fail(&failure),
        };
        if let Some(folder) = &folder {
            let files = answer::files(&job, &found, &global.view()).map_err(|error| unwritten(&error));
            if let Err(exit) = files.and_then(|files| folder.write(&files)) {
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

    /// Refuses a study of more runs or rows than the budget allows.
    fn within_budget(&self, job: &Job, global: &Global) -> Result<(), Exit> {
        if !self.merge.is_empty() {
            return Ok(());
        }
        let parts = self.part().map_or(1, |(_, parts)| parts.max(1));
        let samples = job.study.samples as f64 / parts as f64;
        let columns = job.study.scattered.len() as f64 + 2.0;
        let runs = samples + self.causes.map_or(0.0, |base| base as f64 * columns);
        let need = Need::of(job.model.document().plan(), job.model.resolution());
        let hours = runs * (need.seconds + RUN_S) / 3600.0;
        let megabytes = runs * (ROW_BYTES + VALUE_BYTES * job.model.limits().len() as f64) * 1e-6;
        let budget = (MOST_HOURS * global.budget, Budget::times(global.budget).memory_mb);
        if hours <= budget.0 && megabytes <= budget.1 {
            return Ok(());
        }
        message::error_line(&format!(
            "{runs:.0} runs need about {hours:.1} hours of one core and {megabytes:.0} MB, the budget is {:.0} hours and \
             {:.0} MB; fewer --samples or --causes, --shard or --resolution quick make it smaller, \
             --budget multiplies the usual budget",
            budget.0, budget.1
        ));
        Err(Exit::WrongInput)
    }

    /// The rows of the study: read, resumed or run.
    fn rows(&self, job: &Job, global: &Global) -> Result<(Shard, Option<Response>), Failure> {
        let model = &job.model;
        let contents = model.document().contents()?;
        let text = String::from_utf8_lossy(&contents);
        let key = study_key(model, &job.study, &text, model.resolution().word());
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
            let whole = if self.incomplete { gather(shards) } else { merge(shards) };
            return Ok((whole?, None));
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
        let all = shard.samples();
        let bar = Progress::bar(global, "samples", all);
        bar.set(shard.rows.len() as u64);
        let mut saved = Instant::now();
        let block = 16 * rayon::current_num_threads();
        let after = |shard: &Shard| {
            bar.set(shard.rows.len() as u64);
            let last = shard.rows.len() as u64 == all;
            let stop = interrupt::came();
            if let Some(path) = &self.results
                && (last || stop || saved.elapsed() > Duration::from_secs(2))
            {
                interrupt::whole(&path.display().to_string(), || write_shard(path, shard))?;
                saved = Instant::now();
            }
            Ok(!stop)
        };
        // Kept results are those of runs, so that they can be gone on from and put together.
        let response = if self.every_sample || self.results.is_some() {
            run_part(model, &job.study, &mut shard, block, after)?;
            None
        } else {
            let early = |broken: f64| {
                if !global.quiet {
                    message::remark(&format!(
                        "first numbers: about {:.2} % of the parts break a limit",
                        100.0 * broken
                    ));
                }
            };
            run_near((model, job.cheap()), &job.study, &mut shard, block, early, after)?
        };
        bar.end();
        Ok((shard, response))
    }

    /// The end of a study that was interrupted: nothing is evaluated, for all that is left out would count as right.
    fn stopped(&self, shard: &Shard) -> Exit {
        let kept = match &self.results {
            Some(path) => format!("{} holds them, the same command goes on from there", path.display()),
            None => "nothing was written; with --results FILE they are kept and gone on from".to_owned(),
        };
        let (done, all) = (shard.rows.len(), shard.samples());
        message::error_line(&format!("interrupted after {done} of {all} samples; {kept}"));
        interrupt::exit()
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
