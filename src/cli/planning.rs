//! What the planning commands have in common.

use std::io::IsTerminal;
use std::path::Path;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};
use serde_json::{Value, json};

use super::exit::Exit;
use super::{Global, message};
use crate::ask::Failure;
use crate::ask::delays::Allowed;
use crate::ask::line_model::LineModel;
use crate::ask::model::{Model, Outcome, limit_name};
use crate::ask::study::Study;
use crate::judge::{Bound, Limit};
use crate::line::plan::Resolution;
use crate::report::table::cut;
use crate::report::{OutFile, ReportError, write_set};
use crate::units::Display;

/// A line file ready for questions.
pub(super) struct Job {
    /// The line at its own resolution, or the one asked for.
    pub model: LineModel,
    /// The same line on the quick grid, unless that is its own.
    pub quick: Option<LineModel>,
    /// The study tables.
    pub study: Study,
}

impl Job {
    /// Reads line file and study.
    pub fn load(path: &Path, resolution: Option<&str>) -> Result<Self, Exit> {
        let document = message::load(path)?;
        let mut model = LineModel::new(document);
        match resolution {
            Some("quick") => model = model.at(Resolution::Quick),
            Some("standard") => model = model.at(Resolution::Standard),
            Some("fine") => model = model.at(Resolution::Fine),
            _ => {}
        }
        let study = Study::read(model.document().text(), path, &model).map_err(|error| {
            message::line_file(&error);
            Exit::WrongInput
        })?;
        let quick = (model.resolution() != Resolution::Quick).then(|| model.at(Resolution::Quick));
        Ok(Self { model, quick, study })
    }

    /// The quick line as a help for searches.
    pub fn cheap(&self) -> Option<&dyn Model> {
        self.quick.as_ref().map(|quick| quick as &dyn Model)
    }

    /// The nominal run; a line without limits has nothing to plan against.
    pub fn nominal(&self) -> Result<Outcome, Failure> {
        if self.model.limits().is_empty() {
            return Err(Failure::NothingToDo(
                "the line has no limits to plan against: give [[limit]] tables".to_owned(),
            ));
        }
        Ok(self.model.run(&[])?)
    }

    /// Title for the first line.
    pub fn title(&self) -> &str {
        &self.model.document().plan().title
    }
}

/// Tells a failure and gives its exit status.
pub(super) fn fail(failure: &Failure) -> Exit {
    message::error_line(&failure.to_string());
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

/// A limit in words, in the units asked for.
pub(super) fn limit_words(limit: &Limit, display: Display) -> String {
    if display == Display::Metric {
        return limit_name(limit);
    }
    let bound = match limit.bound {
        Bound::MinC(c) => Bound::MinC(display.temperature(c).round()),
        Bound::MaxC(c) => Bound::MaxC(display.temperature(c).round()),
        Bound::MaxDifferenceK(k) => Bound::MaxDifferenceK(display.difference(k).round()),
    };
    let words = limit_name(&Limit { bound, ..limit.clone() });
    words.replace(" degC", " degF").replace(" K,", " degF,")
}

/// The limits with their numbers, as a legend under a table that uses the numbers.
pub(super) fn legend(limits: &[Limit], display: Display) -> String {
    let mut text = String::from("limits\n");
    for (k, limit) in limits.iter().enumerate() {
        text.push_str(&format!("  {}  {}\n", k + 1, cut(&limit_words(limit, display), 74)));
    }
    text
}

/// Text broken into lines of at most 80 columns.
pub(super) fn wrap(text: &str) -> String {
    let mut out = String::new();
    let mut used = 0;
    for word in text.split_whitespace() {
        let width = word.chars().count();
        if used > 0 && used + 1 + width > 80 {
            out.push('\n');
            used = 0;
        } else if used > 0 {
            out.push(' ');
            used += 1;
        }
        out.push_str(word);
        used += width;
    }
    out.push('\n');
    out
}

/// Seconds that are allowed in all, rounded down to 0.1 s; a word where there is no such number.
pub(super) fn total_words(nominal_s: f64, allowed: &Allowed) -> String {
    match allowed {
        Allowed::Extra { seconds, .. } => format!("{:.1}", crate::report::number::down(nominal_s + seconds, 1)),
        Allowed::Broken { .. } => "none".to_owned(),
        Allowed::Endless { .. } => "any".to_owned(),
    }
}

/// The same as JSON: a number, or null with a word beside it.
pub(super) fn allowed_json(nominal_s: f64, allowed: Option<&Allowed>, limits: &[Limit]) -> Value {
    let Some(allowed) = allowed else {
        return Value::Null;
    };
    let name = allowed.limit().and_then(|k| limits.get(k)).map(limit_name);
    match allowed {
        Allowed::Extra { seconds, .. } => json!({
            "outcome": "limited",
            "longest_s": crate::report::number::down(nominal_s + seconds, 1),
            "extra_s": seconds,
            "limit": name,
        }),
        Allowed::Broken { margin_k, .. } => json!({
            "outcome": "broken already",
            "margin_k": margin_k,
            "limit": name,
        }),
        Allowed::Endless { searched_s } => json!({ "outcome": "never breaks", "searched_s": searched_s }),
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
