//! `billet sort`: which readings may be accepted for stated risks.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::measured::fail;
use super::planning::{GuardOption, Progress, enquire};
use super::{Global, message, out};
use crate::line::plan::Resolution;
use crate::measured::{Bench, SortOptions, sort};
use crate::report::sorting::blocks;

/// Find the limits for sorting parts out by their readings: risks of bad parts accepted and good parts rejected.
#[derive(Debug, Args)]
pub(super) struct SortCommand {
    /// The line file, with its [[instrument]] and [[measurement]] tables.
    file: PathBuf,
    /// Risks of a part that is bad and accepted, as shares of all parts.
    #[arg(long, value_delimiter = ',', value_name = "SHARE,SHARE,...", default_values_t = [0.05, 0.01, 0.001])]
    risk: Vec<f64>,
    /// Standard deviation of the exit temperature from part to part in K, instead of that of the readings.
    #[arg(long, value_name = "K")]
    exit_sd: Option<f64>,
    /// What a bad part that goes on costs, in good parts that are rejected.
    #[arg(long, value_name = "TIMES", default_value_t = 20.0)]
    cost: f64,
    /// Parts that are drawn.
    #[arg(long, value_name = "COUNT", default_value_t = 100_000, value_parser = clap::value_parser!(u32).range(1000..=10_000_000))]
    samples: u32,
    /// Seed of the drawn parts.
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    seed: u64,
    #[command(flatten)]
    guard: GuardOption,
}

impl SortCommand {
    pub fn run(&self, global: &Global) -> Exit {
        let wrong = |text: String| {
            message::error_line(&text);
            Exit::WrongInput
        };
        if let Some(risk) = self.risk.iter().find(|risk| !(**risk > 0.0 && **risk < 0.5)) {
            return wrong(format!("a risk of {risk}: allowed are above 0 and below 0.5"));
        }
        if let Some(sd) = self.exit_sd.filter(|sd| !(*sd > 0.0 && *sd <= 200.0)) {
            return wrong(format!("a standard deviation of {sd} K: allowed are above 0 to 200"));
        }
        if !(self.cost > 0.0 && self.cost.is_finite()) {
            return wrong(format!("a cost of {}: allowed are numbers above 0", self.cost));
        }
        let job = match enquire(global, &self.file, Some(Resolution::Quick)) {
            Ok(job) => self.guard.of(job),
            Err(exit) => return exit,
        };
        let options = SortOptions {
            risks: self.risk.clone(),
            exit_sd_k: self.exit_sd,
            cost: self.cost,
            samples: self.samples as usize,
            seed: self.seed,
        };
        let progress = Progress::spinner(global, "drawing parts");
        let found = Bench::new(&job.model).and_then(|bench| Ok((sort(&job, &bench, &options)?, bench)));
        progress.end();
        match found {
            Ok((found, bench)) => out::result(
                global,
                || blocks(job.title(), &bench, &found, self.cost, &global.view()),
                || json!({ "schema_version": 1, "title": job.title(), "sorting": found, "bad_rows": bench.bad }),
                Exit::Fine,
            ),
            Err(error) => fail(&error),
        }
    }
}
