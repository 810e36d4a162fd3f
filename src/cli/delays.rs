//! `billet delays`: how long each hand-over may take.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{GuardOption, Progress, enquire, fail, resolution, times_json, write};
use super::{Global, controller, out};
use crate::ask::Failure;
use crate::ask::enquiry::Judged;
use crate::ask::hand_overs::{HandOverTimes, Pair};
use crate::ask::model::{Model, limit_name};
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
        let enquiry = match enquire(&self.file, self.resolution) {
            Ok(enquiry) => self.guard.of(enquiry),
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
        if let Some(folder) = &self.out {
            let progress = Progress::spinner(global, "making the controller table");
            let files = controller::files(&judged, &found, &global.view());
            progress.end();
            let written = match files {
                Ok(files) => write(folder, &files, global),
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

/// The times of a line as JSON.
pub(super) fn times_of_line_json(judged: &Judged, times: &[HandOverTimes], pairs: &[Pair]) -> serde_json::Value {
    let limits = judged.enquiry.model.limits();
    let risks = judged.risks();
    let list: Vec<_> = times
        .iter()
        .map(|t| {
            json!({
                "stage": t.stage,
                "kind": t.kind,
                "path": t.path,
                "planned_s": t.planned_s,
                "alone": times_json(Some(&t.alone), limits),
                "others_worst": times_json(t.others_worst.as_ref(), limits),
                "reject": times_json(t.reject.as_ref(), limits),
                "alarm": times_json(t.alarm.as_ref(), limits),
                "planned": t.state(t.planned_s),
                "margins_k": t.margins_k,
                "k_per_s": t.k_per_s,
            })
        })
        .collect();
    let bands: Vec<_> = judged.risk.as_ref().map_or_else(Vec::new, |risk| {
        let guards = risk.guards(&[]);
        let of = |k: usize| {
            json!({
                "limit": limit_name(&limits[k]),
                "reject_k": guards.reject[k],
                "alarm_k": guards.alarm[k],
                "error_k": risk.error_k()[k],
            })
        };
        (0..limits.len()).map(of).collect()
    });
    let together: Vec<_> = pairs
        .iter()
        .map(|pair| json!({ "first_s": pair.first_s, "second": times_json(Some(&pair.second), limits) }))
        .collect();
    json!({
        "schema_version": 3,
        "title": judged.enquiry.title(),
        "resolution": judged.enquiry.model.resolution(),
        "reject_risk": risks.reject,
        "alarm_risk": risks.alarm,
        "handovers": list,
        "guarded_acceptance": judged.enquiry.guarding,
        "guard_bands": bands,
        "together": together,
    })
}
