//! What one second, one kelvin, one blow are worth, and what one unit of each input does to one limit.

use super::limits::{legend, numbered};
use crate::ask::pocket::{Changed, Effect, Pocket};
use crate::ask::sensitivity::Sensitivity;
use crate::judge::Limit;
use crate::show::{Block, Cell, Column, Joint, NoteKind, Quantity, Table, Text, limit, say};

/// The pocket table of a line.
pub fn pocket(title: &str, pocket: &Pocket, limits: &[Limit]) -> Vec<Block> {
    let mut blocks = vec![Block::heading(Cell::name(title))];
    if let Some(costly) = pocket.costliest() {
        let text = say("sense.costs_most")
            .with("what", what(&costly.what))
            .with("value", Cell::number(costly.worst(), Quantity::Difference));
        blocks.push(Block::sentence(text));
    }
    let mut columns = vec![Column::words(say("sense.more_of")), Column::words(say("sense.by"))];
    columns.extend(numbered(limits, Quantity::Effect));
    let rows = pocket.effects.iter().map(|effect| {
        let mut row = vec![what(&effect.what), amount(effect)];
        let change = |per_unit: &f64| Cell::number(per_unit * effect.amount, Quantity::Effect).signed();
        row.extend(effect.slope.per_unit.iter().map(change));
        row
    });
    blocks.push(Block::Table(
        Table::new(columns)
            .caption(say("sense.caption").with("unit", Cell::Unit(Quantity::Effect)))
            .rows(rows),
    ));
    blocks.extend(pocket.left_out.iter().map(|(changed, why)| {
        let text = say("sense.left_out")
            .with("what", what(changed))
            .with("why", Cell::name(why));
        Block::Note(NoteKind::Remark, text.into())
    }));
    blocks.push(legend(limits));
    blocks
}

/// What is changed, in words.
fn what(changed: &Changed) -> Cell {
    let at = |text: Text, stage: &str| Cell::from(text).joined(Joint::Comma, Cell::name(stage));
    match changed {
        Changed::Exit => say("sense.exit").into(),
        Changed::HandOver(stage) => Cell::name(stage),
        Changed::Emissivity => say("steel.emissivity").into(),
        Changed::DieTemperature => say("sense.die").into(),
        Changed::Blows(stage) => at(say("sense.blows"), stage),
        Changed::LyingBefore(stage) => at(say("term.lying_before"), stage),
        Changed::LyingAfter(stage) => at(say("term.lying_after"), stage),
        Changed::Input(path) => Cell::name(path),
    }
}

/// By how much it is changed.
fn amount(effect: &Effect) -> Cell {
    let count = Cell::count(effect.amount as usize);
    match &effect.what {
        Changed::HandOver(_) | Changed::LyingBefore(_) | Changed::LyingAfter(_) => {
            Cell::number(effect.amount, Quantity::Seconds)
        }
        Changed::Exit | Changed::DieTemperature => Cell::number(effect.amount, Quantity::Margin),
        Changed::Emissivity => Cell::number(effect.amount, Quantity::Ratio),
        Changed::Blows(_) => count,
        Changed::Input(_) => count.joined(Joint::Space, Cell::name(&effect.slope.unit)),
    }
}

/// Inputs of the longest list.
const MOST: usize = 25;

/// Change of the limiting margin with one unit of each input, the strongest first.
pub fn strongest(list: &[Sensitivity], limiting: usize, limits: &[Limit]) -> Vec<Block> {
    let mut order: Vec<(&Sensitivity, f64)> = list
        .iter()
        .filter_map(|s| Some((s, *s.margin_per_unit.get(limiting)?)))
        .filter(|(_, k)| k.is_finite())
        .collect();
    // by what a usual step changes, so that inputs of different units can be compared
    order.sort_by(|a, b| (b.1 * b.0.step).abs().total_cmp(&(a.1 * a.0.step).abs()));
    let columns = vec![
        Column::words(say("word.input")),
        Column::numbers(say("word.value"), Quantity::Ratio),
        Column::words(say("word.unit")),
        Column::numbers(say("plan.per_unit"), Quantity::Effect),
    ];
    let rows = order.iter().take(MOST).map(|(s, k)| {
        vec![
            Cell::name(&s.path),
            Cell::number(s.nominal, Quantity::Ratio),
            Cell::name(&s.unit),
            Cell::number(*k, Quantity::Effect).signed(),
        ]
    });
    let about = limits
        .get(limiting)
        .map(|one| Block::sentence(say("plan.for_limit").with("limit", limit(one))));
    about
        .into_iter()
        .chain([Block::Table(Table::new(columns).rows(rows))])
        .collect()
}
