//! The full report: verdict first, then everything that stands behind it.

use maud::{Markup, PreEscaped, html};

use crate::text::clean;
use super::super::dossier::Dossier;
use super::{Paper, document, script, sections, text};
use crate::show::html::markup;
use crate::show::{Block, View};

/// The report as one HTML file.
pub fn report_html(dossier: &Dossier<'_>, view: &View, paper: Paper) -> String {
    let trace = dossier.trace;
    let missing = |reason: &str| {
        let words = view.say_with("report.missing", &[("reason", view.say(reason))]);
        html! { p class="missing" { (words) } }
    };
    let blocks = |given: &Option<Vec<Block>>, reason: &str| match given {
        Some(given) => markup(given, view),
        None => missing(reason),
    };
    let heater_reason = if trace
        .inputs
        .iter()
        .any(|i| i.path == "heater.kind" && i.value != "measured")
    {
        "reason.not_run"
    } else {
        "reason.measured"
    };
    let dies = html! {
        @if trace.dies.is_empty() { (missing("reason.no_tools")) } @else { (sections::dies(trace, view)) }
        @if let Some(warm_up) = &dossier.warm_up { (markup(warm_up, view)) }
    };
    let maps = if trace.maps.is_empty() {
        missing("reason.no_maps")
    } else {
        sections::maps(trace, view)
    };
    let sections: Vec<(&str, Markup)> = vec![
        ("report.verdict", sections::verdict(trace, view)),
        ("history.title", sections::histories(trace, view)),
        ("report.margins", sections::margins(trace, view)),
        ("report.moments", sections::moments(trace, view)),
        ("report.maps", maps),
        ("report.heater", blocks(&dossier.heater, heater_reason)),
        ("report.dies", dies),
        ("report.heat", sections::heat(trace, view)),
        ("report.delays", blocks(&dossier.delay_limits, dossier.no_planning)),
        (
            "report.sensitivity",
            blocks(&dossier.sensitivities, dossier.no_planning),
        ),
        ("report.scatter", blocks(&dossier.scatter, "reason.not_run")),
        ("sheet.stop_table", blocks(&dossier.stops, dossier.no_planning)),
        ("report.metal", blocks(&dossier.metal, "reason.not_run")),
        ("report.warnings", sections::warnings(trace, view)),
        ("report.inputs", sections::inputs(trace, view)),
        ("report.ledger", sections::ledger(trace, view)),
        ("report.error", error(dossier, view, &missing)),
        ("report.source", source(dossier, view, &missing)),
    ];
    let title = format!("{} \u{2013} {}", view.say("report.title"), trace.title);
    let body = html! {
        header {
            p class="kind" { (view.say("report.title")) }
            h1 { (text(&trace.title, 200)) }
            (facts(dossier, view))
        }
        nav aria-label=(view.say("report.contents")) {
            ol {
                @for (i, (key, _)) in sections.iter().enumerate() {
                    li { a href=(format!("#s{}", i + 1)) { (capital(view.say(key))) } }
                }
            }
        }
        main {
            @for (i, (key, content)) in sections.iter().enumerate() {
                section id=(format!("s{}", i + 1)) {
                    h2 { (i + 1) "\u{2002}" (capital(view.say(key))) }
                    (content)
                }
            }
        }
        footer {
            p {
                strong { (view.say("caution.support")) } " " (view.say("caution.first")) " "
                (view.say("caution.verify"))
            }
        }
        script { (PreEscaped(script::SCRIPT)) }
    };
    document(view, &title, &css(paper), &body)
}

/// A heading with a capital first letter (words that also stand inside sentences).
fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

fn facts(dossier: &Dossier<'_>, view: &View) -> Markup {
    let trace = dossier.trace;
    let mass = format!(
        "{} {}",
        view.number(view.display.mass(trace.mass_kg), 3),
        view.display.mass_unit()
    );
    let facts = [
        ("word.part", dossier.part.clone()),
        ("word.revision", dossier.revision.clone()),
        ("word.date", dossier.date.clone()),
        ("word.steel", trace.steel.clone()),
        ("word.mass", mass),
        ("word.program", trace.program.clone()),
        ("word.resolution", trace.resolution.word().to_owned()),
        ("report.source", dossier.file_name.clone()),
        ("word.hash", format!("SHA-256 {}", dossier.input_hash())),
    ];
    html! {
        dl class="facts" {
            @for (key, value) in facts.iter().filter(|(_, v)| !v.is_empty()) {
                div { dt { (view.say(key)) } dd { (text(value, 120)) } }
            }
        }
        @if !dossier.note.is_empty() { p { (text(&dossier.note, 2000)) } }
    }
}

fn error(dossier: &Dossier<'_>, view: &View, missing: &dyn Fn(&str) -> Markup) -> Markup {
    let work = &dossier.trace.work;
    let numbers = [
        ("steps", work.steps.to_string()),
        ("rejected", work.rejected.to_string()),
        ("cells", work.cells.to_string()),
    ];
    let places = numbers.each_ref().map(|(name, value)| (*name, value.as_str()));
    html! {
        @match &dossier.discretisation {
            Some(given) => { (markup(given, view)) }
            None => { (missing("reason.not_run")) }
        }
        p { (view.say_with("report.work", &places)) "." }
    }
}

fn source(dossier: &Dossier<'_>, view: &View, missing: &dyn Fn(&str) -> Markup) -> Markup {
    html! {
        @if dossier.file_text.is_empty() {
            (missing("reason.no_file"))
        } @else {
            p { (view.say("report.reproduce")) }
            pre tabindex="0" {
                @for line in dossier.file_text.lines() { (clean(line)) "\n" }
            }
        }
    }
}

fn css(paper: Paper) -> String {
    format!(
        "@page{{size:{} portrait;margin:16mm 14mm 18mm;@bottom-right{{content:counter(page) \" / \" counter(pages);font:9pt sans-serif}}}}{CSS}",
        paper.css()
    )
}

const CSS: &str = include_str!("report.css");
