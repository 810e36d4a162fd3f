//! A checked line file in memory: its text, its plan, and the one way to change a number of it.

use std::path::{Path, PathBuf};

use super::calibration::{Calibration, given_words};
use super::check;
use super::edit::{self, Editor};
use super::error::LineFileError;
use super::metals::Metals;
use super::tables::{RawFile, RawStudy};
use crate::line::plan::{Input, InputValue, Plan};
use crate::line::run::{Budget, HeaterCache, Need, RunCache, RunError, RunOptions, run_with};
use crate::line::trace::{Owner, Trace};
use crate::text::{self, FileError, Given, Problem, ProblemKind, Problems, Source, Value, nearest};

/// What a line file must have.
const NEEDS: &str = "a line file has at least title, [billet], [heater] and one [[stage]]";

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
    /// Numbers that were fitted to measurements, where the file names a calibration.
    calibration: Option<Calibration>,
    /// Paths that were set since it was read: a calibration does not touch them.
    fixed: Vec<String>,
    /// What a run of it may need.
    budget: Budget,
    /// Shared by copies, whose runs differ by some numbers.
    heated: HeaterCache,
    /// Runs of this text with other numbers; shared by copies of it.
    runs: RunCache,
}

impl Document {
    /// Reads and checks a line file.
    ///
    /// # Errors
    /// What is wrong with it: see [`LineFileError`].
    pub fn load(path: impl AsRef<Path>) -> Result<Document, LineFileError> {
        Self::load_within(path, Budget::default())
    }

    /// The same, for runs that may need more than usual.
    ///
    /// # Errors
    /// As [`Document::load`].
    pub fn load_within(path: impl AsRef<Path>, budget: Budget) -> Result<Document, LineFileError> {
        let path = path.as_ref();
        Self::from_bytes(text::load_bytes(path)?, path, budget)
    }

    /// Checks the text of a line file; `path` names it in messages, and paths of steel files are
    /// relative to its folder.
    ///
    /// # Errors
    /// What is wrong with it: see [`LineFileError`].
    pub fn parse(text: impl Into<String>, path: impl AsRef<Path>) -> Result<Document, LineFileError> {
        Self::parse_within(text, path, Budget::default())
    }

    fn parse_within(
        text: impl Into<String>,
        path: impl AsRef<Path>,
        budget: Budget,
    ) -> Result<Document, LineFileError> {
        Self::from_bytes(text.into().into_bytes(), path.as_ref(), budget)
    }

    /// Checks a line file as it is on disk.
    ///
    /// # Errors
    /// As [`Document::load`].
    pub(crate) fn from_bytes(bytes: Vec<u8>, path: &Path, budget: Budget) -> Result<Document, LineFileError> {
        let text = text::from_bytes(bytes, path, NEEDS)?;
        let metals = Metals::beside(path);
        let Planned { plan, raw, calibration } = plan_of(&text, path, &metals, &budget, &[])?;
        Ok(Document {
            path: path.to_owned(),
            text,
            raw,
            metals,
            plan,
            calibration,
            fixed: Vec::new(),
            budget,
            heated: HeaterCache::default(),
            runs: RunCache::default(),
        })
    }

    /// Follows one part through the line.
    ///
    /// # Errors
    /// A failed computation; a checked line gives none in ordinary use.
    pub fn trace(&self, options: &RunOptions) -> Result<Trace, RunError> {
        run_with(&self.plan, options, &self.heated)
    }

    /// Heated states of its runs, for runs of plans that differ from its own by some numbers.
    pub fn heater_cache(&self) -> &HeaterCache {
        &self.heated
    }

    /// Runs made of this text with other numbers.
    pub(crate) fn run_cache(&self) -> &RunCache {
        &self.runs
    }

    /// The file it was read from.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Every file that a run of it reads: the line file, its steel files, its measured data.
    pub fn files(&self) -> Vec<PathBuf> {
        let folder = self.path.parent().unwrap_or(Path::new(""));
        let measured = self.raw.study.value().map(|study| study.scatter.items());
        let measured = measured.unwrap_or_default().iter();
        let measured = measured.filter_map(|scatter| Some(folder.join(scatter.get_ref().file.value()?)));
        let mut files = vec![self.path.clone()];
        files.extend(self.metals.files());
        files.extend(self.calibration.iter().map(|calibration| calibration.path.clone()));
        files.extend(measured);
        files
    }

    /// What an answer depends on: the text as it stands, then the bytes of every other file that a run reads, in the
    /// rising order of their paths, with nothing between.
    ///
    /// # Errors
    /// A file that can no longer be read.
    pub fn contents(&self) -> Result<Vec<u8>, LineFileError> {
        let mut others = self.files().split_off(1);
        others.sort();
        others.dedup();
        let mut bytes = self.text.clone().into_bytes();
        for path in others {
            let reason = |error: std::io::Error| FileError::Read {
                path: path.clone(),
                reason: error.to_string(),
            };
            bytes.extend(std::fs::read(&path).map_err(reason)?);
        }
        Ok(bytes)
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
        let mut fixed = self.fixed.clone();
        fixed.extend(values.iter().map(|(path, _)| (*path).to_owned()));
        let planned = plan_of(&text, &self.path, &self.metals, &self.budget, &fixed)?;
        (self.plan, self.raw, self.fixed) = (planned.plan, planned.raw, fixed);
        self.text = text;
        self.runs = RunCache::default();
        Ok(())
    }

    /// The same document with other words (a steel, a kind) and numbers, checked as a whole.
    ///
    /// # Errors
    /// As [`Document::set`].
    pub fn altered(&self, words: &[(&str, &str)], numbers: &[(&str, f64)]) -> Result<Document, LineFileError> {
        let stages = self.stage_names();
        let mut editor = Editor::new(&self.edited(numbers)?);
        for (path, word) in words {
            let literal = toml::Value::from(*word).to_string();
            let set = edit::numbered(path, &stages).and_then(|keys| {
                let keys: Vec<&str> = keys.iter().map(String::as_str).collect();
                editor.as_mut()?.replace(&keys, &literal)
            });
            set.ok_or_else(|| self.unknown(path))?;
        }
        let text = editor.map_or_else(|| self.text.clone(), |editor| editor.text());
        // Steels that were read and heated states of the same billet serve both.
        let fixed = self.fixed_with(numbers);
        let planned = plan_of(&text, &self.path, &self.metals, &self.budget, &fixed)?;
        Ok(Document {
            text,
            plan: planned.plan,
            raw: planned.raw,
            calibration: planned.calibration,
            fixed,
            runs: RunCache::default(),
            ..self.clone()
        })
    }

    /// The plan that the file would give with these numbers; the document itself stays as it is.
    ///
    /// # Errors
    /// As [`Document::set`].
    pub fn with(&self, values: &[(&str, f64)]) -> Result<Plan, LineFileError> {
        if let Some(raw) = self.changed(values)
            && let Ok(mut plan) = check::check(&Source::new(&self.text), &raw, &self.metals)
            && self.budget.exceeded(&Need::of(&plan, plan.resolution)).is_none()
        {
            if let Some(calibration) = &self.calibration {
                calibration.mark_as(&mut plan, &self.fixed_with(values), &self.plan);
            }
            plan.heater.keep_aim(&self.plan.heater);
            return Ok(plan);
        }
        // Something is wrong: go by the text, so that the message shows it as it would stand there.
        let fixed = self.fixed_with(values);
        let mut plan = plan_of(&self.edited(values)?, &self.path, &self.metals, &self.budget, &fixed)?.plan;
        plan.heater.keep_aim(&self.plan.heater);
        Ok(plan)
    }

    /// The text with every default written out, each with its reason in a comment; what only follows from other inputs
    /// stands in a line of remark. Checked again it gives the same plan, except that all of it is then given by the
    /// user.
    ///
    /// # Errors
    /// None for a document as read from a file; the result is checked like any other.
    pub fn complete(&self) -> Result<Document, LineFileError> {
        self.with_defaults(true)
    }

    /// The same with every default as a remark behind which it counts no more than before: the file stays as short as
    /// its author made it.
    ///
    /// # Errors
    /// As [`Document::complete`].
    pub fn remarked(&self) -> Result<Document, LineFileError> {
        self.with_defaults(false)
    }

    fn with_defaults(&self, as_values: bool) -> Result<Document, LineFileError> {
        let stages = self.stage_names();
        let Some(mut editor) = Editor::new(&edit::without_remarks(&self.text)) else {
            return Ok(self.clone());
        };
        let mut remarks = Vec::new();
        for input in &self.plan.inputs {
            // Properties of the metal are the steel file's business.
            if input.owner == Owner::Given || input.path.starts_with("billet.steel.") {
                continue;
            }
            let Some(path) = edit::numbered(&input.path, &stages) else {
                continue;
            };
            let path: Vec<&str> = path.iter().map(String::as_str).collect();
            if editor.has(&path) {
                continue;
            }
            let literal = match &input.value {
                InputValue::Number(value) => edit::literal(*value),
                InputValue::Word(word) if word == "true" || word == "false" => word.clone(),
                InputValue::Word(word) => format!("\"{word}\""),
            };
            if input.follows || !as_values {
                remarks.push((input.path.as_str(), literal, &input.source));
            } else {
                editor.set(&path, &literal, &format!("  # default: {}", input.source));
            }
        }
        for (path, literal, reason) in remarks {
            if let Some(path) = edit::numbered(path, &stages) {
                let path: Vec<&str> = path.iter().map(String::as_str).collect();
                editor.remark(&path, &literal, reason);
            }
        }
        Document::parse_within(editor.text(), &self.path, self.budget)
    }

    fn stage_names(&self) -> Vec<&str> {
        stage_names(&self.plan)
    }

    /// Paths that a calibration must not touch when some are changed.
    fn fixed_with(&self, values: &[(&str, f64)]) -> Vec<String> {
        let changed = values.iter().map(|(path, _)| (*path).to_owned());
        self.fixed.iter().cloned().chain(changed).collect()
    }

    /// Whether the file says what was measured.
    pub(crate) fn has_measurements(&self) -> bool {
        !self.raw.measurement.items().is_empty()
    }

    /// Whether the file says what scatters.
    pub(crate) fn has_scatter(&self) -> bool {
        self.raw
            .study
            .value()
            .is_some_and(|study| !study.scatter.items().is_empty())
    }

    /// Numbers that were fitted to measurements.
    pub(crate) fn calibration(&self) -> Option<&Calibration> {
        self.calibration.as_ref()
    }

    /// The tables with other numbers; `None` where a path does not exist.
    fn changed(&self, values: &[(&str, f64)]) -> Option<RawFile> {
        let stages = self.stage_names();
        let mut raw = self.raw.clone();
        for (path, value) in values {
            let path = edit::numbered(path, &stages)?;
            let path: Vec<&str> = path.iter().map(String::as_str).collect();
            raw.set(&path, *value)?;
        }
        Some(raw)
    }

    /// The text with other numbers.
    fn edited(&self, values: &[(&str, f64)]) -> Result<String, LineFileError> {
        let stages = self.stage_names();
        let mut editor = Editor::new(&self.text);
        for (path, value) in values {
            let set = edit::numbered(path, &stages).and_then(|keys| {
                let keys: Vec<&str> = keys.iter().map(String::as_str).collect();
                editor.as_mut()?.set(&keys, &edit::literal(*value), "")
            });
            set.ok_or_else(|| self.unknown(path))?;
        }
        Ok(editor.map_or_else(|| self.text.clone(), |editor| editor.text()))
    }

    fn unknown(&self, path: &str) -> LineFileError {
        let paths = self.plan.inputs.iter().map(|input| input.path.as_str());
        LineFileError::UnknownPath {
            path: path.to_owned(),
            nearest: nearest(path, paths),
        }
    }
}

fn stage_names(plan: &Plan) -> Vec<&str> {
    plan.stages.iter().map(|stage| stage.name.as_str()).collect()
}

/// A plan with the tables it came from.
struct Planned {
    plan: Plan,
    raw: RawFile,
    calibration: Option<Calibration>,
}

/// Puts the numbers of a calibration into a plan and its tables, those of `fixed` excepted.
fn calibrated(
    source: &Source<'_>,
    (plan, mut raw): (Plan, RawFile),
    metals: &Metals,
    calibration: Calibration,
    fixed: &[String],
) -> Result<Planned, Vec<Problem>> {
    let names = stage_names(&plan);
    let place = raw.calibration.span().unwrap_or_default();
    let mut unknown = Vec::new();
    for (path, value, _) in calibration.of_line(fixed) {
        let keys = edit::numbered(path, &names);
        let keys: Option<Vec<&str>> = keys.as_ref().map(|keys| keys.iter().map(String::as_str).collect());
        if keys.and_then(|keys| raw.set(&keys, *value)).is_none() {
            let detail = format!("the calibration has `{path}`, which this line does not have");
            let kind = ProblemKind::rule(
                "calibration",
                detail,
                "a calibration belongs to the line it was fitted on",
            );
            unknown.push(source.problem(kind, place.clone()));
        }
    }
    if !unknown.is_empty() {
        return Err(unknown);
    }
    let mut made = check::check(source, &raw, metals)?;
    calibration.mark(&mut made, fixed, |path| given_words(&plan, path));
    Ok(Planned {
        plan: made,
        raw,
        calibration: Some(calibration),
    })
}

fn plan_of(
    text: &str,
    path: &Path,
    metals: &Metals,
    budget: &Budget,
    fixed: &[String],
) -> Result<Planned, LineFileError> {
    let wrong = |list| LineFileError::Wrong(Box::new(Problems::new(path, text, list)));
    let source = Source::new(text);
    let reading = text::parse::<RawFile>(&source, path).map_err(LineFileError::Wrong)?;
    if reading.hopeless {
        return Err(wrong(reading.refused));
    }
    match check::check(&source, &reading.table, metals) {
        Ok(plan) if reading.refused.is_empty() => match over_budget(&plan, budget) {
            None => match reading.table.calibration.value() {
                None => Ok(Planned {
                    plan,
                    raw: reading.table,
                    calibration: None,
                }),
                Some(name) => {
                    let file = path.parent().unwrap_or(Path::new("")).join(name);
                    let calibration = Calibration::load(&file)?;
                    calibrated(&source, (plan, reading.table), metals, calibration, fixed).map_err(wrong)
                }
            },
            Some(kind) => {
                let place = reading.table.billet.span().unwrap_or_default();
                Err(wrong(vec![source.problem(kind, place)]))
            }
        },
        checked => Err(wrong(text::together(text, &reading, checked.err().unwrap_or_default()))),
    }
}

/// What is wrong with a plan whose run would need more than it may.
fn over_budget(plan: &Plan, budget: &Budget) -> Option<ProblemKind> {
    let (detail, help) = budget.refusal(&Need::of(plan, plan.resolution))?;
    Some(ProblemKind::rule("over-budget", detail, help))
}

/// The `[study]` table of the text of a line file.
///
/// # Errors
/// Text that is no TOML, keys with unknown names or wrong types.
pub(crate) fn read_study(source: &Source<'_>, path: &Path) -> Result<Given<RawStudy>, LineFileError> {
    Ok(read_tables(source, path)?.study)
}

/// All tables of the text of a line file, as they stand.
///
/// # Errors
/// As [`read_study`].
pub(crate) fn read_tables(source: &Source<'_>, path: &Path) -> Result<RawFile, LineFileError> {
    let reading = text::parse::<RawFile>(source, path).map_err(LineFileError::Wrong)?;
    if reading.refused.is_empty() {
        return Ok(reading.table);
    }
    let problems = Problems::new(path, source.text, reading.refused);
    Err(LineFileError::Wrong(Box::new(problems)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Where a fitted number is from stays known in the plan with another number changed.
    #[test]
    fn a_changed_plan_keeps_the_words_of_its_calibration() {
        let folder = tempfile::tempdir().unwrap();
        let number = "readings = 80\n[[number]]\ninput = \"billet.emissivity\"\nvalue = 0.81\nsd = 0.012\n";
        std::fs::write(folder.path().join("cal.toml"), number).unwrap();
        let line = "title = \"x\"\ncalibration = \"cal.toml\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 50\n\
            length_mm = 80\nemissivity = 0.7\n[heater]\nkind = \"measured\"\ntemperature_c = 1220\n\
            [[stage]]\nkind = \"carry\"\nname = \"carry\"\nseconds = 3\n";
        let document = Document::parse(line, folder.path().join("line.toml")).unwrap();
        let of = |plan: &Plan| {
            let input = plan.inputs.iter().find(|input| input.path == "billet.emissivity");
            let input = input.unwrap();
            (input.owner, input.source.to_string(), input.sd)
        };
        let before = of(document.plan());
        assert!(before.1.contains("instead of 0.7"), "{before:?}");
        assert_eq!(of(&document.with(&[("stage.carry.seconds", 4.0)]).unwrap()), before);
        // What is set otherwise is no longer measured.
        let set = of(&document.with(&[("billet.emissivity", 0.75)]).unwrap());
        assert_ne!(set.0, Owner::Measured);
    }
}
