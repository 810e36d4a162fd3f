//! Tables that have a column for each limit, and the list that says which limit is which.

use crate::judge::Limit;
use crate::show::{Block, Cell, Column, Quantity, Table, limit, say};

/// A column of numbers for each limit, under the number of the limit.
pub(crate) fn numbered(limits: &[Limit], quantity: Quantity) -> impl Iterator<Item = Column> {
    (1..=limits.len()).map(move |number| Column {
        unit_in_head: false,
        ..Column::numbers(Cell::count(number), quantity)
    })
}

/// The limits with their numbers.
pub(crate) fn legend(limits: &[Limit]) -> Block {
    let columns = vec![
        Column::numbers(say("limit.no"), Quantity::Count),
        Column::words(say("limit.list")),
    ];
    let rows = limits
        .iter()
        .enumerate()
        .map(|(k, one)| vec![Cell::count(k + 1), limit(one).into()]);
    Block::Table(Table::new(columns).rows(rows))
}
