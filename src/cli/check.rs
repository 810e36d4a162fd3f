//! `billet check`: is the file right, and what does the program take from it?

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};

use super::exit::Exit;
use super::planning::write;
use super::{Global, message, out};
use crate::ask::line_model::LineModel;
use crate::ask::study::Study;
use crate::line::file::{Document, LineFileError};
use crate::line::plan::Stage;
use crate::report::shapes::{shape_svg, shapes};
use crate::report::{OutFile, check, inputs};
use crate::show::View;
use crate::text::file_word;

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
        let document = match checked(&self.file) {
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
        if let Some(folder) = &self.shapes
            && let Err(exit) = write(folder, &drawings(&document, &global.view()), global)
        {
            return exit;
        }
        if self.show_defaults && !global.json {
            return match document.complete() {
                Ok(complete) => out::print(complete.text(), Exit::Fine),
                Err(error) => {
                    message::line_file(&error);
                    Exit::Failed
                }
            };
        }
        let plan = document.plan();
        let blocks = || check::blocks(plan, document.path());
        out::result(global, blocks, || as_json(&document), Exit::Fine)
    }
}

/// Reads a line file and checks all of it: the line, and what the planning commands read.
fn checked(path: &Path) -> Result<Document, LineFileError> {
    let document = Document::load(path)?;
    Study::read(document.text(), path, &LineModel::new(document.clone()))?;
    Ok(document)
}

/// A drawing of each shape, numbered in the order of the line.
fn drawings(document: &Document, view: &View) -> Vec<OutFile> {
    let shapes = shapes(document.plan());
    let named = shapes.iter().enumerate().map(|(index, (name, shape))| {
        OutFile::text(
            format!("shape-{:02}-{}.svg", index + 1, file_word(name)),
            shape_svg(name, shape, view),
        )
    });
    named.collect()
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
        "inputs": plan.inputs.iter().map(inputs::as_json).collect::<Vec<_>>(),
        "warnings": plan.warnings,
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
