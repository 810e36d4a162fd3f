//! What the planning commands have in common.

use std::path::Path;

use serde_json::{Value, json};

use super::exit::Exit;
use super::{Global, message};
use crate::ask::Failure;
use crate::ask::enquiry::{Enquiry, Judged};
use crate::ask::hand_overs::{HandOverTimes, Pair};
use crate::ask::model::{Model, Outcome};
use crate::ask::times::Times;
use crate::judge::Limit;
use crate::line::plan::{Plan, Resolution};
use crate::line::run::{Budget, Need};
use crate::report::ReportError;
use crate::text::number::{down, up};

/// Longest work that is not refused, hours of one core.
pub(super) const MOST_HOURS: f64 = 24.0;

/// Refuses so many runs of a plan where one of them, or all together, are over the budget.
pub(super) fn affordable(global: &Global, plan: &Plan, resolution: Resolution, runs: u32) -> Result<(), Exit> {
    let need = Need::of(plan, resolution);
    if let Some((detail, help)) = Budget::times(global.budget).refusal(&need) {
        message::error_line(&format!("{detail}; {help}"));
        return Err(Exit::WrongInput);
    }
    let hours = f64::from(runs) * need.seconds / 3600.0;
    let most = MOST_HOURS * global.budget;
    if hours > most {
        message::error_line(&format!(
            "{runs} runs need about {hours:.1} hours of one core, the budget is {most:.0} hours; fewer runs or a coarser \
             resolution make it smaller, --budget multiplies the usual budget"
        ));
        return Err(Exit::WrongInput);
    }
    Ok(())
}

/// Reads line file and study, at the resolution asked for or that of the file.
pub(super) fn enquire(global: &Global, path: &Path, resolution: Option<Resolution>) -> Result<Enquiry, Exit> {
    let document = message::load(path, global)?;
    affordable(
        global,
        document.plan(),
        resolution.unwrap_or(document.plan().resolution),
        1,
    )?;
    Enquiry::new(document, resolution).map_err(|failure| fail(&failure))
}

/// Whether answers keep guard bands.
#[derive(Debug, Clone, Copy, clap::Args)]
pub(super) struct GuardOption {
    /// Limits as they are: no guard bands for what scatters.
    #[arg(long)]
    no_guard: bool,
}

impl GuardOption {
    /// The enquiry as it was asked for.
    pub fn of(self, enquiry: Enquiry) -> Enquiry {
        if self.no_guard { enquiry.bare() } else { enquiry }
    }
}

pub(super) use super::progress::Progress;
pub(super) use crate::ask::enquiry::Enquiry as Job;

impl Enquiry {
    /// The planned run; a line without limits has nothing to plan against.
    pub(super) fn nominal(&self) -> Result<Outcome, Failure> {
        self.planned()
    }
}

/// Reads a resolution from the command line.
pub(super) fn resolution(word: &str) -> Result<Resolution, String> {
    let known = Resolution::ALL.map(Resolution::word).join(", ");
    Resolution::parse(word).ok_or_else(|| format!("resolutions are {known}"))
}

/// Tells a failure and gives its exit status.
pub(super) fn fail(failure: &Failure) -> Exit {
    match failure {
        Failure::File(error) => message::line_file(error),
        other => message::error_line(&other.to_string()),
    }
    if failure.exit_code() == 3 {
        Exit::Failed
    } else {
        Exit::WrongInput
    }
}

/// Tells that results could not be written.
pub(super) fn unwritten(error: &ReportError) -> Exit {
    message::error_line(&error.to_string());
    Exit::Failed
}

/// Times as JSON: an outcome, both ends rounded to the safe side, and the limits that set them.
pub(super) fn times_json(times: Option<&Times>, limits: &[Limit]) -> Value {
    let name = |limit: usize| limits.get(limit).map(ToString::to_string);
    match times {
        None => Value::Null,
        Some(Times::Between { earliest, latest }) => json!({
            "outcome": "between",
            "earliest_s": earliest.map(|edge| up(edge.seconds, 1)),
            "earliest_limit": earliest.and_then(|edge| name(edge.limit)),
            "latest_s": latest.map(|edge| down(edge.seconds, 1)),
            "latest_limit": latest.and_then(|edge| name(edge.limit)),
        }),
        Some(Times::Never { limit, other, margin_k }) => json!({
            "outcome": "never",
            "limit": name(*limit),
            "against": other.and_then(name),
            "margin_k": margin_k,
        }),
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
                "limit": limits[k].to_string(),
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
        "own_values_counted_as_known": judged.enquiry.counted_as_known(),
        "guard_bands": bands,
        "together": together,
    })
}
