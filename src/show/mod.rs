//! How results are shown: a neutral model of blocks, and one renderer for each way to read them.
//!
//! A result makes [`Block`]s once. A block holds no finished sentence: texts are an id of the message
//! files with typed arguments, numbers are SI values with their [`Quantity`]. The renderers
//! ([`terminal`], [`html`], [`csv`]) decide nothing but layout; units, decimals, signs and the side of
//! rounding come from the quantity, words and the decimal sign from the [`View`]. JSON is not made from
//! blocks but from the results themselves.
//!
//! ```
//! use billet_thermal::inside::show::{Block, Cell, Column, Quantity, Table, View, say, terminal};
//!
//! let table = Table::new(vec![
//!     Column::words(say("word.stage")),
//!     Column::numbers(say("word.margin"), Quantity::Margin),
//! ])
//! .row(vec![Cell::name("trim"), Cell::number(3.7, Quantity::Margin)]);
//! let text = terminal::text(&[Block::Table(table)], &View::default(), terminal::Terminal::default());
//! assert!(text.ends_with("trim          3\n"), "{text}");
//! ```

mod block;
mod cell;
pub mod csv;
pub mod html;
mod language;
mod limit;
mod quantity;
mod sense;
pub mod terminal;
#[cfg(test)]
mod tests;
mod view;
mod warning;
mod words;

pub use crate::text::number;
pub use block::{Block, Chart, Column, NoteKind, Plot, Table};
pub use cell::{Cell, Joint, Mark, Seconds, Text, say};
pub use language::Language;
pub use limit::{judged, limit, nodes, quantity};
pub use quantity::Quantity;
pub use sense::Sense;
pub use view::{Side, View};
pub use warning::warning;
