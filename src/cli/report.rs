//! `billet report`: everything about one line in one page.

use std::path::PathBuf;

use clap::Args;

use super::exit::Exit;
use super::paper::{
    PaperOptions, Planning, add_heater, add_measured, add_metal, add_planning, default_name, fail, finish, follow,
};
use super::progress::Progress;
use super::trace::certainty;
use super::{Global, message, save};
use crate::ask::Failure;
use crate::ask::estimate::ErrorEstimate;
use crate::ask::explore::{Explored, Usual, explore, usual};
use crate::ask::line_model::LineModel;
use crate::line::file::Document;
use crate::report::report_html;
use crate::report::{accuracy, certainty as certain};

/// Make the full report: verdict, history, margins, maps, heat, inputs with their owners.
#[derive(Debug, Args)]
pub(super) struct Report {
    /// The line file.
    file: PathBuf,
    /// Where to write the page (default: the line file's name with .report.html, in the current
    /// folder; `-` writes to standard output).
    #[arg(long, value_name = "PATH")]
    out: Option<PathBuf>,
    /// With delay limits, exit band, sensitivities, stops and scatter, which need many runs.
    #[arg(long)]
    full: bool,
    /// Run once more on a finer mesh and tell how far each node may be off.
    #[arg(long)]
    estimate_error: bool,
    /// With working sliders for the exit temperature and the hand-overs (or the inputs of --vary), six at most, those with
    /// the least to spare; from runs made before, their error is stated.
    #[arg(long)]
    interactive: bool,
    /// Inputs of the sliders by path, one to six; may be given several times.
    #[arg(long, value_name = "PATH", requires = "interactive")]
    vary: Vec<String>,
    #[command(flatten)]
    paper: PaperOptions,
}

impl Report {
    pub fn run(&self, global: &Global) -> Exit {
        let document = match message::load(&self.file, global) {
            Ok(document) => document,
            Err(exit) => return exit,
        };
        let to = self.out.clone().unwrap_or_else(|| default_name(&document, "report"));
        let inputs = document.files();
        if let Err(exit) = save::check_file(&to, &inputs) {
            return exit;
        }
        let view = self.paper.view(global);
        let progress = Progress::spinner(global, "following the part");
        let traced = follow(&document);
        progress.end();
        let trace = match traced {
            Ok(trace) => trace,
            Err(exit) => return exit,
        };
        let mut dossier = self.paper.dossier(&document, &trace);
        let metal = add_metal(&mut dossier, &document);
        add_heater(&mut dossier, &document, &view);
        if !trace.verdicts.is_empty() {
            let progress = Progress::spinner(global, "moving each uncertain number");
            let found = certainty(&document);
            progress.end();
            match found {
                Ok(found) => dossier.certainty = Some(certain::blocks(&found, &trace.verdicts)),
                Err(failure) => return fail(&failure),
            }
        }
        if document.has_measurements() {
            let progress = Progress::spinner(global, "running the parts that were measured");
            let measured = add_measured(&mut dossier, &document, &view);
            progress.end();
            if let Err(error) = measured {
                return super::measured::fail(&error);
            }
        }
        if self.full || self.estimate_error {
            let progress = Progress::spinner(global, "running on a finer mesh");
            let estimated = ErrorEstimate::of(document.plan(), &trace);
            progress.end();
            match estimated {
                Ok(estimate) => dossier.discretisation = Some(accuracy::error(estimate.as_ref())),
                Err(error) => {
                    message::error_line(&error.to_string());
                    return Exit::Failed;
                }
            }
        }
        if self.full {
            let progress = Progress::spinner(global, "planning");
            let planned = add_planning(&mut dossier, &document, &view, Planning::Report);
            progress.end();
            if let Err(failure) = planned {
                return fail(&failure);
            }
        }
        if self.interactive {
            let progress = Progress::spinner(global, "running over the ranges of the sliders");
            let explored = self.explored(&document);
            progress.end();
            match explored {
                Ok(explored) => dossier.explored = Some(explored),
                Err(failure) => return fail(&failure),
            }
        }
        let page = report_html(&dossier, &view, self.paper.paper());
        finish(&page, (&to, &inputs), (&trace, metal.as_deref()), &view, global)
    }

    /// Margins over the inputs of the sliders.
    fn explored(&self, document: &Document) -> Result<Explored, Failure> {
        let model = LineModel::new(document.clone());
        let chosen = match self.vary.is_empty() {
            true => usual(&model)?,
            false => Usual {
                paths: self.vary.clone(),
                left_out: Vec::new(),
            },
        };
        let mut explored = explore(&model, &chosen.paths)?;
        explored.left_out = chosen.left_out;
        Ok(explored)
    }
}
