//! Sheet and report as single HTML files that need nothing but themselves.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::dossier::Dossier;
use crate::show::View;
use crate::text::clean;

mod content;
mod explore;
mod fit;
mod report;
mod script;
mod sheet;
mod wall;

pub use report::{blocks_html, report_html};
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

/// The style of a printed page: size, margins, and in the margins what the page belongs to and its number.
fn page_css(paper: Paper, margins: &str, foot: &str) -> String {
    // a string of a style sheet ends at a quote or a line end; `<` could end the element
    let plain = |c: char| !matches!(c, '"' | '\\' | '<' | '\n');
    let foot: String = clean(foot).chars().filter(|c| plain(*c)).take(110).collect();
    format!(
        "@page{{size:{} portrait;margin:{margins};@bottom-left{{content:\"{foot}\";font:8pt sans-serif}}\
         @bottom-right{{content:counter(page) \" / \" counter(pages);font:8pt sans-serif}}}}",
        paper.css()
    )
}

/// What every printed page bears: part, revision, title, the first digits of the hash of the input.
fn mark(dossier: &Dossier<'_>, view: &View) -> String {
    let hash: String = dossier.input_hash().chars().take(12).collect();
    let named = |key: &str, value: &str| match value {
        "" => String::new(),
        value => format!("{} {value}", view.say(key)),
    };
    let pieces = [
        named("word.part", &text(&dossier.part, 30)),
        named("word.revision", &text(&dossier.revision, 12)),
        text(&dossier.trace.title, 50),
        named("word.hash", &hash),
    ];
    let given: Vec<&str> = pieces
        .iter()
        .map(String::as_str)
        .filter(|piece| !piece.is_empty())
        .collect();
    given.join(" \u{b7} ")
}

/// A whole document, with its style and the colour schemes that it suits. The policy forbids every request, so that the file shows the same on any
/// machine, with or without a network.
fn document(view: &View, title: &str, (css, scheme): (&str, &str), body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang=(view.language.tag()) {
            head {
                meta charset="utf-8";
                meta name="color-scheme" content=(scheme);
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
