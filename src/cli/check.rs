//! `billet check`: is the file right, and what does the program take from it?

use std::fmt::Write;
use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};

use super::exit::Exit;
use super::{Global, message, out, save};
use crate::ask::line_model::LineModel;
use crate::ask::study::Study;
use crate::judge::Limit;
use crate::line::file::{Document, LineFileError};
use crate::line::plan::{Heater, Input, InputValue, Plan, Section, Stage, StartField};
use crate::line::run::{Budget, Need};
use crate::output::OutFile;
use crate::report::shapes::{shape_svg, shapes};
use crate::report::table::text_table;
use crate::show::{Cell, View};
use crate::units::Display;

/// Check a line file and say what the program takes from it.
#[derive(Debug, Args)]
pub(super) struct Check {
    /// The line file.
    file: PathBuf,
    /// Print the file with every default written out, each with its reason.
    #[arg(long)]
    show_defaults: bool,
    /// Draw the billet and every shape into this folder.
    #[arg(long, value_name = "DIR")]
    shapes: Option<PathBuf>,
}

impl Check {
    pub fn run(&self, global: &Global) -> Exit {
        let document = match checked(&self.file, global) {
            Ok(document) => document,
            Err(error) => {
                message::line_file(&error);
                if global.json {
                    return out::print(&out::json(&message::problems_json(&error)), Exit::WrongInput);
                }
                return Exit::WrongInput;
            }
        };
        message::warnings(&document.plan().warnings, global);
        let written = save::folder(self.shapes.as_deref(), document.files(), global).and_then(|folder| match folder {
            Some(folder) => folder.write(&drawings(&document, global.display())),
            None => Ok(()),
        });
        if let Err(exit) = written {
            return exit;
        }
        if global.json {
            return out::print(&out::json(&as_json(&document)), Exit::Fine);
        }
        if self.show_defaults {
            return match document.complete() {
                Ok(complete) => out::print(complete.text(), Exit::Fine),
                Err(error) => {
                    message::line_file(&error);
                    Exit::Failed
                }
            };
        }
        out::print(&as_text(&document, global.display()), Exit::Fine)
    }
}

/// Reads a line file and checks all of it: the line, and what the planning commands read.
fn checked(path: &Path, global: &Global) -> Result<Document, LineFileError> {
    let document = Document::load_within(path, Budget::times(global.budget))?;
    Study::read(document.text(), path, &LineModel::new(document.clone()))?;
    Ok(document)
}

/// A drawing of each shape, numbered in the order of the line.
fn drawings(document: &Document, display: Display) -> Vec<OutFile> {
    let shapes = shapes(document.plan());
    let named = shapes.iter().enumerate().map(|(index, (name, shape))| {
        let plain = |c: char| {
            if c.is_ascii_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '-'
            }
        };
        let word: String = name.chars().map(plain).take(60).collect();
        OutFile::text(
            format!("shape-{:02}-{word}.svg", index + 1),
            shape_svg(name, shape, display),
        )
    });
    named.collect()
}

fn as_text(document: &Document, display: Display) -> String {
    let plan = document.plan();
    let mut text = format!("{}: right. {}\n", document.path().display(), plan.title);
    let _ = writeln!(text, "{}", billet(plan, display));
    let _ = writeln!(text, "Heater: {}", heater(&plan.heater, display));
    let _ = writeln!(text, "A run: about {}", Need::of(plan, plan.resolution));
    let _ = writeln!(text);
    let mut at = 0.0;
    let rows: Vec<Vec<String>> = plan
        .stages
        .iter()
        .map(|stage| {
            let row = vec![
                stage.name.clone(),
                stage.kind.kind().to_string(),
                format!("{at:.2}"),
                format!("{:.3}", stage.seconds()),
            ];
            at += stage.seconds();
            row
        })
        .collect();
    text.push_str(&text_table(&["stage", "kind", "start s", "length s"], &rows));
    let rows: Vec<Vec<String>> = plan.limits.iter().map(|limit| limit_row(limit, display)).collect();
    if !rows.is_empty() {
        let _ = writeln!(text);
        text.push_str(&text_table(&["limit", "stage", "moment", "node", "from"], &rows));
    }
    let defaults = plan
        .inputs
        .iter()
        .filter(|input| input.owner == crate::line::trace::Owner::Default)
        .count();
    let _ = writeln!(
        text,
        "\n{} inputs, {defaults} of them defaults; --show-defaults writes them out with their reasons.",
        plan.inputs.len()
    );
    text
}

fn billet(plan: &Plan, display: Display) -> String {
    let length = |metres: f64| {
        format!("{:.4}", display.length(metres))
            .trim_end_matches('0')
            .trim_end_matches('.')
            .to_owned()
    };
    let section = match plan.piece.section {
        Section::Round { radius_m } => format!("round {}", length(2.0 * radius_m)),
        Section::Square { side_m } => format!("square {}", length(side_m)),
        Section::Rectangle { width_m, height_m } => format!("rectangle {} x {}", length(width_m), length(height_m)),
        Section::Plate { thickness_m } => format!("plate {}", length(thickness_m)),
    };
    let unit = display.length_unit();
    let mass = display.mass(plan.piece.volume_m3() * plan.metal.density_kg_m3.value);
    let size = match plan.piece.length_m {
        Some(metres) => format!(
            "{section} x {} {unit}, {mass:.3} {}",
            length(metres),
            display.mass_unit()
        ),
        None => format!("{section} {unit}, long"),
    };
    format!(
        "Billet: {}, {size}, resolution {}",
        plan.metal.name,
        plan.resolution.word()
    )
}

fn heater(heater: &Heater, display: Display) -> String {
    let temperature = |c: f64| format!("{:.0} {}", display.temperature(c), display.temperature_unit());
    match heater {
        Heater::Measured(StartField::Uniform { temp_c }) => format!("measured, {} throughout", temperature(*temp_c)),
        Heater::Measured(StartField::Parabolic { surface_c, core_c }) => {
            format!(
                "measured, surface {}, core {}",
                temperature(*surface_c),
                temperature(*core_c)
            )
        }
        Heater::Measured(StartField::Along(places)) => format!("measured at {} places of the length", places.len()),
        Heater::Measured(StartField::Sections(places)) => format!("measured at {} places of the length", places.len()),
        Heater::Measured(StartField::Points(points)) => format!("measured at {} points of the radius", points.len()),
        Heater::CoilLine(coils) => {
            let line = &coils.line;
            format!(
                "{} coils over {:.2} m, {:.0} billets inside, takt {} s, powers {}",
                coils.settings.len(),
                line.length_m(),
                line.length_m() / line.billet_m,
                line.takt_s,
                if coils.is_set() { "given" } else { "to be found" }
            )
        }
        Heater::StaticCoil(coil) => {
            let seconds: f64 = coil.set.steps.iter().map(|s| s.seconds).sum();
            format!("static coil at {:.0} Hz for {seconds:.0} s", coil.set.coil.frequency_hz)
        }
        Heater::Furnace { furnace_c, seconds, .. } => {
            format!("furnace at {} for {:.0} s", temperature(*furnace_c), seconds)
        }
    }
}

fn limit_row(limit: &Limit, display: Display) -> Vec<String> {
    let bound = Cell::from(limit.bound).whole(&View::from(display));
    let node = match &limit.other {
        Some(other) => format!("{} - {other}", limit.node),
        None => limit.node.clone(),
    };
    let stage = limit.stage.clone().unwrap_or_else(|| "(every)".to_owned());
    vec![bound, stage, limit.moment.to_string(), node, limit.source.clone()]
}

fn as_json(document: &Document) -> Value {
    let plan = document.plan();
    json!({
        "valid": true,
        "title": plan.title,
        "steel": plan.metal.name,
        "resolution": plan.resolution.word(),
        "stages": plan.stages.iter().map(stage_json).collect::<Vec<_>>(),
        "limits": plan.limits,
        "inputs": plan.inputs.iter().map(input_json).collect::<Vec<_>>(),
        "warnings": plan.warnings,
        "need": Need::of(plan, plan.resolution),
    })
}

fn stage_json(stage: &Stage) -> Value {
    json!({
        "name": stage.name,
        "kind": stage.kind.kind(),
        "seconds": stage.seconds(),
        "line": stage.line,
    })
}

fn input_json(input: &Input) -> Value {
    let value = match &input.value {
        InputValue::Number(number) => json!(number),
        InputValue::Word(word) => json!(word),
    };
    json!({
        "path": input.path,
        "value": value,
        "unit": input.unit,
        "owner": input.owner,
        "source": input.source,
        "allowed": input.allowed.map(|allowed| allowed.to_string()),
    })
}
