//! `billet reheat`: a part set aside, cooled and heated again.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{Progress, enquire, fail};
use super::{Global, message, out};
use crate::ask::reheat::{ReheatOptions, reheats};
use crate::report::reheat::blocks;

/// What setting a part aside and heating it again does, how often it may be done, and how it is put back.
#[derive(Debug, Args)]
pub(super) struct Reheat {
    /// The line file.
    file: PathBuf,
    /// The hand-over in which the part is set aside.
    #[arg(long, value_name = "STAGE")]
    after: String,
    /// How long it cools, min.
    #[arg(long, value_name = "MIN", default_value_t = 60.0)]
    cool_min: f64,
    /// How long heating takes, min.
    #[arg(long, value_name = "MIN", default_value_t = 5.0)]
    heat_min: f64,
    /// Reheats that are looked at.
    #[arg(long, value_name = "COUNT", default_value_t = 3, value_parser = clap::value_parser!(u32).range(1..=20))]
    count: u32,
    /// Depth that machining takes off, mm (default: 1 mm, common practice).
    #[arg(long, value_name = "MM", default_value_t = 1.0)]
    allowance_mm: f64,
}

impl Reheat {
    pub fn run(&self, global: &Global) -> Exit {
        let within = |value: f64, most: f64| value > 0.0 && value <= most;
        if !within(self.cool_min, 10_000.0) || !within(self.heat_min, 10_000.0) || !within(self.allowance_mm, 100.0) {
            message::error_line("allowed are above 0 to 10000 min, and above 0 to 100 mm");
            return Exit::WrongInput;
        }
        let job = match enquire(global, &self.file, None) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        let options = ReheatOptions {
            stage: self.after.clone(),
            cool_s: 60.0 * self.cool_min,
            heat_s: 60.0 * self.heat_min,
            most: self.count,
            allowance_m: 1e-3 * self.allowance_mm,
        };
        let progress = Progress::spinner(global, "cooling the part");
        let found = reheats(&job.model, &options);
        progress.end();
        match found {
            Ok(found) => out::result(
                global,
                || blocks(job.title(), &found, &options),
                || {
                    json!({
                        "schema_version": 1,
                        "title": job.title(),
                        "stage": self.after,
                        "cool_min": self.cool_min,
                        "heat_min": self.heat_min,
                        "allowed": found.allowed(),
                        "cold_enough": found.is_cold_enough(),
                        "reheats": found,
                    })
                },
                Exit::Fine,
            ),
            Err(failure) => fail(&failure),
        }
    }
}
