//! What the history did to the metal: scale, decarburised layer, time at temperature, grain, cooling
//! rate, one row a node and zone.

use crate::condition::part::{COARSE_C, NodeCondition, Spread, TRANSFORM_C};
use crate::show::{Block, Cell, Column, Joint, Quantity, Table, say};

/// Whether heating is in the histories.
fn from_cold(nodes: &[NodeCondition]) -> bool {
    nodes.iter().any(|node| node.from_s < 0.0)
}

/// The metal as a table, with what it counts from.
pub fn blocks(nodes: &[NodeCondition]) -> Vec<Block> {
    let degrees = |c: f64| Cell::number(c, Quantity::Temperature);
    let thick = |id| Column::numbers(say(id), Quantity::Thickness);
    let rate = say("metal.rate")
        .with("a", degrees(TRANSFORM_C.0))
        .with("b", degrees(TRANSFORM_C.1));
    let columns = vec![
        Column::words(say("word.node")),
        thick("metal.scale"),
        thick("metal.loss"),
        thick("metal.decarb"),
        Column::numbers(say("metal.above").with("t", degrees(COARSE_C)), Quantity::Seconds),
        Column::words(say("metal.grain")),
        Column::numbers(rate, Quantity::CoolingRate),
    ];
    let rows = nodes.iter().map(|node| {
        let grain = match node.coarse_grain {
            true => say("metal.risk"),
            false => say("metal.no_risk"),
        };
        vec![
            Cell::name(&node.node),
            um(node.scale_um),
            um(node.metal_loss_um),
            um(node.decarburised_um),
            Cell::number(node.above_1200_c_s, Quantity::Seconds).up(),
            grain.into(),
            Cell::maybe(node.rate_800_500_k_s, Quantity::CoolingRate),
        ]
    });
    let from = match from_cold(nodes) {
        true => say("metal.from_cold"),
        false => say("metal.from_exit"),
    };
    vec![
        Block::sentence(from),
        Block::sentence(say("metal.zones")),
        Block::Table(
            Table::new(columns)
                .caption(say("metal.caption"))
                .rows(rows)
                .note(say("metal.not_reached")),
        ),
    ]
}

/// A thickness with its range.
fn um(spread: Option<Spread>) -> Cell {
    spread.map_or(Cell::Empty, |s| {
        let range = Cell::range(s.low * 1e-6, s.high * 1e-6, Quantity::Thickness);
        Cell::number(s.typical * 1e-6, Quantity::Thickness).joined(Joint::Brackets, range)
    })
}
