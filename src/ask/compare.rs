//! Two or more lines side by side, and one line over a table of part numbers.

use std::path::Path;

use rayon::prelude::*;
use serde::Serialize;

use crate::judge::Limit;
use crate::line::plan::{Input, InputValue};
use crate::text::is_unfit;

use super::PlanError;
use super::failure::Failure;
use super::model::{Change, Model, Outcome, limit_name};

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
        let name = limit_name(&verdict.limit);
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
                    let verdict = outcome.verdicts.iter().find(|v| limit_name(&v.limit) == name)?;
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
    /// Changes; an empty cell changes nothing.
    pub changes: Vec<Change>,
}

/// Reads a family table: the first column names the part, the header of every other column is the
/// path of an input. Separator and decimal comma as in [`super::distribution::read_column`].
///
/// # Errors
/// A file that cannot be read, a column that names no number, a cell that is not a number, no rows.
pub fn read_family(path: &Path, model: &dyn Model) -> Result<Vec<FamilyRow>, Failure> {
    let table = super::distribution::read_table(path)?;
    for column in table.columns.iter().skip(1) {
        model.number(column)?;
    }
    let mut rows = Vec::new();
    for (line, cells) in &table.rows {
        let mut changes = Vec::new();
        for (column, cell) in table.columns.iter().zip(cells).skip(1) {
            if cell.is_empty() {
                continue;
            }
            let value = table.number(cell).ok_or_else(|| PlanError::Table {
                path: path.to_owned(),
                line: *line,
                message: format!("`{cell}` in column `{column}` is not a number"),
            })?;
            changes.push(Change::new(column.clone(), value));
        }
        let part = cells.first().cloned().unwrap_or_default();
        if let Some(c) = part.chars().find(|c| is_unfit(*c)) {
            return Err(PlanError::Table {
                path: path.to_owned(),
                line: *line,
                message: format!("the part holds a control character (code {})", u32::from(c)),
            }
            .into());
        }
        rows.push(FamilyRow { part, changes });
    }
    if rows.is_empty() {
        return Err(PlanError::count(format!("rows in {}", path.display()), 0, "1 or more").into());
    }
    Ok(rows)
}

/// Runs every row; a row that is refused or fails keeps its reason.
#[must_use]
pub fn run_family(model: &dyn Model, rows: &[FamilyRow]) -> Vec<Result<Outcome, super::model::ModelError>> {
    rows.par_iter().map(|row| model.run(&row.changes)).collect()
}
