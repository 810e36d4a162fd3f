//! `billet trace`: follow one part through the line and judge every limit.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};

use super::exit::Exit;
use super::paper::{add_metal, dossier};
use super::planning::{affordable, unwritten};
use super::progress::Progress;
use super::{Global, message, out, save};
use crate::ask::Failure;
use crate::ask::certainty::Certainty;
use crate::ask::contact_spread::ContactSpread;
use crate::ask::enquiry::Enquiry;
use crate::ask::estimate::ErrorEstimate;
use crate::condition::part;
use crate::line::file::Document;
use crate::line::trace::Trace;
use crate::report::bill::{self, bill_chart, bill_csv};
use crate::report::csv::{limits_csv, trace_csv};
use crate::report::json::result_json;
use crate::report::{
    OutFile, Paper, ReportError, Span, View, accuracy, common_range, history, metal, report_html, section,
};
use crate::show::Block;
use crate::text::file_word;

/// Follow one part through the line and judge every limit.
#[derive(Debug, Args)]
pub(super) struct TraceCommand {
    /// The line file.
    file: PathBuf,
    /// Write trace.csv, limits.csv, result.json, report.html and the pictures into this folder.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Run once more on a finer grid and tell how far each node may be off; the finest has none.
    #[arg(long)]
    estimate_error: bool,
    /// Tell where the heat went, phase by phase and zone by zone.
    #[arg(long)]
    bill: bool,
    /// Tell what the history did to the metal: scale, carbon, grain, cooling rate.
    #[arg(long)]
    metal: bool,
    /// Run again with the contact coefficients at the low and the high end of what is published.
    #[arg(long)]
    spread: bool,
    /// Tell how certain each limited value is, what that mostly comes from, and what to measure (some forty
    /// quick runs).
    #[arg(long)]
    certainty: bool,
}

impl TraceCommand {
    pub fn run(&self, global: &Global) -> Exit {
        let document = match message::load(&self.file, global) {
            Ok(document) => document,
            Err(exit) => return exit,
        };
        let folder = match save::folder(self.out.as_deref(), document.files(), global) {
            Ok(folder) => folder,
            Err(exit) => return exit,
        };
        if self.estimate_error
            && let Some(finer) = ErrorEstimate::finer(document.plan().resolution)
            && let Err(exit) = affordable(global, document.plan(), finer, 1)
        {
            return exit;
        }
        let progress = Progress::spinner(global, "following the part");
        let traced = self.trace(&document);
        progress.end();
        let (trace, error) = match traced {
            Ok(traced) => traced,
            Err(error) => {
                message::error_line(&error.to_string());
                return Exit::Failed;
            }
        };
        let done = if trace.verdicts.iter().all(|verdict| verdict.holds) {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        if let Some(folder) = &folder {
            let discretisation = self.estimate_error.then(|| accuracy::error(error.as_ref()));
            let files = files(&document, &trace, discretisation, &global.view()).map_err(|error| unwritten(&error));
            if let Err(exit) = files.and_then(|files| folder.write(&files)) {
                return exit;
            }
        }
        let more = match self.more(&document, &trace) {
            Ok(more) => more,
            Err(error) => {
                message::error_line(&error);
                return Exit::Failed;
            }
        };
        match self.result(&trace, error.as_ref(), &more, global) {
            Ok(text) => out::print(&text, done),
            Err(error) => {
                message::error_line(&error.to_string());
                Exit::Failed
            }
        }
    }

    fn trace(&self, document: &Document) -> Result<(Trace, Option<ErrorEstimate>), Failure> {
        let trace = Enquiry::new(document.clone(), None)?.trace()?;
        let error = match self.estimate_error {
            true => ErrorEstimate::of(document.plan(), &trace)?,
            false => None,
        };
        Ok((trace, error))
    }

    /// What was asked for beside the trace.
    fn more(&self, document: &Document, trace: &Trace) -> Result<More, String> {
        let steel = &document.plan().metal;
        let metal = match self.metal {
            true => Some(part::of_trace(trace, steel).map_err(|error| error.to_string())?),
            false => None,
        };
        let spread = match self.spread {
            true => Some(ContactSpread::of(document, trace).map_err(|error| error.to_string())?),
            false => None,
        };
        let certainty = match self.certainty {
            true => Some(certainty(document).map_err(|error| error.to_string())?),
            false => None,
        };
        Ok(More {
            metal,
            spread,
            certainty,
        })
    }

    fn result(
        &self,
        trace: &Trace,
        error: Option<&ErrorEstimate>,
        more: &More,
        global: &Global,
    ) -> Result<String, ReportError> {
        if global.json {
            let mut text = result_json(trace)?;
            if self.estimate_error {
                text = with_key(&text, "error_estimate", json!(error));
            }
            if let Some(metal) = &more.metal {
                text = with_key(&text, "metal", json!(metal));
            }
            if let Some(spread) = &more.spread {
                text = with_key(&text, "contact_spread", json!(spread));
            }
            if let Some(certainty) = &more.certainty {
                text = with_key(&text, "certainty", json!(certainty));
            }
            return Ok(text);
        }
        let mut blocks = crate::report::blocks(trace, &global.view());
        if self.estimate_error {
            blocks.extend(accuracy::error(error));
        }
        if self.bill {
            blocks.extend(bill::blocks(trace));
        }
        blocks.extend(more.metal.iter().flat_map(|nodes| metal::blocks(nodes)));
        blocks.extend(more.spread.iter().flat_map(accuracy::contact));
        let certainty = more.certainty.iter();
        blocks.extend(certainty.flat_map(|found| crate::report::certainty::blocks(found, &trace.verdicts)));
        out::shown(global, &blocks).map_err(|error| ReportError::Text(error.to_string()))
    }
}

/// What `--metal`, `--spread` and `--certainty` add.
struct More {
    metal: Option<Vec<part::NodeCondition>>,
    spread: Option<ContactSpread>,
    certainty: Option<Certainty>,
}

/// How certain the limited values of a line are.
pub(super) fn certainty(document: &Document) -> Result<Certainty, Failure> {
    Enquiry::new(document.clone(), None)?.certainty()
}

/// A result with one more key.
fn with_key(text: &str, key: &str, value: Value) -> String {
    let Ok(Value::Object(mut result)) = serde_json::from_str(text) else {
        return text.to_owned();
    };
    result.insert(key.to_owned(), value);
    out::json(&Value::Object(result))
}

/// The files of a run: results metric, pictures in the units asked for.
fn files(
    document: &Document,
    trace: &Trace,
    discretisation: Option<Vec<Block>>,
    view: &View,
) -> Result<Vec<OutFile>, ReportError> {
    let mut dossier = dossier(document, trace);
    dossier.discretisation = discretisation;
    add_metal(&mut dossier, document);
    let mut files = vec![
        OutFile::text("trace.csv", trace_csv(trace)?),
        OutFile::text("limits.csv", limits_csv(trace)?),
        OutFile::text("bill.csv", bill_csv(trace)?),
        OutFile::text("bill.svg", bill_chart(trace, view).svg),
        OutFile::text("result.json", result_json(trace)?),
        OutFile::text("history.svg", history(trace, view, Span::Line).svg),
        OutFile::text("report.html", report_html(&dossier, view, Paper::A4)),
    ];
    let range = common_range(&trace.maps);
    for (index, map) in trace.maps.iter().enumerate() {
        let name = format!("map-{:02}-{}.svg", index + 1, file_word(&map.title));
        files.push(OutFile::text(name, section(map, view, range).svg));
    }
    #[cfg(feature = "png")]
    crate::report::png::add_to(&mut files)?;
    Ok(files)
}
