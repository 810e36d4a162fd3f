//! Tables to be read from afar: columns of fixed width, so that their height is known before they are printed.

use maud::{Markup, html};

use super::text;
use crate::picture::text_width;

/// Height of a line in em.
pub(super) const LINE: f64 = 1.25;

/// A column: its head, its share of the width, how large its text is.
pub(super) struct Col {
    head: &'static str,
    share: f64,
    size: f64,
    class: &'static str,
}

impl Col {
    /// The column that names the row.
    pub fn name(head: &'static str, share: f64) -> Col {
        Col {
            head,
            share,
            size: 1.15,
            class: "name",
        }
    }

    /// A column in plain text.
    pub fn plain(head: &'static str, share: f64) -> Col {
        Col {
            head,
            share,
            size: 1.0,
            class: "plain",
        }
    }

    /// A column to be read from afar.
    pub fn big(head: &'static str, share: f64) -> Col {
        Col {
            head,
            share,
            size: 1.5,
            class: "big",
        }
    }
}

/// Such a table; a row with `true` stands out.
pub(super) struct Wall {
    pub columns: Vec<Col>,
    pub rows: Vec<(bool, Vec<String>)>,
}

/// Lines that a text takes in a column; sizes and widths in em.
pub(super) fn lines(words: &str, size: f64, bold: bool, width: f64) -> f64 {
    (text_width(words, size, bold) / width.max(1.0)).ceil().max(1.0)
}

impl Wall {
    /// Height in em for a width in em, from the paddings of the style sheet. Text widths are those of a wide face,
    /// so that other machines have room to spare.
    pub fn height(&self, width: f64) -> f64 {
        let room = |col: &Col| col.share * width - 0.5;
        let heads = self
            .columns
            .iter()
            .map(|col| 0.78 * LINE * lines(col.head, 0.78, false, room(col)));
        let rows = self.rows.iter().map(|(_, cells)| {
            let cells = self.columns.iter().zip(cells);
            let high = cells.map(|(col, words)| {
                let words = text(words, 90);
                col.size * LINE * lines(&words, col.size, col.size > 1.0, room(col))
            });
            high.fold(0.0, f64::max) + 0.36
        });
        heads.fold(0.0, f64::max) + 0.4 + rows.sum::<f64>()
    }

    /// The table.
    pub fn markup(&self) -> Markup {
        html! {
            div class="scroll" tabindex="0" {
                table class="wall" {
                    colgroup { @for col in &self.columns { col style=(format!("width:{:.0}%", 100.0 * col.share)); } }
                    thead { tr { @for col in &self.columns { th scope="col" { (col.head) } } } }
                    tbody {
                        @for (broken, cells) in &self.rows {
                            tr class=[broken.then_some("broken")] {
                                @for (i, (col, words)) in self.columns.iter().zip(cells).enumerate() {
                                    @if i == 0 {
                                        th scope="row" { (text(words, 90)) }
                                    } @else {
                                        td class=(col.class) { (text(words, 90)) }
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
