//! Sheet and report as single HTML files that need nothing but themselves.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::picture::Drawing;
use crate::text::clean;
use crate::text::number::minus;
use crate::show::View;

mod fit;
mod limits;
mod report;
mod script;
mod sections;
mod sheet;

pub use report::report_html;
pub use sheet::sheet_html;

/// Paper that sheet and report are made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// ISO 216 A4, 210 x 297 mm.
    #[default]
    A4,
    /// US Letter, 8.5 x 11 in.
    Letter,
}

impl Paper {
    /// Name in a style sheet.
    pub fn css(self) -> &'static str {
        match self {
            Paper::A4 => "A4",
            Paper::Letter => "letter",
        }
    }

    /// Width and height in mm.
    pub fn size_mm(self) -> (f64, f64) {
        match self {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
        }
    }
}

/// Text ready for HTML: cleaned of control characters and cut; the template escapes it.
fn text(words: &str, most: usize) -> String {
    let clean = clean(words);
    if clean.chars().count() <= most {
        return clean;
    }
    let mut cut: String = clean.chars().take(most.saturating_sub(1)).collect();
    cut.push('\u{2026}');
    cut
}

/// A whole document. The policy forbids every request, so that the file shows the same on any
/// machine, with or without a network.
fn document(view: &View, title: &str, css: &str, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang=(view.language.tag()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy"
                    content="default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:";
                meta name="generator" content=(concat!("billet ", env!("CARGO_PKG_VERSION")));
                title { (text(title, 150)) }
                style { (PreEscaped(css)) }
            }
            body { (body) }
        }
    };
    let mut out = page.into_string();
    out.push('\n');
    out
}

/// A picture over the whole width; it carries its own title and words.
fn figure(drawing: &Drawing) -> Markup {
    html! { figure class="wide" { (PreEscaped(&drawing.svg)) } }
}

/// A table with caption and column heads; heads that start with `>` are set to the right.
fn table(caption: &str, header: &[&str], rows: &[Vec<String>]) -> Markup {
    let right: Vec<bool> = header.iter().map(|h| h.starts_with('>')).collect();
    html! {
        div class="scroll" {
            table {
                @if !caption.is_empty() { caption { (text(caption, 200)) } }
                thead {
                    tr {
                        @for head in header {
                            th scope="col" class=[head.starts_with('>').then_some("num")] {
                                (text(head.trim_start_matches('>'), 80))
                            }
                        }
                    }
                }
                tbody {
                    @for row in rows {
                        tr {
                            @for (i, cell) in row.iter().enumerate() {
                                @let number = right.get(i).copied().unwrap_or(false);
                                @let class = if number { Some("num") } else { short(cell) };
                                @if i == 0 {
                                    th scope="row" class=[class] { (text(cell, 300)) }
                                } @else if number {
                                    td class=[class] { (minus(&text(cell, 300))) }
                                } @else {
                                    td class=[class] { (text(cell, 600)) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Short cells stay on one line, so that only long ones wrap.
fn short(cell: &str) -> Option<&'static str> {
    (cell.chars().count() <= 14).then_some("one")
}
