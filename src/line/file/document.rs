//! A checked line file in memory: its text, its plan, and the one way to change a number of it.

use std::path::{Path, PathBuf};

use toml::de::DeTable;

use super::edit::{self, Change};
use super::metals::Metals;
use super::problem::{LineFileError, nearest};
use super::raw::RawFile;
use super::{check, follow_on, read};
use crate::line::plan::{Heater, Input, InputValue, Plan};
use crate::line::run::{RunError, RunOptions, run};
use crate::line::trace::{Owner, Trace};

/// A line file that has been read and checked.
///
/// Its text is the truth: [`Document::set`] changes the text, keeping comments and order, and checks
/// it again, so a document is always valid and can be written back at any time.
#[derive(Debug, Clone)]
pub struct Document {
    path: PathBuf,
    text: String,
    /// The text as raw tables, so that a changed plan needs no new reading of the text.
    raw: RawFile,
    metals: Metals,
    plan: Plan,
}

impl Document {
    /// Reads and checks a line file.
    ///
    /// # Errors
    /// What is wrong with it: see [`LineFileError`].
    pub fn load(path: impl AsRef<Path>) -> Result<Document, LineFileError> {
        let path = path.as_ref();
        Self::parse(read::text(path)?, path)
    }

    /// Checks the text of a line file; `path` names it in messages, and paths of steel files are
    /// relative to its folder.
    ///
    /// # Errors
    /// What is wrong with it: see [`LineFileError`].
    pub fn parse(text: impl Into<String>, path: impl AsRef<Path>) -> Result<Document, LineFileError> {
        let path = path.as_ref();
        let text = read::from_bytes(text.into().into_bytes(), path)?;
        let metals = Metals::beside(path);
        let (plan, raw) = plan_of(&text, path, &metals)?;
        Ok(Document {
            path: path.to_owned(),
            text,
            raw,
            metals,
            plan,
        })
    }

    /// Follows one part through the line.
    ///
    /// # Errors
    /// A failed computation; a checked line gives none in ordinary use.
    pub fn trace(&self, options: &RunOptions) -> Result<Trace, RunError> {
        run(&self.plan, options)
    }

    /// The file it was read from.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The text as it stands, changes included.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The plan of the text as it stands.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Every number and word that counts, with path, value, unit, owner and allowed range.
    pub fn inputs(&self) -> &[Input] {
        &self.plan.inputs
    }

    /// The input at a path, for example `stage.upsetter.blows` or `limit.1.min_c`.
    pub fn input(&self, path: &str) -> Option<&Input> {
        self.plan.inputs.iter().find(|input| input.path == path)
    }

    /// Sets one number, in the unit of its key, and checks the file again.
    ///
    /// # Errors
    /// When the path does not exist or the file would not be valid; the document stays as it was.
    pub fn set(&mut self, path: &str, value: f64) -> Result<(), LineFileError> {
        self.set_all(&[(path, value)])
    }

    /// Sets several numbers together and checks the file once.
    ///
    /// # Errors
    /// As [`Document::set`].
    pub fn set_all(&mut self, values: &[(&str, f64)]) -> Result<(), LineFileError> {
        let text = self.edited(values)?;
        (self.plan, self.raw) = plan_of(&text, &self.path, &self.metals)?;
        self.text = text;
        Ok(())
    }

    /// The plan that the file would give with these numbers; the document itself stays as it is.
    ///
    /// # Errors
    /// As [`Document::set`].
    pub fn with(&self, values: &[(&str, f64)]) -> Result<Plan, LineFileError> {
        if let Some(raw) = self.changed(values)
            && let Ok(mut plan) = check::check(&self.text, &self.path, &raw, &self.metals)
        {
            if let (Heater::CoilLine(new), Heater::CoilLine(old)) = (&mut plan.heater, &self.plan.heater) {
                new.keep_with(old);
            }
            return Ok(plan);
        }
        // Something is wrong: go by the text, so that the message shows it as it would stand there.
        plan_of(&self.edited(values)?, &self.path, &self.metals).map(|(plan, _)| plan)
    }

    /// The text with every default written out, each with its reason in a comment. Checked again it
    /// gives the same plan, except that all of it is then given by the user.
    ///
    /// # Errors
    /// None for a document as read from a file; the result is checked like any other.
    pub fn complete(&self) -> Result<Document, LineFileError> {
        let mut text = self.text.clone();
        for input in &self.plan.inputs {
            // Properties of the metal are the steel file's business.
            if input.owner == Owner::Given || input.path.starts_with("billet.steel.") {
                continue;
            }
            let literal = match &input.value {
                InputValue::Number(value) => edit::literal(*value),
                InputValue::Word(word) if word == "true" || word == "false" => word.clone(),
                InputValue::Word(word) => format!("\"{word}\""),
            };
            let comment = format!("  # default: {}", input.source);
            let stages = self.stage_names();
            let Ok(tree) = DeTable::parse(&text) else {
                break;
            };
            let change = edit::change(&text, tree.get_ref(), &input.path, &stages, &literal, &comment);
            if let Some(mut change) = change.filter(|change| change.inserts) {
                if input.follows {
                    if change.text.contains(['{', '[']) || !change.text.ends_with('\n') {
                        continue;
                    }
                    change.text = format!("# {}", change.text.trim_start());
                    if !after_comments(&text, &mut change) {
                        continue;
                    }
                }
                text = edit::apply(&text, vec![change]);
            }
        }
        Document::parse(text, &self.path)
    }

    fn stage_names(&self) -> Vec<&str> {
        let stages = self.plan.stages.iter();
        stages.map(|stage| stage.name.as_str()).collect()
    }

    /// The raw tables with other numbers; `None` where a path does not exist.
    fn changed(&self, values: &[(&str, f64)]) -> Option<RawFile> {
        let stages = self.stage_names();
        let mut raw = self.raw.clone();
        for (path, value) in values {
            let (stage, mut keys) = edit::numbered(path, &stages)?;
            let number = stage.map(|index| (index + 1).to_string());
            if let Some(number) = &number {
                keys.splice(0..0, ["stage", number]);
                raw.set(&keys, *value)?;
            } else {
                raw.set(&keys, *value)?;
            }
        }
        Some(raw)
    }

    fn edited(&self, values: &[(&str, f64)]) -> Result<String, LineFileError> {
        let stages = self.stage_names();
        let mut text = self.text.clone();
        let mut replacements: Vec<Change> = Vec::new();
        {
            let tree = tree(&self.text);
            for (path, value) in values {
                let literal = edit::literal(*value);
                let change = edit::change(&self.text, &tree, path, &stages, &literal, "");
                match change {
                    Some(change) if !change.inserts => replacements.push(change),
                    Some(_) => {}
                    None => return Err(self.unknown(path)),
                }
            }
            let batch = replacements.len() == values.len();
            if batch {
                return Ok(edit::apply(&self.text, replacements));
            }
        }
        // New keys shift what follows and may share a new table: one at a time.
        for (path, value) in values {
            let literal = edit::literal(*value);
            let change = edit::change(&text, &tree(&text), path, &stages, &literal, "");
            let change = change.ok_or_else(|| self.unknown(path))?;
            text = edit::apply(&text, vec![change]);
            let written = edit::written(&text, &tree(&text), path, &stages);
            if written != Some(literal.as_str()) {
                return Err(self.unknown(path));
            }
        }
        Ok(text)
    }

    fn unknown(&self, path: &str) -> LineFileError {
        let paths = self.plan.inputs.iter().map(|input| input.path.as_str());
        LineFileError::UnknownPath {
            path: path.to_owned(),
            nearest: nearest(path, paths),
        }
    }
}

/// Moves a comment line behind those of its kind; tells whether it is a new one.
fn after_comments(text: &str, change: &mut Change) -> bool {
    let mut at = change.at.start;
    for line in text.get(at..).unwrap_or("").split_inclusive('\n') {
        if !line.starts_with("# ") || !line.contains("  # default: ") {
            break;
        }
        if line == change.text {
            return false;
        }
        at += line.len();
    }
    change.at = at..at;
    true
}

/// The tree of a text that has been parsed before; an empty one if it does not parse, so that every
/// path is unknown.
fn tree(text: &str) -> DeTable<'_> {
    DeTable::parse(text).map_or_else(|_| DeTable::new(), |tree| tree.into_inner())
}

fn plan_of(text: &str, path: &Path, metals: &Metals) -> Result<(Plan, RawFile), LineFileError> {
    let reading = read::parse(text, path)?;
    let checked = check::check(text, path, &reading.raw, metals);
    if reading.refused.is_empty() {
        return Ok((checked?, reading.raw));
    }
    Err(follow_on::together(text, path, reading, checked.err()))
}
