//! Messages on standard error: errors with the place in the file, warnings, usage.

use std::io::IsTerminal;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use clap::error::ErrorKind;
use serde_json::{Value, json};

use super::exit::Exit;
use super::{Global, out};
use crate::judge::Warning;
use crate::line::file::{Document, LineFileError, Problem, ProblemKind, Problems};
use crate::show::warning;
use crate::steel::SteelError;
use crate::text::{clean as plain, is_unfit};

/// Reads a line file, or tells what is wrong with it.
pub(super) fn load(path: &std::path::Path) -> Result<Document, Exit> {
    Document::load(path).map_err(|error| {
        line_file(&error);
        Exit::WrongInput
    })
}

/// Tells what is wrong with a line file: every problem with its line, a caret and a way out.
pub(super) fn line_file(error: &LineFileError) {
    match error {
        LineFileError::Wrong(problems) => all(problems),
        other => error_line(&other.to_string()),
    }
}

/// Tells why a steel was refused.
pub(super) fn steel(error: &SteelError) {
    match error {
        SteelError::Wrong(problems) => all(problems),
        other => error_line(&other.to_string()),
    }
}

fn all(problems: &Problems) {
    let count = problems.list.len();
    let plural = if count == 1 { "" } else { "s" };
    let path = plain(&problems.path.display().to_string());
    let mut text = format!("billet: {path}: {count} problem{plural}\n");
    let colour = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    for problem in &problems.list {
        text.push_str(&snippet(problems, problem, colour));
        text.push('\n');
    }
    out::tell(&text);
}

/// One line of error.
pub(super) fn error_line(message: &str) {
    out::tell(&format!("billet: {}\n", plain(message)));
}

/// One line of remark; the caller asks whether it is wanted.
pub(super) fn remark(message: &str) {
    out::tell(&format!("billet: {message}\n"));
}

/// Warnings, unless they are not wanted.
pub(super) fn warnings(warnings: &[Warning], global: &Global) {
    if !global.quiet {
        let view = global.view();
        let word = view.say("note.warning");
        for one in warnings {
            let words = warning(one, &view).whole(&view);
            out::tell(&format!("billet: {word}: {}\n", words.replace('\u{a0}', " ")));
        }
    }
}

/// A wrong command line, or the help that was asked for.
pub(super) fn usage(error: &clap::Error) -> Exit {
    match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => out::print(&error.render().to_string(), Exit::Fine),
        _ => {
            let text = error.render().to_string();
            let text = text.strip_prefix("error: ").unwrap_or(&text);
            out::tell(&format!("billet: {text}"));
            Exit::WrongInput
        }
    }
}

/// The problems as JSON, for editors.
pub(super) fn problems_json(error: &LineFileError) -> Value {
    let problems = match error {
        LineFileError::Wrong(problems) => problems.list.iter().map(problem_json).collect(),
        other => vec![json!({ "code": "file", "message": other.to_string() })],
    };
    json!({ "valid": false, "problems": problems })
}

fn problem_json(problem: &Problem) -> Value {
    json!({
        "code": problem.kind.code(),
        "message": problem.kind.to_string(),
        "help": problem.kind.help(),
        "line": problem.line,
        "column": problem.column,
        "start_byte": problem.span.start,
        "end_byte": problem.span.end,
    })
}

/// A problem with the line it is about.
fn snippet(problems: &Problems, problem: &Problem, colour: bool) -> String {
    let path = plain(&problems.path.display().to_string());
    let title = plain(&problem.kind.to_string());
    // Control characters in the file must not reach the terminal. Each gives way to as many plain
    // bytes as it has, so that places stay right.
    let source: String = problems
        .text
        .chars()
        .map(|c| {
            if is_unfit(c) && !matches!(c, '\n' | '\r' | '\t') {
                ' '.to_string().repeat(c.len_utf8())
            } else {
                c.to_string()
            }
        })
        .collect();
    let span = clamp(&source, problem.span.clone());
    let label = problem.kind.label().map(|label| plain(&label));
    let help = match &problem.kind {
        // The near match stands at the caret.
        ProblemKind::UnknownKey { allowed, .. } | ProblemKind::UnknownWord { allowed, .. } if label.is_some() => {
            Some(format!("allowed: {}", allowed.join(", ")))
        }
        kind => kind.help(),
    };
    let help = help.map(|help| plain(&help));
    let mut primary = AnnotationKind::Primary.span(span);
    if let Some(label) = &label {
        primary = primary.label(label.as_str());
    }
    let mut shown = Snippet::source(source.as_str()).path(path.as_str()).annotation(primary);
    if let Some((span, word)) = &problem.other {
        shown = shown.annotation(AnnotationKind::Context.span(clamp(&source, span.clone())).label(*word));
    }
    let level = Level::ERROR.primary_title(title.as_str()).id(problem.kind.code());
    let mut group: Group<'_> = level.element(shown);
    if let Some(help) = &help {
        group = group.element(Level::HELP.message(help.as_str()));
    }
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    renderer.render(&[group])
}

/// A span inside the text, on whole characters, and not so long that it hides the message: what is
/// missing from a table is told at its first line.
fn clamp(text: &str, span: std::ops::Range<usize>) -> std::ops::Range<usize> {
    let boundary = |mut at: usize| {
        at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let (start, end) = (boundary(span.start), boundary(span.end.max(span.start)));
    let line = text[start..end].find('\n').map_or(end, |length| start + length);
    start..line
}

impl ProblemKind {
    /// Word at the caret.
    fn label(&self) -> Option<String> {
        match self {
            ProblemKind::OutOfRange { allowed, unit, .. } => {
                Some(format!("allowed: {allowed} {unit}").trim_end().to_owned())
            }
            ProblemKind::UnknownKey {
                nearest: Some(nearest), ..
            }
            | ProblemKind::UnknownWord {
                nearest: Some(nearest), ..
            } => Some(format!("did you mean `{nearest}`?")),
            ProblemKind::Rule { code, .. } => match *code {
                "duplicate-stage" => Some("used again here".to_owned()),
                "limits-exclude" => Some("the minimum".to_owned()),
                "blow-too-long" => Some("the blow".to_owned()),
                _ => None,
            },
            _ => None,
        }
    }
}
