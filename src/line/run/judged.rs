//! A run for its verdicts alone: it ends after the last moment that any limit speaks of. What would fail after that (a
//! stage of the tail that cannot be computed) is not seen here; a whole run sees it.

use super::record::Recorder;
use super::{HeaterCache, RunError, RunOptions, Runner};
use crate::judge::{Bound, Limit, Moment, StageSpan, Verdict};
use crate::line::plan::{Plan, Stage, StageKind};

/// Verdicts of a run of the plan and its stages on the time axis. What comes after the last judged moment is
/// not computed: its stages have their planned lengths.
///
/// # Errors
/// As [`super::run`].
pub(crate) fn run_judged(
    plan: &Plan,
    options: &RunOptions,
    heated: &HeaterCache,
) -> Result<(Vec<Verdict>, Vec<StageSpan>), RunError> {
    let mut runner = Runner::new(plan, options, heated)?;
    for (index, stage) in plan.stages.iter().enumerate() {
        let rest = &plan.stages[index..];
        if rest.iter().any(|stage| is_judged(plan, stage, &runner.recorder)) {
            runner.stage(index)?;
        } else {
            runner
                .recorder
                .pass(stage.name.clone(), stage.kind.kind(), stage.seconds());
        }
    }
    let trace = runner.finish_whole()?;
    Ok((trace.verdicts, trace.stages))
}

/// Whether what happens in a stage may matter to a verdict, as far as a run has come.
fn is_judged(plan: &Plan, stage: &Stage, recorder: &Recorder) -> bool {
    // Blows heat the part, so nothing before one can be left out.
    if matches!(stage.kind, StageKind::Forge(_) | StageKind::Trim(_)) {
        return true;
    }
    let limits = plan.limits.iter().enumerate();
    let mut mine = limits.filter(|(_, limit)| limit.stage.as_ref().is_none_or(|name| *name == stage.name));
    mine.any(|(index, limit)| match limit.moment {
        Moment::Exit => false,
        Moment::Always => !stays_below(limit, stage, recorder.hottest_seen_c(index)),
        moment => !moment.is_blow(),
    })
}

/// Whether the hottest place of the part cannot pass what was seen of it: nothing in the stage is as hot, and
/// heat flows to what is colder.
fn stays_below(limit: &Limit, stage: &Stage, seen_c: Option<f64>) -> bool {
    let whole = limit.stage.is_none() && limit.node == "hottest" && limit.other.is_none();
    whole && matches!(limit.bound, Bound::MaxC(_)) && seen_c.is_some_and(|seen_c| hottest_around_c(stage) < seen_c)
}

/// Temperature of the hottest thing that the part meets in a stage without blows, degC.
fn hottest_around_c(stage: &Stage) -> f64 {
    let around = [stage.surroundings.ambient_c, stage.surroundings.surroundings_c];
    let touched: Vec<f64> = match &stage.kind {
        StageKind::Carry { grips, .. } => grips.iter().map(|grip| grip.jaw_c).collect(),
        StageKind::Rest { support, .. } => vec![support.bulk_c],
        StageKind::Descale { water_c, .. } => vec![*water_c],
        StageKind::Cool(cool) => {
            let support = cool.support.as_ref().map(|support| support.bulk_c);
            support.into_iter().chain(cool.belt_c()).collect()
        }
        StageKind::Wait { .. } => Vec::new(),
        StageKind::Forge(_) | StageKind::Trim(_) => vec![f64::INFINITY],
    };
    around.into_iter().chain(touched).fold(f64::NEG_INFINITY, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::file::Document;
    use crate::line::plan::Resolution;
    use crate::line::run::run;
    use std::path::Path;

    /// Every example, and the hub with limits that speak of the time after the last blow.
    #[test]
    fn verdicts_are_those_of_the_whole_run() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
        let hub = std::fs::read_to_string(folder.join("hub.toml")).unwrap();
        let more = |limit: &str| hub.replace("[study]", &format!("[[limit]]\n{limit}\n\n[study]"));
        let mut lines = vec![
            more("stage = \"conveyor\"\nmoment = \"end\"\nnode = \"mean\"\nmin_c = 700"),
            more("moment = \"always\"\nnode = \"coldest\"\nmin_c = 400"),
            more("moment = \"always\"\nnode = \"core\"\nmax_c = 1255"),
            more("moment = \"end\"\nnode = \"mean\"\nmin_c = 700"),
            hub.replace("belt_c = 120", "belt_c = 1279"),
        ];
        for name in ["hub", "pin", "connecting-rod", "cold-start", "long-bar", "flange"] {
            lines.push(std::fs::read_to_string(folder.join(name).with_extension("toml")).unwrap());
        }
        for text in lines {
            let document = Document::parse(text, folder.join("x.toml")).unwrap();
            let options = RunOptions {
                resolution: Some(Resolution::Quick),
                ..RunOptions::bare()
            };
            let whole = run(document.plan(), &options).unwrap();
            let (verdicts, stages) = run_judged(document.plan(), &options, &HeaterCache::default()).unwrap();
            assert_eq!(verdicts, whole.verdicts, "{}", whole.title);
            assert_eq!(stages.len(), whole.stages.len());
            for (short, long) in stages.iter().zip(&whole.stages) {
                assert!(
                    (short.end_s - long.end_s).abs() < 1e-9,
                    "{}: {short:?} {long:?}",
                    whole.title
                );
            }
        }
    }
}
