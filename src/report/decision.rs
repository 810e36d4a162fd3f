//! What to do with one part, in blocks.

use crate::ask::decide::{Decision, DecisionTable};
use crate::show::{Block, Cell, Column, Mark, Quantity, Seconds, Side, Table, say};

/// The tightest limit of a decision and its margin in K.
pub fn tightest(decision: &Decision) -> Option<(usize, f64)> {
    match *decision {
        Decision::Good { limit, margin_k }
        | Decision::Alarm { limit, margin_k }
        | Decision::Wait { limit, margin_k, .. }
        | Decision::Reject { limit, margin_k } => Some((limit, margin_k)),
        Decision::Outside => None,
    }
}

/// The decision in one sentence and as a row.
pub fn blocks(table: &DecisionTable, decision: &Decision) -> Vec<Block> {
    let state = match decision {
        Decision::Good { .. } => Cell::Mark(Mark::Ok, say("decide.good")),
        Decision::Wait { .. } => Cell::Mark(Mark::Watch, say("decide.wait")),
        Decision::Alarm { .. } => Cell::Mark(Mark::Watch, say("decide.alarm")),
        Decision::Reject { .. } => Cell::Mark(Mark::Broken, say("decide.reject")),
        Decision::Outside => Cell::Mark(Mark::Broken, say("decide.outside")),
    };
    let ends = table.exit_c.first().zip(table.exit_c.last());
    let covered = ends.map_or(Cell::Empty, |(first, last)| {
        Cell::range(*first, *last, Quantity::Temperature)
    });
    let Some((limit, margin_k)) = tightest(decision) else {
        let text = say("decide.covers").with("state", state).with("range", covered);
        return vec![Block::sentence(text)];
    };
    let margin = Cell::number(margin_k, Quantity::Difference).down().signed();
    let name = Cell::name(table.limits.get(limit).map_or("", String::as_str));
    let until = match decision {
        Decision::Wait { until_s, .. } => Cell::Seconds(Seconds::Of(*until_s, Side::Up)),
        _ => say("time.at_once").into(),
    };
    let text = match decision {
        Decision::Wait { .. } => say("decide.until").with("time", until.clone()),
        _ => say("decide.answer"),
    };
    let text = text
        .with("state", state.clone())
        .with("margin", margin.clone())
        .with("limit", name.clone());
    let columns = vec![
        Column::words(say("decide.decision")),
        Column::numbers(say("sheet.earliest"), Quantity::Seconds),
        Column::words(say("word.limit")),
        Column::numbers(say("word.margin"), Quantity::Difference),
    ];
    let row = Table::new(columns).row(vec![state, until, name, margin]);
    vec![Block::sentence(text), Block::Table(row)]
}
