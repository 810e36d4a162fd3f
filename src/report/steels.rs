//! The steel library: the list of grades, one grade with its sources, its curves as a picture.

mod picture;

pub use picture::svg;

use crate::show::{Block, Cell, Column, Quantity, Table, say};
use crate::steel::{GradeSummary, Steel};

/// Temperatures of the table of a grade, degC.
pub const TABLE_C: [f64; 14] = [
    20.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0, 700.0, 735.0, 800.0, 900.0, 1000.0, 1100.0, 1200.0,
];

/// The grades with their limits.
pub fn library(grades: &[GradeSummary]) -> Vec<Block> {
    let temperature = |id| Column::numbers(say(id), Quantity::Temperature);
    let columns = vec![
        Column::words(say("steel.grade")),
        Column::words(say("steel.kind")),
        temperature("steel.never_above"),
        temperature("steel.start_max"),
        temperature("steel.forging_min"),
        temperature("steel.trim"),
        temperature("steel.solidus"),
        Column::words(say("steel.aliases")),
    ];
    let rows = grades.iter().map(|grade| {
        let most = |c: Option<f64>| c.map_or(Cell::Empty, |c| Cell::number(c, Quantity::Temperature).down());
        vec![
            Cell::name(&grade.name),
            Cell::name(&grade.family),
            most(grade.never_exceed_c),
            most(grade.start_max_c),
            grade
                .forging_min_c
                .map_or(Cell::Empty, |c| Cell::number(c, Quantity::Temperature).up()),
            grade.trim_c.map_or(Cell::Empty, |(low, high)| {
                Cell::allowed(Some(low), Some(high), Quantity::Temperature)
            }),
            most(grade.solidus_c),
            names(&grade.aliases),
        ]
    });
    vec![
        Block::Table(Table::new(columns).rows(rows)),
        Block::sentence(say("steel.one").with("command", Cell::name("`billet steels NAME`"))),
    ]
}

fn names(list: &[String]) -> Cell {
    match list {
        [] => Cell::Empty,
        list => Cell::List(list.iter().map(Cell::name).collect()),
    }
}

/// One grade: properties over temperature, limits and sources.
pub fn one(steel: &Steel) -> Vec<Block> {
    let mut blocks = vec![Block::heading(
        Cell::name(&steel.name).joined(crate::show::Joint::Brackets, Cell::name(&steel.family)),
    )];
    if !steel.aliases.is_empty() {
        blocks.push(Block::sentence(say("steel.also").with("names", names(&steel.aliases))));
    }
    if !steel.note.is_empty() {
        blocks.push(Block::sentence(Cell::name(&steel.note)));
    }
    blocks.push(Block::Table(properties(steel)));
    blocks.push(Block::Table(limits(steel)));
    blocks.push(Block::Table(sources(steel)));
    blocks
}

fn properties(steel: &Steel) -> Table {
    let thermal = steel.thermal();
    let columns = vec![
        Column::numbers(say("axis.temperature"), Quantity::Temperature),
        Column::numbers(say("steel.conductivity"), Quantity::Conductivity),
        Column::numbers(say("steel.heat_heating"), Quantity::SpecificHeat),
        Column::numbers(say("steel.heat_cooling"), Quantity::SpecificHeat),
        Column::numbers(say("steel.enthalpy"), Quantity::Enthalpy),
        Column::numbers(say("steel.emissivity"), Quantity::Ratio),
        Column::numbers(say("steel.resistivity"), Quantity::Resistivity),
    ];
    let cooling = steel.specific_heat_cooling.as_ref().unwrap_or(&steel.specific_heat);
    let rows = TABLE_C.iter().map(|&c| {
        vec![
            Cell::number(c, Quantity::Temperature),
            Cell::number(steel.conductivity.at(c), Quantity::Conductivity),
            Cell::number(steel.specific_heat.at(c), Quantity::SpecificHeat),
            Cell::number(cooling.at(c), Quantity::SpecificHeat),
            Cell::number(thermal.heating.enthalpy(c), Quantity::Enthalpy),
            Cell::number(steel.emissivity.at(c), Quantity::Ratio),
            Cell::maybe(
                steel.resistivity_ohm_m.as_ref().map(|rho| rho.at(c)),
                Quantity::Resistivity,
            ),
        ]
    });
    Table::new(columns).rows(rows)
}

fn limits(steel: &Steel) -> Table {
    let columns = vec![
        Column::words(say("word.limit")),
        Column::numbers(say("word.value"), Quantity::Temperature),
        Column::words(say("word.source")),
    ];
    let rows = steel.limits.known().into_iter().map(|(key, limit)| {
        let (words, least) = match key {
            "never_exceed_c" => (say("steel.never_above"), false),
            "start_max_c" => (say("steel.start_max"), false),
            "forging_min_c" => (say("steel.forging_min"), true),
            "trim_min_c" => (say("steel.trim_min"), true),
            _ => (say("steel.trim_max"), false),
        };
        let value = Cell::number(limit.value, Quantity::Temperature);
        vec![
            words.into(),
            if least { value.up() } else { value.down() },
            Cell::name(&limit.source),
        ]
    });
    Table::new(columns).rows(rows)
}

fn sources(steel: &Steel) -> Table {
    let columns = vec![
        Column::words(say("steel.property")),
        Column::numbers(say("steel.range"), Quantity::Temperature),
        Column::words(say("word.source")),
    ];
    let rows = steel.properties().into_iter().map(|property| {
        vec![
            Cell::Term(property.name.to_owned()),
            Cell::range(property.low_c, property.high_c, Quantity::Temperature),
            Cell::name(property.source),
        ]
    });
    Table::new(columns).rows(rows)
}
