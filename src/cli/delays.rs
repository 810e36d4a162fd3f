//! `billet delays`: how long each hand-over may take.

use std::path::PathBuf;

use clap::Args;

use super::exit::Exit;
use super::planning::{GuardOption, Progress, enquire, fail, resolution, times_of_line_json};
use super::{Global, controller, out, save};
use crate::ask::Failure;
use crate::ask::enquiry::Judged;
use crate::ask::hand_overs::Pair;
use crate::line::plan::Resolution;
use crate::report::times;

/// Find how long each hand-over may take: from when on the part is not too hot, until when not too cold.
#[derive(Debug, Args)]
pub(super) struct Delays {
    /// The line file; its [[study.scatter]] tables give the guard band.
    file: PathBuf,
    /// Write delays.json, the controller table (CSV and JSON), the decision table and the chart.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Find what the second of two hand-overs may take for several lengths of the first.
    #[arg(long, num_args = 2, value_names = ["STAGE", "STAGE"])]
    together: Vec<String>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = resolution)]
    resolution: Option<Resolution>,
    #[command(flatten)]
    guard: GuardOption,
}

impl Delays {
    pub fn run(&self, global: &Global) -> Exit {
        let enquiry = match enquire(global, &self.file, self.resolution) {
            Ok(enquiry) => self.guard.of(enquiry),
            Err(exit) => return exit,
        };
        let folder = match save::folder(self.out.as_deref(), enquiry.model.document().files(), global) {
            Ok(folder) => folder,
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "searching the times");
        let answer = enquiry.judged().and_then(|judged| {
            let found = judged.times()?;
            let pairs = self.pairs(&judged)?;
            Ok((judged, found, pairs))
        });
        progress.end();
        let (judged, found, pairs) = match answer {
            Ok(answer) => answer,
            Err(failure) => return fail(&failure),
        };
        if let Some(folder) = &folder {
            let progress = Progress::spinner(global, "making the controller table");
            let files = controller::files(&judged, &found, &global.view());
            progress.end();
            let written = match files {
                Ok(files) => folder.write(&files),
                Err(failure) => return fail(&failure),
            };
            if let Err(exit) = written {
                return exit;
            }
        }
        let holds = judged.planned.verdicts.iter().all(|v| v.holds);
        let done = if holds { Exit::Fine } else { Exit::LimitBroken };
        let together = match self.together.as_slice() {
            [first, second] => Some((first.as_str(), second.as_str(), pairs.as_slice())),
            _ => None,
        };
        out::result(
            global,
            || times::blocks(&judged, &found, together),
            || times_of_line_json(&judged, &found, &pairs),
            done,
        )
    }

    fn pairs(&self, judged: &Judged) -> Result<Vec<Pair>, Failure> {
        match self.together.as_slice() {
            [first, second] => judged.pairs(first, second, 5),
            _ => Ok(Vec::new()),
        }
    }
}
