//! The scale that a run follows, as a table.

use super::csv::stage_name;
use crate::line::Trace;
use crate::show::{Block, Cell, Column, Quantity, Table, say};

/// One row for each moment, the thickness by where the surface looks.
pub(crate) fn blocks(trace: &Trace) -> Vec<Block> {
    let thick = |id| Column::numbers(say(id), Quantity::Thickness);
    let columns = vec![
        Column::words(say("word.stage")),
        Column::words(say("word.moment")),
        thick("layer.lower"),
        thick("layer.upper"),
        thick("layer.side"),
        Column::numbers(say("layer.colder"), Quantity::Difference),
    ];
    let um = |um: f64| Cell::number(um * 1e-6, Quantity::Thickness);
    let rows = trace.scale.iter().map(|s| {
        vec![
            Cell::name(stage_name(trace, s.stage)),
            Cell::Moment(s.moment),
            um(s.lower_um),
            um(s.upper_um),
            um(s.side_um),
            Cell::number(s.outside_colder_k, Quantity::Difference),
        ]
    });
    vec![Block::Table(Table::new(columns).caption(say("layer.title")).rows(rows))]
}
