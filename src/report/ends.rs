//! Bar ends that are too cold, as a table.

use super::csv::stage_name;
use crate::judge::Moment;
use crate::line::Trace;
use crate::line::trace::ColdEnds;
use crate::show::{Block, Cell, Column, Quantity, Table, say};

/// The moments at which some length of bar is below its limit, or was in the stage before; nothing
/// where no end is too cold.
pub(crate) fn blocks(trace: &Trace) -> Vec<Block> {
    let Some(below_c) = trace.ends.first().map(|e| e.below_c) else {
        return Vec::new();
    };
    let length = |id| Column::numbers(say(id), Quantity::Length);
    let columns = vec![
        Column::words(say("word.stage")),
        Column::words(say("word.moment")),
        length("ends.grip_surface"),
        length("ends.grip_mean"),
        length("ends.free_surface"),
        length("ends.free_mean"),
    ];
    let length = |mm: f64| Cell::number(mm * 1e-3, Quantity::Length);
    let rows = cold(trace).map(|e| {
        vec![
            Cell::name(stage_name(trace, e.stage)),
            Cell::Moment(e.moment),
            length(e.grip_end_surface_mm),
            length(e.grip_end_mean_mm),
            length(e.free_end_surface_mm),
            length(e.free_end_mean_mm),
        ]
    });
    let title = say("ends.title").with("temperature", Cell::number(below_c, Quantity::Temperature));
    vec![Block::Table(Table::new(columns).caption(title).rows(rows))]
}

fn cold(trace: &Trace) -> impl Iterator<Item = &ColdEnds> {
    trace
        .ends
        .iter()
        .filter(|e| {
            e.grip_end_surface_mm.max(e.free_end_surface_mm) > 0.05 || e.grip_end_mean_mm.max(e.free_end_mean_mm) > 0.05
        })
        // The start of a stage repeats the end of the one before.
        .filter(|e| e.moment != Moment::Start)
}
