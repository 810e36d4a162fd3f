//! The page itself: inputs by stage on one side, what comes of them on the other.

use maud::{DOCTYPE, Markup, PreEscaped, html};
use serde_json::json;

use super::group::{Group, groups, limit_words};
use super::panel::{PANELS, SAMPLES, can_be_cancelled};
use super::window::Window;
use crate::judge::Owner;
use crate::line::file::Document;
use crate::line::plan::{Heater, Input};
use crate::report::inputs::allowed as range;
use crate::show::View;
use crate::show::html::{capital, script_data};
use crate::text::clean;

/// The one script of the page.
pub(super) const SCRIPT: &str = include_str!("page.js");
/// The style sheet.
pub(super) const STYLE: &str = include_str!("page.css");

/// Keys of the words that the script says.
const WORDS: [&str; 18] = [
    "page.saved",
    "page.unchanged",
    "page.changed",
    "page.no_number",
    "page.outside",
    "page.quick",
    "page.settled",
    "page.working",
    "page.busy",
    "page.lost",
    "page.superseded",
    "page.stop",
    "page.stopped",
    "page.samples",
    "page.pin",
    "page.unpin",
    "page.slider",
    "inputs.allowed",
];

/// The page for a file.
pub(super) fn page(document: &Document, name: &str, view: &View, network: bool) -> String {
    let plan = document.plan();
    let out = html! {
        (DOCTYPE)
        html lang=(view.language.tag()) {
            head {
                meta charset="utf-8";
                meta name="color-scheme" content="light dark";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (clean(&plan.title)) " \u{2013} " (clean(name)) }
                link rel="stylesheet" href="page.css";
                link rel="icon" href="data:,";
                script type="application/json" id="config" { (PreEscaped(config(name, view))) }
                script src="page.js" defer {}
            }
            body {
                (head(document, name, view))
                div class="sides" {
                    (inputs(document, view))
                    (results(document, view))
                }
                (cautions(view, network))
            }
        }
    };
    out.into_string()
}

/// What the script needs, as data that can stand inside a script element.
fn config(name: &str, view: &View) -> String {
    let words: serde_json::Map<_, _> = WORDS
        .iter()
        .map(|key| ((*key).to_owned(), json!(view.say(key))))
        .collect();
    script_data(&json!({ "file": clean(name), "comma": view.decimal_comma, "words": words }))
}

fn head(document: &Document, name: &str, view: &View) -> Markup {
    let plan = document.plan();
    let given = [&plan.part, &plan.revision];
    html! {
        header {
            h1 { (clean(&plan.title)) }
            p class="facts" {
                (clean(name))
                @for text in given.into_iter().flatten() { " \u{b7} " (clean(text)) }
                " \u{b7} " (clean(&plan.metal.name))
            }
            noscript { p class="note caution" { (view.say("page.no_script")) } }
        }
        section class="bar" aria-labelledby="headline" {
            div class="answer" {
                p id="headline" role="status" aria-live="polite" { (view.say("page.working")) }
                p id="grid" class="quiet" {}
            }
            div class="acts" {
                button type="button" id="undo" disabled { (view.say("page.undo")) }
                button type="button" id="reset" disabled { (view.say("page.reset")) }
                button type="button" id="pin" aria-pressed="false" { (view.say("page.pin")) }
                button type="button" id="save" disabled { (view.say("page.save")) }
                details class="menu" {
                    summary { "\u{2026}" span class="unseen" { (view.say("page.more")) } }
                    button type="button" id="line" { (view.say("page.line_file")) }
                    button type="button" id="report" { (view.say("page.report_file")) }
                    button type="button" id="reload" { (view.say("page.reload")) }
                }
            }
            p id="message" role="alert" {}
            p id="changed" class="quiet" {}
        }
    }
}

fn inputs(document: &Document, view: &View) -> Markup {
    let groups = groups(document);
    html! {
        section class="inputs" aria-labelledby="inputs-title" {
            h2 id="inputs-title" { (view.say("page.inputs")) }
            label for="find" { (view.say("page.find")) }
            input type="search" id="find" autocomplete="off";
            @for (g, group) in groups.iter().enumerate() {
                (self::group(g, group, document, view))
            }
        }
    }
}

fn group(g: usize, group: &Group<'_>, document: &Document, view: &View) -> Markup {
    let (given, others): (Vec<_>, Vec<_>) = group.inputs.iter().partition(|(_, input)| input.owner == Owner::Given);
    let rows = |list: &[&(String, &Input)], from: usize| {
        html! {
            @for (k, (key, input)) in list.iter().enumerate() {
                (row(&format!("{g}-{}", from + k), key, input, limit_words(input, document, view), view))
            }
        }
    };
    html! {
        details class="group" open[group.open] {
            summary { (clean(&group.name)) }
            (rows(&given, 0))
            @if !others.is_empty() {
                details class="others" {
                    summary { (view.say("page.defaults")) " (" (others.len()) ")" }
                    (rows(&others, given.len()))
                }
            }
        }
    }
}

/// One input: its name, a slider over what is near, a field for all that is allowed.
fn row(id: &str, key: &str, input: &Input, words: Option<String>, view: &View) -> Markup {
    let (Some(value), Some(allowed)) = (input.number(), input.allowed) else {
        return html! {};
    };
    let window = Window::of(key, value, allowed, input.whole);
    let why = match (input.follows, input.source.strip_prefix("line ")) {
        (true, _) => view.say("page.follows").to_owned(),
        (false, Some(line)) => format!("{} {line}", view.say("page.file_line")),
        (false, None) => input.source.to_string(),
    };
    html! {
        div class="row" data-path=(input.path) data-low=(allowed.low) data-high=(allowed.high)
            data-open[allowed.low_open] {
            label for=(format!("n{id}")) id=(format!("l{id}")) {
                @if let Some(words) = words { (clean(&words)) " \u{b7} " } (key) @if !input.unit.is_empty() { " " span class="unit" { (input.unit) } }
            }
            input type="range" aria-labelledby=(format!("l{id} s{id}")) min=(window.low) max=(window.high)
                step=(window.step) value=(value);
            span id=(format!("s{id}")) class="unseen" { (view.say("page.slider")) }
            input type="text" inputmode="decimal" autocomplete="off" id=(format!("n{id}")) value=(value)
                aria-describedby=(format!("e{id} h{id}"));
            p class="error" id=(format!("e{id}")) {}
            p class="hint" id=(format!("h{id}")) {
                span class="range" { (range(allowed).whole(view)) " " (input.unit) }
                @if !why.is_empty() { " \u{b7} " (clean(&why)) }
            }
        }
    }
}

fn results(document: &Document, view: &View) -> Markup {
    let part = |id: &str, title: &str| {
        html! { section id=(id) { h2 { (title) } div class="content" aria-busy="true" {} } }
    };
    let times = capital(view.say("sheet.times"));
    html! {
        main {
            div id="verdict" class="content" {}
            section id="beside" hidden { h2 { (view.say("page.beside")) } div class="content" {} }
            (part("history", &capital(view.say("history.title"))))
            (part("limits", view.say("sheet.limits")))
            (part("times", &times))
            section id="section" {
                h2 { (view.say("report.maps")) }
                label for="map" { (view.say("page.map")) }
                select id="map" {}
                div class="content" aria-busy="true" {}
            }
            (part("energy", view.say("report.heat")))
            details { summary { (view.say("report.moments")) } div id="moments" { div class="content" {} } }
            details { summary { (view.say("report.warnings")) } div id="warnings" { div class="content" {} } }
            section id="panels" {
                h2 { (view.say("page.more")) }
                @for (name, title) in PANELS {
                    @if asks(name, document) { (panel(name, view.say(title), view)) }
                }
            }
        }
    }
}

/// Whether a panel has something to say of a line.
fn asks(panel: &str, document: &Document) -> bool {
    let coils = matches!(document.plan().heater, Heater::CoilLine(_) | Heater::StaticCoil(_));
    match panel {
        "heater" => coils,
        "measured" => document.has_measurements(),
        "scatter" => document.has_scatter(),
        _ => !document.plan().limits.is_empty(),
    }
}

fn panel(name: &str, title: &str, view: &View) -> Markup {
    html! {
        section class="panel" data-panel=(name) {
            h3 { (title) }
            @if name == "scatter" {
                label for="samples" { (view.say("page.samples")) }
                input type="text" inputmode="numeric" id="samples" value=(SAMPLES) autocomplete="off";
            }
            button type="button" class="ask" { (title) }
            @if can_be_cancelled(name) { button type="button" class="cancel" hidden { (view.say("page.stop")) } }
            progress hidden aria-label=(title) {}
            p class="state" role="status" {}
            div class="content" {}
        }
    }
}

fn cautions(view: &View, network: bool) -> Markup {
    html! {
        footer {
            p { strong { (view.say("caution.support")) } " " (view.say("caution.first")) " " (view.say("caution.verify")) }
            @if network { p class="note caution" { (view.say("page.network")) } }
        }
    }
}
