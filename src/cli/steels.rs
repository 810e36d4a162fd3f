//! `billet steels`: the library, one grade as a table, one grade as a picture.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;
use serde_json::{Value, json};

use super::exit::Exit;
use super::{Global, message, out, save};
use crate::report::steels::{self, TABLE_C};
use crate::steel::{Library, Provenance, Steel, SteelError};

/// List the steels of the library, or show one: a grade, or a steel file of your own.
#[derive(Debug, Args)]
pub(super) struct Steels {
    /// A grade or alias, or the path of a steel file (ending in .toml).
    name: Option<String>,
    /// Write a picture of the property curves to this file; `-` writes it to standard output instead of the table.
    #[arg(long, value_name = "FILE", requires = "name")]
    svg: Option<PathBuf>,
}

impl Steels {
    pub fn run(&self, global: &Global) -> Exit {
        let shown = match &self.name {
            None => list(global),
            Some(name) => find(name).and_then(|steel| self.one(&steel, global)),
        };
        shown.unwrap_or_else(|error| {
            message::steel(&error);
            Exit::WrongInput
        })
    }

    fn one(&self, steel: &Steel, global: &Global) -> Result<Exit, SteelError> {
        if let Some(path) = &self.svg {
            let picture = steels::svg(steel, &global.view());
            if path == Path::new("-") {
                return Ok(out::print(&picture, Exit::Fine));
            }
            let inputs: Vec<PathBuf> = self.name.iter().map(PathBuf::from).collect();
            if let Err(exit) = save::file(path, picture.as_bytes(), &inputs) {
                return Ok(exit);
            }
        }
        Ok(out::result(
            global,
            || steels::one(steel),
            || as_json(steel),
            Exit::Fine,
        ))
    }
}

fn find(name: &str) -> Result<Arc<Steel>, SteelError> {
    if name.to_lowercase().ends_with(".toml") {
        Steel::from_file(Path::new(name)).map(Arc::new)
    } else {
        Library::builtin()?.find(name)
    }
}

fn list(global: &Global) -> Result<Exit, SteelError> {
    let library = Library::builtin()?;
    let json = || -> Value { library.grades().iter().map(|steel| as_json(steel)).collect() };
    Ok(out::result(
        global,
        || steels::library(&library.list()),
        json,
        Exit::Fine,
    ))
}

fn as_json(steel: &Steel) -> Value {
    let owner = |provenance: Provenance| match provenance {
        Provenance::Given => "given",
        Provenance::Library => "library",
        Provenance::Default => "default",
    };
    let properties: Vec<Value> = steel
        .properties()
        .iter()
        .map(|p| {
            json!({
                "name": p.name, "unit": p.unit, "low_c": p.low_c, "high_c": p.high_c,
                "source": p.source, "owner": owner(p.provenance),
            })
        })
        .collect();
    let limits: Vec<Value> = steel
        .limits
        .known()
        .iter()
        .map(|(key, l)| json!({ "name": key, "value_c": l.value, "source": l.source, "owner": owner(l.provenance) }))
        .collect();
    let table: Vec<Value> = TABLE_C
        .iter()
        .map(|&c| {
            json!({
                "temp_c": c,
                "conductivity_w_mk": steel.conductivity.at(c),
                "specific_heat_j_kgk": steel.specific_heat.at(c),
                "emissivity": steel.emissivity.at(c),
                "resistivity_ohm_m": steel.resistivity_ohm_m.as_ref().map(|rho| rho.at(c)),
            })
        })
        .collect();
    json!({
        "name": steel.name, "aliases": steel.aliases, "family": steel.family, "note": steel.note,
        "density_kg_m3": steel.density_kg_m3.value,
        "solidus_c": steel.solidus_c.as_ref().map(|s| s.value),
        "properties": properties, "limits": limits, "table": table,
    })
}
