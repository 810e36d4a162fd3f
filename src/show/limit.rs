//! A limit in words: the one place where that happens.

use super::cell::{Cell, Text, say};
use super::quantity::Quantity;
use super::sense::Sense;
use crate::judge;

impl From<judge::Bound> for Cell {
    fn from(bound: judge::Bound) -> Cell {
        let (sense, value, quantity) = match bound {
            judge::Bound::MinC(c) => (Sense::AtLeast, c, Quantity::Temperature),
            judge::Bound::MaxC(c) => (Sense::AtMost, c, Quantity::Temperature),
            judge::Bound::MaxDifferenceK(k) => (Sense::AtMost, k, Quantity::Margin),
        };
        Cell::Limit { sense, value, quantity }
    }
}

/// The value that a limit was judged by, rounded to the side that flatters less.
pub fn judged(bound: judge::Bound, value: f64) -> Cell {
    match bound {
        judge::Bound::MinC(_) => Cell::number(value, Quantity::Temperature).down(),
        judge::Bound::MaxC(_) => Cell::number(value, Quantity::Temperature).up(),
        judge::Bound::MaxDifferenceK(_) => Cell::number(value, Quantity::Margin).up(),
    }
}

/// The quantity of what a limit is about.
pub fn quantity(bound: judge::Bound) -> Quantity {
    match bound {
        judge::Bound::MinC(_) | judge::Bound::MaxC(_) => Quantity::Temperature,
        judge::Bound::MaxDifferenceK(_) => Quantity::Margin,
    }
}

/// The nodes of a limit.
pub fn nodes(limit: &judge::Limit) -> Cell {
    let node = Cell::Node(limit.node.clone());
    match (&limit.bound, &limit.other) {
        (judge::Bound::MaxDifferenceK(_), Some(other)) => {
            node.joined(super::cell::Joint::Slash, Cell::Node(other.clone()))
        }
        _ => node,
    }
}

/// A limit in words: node, bound, stage and moment.
pub fn limit(limit: &judge::Limit) -> Text {
    let moment = Cell::Moment(limit.moment);
    let place = match &limit.stage {
        Some(stage) => Cell::name(stage).joined(super::cell::Joint::Comma, moment),
        None => moment,
    };
    say("limit.words")
        .with("node", nodes(limit))
        .with("limit", limit.bound)
        .with("place", place)
}
