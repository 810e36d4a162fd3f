//! The blocks that a result is made of.

use super::cell::Cell;
use super::quantity::Quantity;
use super::view::View;
use crate::picture::Drawing;

/// One piece of a result, the same for every renderer.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A title.
    Heading(Cell),
    /// A paragraph of one or more sentences.
    Sentence(Cell),
    /// A table.
    Table(Table),
    /// A picture.
    Chart(Chart),
    /// Something to know beside the result.
    Note(NoteKind, Cell),
}

/// How much a note weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoteKind {
    /// Good to know.
    Remark,
    /// A result may mislead.
    Warning,
    /// Do not act on the result without this.
    Caution,
}

/// A picture with its own title and words, and what renderers without pictures show instead.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// The picture.
    pub drawing: Drawing,
    /// The same for a terminal, where there is such a form.
    pub plot: Option<Plot>,
}

/// Curves over time for renderers without pictures.
#[derive(Debug, Clone, PartialEq)]
pub struct Plot {
    /// Name and points of each curve: time in s, value in SI.
    pub curves: Vec<(String, Vec<(f64, Option<f64>)>)>,
    /// From and to, s.
    pub range: (f64, f64),
    /// Spans in which a tool works, s.
    pub busy: Vec<(f64, f64)>,
    /// What the values are.
    pub quantity: Quantity,
}

impl From<Drawing> for Block {
    fn from(drawing: Drawing) -> Block {
        Block::Chart(Chart { drawing, plot: None })
    }
}

/// A table of typed cells.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    /// What the table shows.
    pub caption: Option<Cell>,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows, each with a cell a column.
    pub rows: Vec<Vec<Cell>>,
    /// What to know when reading it.
    pub note: Option<Cell>,
}

/// A column.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// What stands over it.
    pub head: Cell,
    /// What its numbers are: their unit stands in the head, not in the cells. `None` for words and for
    /// numbers that bring their own unit.
    pub quantity: Option<Quantity>,
    /// Whether it is set to the right and aligned as numbers are.
    pub numbers: bool,
    /// Whether the unit stands in the head; else the caption of the table tells it.
    pub unit_in_head: bool,
}

impl Column {
    /// A column of words.
    pub fn words(head: impl Into<Cell>) -> Column {
        Column {
            head: head.into(),
            quantity: None,
            numbers: false,
            unit_in_head: true,
        }
    }

    /// A column of numbers of one kind.
    pub fn numbers(head: impl Into<Cell>, quantity: Quantity) -> Column {
        Column {
            head: head.into(),
            quantity: Some(quantity),
            numbers: true,
            unit_in_head: true,
        }
    }

    /// A column of numbers that bring their own units.
    pub fn mixed(head: impl Into<Cell>) -> Column {
        Column {
            head: head.into(),
            quantity: None,
            numbers: true,
            unit_in_head: true,
        }
    }

    /// The head with the unit of the numbers under it.
    pub fn title(&self, view: &View) -> String {
        let head = self.head.whole(view);
        match self
            .quantity
            .filter(|_| self.unit_in_head)
            .map(|q| q.unit(view.display).replace(' ', "\u{a0}"))
        {
            Some(unit) if !unit.is_empty() && head.is_empty() => unit,
            Some(unit) if !unit.is_empty() => format!("{head} {unit}"),
            _ => head,
        }
    }
}

impl Table {
    /// An empty table.
    pub fn new(columns: Vec<Column>) -> Table {
        Table {
            columns,
            ..Table::default()
        }
    }

    /// With a caption.
    pub fn caption(mut self, caption: impl Into<Cell>) -> Table {
        self.caption = Some(caption.into());
        self
    }

    /// With a note under it.
    pub fn note(mut self, note: impl Into<Cell>) -> Table {
        self.note = Some(note.into());
        self
    }

    /// With one more row.
    pub fn row(mut self, cells: Vec<Cell>) -> Table {
        self.rows.push(cells);
        self
    }

    /// With more rows.
    pub fn rows(mut self, rows: impl IntoIterator<Item = Vec<Cell>>) -> Table {
        self.rows.extend(rows);
        self
    }

    /// The text of a cell under its column: with its unit unless that stands in the head.
    pub fn cell(&self, column: usize, cell: &Cell, view: &View) -> String {
        match self.columns.get(column).map(|c| (c.numbers, c.quantity)) {
            Some((true, Some(_))) => cell.bare(view),
            _ => cell.whole(view),
        }
    }
}

impl Block {
    /// A paragraph.
    pub fn sentence(cell: impl Into<Cell>) -> Block {
        Block::Sentence(cell.into())
    }

    /// A title.
    pub fn heading(cell: impl Into<Cell>) -> Block {
        Block::Heading(cell.into())
    }
}
