//! `billet sheet`: the set-up sheet for the wall at the hammer.

use std::path::PathBuf;

use clap::Args;

use super::exit::Exit;
use super::paper::{PaperOptions, Planning, add_heater, add_planning, default_name, fail, finish, follow};
use super::planning::Progress;
use super::{Global, message};
use crate::report::sheet_html;

/// Make the set-up sheet: one page with settings, limits, times and what to do.
#[derive(Debug, Args)]
pub(super) struct Sheet {
    /// The line file.
    file: PathBuf,
    /// Where to write the page (default: the line file's name with .sheet.html, in the current
    /// folder; `-` writes to standard output).
    #[arg(long, value_name = "PATH")]
    out: Option<PathBuf>,
    /// Leave out exit band and stop table, which need many runs.
    #[arg(long)]
    brief: bool,
    #[command(flatten)]
    paper: PaperOptions,
}

impl Sheet {
    pub fn run(&self, global: &Global) -> Exit {
        let document = match message::load(&self.file) {
            Ok(document) => document,
            Err(exit) => return exit,
        };
        let view = self.paper.view(global);
        let progress = Progress::spinner(global, "following the part");
        let traced = follow(&document);
        progress.end();
        let trace = match traced {
            Ok(trace) => trace,
            Err(exit) => return exit,
        };
        let mut dossier = self.paper.dossier(&document, &trace);
        add_heater(&mut dossier, &document, &view);
        let progress = Progress::spinner(global, "searching the time limits");
        let much = if self.brief { Planning::Brief } else { Planning::Sheet };
        let planned = add_planning(&mut dossier, &document, &view, much);
        progress.end();
        if let Err(failure) = planned {
            return fail(&failure);
        }
        let page = sheet_html(&dossier, &view, self.paper.paper());
        let to = self.out.clone().unwrap_or_else(|| default_name(&document, "sheet"));
        finish(&page, &to, (&trace, None), &view, global)
    }
}
