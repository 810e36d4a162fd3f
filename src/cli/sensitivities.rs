//! `billet sensitivities`: what one second, one kelvin, one blow is worth.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};

use super::exit::Exit;
use super::heat::coils::effect_json;
use super::planning::{Job, Progress, enquire, fail, resolution};
use super::{Global, out};
use crate::ask::Failure;
use crate::ask::heating::{self, CoilAnswer};
use crate::ask::model::Model;
use crate::ask::pocket::{Effect, Pocket};
use crate::line::plan::{Heater, Resolution};
use crate::report::{heater, sensitivities};
use crate::show::Block;

/// Print the pocket table: what each step, the exit temperature, emissivity, die and blows are worth.
#[derive(Debug, Args)]
pub(super) struct Sensitivities {
    /// The line file.
    file: PathBuf,
    /// Further inputs by path, besides the usual ones.
    #[arg(long, value_name = "PATH")]
    input: Vec<String>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = resolution)]
    resolution: Option<Resolution>,
}

impl Sensitivities {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match enquire(global, &self.file, self.resolution) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "changing one input after the other");
        let found = job
            .nominal()
            .and_then(|nominal| Ok((Pocket::of((&job.model, job.cheap()), &nominal, &self.input)?, nominal)));
        progress.end();
        let (pocket, nominal) = match found {
            Ok(found) => found,
            Err(failure) => return fail(&failure),
        };
        let effects = match &job.model.document().plan().heater {
            Heater::CoilLine(coils) => CoilAnswer::effects_on_exit(job.model.document().plan(), coils),
            _ => Ok(Vec::new()),
        };
        let effects = match effects {
            Ok(effects) => effects,
            Err(error) => return fail(&Failure::Line(error.to_string())),
        };
        let done = match nominal.holds() {
            true => Exit::Fine,
            false => Exit::LimitBroken,
        };
        let blocks = || {
            let mut blocks = sensitivities::pocket(job.title(), &pocket, job.model.limits());
            if !effects.is_empty() {
                blocks.push(Block::Table(heater::effects(&effects)));
            }
            blocks
        };
        out::result(global, blocks, || as_json(&job, &pocket, &effects), done)
    }
}

fn as_json(job: &Job, pocket: &Pocket, effects: &[heating::Effect]) -> Value {
    let slope = |effect: &Effect| {
        let slope = &effect.slope;
        json!({
            "input": slope.path,
            "unit": slope.unit,
            "nominal": slope.nominal,
            "step": slope.step,
            "k_per_unit": slope.per_unit,
            "margin_k_per_unit": slope.margin_per_unit,
            "disagreement_k_per_unit": slope.spread,
        })
    };
    json!({
        "schema_version": 1,
        "title": job.title(),
        "limits": job.model.limits().iter().map(ToString::to_string).collect::<Vec<_>>(),
        "sensitivities": pocket.effects.iter().map(slope).collect::<Vec<_>>(),
        "heater": effects.iter().map(effect_json).collect::<Vec<_>>(),
        "left_out": pocket.left_out.iter().map(|(_, why)| why).collect::<Vec<_>>(),
    })
}
