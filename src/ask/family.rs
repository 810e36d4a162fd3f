//! One line over a table of part numbers.

use std::path::Path;

use rayon::prelude::*;
use serde::Serialize;

use crate::heater::HeaterError;
use crate::heater::line::CoilResult;
use crate::line::plan::{Heater, Plan, Resolution};
use crate::text::is_unfit;

use super::PlanError;
use super::band::BandOptions;
use super::enquiry::{Enquiry, ExitBands, Guarding};
use super::failure::Failure;
use super::hand_overs::HandOverTimes;
use super::model::{Change, Model, Outcome};

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
    /// What the heights of all shapes (the lengths of cross-sections) were multiplied by to keep the volume of the
    /// billet; one where the row does not change its size.
    pub stretched: f64,
    /// What a computed heater needs.
    pub heater: Option<HeaterNeeds>,
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
    let kept = keeping_volume(&base.model, &row.changes)?;
    let changes = row.changes.iter().chain(&kept.changes);
    let numbers: Vec<(&str, f64)> = changes.map(|c| (c.path.as_str(), c.value)).collect();
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
    let heater = heater_needs(enquiry.model.document().plan(), enquiry.model.resolution())?;
    Ok(FamilyPart {
        enquiry,
        outcome,
        plan,
        stretched: kept.ratio,
        heater,
    })
}

/// What goes with a billet of another size.
struct Kept {
    changes: Vec<Change>,
    ratio: f64,
}

/// Heights of the shapes (lengths of the cross-sections of a long part) that keep the volume of a billet whose
/// size a row changes. A stage whose shape the row gives is left as it says.
fn keeping_volume(model: &dyn Model, row: &[Change]) -> Result<Kept, Failure> {
    let mut ratio = 1.0;
    for change in row {
        let power = match change.path.as_str() {
            "billet.diameter_mm" | "billet.side_mm" => 2,
            "billet.length_mm" | "billet.width_mm" | "billet.height_mm" => 1,
            _ => continue,
        };
        ratio *= (change.value / model.number(&change.path)?).powi(power);
    }
    let mut changes = Vec::new();
    if ratio != 1.0 && ratio.is_finite() && ratio > 0.0 {
        let given = |stage: &str| row.iter().any(|change| change.path.starts_with(stage));
        // Cross-sections of a long part keep their shapes and become longer.
        let long = model.inputs().iter().any(|input| input.path.starts_with("section."));
        for input in model.inputs().iter().filter(|input| !input.follows) {
            let of_stage = input
                .path
                .rsplit_once(".shape.")
                .map(|(stage, _)| format!("{stage}.shape."));
            let stretched = match &of_stage {
                Some(stage) => !long && is_height(&input.path) && !given(stage),
                None => input.path.starts_with("section.") && input.path.ends_with(".length_mm") && !given("section."),
            };
            if let (true, Some(value)) = (stretched, input.number()) {
                changes.push(Change::new(input.path.clone(), value * ratio));
            }
        }
    }
    let ratio = if changes.is_empty() { 1.0 } else { ratio };
    Ok(Kept { changes, ratio })
}

fn is_height(path: &str) -> bool {
    [".height_mm", ".bottom_mm", ".top_mm"]
        .iter()
        .any(|key| path.ends_with(key))
}

/// What a computed heater needs for a part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HeaterNeeds {
    /// Coils in their order along the heater.
    pub coils: Vec<CoilNeeds>,
    /// Energy from the mains, kWh/t.
    pub mains_kwh_t: f64,
}

/// What a coil is set to for a part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoilNeeds {
    /// Its name.
    pub coil: String,
    /// Power at the terminals, kW.
    pub power_kw: f64,
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Voltage, V RMS, where its turns are known.
    pub volts: Option<f64>,
    /// Current before any capacitor, A RMS, where its turns are known.
    pub amperes: Option<f64>,
}

impl CoilNeeds {
    fn of(coil: &CoilResult) -> CoilNeeds {
        // One turn is none that was given.
        let known = |value: f64| (coil.electrical.turns > 1.0).then_some(value);
        CoilNeeds {
            coil: coil.name.clone(),
            power_kw: 1e-3 * coil.terminals_w,
            frequency_hz: coil.frequency_hz,
            volts: known(coil.electrical.volts),
            amperes: known(coil.electrical.amperes),
        }
    }
}

/// Powers and energy of a line of coils in steady work; `None` for other heaters.
///
/// # Errors
/// Coils that cannot be computed or settle nowhere.
fn heater_needs(plan: &Plan, resolution: Resolution) -> Result<Option<HeaterNeeds>, Failure> {
    let Heater::CoilLine(coils) = &plan.heater else {
        return Ok(None);
    };
    let failed = |error: HeaterError| Failure::Line(error.to_string());
    let bar = coils.bar(&plan.piece, &plan.metal, resolution).map_err(failed)?;
    let drives = coils.drives(&bar, resolution).map_err(failed)?;
    let steady = coils
        .line
        .steady(&bar, &drives, coils.slices(resolution))
        .map_err(failed)?;
    Ok(Some(HeaterNeeds {
        coils: steady.coils.iter().map(CoilNeeds::of).collect(),
        mains_kwh_t: steady.balance.terminals_kwh_t() / coils.supply_efficiency,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::line_model::LineModel;
    use crate::line::file::Document;

    /// A hub of half the length: a longer billet stretches every height alike, and the file is right again; the
    /// stage whose shape the row gives is left alone.
    #[test]
    fn shapes_keep_the_volume_of_another_billet() {
        for name in ["hub", "connecting-rod", "gear-blank", "pin"] {
            let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name);
            let document = Document::load(file.with_extension("toml")).unwrap();
            let model = LineModel::new(document.clone());
            let length = model.number("billet.length_mm").unwrap();
            let row = [Change::new("billet.length_mm", 1.1 * length)];
            let kept = keeping_volume(&model, &row).unwrap();
            assert!((kept.ratio - 1.1).abs() < 1e-12, "{name}");
            let numbers: Vec<(&str, f64)> = row
                .iter()
                .chain(&kept.changes)
                .map(|c| (c.path.as_str(), c.value))
                .collect();
            let bare: Vec<(&str, f64)> = row.iter().map(|c| (c.path.as_str(), c.value)).collect();
            assert!(
                document.altered(&[], &bare).is_err(),
                "{name}: the shapes must follow the billet"
            );
            let altered = document
                .altered(&[], &numbers)
                .unwrap_or_else(|error| panic!("{name}: {error}"));
            let volume = |d: &Document| d.plan().piece.shape().unwrap().volume_m3();
            assert!((volume(&altered) / volume(&document) - 1.1).abs() < 1e-9, "{name}");
        }
        let document = Document::load(Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/hub.toml")).unwrap();
        let model = LineModel::new(document);
        let row = [
            Change::new("billet.diameter_mm", 62.0),
            Change::new("stage.upsetter.shape.1.height_mm", 70.0),
        ];
        let kept = keeping_volume(&model, &row).unwrap();
        assert!(kept.changes.iter().all(|c| !c.path.contains("upsetter")));
        assert!((kept.ratio - (62.0_f64 / 60.0).powi(2)).abs() < 1e-12);
        assert!(
            keeping_volume(&model, &[Change::new("shop.ambient_c", 20.0)])
                .unwrap()
                .changes
                .is_empty()
        );
    }
}
