//! What comes of a line with changed numbers: the same trace, verdicts and times as the commands give for such a file.

use maud::{Markup, PreEscaped, html};
use serde_json::{Map, Value, json};

use super::body::Body;
use super::line::{Changes, Loaded, Settled};
use super::pinned;
use crate::ask::Failure;
use crate::ask::hand_overs::HandOverTimes;
use crate::ask::model::Model;
use crate::ask::times::Times;
use crate::condition::part::of_trace;
use crate::line::Trace;
use crate::line::file::{Document, LineFileError};
use crate::line::plan::{Input, Plan};
use crate::line::trace::SectionMap;
use crate::report::inputs::allowed as range;
use crate::report::{Dossier, Paper, Span, common_range, headline, history_chart, report_html, section};
use crate::report::{limit_tables, metal, moments, sentences, times as delays, warnings, where_heat_went};
use crate::show::html::markup;
use crate::show::{Block, Cell, Mark, View};

/// The answer to the changes of a body.
///
/// # Errors
/// What is wrong with the changes, as JSON with the path of each problem where it is known.
pub(super) fn answer(loaded: &Loaded, body: &Body, view: &View) -> Result<Value, Value> {
    let changes = body.changes();
    refuse(&loaded.document, &changes, view)?;
    match body.settle {
        true => {
            let settled = loaded.settled(&changes).map_err(|failure| failed(&failure))?;
            let pinned = body.pinned().map(|changes| loaded.settled(&changes)).transpose();
            let pinned = pinned.map_err(|failure| failed(&failure))?;
            let plan = settled.enquiry.model.document().plan();
            let beside = pinned
                .as_ref()
                .map(|pinned| (&pinned.trace, pinned.enquiry.model.document().inputs()));
            let mut value = of_trace_json(&settled.trace, plan, beside, body, view);
            value["hand_overs"] = json!(settled.times.iter().map(times_json).collect::<Vec<_>>());
            value["html"]["times"] = json!(times_html(&settled, view).map_err(|failure| failed(&failure))?);
            Ok(value)
        }
        false => {
            let quick = |changes: &Changes| loaded.quick(changes).map_err(|failure| failed(&failure));
            let (plan, trace) = &*quick(&changes)?;
            let pinned = body.pinned().map(|changes| quick(&changes)).transpose()?;
            let beside = pinned.as_ref().map(|pinned| (&pinned.1, pinned.0.inputs.as_slice()));
            Ok(of_trace_json(trace, plan, beside, body, view))
        }
    }
}

fn of_trace_json(trace: &Trace, plan: &Plan, beside: Option<(&Trace, &[Input])>, body: &Body, view: &View) -> Value {
    let numbers: Map<String, Value> = plan
        .inputs
        .iter()
        .filter_map(|input| Some((input.path.clone(), json!(input.number()?))))
        .collect();
    let broken = trace.verdicts.iter().filter(|verdict| !verdict.holds).count();
    let map = body
        .map
        .unwrap_or_else(|| telling(trace))
        .min(trace.maps.len().saturating_sub(1));
    json!({
        "resolution": trace.resolution.word(),
        "settled": body.settle,
        "limits": trace.verdicts.len(),
        "broken": broken,
        "headline": headline(trace).whole(view),
        "verdicts": trace.verdicts,
        "moments": trace.moments,
        "ledger": trace.ledger,
        "numbers": numbers,
        "maps": trace.maps.iter().map(|map| map.title.as_str()).collect::<Vec<_>>(),
        "map": map,
        "html": {
            "verdict": verdict(trace, view).into_string(),
            "limits": markup(&limit_tables(trace, false), view).into_string(),
            "history": history(trace, view).into_string(),
            "section": trace.maps.get(map).map(|map| picture(map, trace, view)),
            "energy": markup(&where_heat_went(trace, view), view).into_string(),
            "moments": markup(&moments(trace, usize::MAX), view).into_string(),
            "warnings": markup(&warnings(trace, view), view).into_string(),
            "beside": beside.map(|(pinned, inputs)| {
                markup(&pinned::blocks((pinned, inputs), (trace, &plan.inputs)), view).into_string()
            }),
        },
    })
}

fn verdict(trace: &Trace, view: &View) -> Markup {
    let headline = headline(trace);
    let class = match &headline {
        Cell::Mark(Mark::Ok, _) => "verdict good",
        Cell::Mark(Mark::Watch, _) => "verdict watch",
        _ => "verdict bad",
    };
    html! {
        p class=(class) { (headline.whole(view)) }
        (markup(&sentences(trace), view))
    }
}

/// The history over the line. Readings of the shop stand on a chart of their own: each is of the run of its own part.
fn history(trace: &Trace, view: &View) -> Markup {
    let drawing = history_chart(trace, view, Span::Line).draw(&view.style());
    html! { figure class="wide" { (PreEscaped(&drawing.svg)) } }
}

/// The map that tells most: the last one before the limiting moment.
fn telling(trace: &Trace) -> usize {
    let limiting = trace.limiting().map_or(f64::INFINITY, |verdict| verdict.time_s);
    trace.maps.iter().rposition(|map| map.time_s <= limiting).unwrap_or(0)
}

fn picture(map: &SectionMap, trace: &Trace, view: &View) -> String {
    markup(&[section(map, view, common_range(&trace.maps)).into()], view).into_string()
}

/// The times of the hand-overs as `delays` prints them.
fn times_html(settled: &Settled, view: &View) -> Result<String, Failure> {
    if settled.trace.verdicts.is_empty() {
        return Ok(String::new());
    }
    let judged = settled.judged()?;
    Ok(markup(&delays::section(&judged, &settled.times), view).into_string())
}

fn times_json(times: &HandOverTimes) -> Value {
    let ends = |times: Option<&Times>| match times {
        Some(Times::Between { earliest, latest }) => json!({
            "earliest_s": earliest.map(|edge| edge.seconds),
            "latest_s": latest.map(|edge| edge.seconds),
        }),
        Some(Times::Never { .. }) => json!({ "never": true }),
        None => Value::Null,
    };
    json!({
        "stage": times.stage,
        "path": times.path,
        "planned_s": times.planned_s,
        "alone": ends(Some(&times.alone)),
        "reject": ends(times.reject.as_ref()),
        "alarm": ends(times.alarm.as_ref()),
    })
}

/// Refuses a number that its own range refuses, so that the problem has its path.
fn refuse(document: &Document, changes: &Changes, view: &View) -> Result<(), Value> {
    let problems: Vec<Value> = changes
        .iter()
        .filter_map(|(path, value)| {
            let Some(input) = document.input(path) else {
                let message = format!("no input is called `{path}`");
                return Some(json!({ "path": path, "message": message }));
            };
            let allowed = input.allowed?;
            let range = range(allowed).whole(view);
            let (outside, words) = (view.say("page.outside"), view.say("inputs.allowed"));
            let message = format!("{path} = {value}: {outside} {words}: {range} {}", input.unit);
            (!allowed.contains(*value)).then(|| json!({ "path": path, "message": message.trim_end() }))
        })
        .collect();
    match problems.is_empty() {
        true => Ok(()),
        false => Err(json!({ "problems": problems })),
    }
}

/// What is wrong with a file.
pub(super) fn problems(error: &LineFileError) -> Value {
    let list: Vec<Value> = match error {
        LineFileError::Wrong(problems) => problems
            .list
            .iter()
            .map(|problem| json!({ "message": problem.kind.to_string(), "help": problem.kind.help() }))
            .collect(),
        other => vec![json!({ "message": other.to_string() })],
    };
    json!({ "problems": list })
}

/// Why there is no answer.
fn failed(failure: &Failure) -> Value {
    match failure {
        Failure::File(error) => problems(error),
        other => json!({ "problems": [{ "message": other.to_string() }] }),
    }
}

/// The changed line file.
///
/// # Errors
/// What would be wrong with it.
pub(super) fn line_file(loaded: &Loaded, body: &Body, view: &View) -> Result<String, Value> {
    let changes = body.changes();
    refuse(&loaded.document, &changes, view)?;
    let document = loaded.with(&changes).map_err(|error| problems(&error))?;
    Ok(document.text().to_owned())
}

/// The report of the changed line, as one file.
///
/// # Errors
/// What is wrong with the changes.
pub(super) fn report(loaded: &Loaded, body: &Body, name: &str, view: &View) -> Result<String, Value> {
    let changes = body.changes();
    refuse(&loaded.document, &changes, view)?;
    let settled = loaded.settled(&changes).map_err(|failure| failed(&failure))?;
    let document = settled.enquiry.model.document();
    let plan = document.plan();
    let mut dossier = Dossier {
        part: plan.part.clone().unwrap_or_default(),
        revision: plan.revision.clone().unwrap_or_default(),
        note: plan.note.clone().unwrap_or_default(),
        ..Dossier::new(&settled.trace, name, document.text())
    };
    dossier.metal = of_trace(&settled.trace, &plan.metal)
        .ok()
        .map(|nodes| metal::blocks(&nodes));
    dossier.delays = delays::delay_rows(&settled.times, settled.enquiry.model.limits());
    if !settled.trace.verdicts.is_empty() {
        let judged = settled.judged().map_err(|failure| failed(&failure))?;
        dossier.delay_limits = Some(delays::section(&judged, &settled.times));
    }
    Ok(report_html(&dossier, view, Paper::A4))
}

/// Blocks of a panel as HTML.
pub(super) fn shown(blocks: &[Block], view: &View) -> String {
    markup(blocks, view).into_string()
}
