//! `billet new`: questions, and a line file from the answers.

use std::io::{self, BufRead, ErrorKind, IsTerminal};
use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::{Global, message, out, save};
use crate::draft::{Answers, Impressions, Kind, Question, Refused, all, every, next, write};
use crate::line::file::Document;
use crate::text::{FileError, clean, file_word, load, nearest};

/// Make a first line file: a few questions about the line, the rest are shown defaults.
///
/// Asks in the terminal. Where the input is no terminal it holds the answers, one a line in the order of the questions;
/// an empty line takes the default, and so does everything after its end. --set answers a question by its short name.
#[derive(Debug, Args)]
pub(super) struct New {
    /// The line file to make (default: a name made from the title); `-` writes to standard output. An existing file is
    /// never overwritten.
    file: Option<PathBuf>,
    /// Kind of line: hammer, press (with a transfer beam), screw-press, furnace, coil-line or long-part.
    #[arg(long, value_name = "KIND", value_parser = kind)]
    kind: Option<Kind>,
    /// Answer a question by its short name; may be given several times.
    #[arg(long, value_name = "NAME=ANSWER", value_parser = pair)]
    set: Vec<(String, String)>,
    /// Impressions from a table (CSV) with the columns impression, outer_mm, height_mm and, where known, zone,
    /// bottom_mm, top_mm, blows, move_s; one row a ring from the axis outwards, one empty height an impression.
    #[arg(long, value_name = "FILE")]
    impressions: Option<PathBuf>,
    /// Ask nothing: what --set does not answer takes its default.
    #[arg(long)]
    no_questions: bool,
    /// Only list the questions of --kind with their short names, ranges and defaults: all that an answer can lead to, for
    /// the first two impressions, coils and cross-sections.
    #[arg(long, requires = "kind")]
    questions: bool,
}

/// Most answers of a session, and longest line of one, bytes: what is over is no answer.
const MOST_ANSWERS: usize = 2000;
const LONGEST_LINE: u64 = 4000;

fn kind(word: &str) -> Result<Kind, String> {
    Kind::parse(word).ok_or_else(|| {
        let known: Vec<&str> = Kind::ALL.map(Kind::word).to_vec();
        match nearest(word, known.iter().copied()) {
            Some(near) => format!("did you mean `{near}`? kinds are {}", known.join(", ")),
            None => format!("kinds are {}", known.join(", ")),
        }
    })
}

fn pair(text: &str) -> Result<(String, String), String> {
    let (name, answer) = text.split_once('=').ok_or("write it as NAME=ANSWER")?;
    Ok((name.trim().to_owned(), answer.trim().to_owned()))
}

/// Why the questions ended without a file.
#[derive(Debug, thiserror::Error)]
enum Ended {
    #[error("{0}")]
    Refused(#[from] Refused),
    #[error("`{key}`: {words} It has no default; allowed: {range}")]
    Unanswered { key: String, words: String, range: String },
    #[error("no question is called `{0}` here{1}")]
    Unknown(String, String),
    #[error("{}: {why}", path.display())]
    Table { path: PathBuf, why: String },
    #[error(transparent)]
    File(#[from] FileError),
    #[error("{}: is there already; nothing was changed", .0.display())]
    There(PathBuf),
    #[error("cannot read the answers: {0}")]
    Input(String),
    #[error("no kind of line; --kind or the first answer names one of {0}")]
    Kind(String),
}

impl Ended {
    fn told(&self) -> Exit {
        message::error_line(&self.to_string());
        Exit::WrongInput
    }
}

impl New {
    pub fn run(&self, global: &Global) -> Exit {
        if self.questions {
            return self.list(global);
        }
        let made = self.answers(global).and_then(|(kind, answers, table)| {
            let text = write(kind, &answers, table.as_ref())?;
            Ok((answers.text("title").to_owned(), text))
        });
        let (title, text) = match made {
            Ok(made) => made,
            Err(ended) => return ended.told(),
        };
        let to = self.target(&title);
        let document = match Document::parse(text, &to).and_then(|document| document.remarked()) {
            Ok(document) => document,
            Err(error) => {
                message::line_file(&error);
                return Exit::WrongInput;
            }
        };
        message::warnings(&document.plan().warnings, global);
        if to == Path::new("-") {
            return out::print(document.text(), Exit::Fine);
        }
        if let Err(exit) = put(&to, document.text()) {
            return exit;
        }
        let shown = clean(&to.display().to_string());
        let text = if global.json {
            out::json(&json!({ "file": shown, "title": title, "inputs": document.inputs().len() }))
        } else {
            format!(
                "wrote {shown}\n\nNext:\n  billet trace {shown}    judge it\n  billet page {shown}     move its numbers and \
                 see what follows\n  billet sheet {shown}    print it\n"
            )
        };
        out::print(&text, Exit::Fine)
    }

    /// The file that is made.
    fn target(&self, title: &str) -> PathBuf {
        let name = || match file_word(title) {
            name if name.is_empty() => PathBuf::from("line.toml"),
            name => PathBuf::from(format!("{name}.toml")),
        };
        self.file.clone().unwrap_or_else(name)
    }

    /// All answers, from the command line, the table and whoever answers. A file that is there already is told as soon as
    /// its name is known.
    fn answers(&self, global: &Global) -> Result<(Kind, Answers, Option<Impressions>), Ended> {
        if let Some(file) = &self.file {
            absent(file)?;
        }
        let table = self.impressions.as_deref().map(table).transpose()?;
        let mut source = match (self.no_questions, io::stdin().is_terminal()) {
            (true, _) => Source::Nobody,
            (false, true) => Source::Person,
            (false, false) => Source::Lines(0),
        };
        let kind = match self.kind {
            Some(kind) => kind,
            None => source.kind()?,
        };
        if table.is_some() && kind == Kind::LongPart {
            let path = self.impressions.clone().unwrap_or_default();
            let why = "a table of impressions is for round parts".to_owned();
            return Err(Ended::Table { path, why });
        }
        let mut answers = Answers::default();
        while let Some(question) = next(kind, &answers, table.as_ref()) {
            let set = self.set.iter().rev().find(|(name, _)| *name == question.key);
            let known = match set {
                Some((_, answer)) => Some(answer.clone()),
                None => table.as_ref().and_then(|table| table.answer(&question.key)),
            };
            let (text, assumed) = match known {
                Some(answer) => (question.accept(&answer)?, None),
                None => source.ask(&question, global)?,
            };
            answers.keep(&question.key, text, assumed);
            if question.key == "title" {
                absent(&self.target(answers.text("title")))?;
            }
        }
        for (name, _) in &self.set {
            if !answers.has(name) {
                let asked = all(kind, &answers, table.as_ref());
                let near = nearest(name, asked.iter().map(|question| question.key.as_str()));
                let near = near.map(|near| format!("; did you mean `{near}`?")).unwrap_or_default();
                return Err(Ended::Unknown(clean(name), near));
            }
        }
        Ok((kind, answers, table))
    }

    /// The questions of a kind.
    fn list(&self, global: &Global) -> Exit {
        let Some(kind) = self.kind else { return Exit::WrongInput };
        let asked = every(kind);
        if global.json {
            let one = |q: &Question| {
                json!({
                    "name": q.key,
                    "question": q.words,
                    "unit": q.unit,
                    "allowed": q.range(),
                    "default": q.default.as_ref().map(|(value, _)| value),
                    "reason": q.default.as_ref().map(|(_, reason)| reason),
                })
            };
            let list: Vec<_> = asked.iter().map(one).collect();
            return out::print(
                &out::json(&json!({ "kind": kind.word(), "questions": list })),
                Exit::Fine,
            );
        }
        let line = |q: &Question| {
            let default = match &q.default {
                Some((value, reason)) => format!("; default {value} ({reason})"),
                None => String::new(),
            };
            format!("{}: {} Allowed: {}{default}\n", q.key, q.words, q.range())
        };
        out::print(&asked.iter().map(line).collect::<String>(), Exit::Fine)
    }
}

/// Who answers.
enum Source {
    /// Somebody at a terminal.
    Person,
    /// Lines of the input, of which so many have been read.
    Lines(usize),
    /// Nobody: defaults only.
    Nobody,
}

impl Source {
    fn kind(&mut self) -> Result<Kind, Ended> {
        let known = || Kind::ALL.map(Kind::word).join(", ");
        loop {
            if let Source::Person = self {
                for kind in Kind::ALL {
                    out::tell(&format!("  {:<12} {}\n", kind.word(), kind.meaning()));
                }
                out::tell("Which kind of line? ");
            }
            let line = self.line()?;
            match (line.as_deref().map(kind), &self) {
                (Some(Ok(kind)), _) => return Ok(kind),
                (Some(Err(why)), Source::Person) => out::tell(&format!("  {}\n", clean(&why))),
                (Some(Err(why)), _) => return Err(Ended::Kind(why)),
                (None, _) => return Err(Ended::Kind(known())),
            }
        }
    }

    /// The accepted answer to a question, and the reason of a default where it is one.
    fn ask(&mut self, question: &Question, global: &Global) -> Result<(String, Option<String>), Ended> {
        let default = |accepted: String| {
            let reason = question.default.as_ref().map(|(_, reason)| reason.clone());
            (accepted, reason)
        };
        loop {
            if let (Source::Person, false) = (&self, global.json) {
                out::tell(&prompt(question));
            }
            let Some(line) = self.line()? else {
                return question.accept("").map(default).map_err(|refused| Ended::Unanswered {
                    key: question.key.clone(),
                    words: question.words.clone(),
                    range: refused.range,
                });
            };
            match (question.accept(&line), &self) {
                (Ok(accepted), _) if line.trim().is_empty() => return Ok(default(accepted)),
                (Ok(accepted), _) => return Ok((accepted, None)),
                (Err(refused), Source::Person) => {
                    out::tell(&format!("  {}; allowed: {}\n", clean(&refused.why), refused.range));
                }
                (Err(refused), _) => return Err(refused.into()),
            }
        }
    }

    /// The next line of answers; `None` at the end of the input.
    fn line(&mut self) -> Result<Option<String>, Ended> {
        match self {
            Source::Nobody => return Ok(None),
            Source::Lines(read) if *read >= MOST_ANSWERS => {
                return Err(Ended::Input(format!("more than {MOST_ANSWERS} lines")));
            }
            Source::Lines(read) => *read += 1,
            Source::Person => {}
        }
        let mut bytes = Vec::new();
        let mut input = io::Read::take(io::stdin().lock(), LONGEST_LINE);
        match input.read_until(b'\n', &mut bytes) {
            Ok(0) => Ok(None),
            Ok(_) if bytes.len() as u64 == LONGEST_LINE => {
                Err(Ended::Input(format!("a line of more than {LONGEST_LINE} bytes")))
            }
            Ok(_) => match String::from_utf8(bytes) {
                Ok(line) => Ok(Some(line.trim_end_matches(['\r', '\n']).to_owned())),
                Err(_) => Err(Ended::Input("not UTF-8 text".to_owned())),
            },
            Err(error) => Err(Ended::Input(error.to_string())),
        }
    }
}

fn prompt(question: &Question) -> String {
    let unit = if question.unit.is_empty() {
        String::new()
    } else {
        format!(" ({})", question.unit)
    };
    let hint = match &question.default {
        Some((value, reason)) => format!(" [{value}: {reason}]"),
        None if question.example.is_empty() => String::new(),
        None => format!(" (as {})", question.example),
    };
    format!("{}{unit}{hint} ", question.words)
}

fn table(path: &Path) -> Result<Impressions, Ended> {
    let wrong = |why: String| Ended::Table {
        path: path.to_owned(),
        why,
    };
    let text = load(path, "a table of impressions has a line of column names and one a ring")?;
    Impressions::read(&text).map_err(|error| wrong(error.to_string()))
}

/// Refuses a file that is there.
fn absent(path: &Path) -> Result<(), Ended> {
    // A link that leads nowhere is there too.
    match path != Path::new("-") && path.symlink_metadata().is_ok() {
        true => Err(Ended::There(path.to_owned())),
        false => Ok(()),
    }
}

/// Writes a file that is not there: its name is taken first, so that two at once cannot both have it.
fn put(path: &Path, text: &str) -> Result<(), Exit> {
    if let Err(error) = std::fs::File::create_new(path) {
        if error.kind() == ErrorKind::AlreadyExists {
            return Err(Ended::There(path.to_owned()).told());
        }
        message::error_line(&format!("{}: cannot be made: {error}", path.display()));
        return Err(Exit::Failed);
    }
    save::file(path, text.as_bytes(), &[]).inspect_err(|_| {
        // Only the empty file of the line above can be there.
        let _ = std::fs::remove_file(path);
    })
}
