//! The calibration file: numbers of a line as measurements gave them, with their spread and where they are from.

use std::path::{Path, PathBuf};

use toml::Spanned;

use super::error::LineFileError;
use crate::judge::Owner;
use crate::line::plan::{InputValue, Plan};
use crate::text::{self, Found, ProblemKind, Problems, Source, above, any, number, table, text as words, whole};

const NEEDS: &str = "a calibration file has at least one [[number]] with input, value and sd";

table! {
    /// Numbers that were fitted to measurements.
    pub(crate) struct RawCalibration = "Calibration";

    /// Title of the line.
    title: String = words(10_000.0);
    /// The line file whose measurements were used.
    measured: String = words(1000.0);
    /// Date, as it is shown.
    date: String = words(100.0);
    /// Readings.
    readings: i64 = whole((1.0, 1.0e9)).required();
    /// Parts.
    parts: i64 = whole((1.0, 1.0e9));
    /// The numbers.
    number: Vec<Spanned<RawNumber>> = any().required();
}

table! {
    /// A number that was fitted.
    pub(crate) struct RawNumber = "CalibratedNumber";

    /// Path of the input.
    input: String = words(500.0).required();
    /// Its value, in the unit of the input.
    value: f64 = number("", (-1.0e9, 1.0e9)).required();
    /// Standard deviation of what is known of it.
    sd: f64 = above("", (0.0, 1.0e9)).required();
    /// Unit, for the reader.
    unit: String = words(50.0);
}

/// A calibration that was read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Calibration {
    /// The file.
    pub path: PathBuf,
    /// Where its numbers are from, in words: file, date, number of readings.
    pub source: String,
    /// Path, value, standard deviation.
    pub numbers: Vec<(String, f64, f64)>,
}

/// What numbers of instruments start with; they are no inputs of the line.
pub(crate) const INSTRUMENT: &str = "instrument.";

impl Calibration {
    /// Reads a calibration file.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn load(path: &Path) -> Result<Calibration, LineFileError> {
        let text = text::load(path, NEEDS)?;
        let source = Source::new(&text);
        let wrong = |list| LineFileError::Wrong(Box::new(Problems::new(path, &text, list)));
        let reading = text::parse::<RawCalibration>(&source, path).map_err(LineFileError::Wrong)?;
        if !reading.refused.is_empty() {
            return Err(wrong(reading.refused));
        }
        let mut found = Found::new(&source);
        let raw = reading.table;
        let readings = found.whole(&raw.readings);
        if raw.readings.is_none() {
            found.missing(0..0, "`readings`", "readings = how many it was fitted to");
        }
        let date = found.text(&raw.date).filter(|date| !date.is_empty());
        let mut numbers: Vec<(String, f64, f64)> = Vec::new();
        for entry in raw.number.items() {
            let (place, raw) = (entry.span(), entry.get_ref());
            if raw.input.is_none() {
                found.missing(place.clone(), "`input`", "input = \"its path\"");
            }
            let input = found.text(&raw.input).unwrap_or_default();
            let value = found.required(
                &raw.value,
                place.clone(),
                "value = what was fitted, in the unit of the input",
            );
            let sd = found.required(&raw.sd, place.clone(), "sd = its standard deviation, in the same unit");
            if numbers.iter().any(|n| n.0 == input) {
                let kind = ProblemKind::rule(
                    "calibration",
                    format!("`{input}` is there twice"),
                    "once for each input",
                );
                found.problem(kind, place);
            }
            numbers.push((input, value, sd));
        }
        if raw.number.items().is_empty() {
            found.missing(0..0, "[[number]]", NEEDS);
        }
        if !found.problems.is_empty() {
            return Err(wrong(found.problems));
        }
        let name = path
            .file_name()
            .map_or(String::new(), |name| name.to_string_lossy().into_owned());
        let date = date.map_or(String::new(), |date| format!(", {date}"));
        Ok(Calibration {
            path: path.to_owned(),
            source: format!("measured, {name}{date}, n = {}", readings.unwrap_or(0)),
            numbers,
        })
    }

    /// The numbers of the line, without those that are set otherwise.
    pub fn of_line<'a>(&'a self, fixed: &'a [String]) -> impl Iterator<Item = &'a (String, f64, f64)> {
        let own = |n: &&(String, f64, f64)| !n.0.starts_with(INSTRUMENT) && !fixed.contains(&n.0);
        self.numbers.iter().filter(own)
    }

    /// Says in a plan whose numbers they are; `fixed` were set otherwise, `before` is what the line file says.
    pub fn mark(&self, plan: &mut Plan, fixed: &[String], before: impl Fn(&str) -> Option<String>) {
        for (path, _, sd) in self.of_line(fixed) {
            if let Some(input) = plan.inputs.iter_mut().find(|input| input.path == *path) {
                let instead = before(path).map_or(String::new(), |was| format!(", instead of {was}"));
                input.owner = Owner::Measured;
                input.source = format!("{}{instead}", self.source).into();
                input.sd = Some(*sd);
            }
        }
    }

    /// The same in a plan with other numbers, in the words of the plan it was made of.
    pub fn mark_as(&self, plan: &mut Plan, fixed: &[String], marked: &Plan) {
        let of = |path: &str| marked.inputs.iter().find(|input| input.path == path);
        for (path, _, _) in self.of_line(fixed) {
            let input = plan.inputs.iter_mut().find(|input| input.path == *path);
            if let Some((input, known)) = input.zip(of(path)) {
                input.owner = known.owner;
                input.source = known.source.clone();
                input.sd = known.sd;
            }
        }
    }
}

/// What a plan says of an input that its file gives, in words.
pub(super) fn given_words(plan: &Plan, path: &str) -> Option<String> {
    let input = plan
        .inputs
        .iter()
        .find(|input| input.path == path && input.owner == Owner::Given)?;
    let InputValue::Number(value) = input.value else {
        return None;
    };
    Some(format!("{value} of {}", input.source))
}
