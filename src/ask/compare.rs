//! Two or more lines side by side, and one line over a table of part numbers.

use std::path::Path;

use rayon::prelude::*;
use serde::Serialize;

use crate::judge::Limit;
use crate::line::plan::{Input, InputValue};
use crate::text::is_unfit;

use super::PlanError;
use super::band::BandOptions;
use super::enquiry::{Enquiry, ExitBands, Guarding};
use super::failure::Failure;
use super::hand_overs::HandOverTimes;
use super::model::{Change, Model, Outcome};

/// An input that is not the same in all lines.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Different {
    /// Path.
    pub path: String,
    /// Unit.
    pub unit: String,
    /// Value in each line as text; `None` where the line has no such input.
    pub values: Vec<Option<String>>,
}

/// A limit with its result in each line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SideBySide {
    /// The limit in words.
    pub limit: String,
    /// The limit itself, of the first line that has it.
    #[serde(skip)]
    pub about: Limit,
    /// Value and margin in K in each line; `None` where the line has no such limit.
    pub results: Vec<Option<(f64, f64)>>,
}

/// Inputs that differ, in the order of the first line that has them. Inputs that only follow from
/// others are left out.
#[must_use]
pub fn differences(lines: &[&[Input]]) -> Vec<Different> {
    let text = |input: &Input| match &input.value {
        InputValue::Number(value) => value.to_string(),
        InputValue::Word(word) => word.clone(),
    };
    let mut paths: Vec<(&str, &str)> = Vec::new();
    for inputs in lines {
        for input in inputs.iter().filter(|input| !input.follows) {
            if !paths.iter().any(|(path, _)| *path == input.path) {
                paths.push((input.path.as_str(), input.unit));
            }
        }
    }
    paths
        .into_iter()
        .filter_map(|(path, unit)| {
            let values: Vec<Option<String>> = lines
                .iter()
                .map(|inputs| inputs.iter().find(|i| i.path == path).map(text))
                .collect();
            let differs = values.windows(2).any(|pair| pair[0] != pair[1]);
            differs.then(|| Different {
                path: path.to_owned(),
                unit: unit.to_owned(),
                values,
            })
        })
        .collect()
}

/// Limits of all lines with their results; a limit is the same when its words are.
#[must_use]
pub fn side_by_side(outcomes: &[Outcome]) -> Vec<SideBySide> {
    let mut limits: Vec<(String, &Limit)> = Vec::new();
    for verdict in outcomes.iter().flat_map(|outcome| &outcome.verdicts) {
        let name = verdict.limit.to_string();
        if !limits.iter().any(|(known, _)| *known == name) {
            limits.push((name, &verdict.limit));
        }
    }
    limits
        .into_iter()
        .map(|(name, about)| SideBySide {
            results: outcomes
                .iter()
                .map(|outcome| {
                    let verdict = outcome.verdicts.iter().find(|v| v.limit.to_string() == name)?;
                    Some((verdict.value, verdict.margin_k))
                })
                .collect(),
            limit: name,
            about: about.clone(),
        })
        .collect()
}

/// A row of a family table: a part number and the inputs it changes.
#[derive(Debug, Clone, PartialEq)]
pub struct FamilyRow {
    /// Part number, the text of the first column.
    pub part: String,
    /// Changed numbers; an empty cell changes nothing.
    pub changes: Vec<Change>,
    /// Changed words, a steel for example, by path.
    pub words: Vec<(String, String)>,
    /// What is wrong with the row, so that it cannot be run.
    pub wrong: Option<String>,
}

/// Reads a family table: the first column names the part, the header of every other column is the
/// path of an input. Separator and decimal comma as in [`super::distribution::read_column`]. A cell that is
/// wrong spoils its row alone.
///
/// # Errors
/// A file that cannot be read, a column that names no input, no rows.
pub fn read_family(path: &Path, model: &dyn Model) -> Result<Vec<FamilyRow>, Failure> {
    let table = super::distribution::read_table(path)?;
    let mut numbers = vec![true];
    for column in table.columns.iter().skip(1) {
        // A word of the steel's own table is no input; the steel itself is.
        numbers.push(column != "billet.steel" && model.input(column)?.number().is_some());
    }
    let mut rows = Vec::new();
    let mut seen = std::collections::HashSet::new();
    for (line, cells) in &table.rows {
        let mut row = FamilyRow {
            part: cells.first().cloned().unwrap_or_default(),
            changes: Vec::new(),
            words: Vec::new(),
            wrong: None,
        };
        for ((column, cell), number) in table.columns.iter().zip(cells).zip(&numbers).skip(1) {
            match (cell.is_empty(), number) {
                (true, _) => {}
                (false, false) => row.words.push((column.clone(), cell.clone())),
                (false, true) => match table.number(cell) {
                    Some(value) => row.changes.push(Change::new(column.clone(), value)),
                    None => row.wrong = Some(format!("line {line}: `{cell}` in column `{column}` is not a number")),
                },
            }
        }
        if let Some(c) = row.part.chars().find(|c| is_unfit(*c)) {
            row.wrong = Some(format!(
                "line {line}: the part holds a control character (code {})",
                u32::from(c)
            ));
            row.part.retain(|c| !is_unfit(c));
        }
        if !seen.insert(row.part.clone()) {
            row.wrong = Some(format!("line {line}: part `{}` is there twice", row.part));
        }
        rows.push(row);
    }
    if rows.is_empty() {
        return Err(PlanError::count(format!("rows in {}", path.display()), 0, "1 or more").into());
    }
    Ok(rows)
}

/// What is known of one part of a family.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct FamilyPart {
    /// The line of this part.
    pub enquiry: Enquiry,
    /// Its planned run.
    pub outcome: Outcome,
    /// Times and exit band, where they were asked for.
    pub plan: Option<FamilyPlan>,
}

/// Times, exit band and decision table of one part.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct FamilyPlan {
    /// Times of the hand-overs.
    pub times: Vec<HandOverTimes>,
    /// Bands of the exit temperature; `None` where it is not an input.
    pub bands: Option<ExitBands>,
}

/// Runs every row of a family of `base`; with `planning` its times and exit band are searched too. A row
/// that is refused or fails keeps its reason, and the others go on.
#[must_use]
pub fn run_family(base: &Enquiry, rows: &[FamilyRow], planning: bool) -> Vec<Result<FamilyPart, Failure>> {
    rows.par_iter().map(|row| family_part(base, row, planning)).collect()
}

fn family_part(base: &Enquiry, row: &FamilyRow, planning: bool) -> Result<FamilyPart, Failure> {
    if let Some(wrong) = &row.wrong {
        return Err(Failure::NothingToDo(wrong.clone()));
    }
    let numbers: Vec<(&str, f64)> = row.changes.iter().map(|c| (c.path.as_str(), c.value)).collect();
    let words = row.words.iter().map(|(path, word)| (path.as_str(), word.as_str()));
    let words: Vec<(&str, &str)> = words.chain([("part", row.part.as_str())]).collect();
    let document = base.model.document().altered(&words, &numbers)?;
    let mut enquiry = Enquiry::new(document, Some(base.model.resolution()))?;
    if base.guarding == Guarding::Bare {
        enquiry = enquiry.bare();
    }
    let outcome = enquiry.model.run(&[])?;
    let plan = match planning && !enquiry.model.limits().is_empty() {
        false => None,
        true => {
            let judged = enquiry.judged_as(outcome.clone())?;
            let bands = match enquiry.model.exit_inputs() {
                Some(_) => Some(judged.band(&BandOptions::default())?),
                None => None,
            };
            Some(FamilyPlan {
                times: judged.times()?,
                bands,
            })
        }
    };
    Ok(FamilyPart { enquiry, outcome, plan })
}
