//! The line as it is beside the pinned one: what differs, and by how much.

use crate::ask::compare::{differences, side_by_side};
use crate::ask::model::Outcome;
use crate::line::Trace;
use crate::line::plan::Input;
use crate::report::inputs;
use crate::show::{Block, Cell, Column, Quantity, Table, limit, say};

/// The inputs that differ, the margin of every limit in both, and the difference.
pub(super) fn blocks(pinned: (&Trace, &[Input]), present: (&Trace, &[Input])) -> Vec<Block> {
    let different = differences(&[pinned.1, present.1]);
    let given = |head: &'static str| Column::mixed(say(head));
    let columns = vec![
        Column::words(say("word.input")),
        Column::words(say("word.unit")),
        given("page.pinned"),
        given("page.present"),
    ];
    let rows = different.iter().map(|one| {
        let mut row = vec![Cell::name(&one.path), Cell::name(&one.unit)];
        let value = |value: &Option<String>| value.as_ref().map_or(Cell::Empty, |value| inputs::value(value));
        row.extend(one.values.iter().map(value));
        row
    });
    let mut blocks = match different.is_empty() {
        true => vec![Block::sentence(say("compare.same"))],
        false => vec![Block::Table(Table::new(columns).rows(rows))],
    };
    blocks.push(Block::Table(margins(pinned.0, present.0)));
    blocks
}

fn margins(pinned: &Trace, present: &Trace) -> Table {
    let outcome = |trace: &Trace| Outcome {
        verdicts: trace.verdicts.clone(),
        stages: trace.stages.clone(),
    };
    let outcomes = [outcome(pinned), outcome(present)];
    let margin = |head: &'static str| Column::numbers(say(head), Quantity::Difference);
    let columns = vec![
        Column::words(say("word.limit")),
        margin("page.pinned"),
        margin("page.present"),
        margin("page.difference"),
    ];
    let results = side_by_side(&outcomes);
    let rows = results.iter().map(|one| {
        let of = |k: usize| one.results.get(k).copied().flatten().map(|(_, margin)| margin);
        let change = of(0).zip(of(1)).map(|(pinned, present)| present - pinned);
        let cell = |value: Option<f64>| Cell::maybe(value, Quantity::Difference).signed();
        vec![
            limit(&one.about).into(),
            cell(of(0)).down(),
            cell(of(1)).down(),
            cell(change),
        ]
    });
    Table::new(columns).caption(say("word.margin")).rows(rows)
}
