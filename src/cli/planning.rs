//! What the planning commands have in common.

use std::io::IsTerminal;
use std::path::Path;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};
use serde_json::{Value, json};

use super::exit::Exit;
use super::{Global, message};
use crate::ask::Failure;
use crate::ask::enquiry::Enquiry;
use crate::ask::model::{Outcome, limit_name};
use crate::ask::times::Times;
use crate::judge::Limit;
use crate::line::plan::Resolution;
use crate::report::{OutFile, ReportError, write_set};
use crate::text::number::{down, up};

/// Reads line file and study, at the resolution asked for or that of the file.
pub(super) fn enquire(path: &Path, resolution: Option<Resolution>) -> Result<Enquiry, Exit> {
    let document = message::load(path)?;
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

/// Writes a set of files and says so.
pub(super) fn write(folder: &Path, files: &[OutFile], global: &Global) -> Result<(), Exit> {
    let paths = write_set(folder, files).map_err(|error| unwritten(&error))?;
    if !global.quiet {
        message::remark(&format!("wrote {} files to {}", paths.len(), folder.display()));
    }
    Ok(())
}

/// Times as JSON: an outcome, both ends rounded to the safe side, and the limits that set them.
pub(super) fn times_json(times: Option<&Times>, limits: &[Limit]) -> Value {
    let name = |limit: usize| limits.get(limit).map(limit_name);
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

/// A spinner or bar on a terminal, nothing elsewhere.
pub(super) struct Progress(Option<ProgressBar>);

impl Progress {
    /// A spinner with a word.
    pub fn spinner(global: &Global, what: &str) -> Self {
        Self::with(global, what, None)
    }

    /// A bar of known length.
    pub fn bar(global: &Global, what: &str, length: u64) -> Self {
        Self::with(global, what, Some(length))
    }

    fn with(global: &Global, what: &str, length: Option<u64>) -> Self {
        if global.quiet || !std::io::stderr().is_terminal() {
            return Self(None);
        }
        let (bar, template) = match length {
            Some(length) => (ProgressBar::new(length), "billet: {msg} {bar:30} {pos}/{len} {eta}"),
            None => (ProgressBar::new_spinner(), "billet: {spinner} {msg} {elapsed}"),
        };
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style);
        }
        bar.set_message(what.to_owned());
        bar.enable_steady_tick(Duration::from_millis(100));
        Self(Some(bar))
    }

    /// Moves a bar.
    pub fn set(&self, done: u64) {
        if let Some(bar) = &self.0 {
            bar.set_position(done);
        }
    }

    /// Takes it off the screen.
    pub fn end(self) {
        if let Some(bar) = self.0 {
            bar.finish_and_clear();
        }
    }
}
