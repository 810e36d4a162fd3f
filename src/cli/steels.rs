//! `billet steels`: the library, one grade as a table, one grade as a picture.

mod picture;

use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;
use serde_json::{Value, json};

use super::exit::Exit;
use super::{Global, message, out};
use crate::report::table::text_table;
use crate::steel::{Library, Provenance, Steel, SteelError};
use crate::units::Display;

/// List the steels of the library, or show one: a grade, or a steel file of your own.
#[derive(Debug, Args)]
pub(super) struct Steels {
    /// A grade or alias, or the path of a steel file (ending in .toml).
    name: Option<String>,
    /// Write a picture of the property curves to this file.
    #[arg(long, value_name = "FILE", requires = "name")]
    svg: Option<PathBuf>,
}

/// Temperatures of the printed table, degC.
const TABLE_C: [f64; 14] = [
    20.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0, 700.0, 735.0, 800.0, 900.0, 1000.0, 1100.0, 1200.0,
];

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
        if let Some(path) = &self.svg
            && let Err(error) = crate::report::write_file(path, picture::svg(steel, global.display()).as_bytes())
        {
            message::error_line(&error.to_string());
            return Ok(Exit::Failed);
        }
        let text = if global.json {
            out::json(&as_json(steel))
        } else {
            as_text(steel, global.display())
        };
        Ok(out::print(&text, Exit::Fine))
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
    let grades = Library::builtin()?.list();
    if global.json {
        let grades: Vec<Value> = Library::builtin()?
            .grades()
            .iter()
            .map(|steel| as_json(steel))
            .collect();
        return Ok(out::print(&out::json(&json!(grades)), Exit::Fine));
    }
    let display = global.display();
    let shown = |value: Option<f64>| value.map_or("-".to_owned(), |c| format!("{:.0}", display.temperature(c)));
    let rows: Vec<Vec<String>> = grades
        .iter()
        .map(|grade| {
            let trim = grade.trim_c.map_or("-".to_owned(), |(low, high)| {
                format!("{}-{}", shown(Some(low)), shown(Some(high)))
            });
            vec![
                grade.name.clone(),
                grade.family.clone(),
                shown(grade.never_exceed_c),
                shown(grade.start_max_c),
                shown(grade.forging_min_c),
                trim,
                shown(grade.solidus_c),
                grade.aliases.join(", "),
            ]
        })
        .collect();
    let header = [
        "grade",
        "kind",
        "never above",
        "start max",
        "forging min",
        "trim",
        "solidus",
        "also called",
    ];
    let mut text = text_table(&header, &rows);
    let _ = writeln!(
        text,
        "Temperatures in {}. `billet steels NAME` shows one with its sources.",
        display.temperature_unit()
    );
    Ok(out::print(&text, Exit::Fine))
}

fn as_text(steel: &Steel, display: Display) -> String {
    let mut text = format!("{} ({})\n", steel.name, steel.family);
    if !steel.aliases.is_empty() {
        let _ = writeln!(text, "Also called {}.", steel.aliases.join(", "));
    }
    if !steel.note.is_empty() {
        let _ = writeln!(text, "{}", steel.note);
    }
    let table = steel.thermal();
    let rows: Vec<Vec<String>> = TABLE_C
        .iter()
        .map(|&c| {
            let cooling = steel.specific_heat_cooling.as_ref().unwrap_or(&steel.specific_heat);
            let resistivity = steel
                .resistivity_ohm_m
                .as_ref()
                .map_or("-".to_owned(), |rho| format!("{:.3}", rho.at(c) * 1e6));
            vec![
                format!("{:.0}", display.temperature(c)),
                format!("{:.2}", steel.conductivity.at(c)),
                format!("{:.0}", steel.specific_heat.at(c)),
                format!("{:.0}", cooling.at(c)),
                format!("{:.1}", table.heating.enthalpy(c) * 1e-3),
                format!("{:.2}", steel.emissivity.at(c)),
                resistivity,
            ]
        })
        .collect();
    let unit = display.temperature_unit();
    let header = [
        unit,
        "k W/mK",
        "c heating J/kgK",
        "c cooling J/kgK",
        "enthalpy kJ/kg",
        "emissivity",
        "resistivity uOhm m",
    ];
    let _ = writeln!(text);
    text.push_str(&text_table(&header, &rows));
    let limits: Vec<Vec<String>> = steel
        .limits
        .known()
        .iter()
        .map(|(key, limit)| {
            let words = key.trim_end_matches("_c").replace('_', " ");
            vec![
                words,
                format!("{:.0} {unit}", display.temperature(limit.value)),
                limit.source.clone(),
            ]
        })
        .collect();
    if !limits.is_empty() {
        let _ = writeln!(text);
        text.push_str(&text_table(&["limit", "value", "source"], &limits));
    }
    let sources: Vec<Vec<String>> = steel
        .properties()
        .iter()
        .map(|property| {
            let range = format!(
                "{:.0} to {:.0}",
                display.temperature(property.low_c),
                display.temperature(property.high_c)
            );
            vec![property.name.to_owned(), range, property.source.clone()]
        })
        .collect();
    let _ = writeln!(text);
    text.push_str(&text_table(&["property", &format!("range {unit}"), "source"], &sources));
    text
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
