//! The inputs of a line: what each is, who gave it and why.

use serde_json::{Value, json};

use super::verdict::owner;
use crate::line::plan::{Input, InputValue};
use crate::line::trace::InputRecord;
use crate::show::{Block, Cell, Column, Quantity, Table, say};
use crate::text::Allowed;

/// The inputs by path, with the ranges that the check accepts.
pub fn listed(inputs: &[&Input]) -> Vec<Block> {
    let numbers = inputs.iter().filter(|input| input.number().is_some()).count();
    let count = say("inputs.count")
        .count(inputs.len())
        .with("numbers", Cell::count(numbers));
    let mut columns = columns();
    columns.push(Column::words(say("inputs.allowed")));
    let rows = inputs.iter().map(|input| {
        let mut row = cells(&input.record());
        let range = input.allowed.filter(|_| input.number().is_some());
        row.push(range.map_or(Cell::Empty, allowed));
        row
    });
    vec![Block::sentence(count), Block::Table(Table::new(columns).rows(rows))]
}

/// The inputs of a run with their sources.
pub(crate) fn sourced(inputs: &[InputRecord]) -> Block {
    let mut columns = columns();
    columns.push(Column::words(say("word.source")));
    let rows = inputs.iter().map(|input| {
        let mut row = cells(input);
        row.push(Cell::name(&input.source));
        row
    });
    Block::Table(Table::new(columns).rows(rows))
}

fn columns() -> Vec<Column> {
    vec![
        Column::words(say("word.input")),
        Column::mixed(say("word.value")),
        Column::words(say("word.unit")),
        Column::words(say("word.owner")),
    ]
}

fn cells(input: &InputRecord) -> Vec<Cell> {
    vec![
        Cell::name(&input.path),
        value(&input.value),
        Cell::name(&input.unit),
        owner(input.owner).into(),
    ]
}

/// A value as the file has it: a number in at most six digits, a word as it is.
pub fn value(written: &str) -> Cell {
    match written.parse::<f64>() {
        Ok(number) if number.is_finite() => Cell::number(number, Quantity::Plain),
        _ => Cell::name(written),
    }
}

/// The range of an input in words.
pub(crate) fn allowed(range: Allowed) -> Cell {
    let end = |value: f64| Cell::number(value, Quantity::Plain);
    say(if range.low_open { "inputs.above" } else { "inputs.range" })
        .with("low", end(range.low))
        .with("high", end(range.high))
        .into()
}

/// An input for programs.
pub fn as_json(input: &Input) -> Value {
    let value = match &input.value {
        InputValue::Number(value) => json!(value),
        InputValue::Word(word) => json!(word),
    };
    json!({
        "path": input.path,
        "value": value,
        "unit": input.unit,
        "owner": input.owner,
        "source": input.source,
        "follows_others": input.follows,
        "allowed": input.allowed.map(|allowed| allowed.to_string()),
        "low": input.allowed.map(|a| a.low),
        "high": input.allowed.map(|a| a.high),
        "low_excluded": input.allowed.map(|a| a.low_open),
    })
}
