//! `billet trace`: follow one part through the line and judge every limit.

use std::io::IsTerminal;
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::{Value, json};

use super::exit::Exit;
use super::paper::{add_metal, dossier};
use super::{Global, message, out};
use crate::line::file::Document;
use crate::line::plan::Resolution;
use crate::line::run::{RunError, RunOptions, run};
use crate::line::trace::Trace;
use crate::report::csv::{limits_csv, trace_csv};
use crate::report::json::result_json;
use crate::report::{
    OutFile, Paper, ReportError, View, answer, common_range, history_svg, report_html, section, write_set,
};
use crate::units::Display;

/// Follow one part through the line and judge every limit.
#[derive(Debug, Args)]
pub(super) struct TraceCommand {
    /// The line file.
    file: PathBuf,
    /// Write trace.csv, limits.csv, result.json, report.html and the pictures into this folder.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Run once more on a finer grid and tell how far each node may be off.
    #[arg(long)]
    estimate_error: bool,
}

impl TraceCommand {
    pub fn run(&self, global: &Global) -> Exit {
        let document = match message::load(&self.file) {
            Ok(document) => document,
            Err(exit) => return exit,
        };
        let progress = Progress::start(global, "following the part");
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
        if let Some(folder) = &self.out {
            let written = files(&document, &trace, global.display()).and_then(|files| write_set(folder, &files));
            match written {
                Ok(paths) if !global.quiet => {
                    message::remark(&format!("wrote {} files to {}", paths.len(), folder.display()));
                }
                Ok(_) => {}
                Err(error) => {
                    message::error_line(&error.to_string());
                    return Exit::Failed;
                }
            }
        }
        match self.result(&trace, error.as_ref(), global) {
            Ok(text) => out::print(&text, done),
            Err(error) => {
                message::error_line(&error.to_string());
                Exit::Failed
            }
        }
    }

    fn trace(&self, document: &Document) -> Result<(Trace, Option<ErrorEstimate>), RunError> {
        let plan = document.plan();
        let trace = run(plan, &RunOptions::default())?;
        if !self.estimate_error {
            return Ok((trace, None));
        }
        let finer = match plan.resolution {
            Resolution::Quick => Resolution::Standard,
            Resolution::Standard | Resolution::Fine => Resolution::Fine,
        };
        let options = RunOptions {
            resolution: Some(finer),
            ..RunOptions::bare()
        };
        let reference = run(plan, &options)?;
        Ok((trace.clone(), Some(ErrorEstimate::between(&trace, &reference))))
    }

    fn result(&self, trace: &Trace, error: Option<&ErrorEstimate>, global: &Global) -> Result<String, ReportError> {
        if global.json {
            let text = result_json(trace)?;
            return Ok(match error {
                Some(error) => with_estimate(&text, error),
                None => text,
            });
        }
        let colour = std::io::stdout().is_terminal() && crate::report::table::colour_allowed();
        let mut text = answer(trace, &View::from(global.display()), colour);
        if let Some(error) = error {
            text.push_str(&error.text(global.display()));
        }
        Ok(text)
    }
}

/// Differences of the node temperatures from those of a finer run, over all moments.
struct ErrorEstimate {
    finer: String,
    nodes: Vec<(String, f64, String)>,
}

impl ErrorEstimate {
    fn between(trace: &Trace, reference: &Trace) -> ErrorEstimate {
        let mut nodes = Vec::new();
        for (column, name) in trace.nodes.iter().enumerate() {
            let other = reference.nodes.iter().position(|node| node == name);
            let mut worst: Option<(f64, String)> = None;
            for moment in &trace.moments {
                let twin = reference
                    .moments
                    .iter()
                    .find(|m| m.stage == moment.stage && m.label == moment.label);
                let at = |m: &crate::line::trace::Moment, c: usize| m.temps_c.get(c).copied().flatten();
                let difference = match (at(moment, column), twin.zip(other).and_then(|(m, c)| at(m, c))) {
                    (Some(value), Some(better)) => (value - better).abs(),
                    _ => continue,
                };
                if worst.as_ref().is_none_or(|(most, _)| difference > *most) {
                    let stage = trace.stages.get(moment.stage).map_or("", |stage| stage.name.as_str());
                    worst = Some((difference, format!("{stage}, {}", moment.label)));
                }
            }
            if let Some((difference, place)) = worst {
                nodes.push((name.clone(), difference, place));
            }
        }
        ErrorEstimate {
            finer: reference.resolution.clone(),
            nodes,
        }
    }

    fn text(&self, display: Display) -> String {
        let unit = display.difference_unit();
        let rows: Vec<Vec<String>> = self
            .nodes
            .iter()
            .map(|(node, difference, place)| {
                vec![
                    node.clone(),
                    format!("{:.2}", display.difference(*difference)),
                    place.clone(),
                ]
            })
            .collect();
        let header = ["node", &format!(">difference {unit}"), "largest at"];
        format!(
            "\nLargest difference of each node from a run at resolution {}:\n{}",
            self.finer,
            crate::report::table::text_table(&header, &rows)
        )
    }
}

fn with_estimate(text: &str, error: &ErrorEstimate) -> String {
    let Ok(Value::Object(mut result)) = serde_json::from_str(text) else {
        return text.to_owned();
    };
    let nodes: Vec<Value> = error
        .nodes
        .iter()
        .map(|(node, difference, place)| json!({ "node": node, "difference_k": difference, "moment": place }))
        .collect();
    result.insert(
        "error_estimate".to_owned(),
        json!({ "against": error.finer, "nodes": nodes }),
    );
    out::json(&Value::Object(result))
}

/// The files of a run: results metric, pictures in the units asked for.
fn files(document: &Document, trace: &Trace, display: Display) -> Result<Vec<OutFile>, ReportError> {
    let view = View::from(display);
    let mut dossier = dossier(document, trace);
    add_metal(&mut dossier, document, &view);
    let mut files = vec![
        OutFile::text("trace.csv", trace_csv(trace)?),
        OutFile::text("limits.csv", limits_csv(trace)?),
        OutFile::text("result.json", result_json(trace)?),
        OutFile::text("history.svg", history_svg(trace, display)),
        OutFile::text("report.html", report_html(&dossier, &view, Paper::A4)),
    ];
    let range = common_range(&trace.maps);
    for (index, map) in trace.maps.iter().enumerate() {
        let word: String = map
            .title
            .chars()
            .map(|c| {
                if c.is_ascii_alphanumeric() {
                    c.to_ascii_lowercase()
                } else {
                    '-'
                }
            })
            .take(60)
            .collect();
        let name = format!("map-{:02}-{word}.svg", index + 1);
        files.push(OutFile::text(name, section(map, &View::from(display), range).svg));
    }
    Ok(files)
}

/// A spinner on a terminal, nothing elsewhere.
pub(super) struct Progress(Option<ProgressBar>);

impl Progress {
    pub(super) fn start(global: &Global, what: &str) -> Progress {
        if global.quiet || !std::io::stderr().is_terminal() {
            return Progress(None);
        }
        let bar = ProgressBar::new_spinner();
        if let Ok(style) = ProgressStyle::with_template("billet: {spinner} {msg} {elapsed}") {
            bar.set_style(style);
        }
        bar.set_message(what.to_owned());
        bar.enable_steady_tick(Duration::from_millis(100));
        Progress(Some(bar))
    }

    pub(super) fn end(self) {
        if let Some(bar) = self.0 {
            bar.finish_and_clear();
        }
    }
}
