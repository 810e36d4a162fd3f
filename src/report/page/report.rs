//! The full report: verdict first, then everything that stands behind it.

use maud::{Markup, PreEscaped, html};

use super::super::dossier::Dossier;
use super::super::history::{Span, history, time_range};
use super::super::{inputs, sections, verdict};
use super::{Paper, document, explore, mark, page_css, script, text};
use crate::line::Trace;
use crate::line::trace::InputRecord;
use crate::show::html::{capital, markup};
use crate::show::{Block, Cell, Mark, Quantity, View};
use crate::text::clean;

/// A section of the report: the key of its heading, and its content or the key of the reason why there is none.
type Section<'a> = (&'static str, Result<Markup, &'a str>);

/// The report as one HTML file.
pub fn report_html(dossier: &Dossier<'_>, view: &View, paper: Paper) -> String {
    let (present, missing): (Vec<_>, Vec<_>) = contents(dossier, view).into_iter().partition(|(_, c)| c.is_ok());
    let title = format!("{} \u{2013} {}", view.say("report.title"), dossier.trace.title);
    let body = html! {
        header {
            p class="kind" { (view.say("report.title")) }
            h1 { (text(&dossier.trace.title, 200)) }
            (facts(dossier, view))
        }
        nav aria-label=(view.say("report.contents")) {
            ol {
                @for (i, (key, _)) in present.iter().enumerate() {
                    li { a href=(format!("#s{}", i + 1)) { (capital(view.say(key))) } }
                }
            }
        }
        main {
            @for (i, (key, content)) in present.iter().enumerate() {
                section id=(format!("s{}", i + 1)) {
                    h2 { (i + 1) "\u{2002}" (capital(view.say(key))) }
                    @if let Ok(content) = content { (content) }
                }
            }
            (absent(&missing, view))
        }
        footer {
            p {
                strong { (view.say("caution.support")) } " " (view.say("caution.first")) " "
                (view.say("caution.verify"))
            }
        }
        script { (PreEscaped(script::SCRIPT)) }
    };
    let css = format!("{}{CSS}", page_css(paper, "16mm 14mm 18mm", &mark(dossier, view)));
    document(view, &title, (&css, "light dark"), &body)
}

/// Blocks as a page of their own.
pub fn blocks_html(title: &str, blocks: &[Block], view: &View) -> String {
    let body = html! {
        main { section { (markup(blocks, view)) } }
    };
    let css = format!("{}{CSS}", page_css(Paper::A4, "16mm 14mm 18mm", title));
    document(view, title, (&css, "light dark"), &body)
}

/// All sections in the order of the report.
fn contents<'a>(dossier: &'a Dossier<'_>, view: &View) -> Vec<Section<'a>> {
    let trace = dossier.trace;
    let blocks = |blocks: Vec<Block>| Ok(markup(&blocks, view));
    let given = |given: &Option<Vec<Block>>, reason| given.as_ref().map(|given| markup(given, view)).ok_or(reason);
    let some = |there: bool, made: &dyn Fn() -> Vec<Block>, reason| match there {
        true => Ok(markup(&made(), view)),
        false => Err(reason),
    };
    let measured = |i: &InputRecord| i.path == "heater.kind" && i.value == "measured";
    let computed = trace.inputs.iter().any(|i| i.path == "heater.kind") && !trace.inputs.iter().any(measured);
    let no_heater = if computed { "reason.not_run" } else { "reason.measured" };
    let dies = || {
        let mut blocks = sections::dies(trace);
        blocks.extend(dossier.warm_up.iter().flatten().cloned());
        blocks
    };
    let tools = !trace.dies.is_empty() || dossier.warm_up.is_some();
    let planning = dossier.no_planning;
    let limits: Vec<_> = trace.verdicts.iter().map(|verdict| verdict.limit.clone()).collect();
    let explored = dossier.explored.as_ref();
    let tried = explored.map(|explored| ("page.try", Ok(explore::section(explored, &limits, view))));
    let mut sections = vec![
        ("report.verdict", Ok(verdict(trace, view))),
        ("history.title", Ok(histories(trace, view))),
        (
            "report.margins",
            some(
                !trace.verdicts.is_empty(),
                &|| sections::margins(trace, view),
                "reason.no_limits",
            ),
        ),
        ("certain.title", given(&dossier.certainty, "reason.not_run")),
        ("report.moments", blocks(verdict::moments(trace, usize::MAX))),
        (
            "report.maps",
            some(
                !trace.maps.is_empty(),
                &|| sections::maps(trace, view),
                "reason.no_maps",
            ),
        ),
        ("report.heater", given(&dossier.heater, no_heater)),
        ("report.dies", some(tools, &dies, "reason.no_tools")),
        ("report.heat", blocks(sections::heat(trace, view))),
        ("report.delays", given(&dossier.delay_limits, planning)),
        ("report.sensitivity", given(&dossier.sensitivities, planning)),
        ("report.scatter", given(&dossier.scatter, "reason.not_run")),
        ("sheet.stop_table", given(&dossier.stops, planning)),
        ("measured.title", given(&dossier.measured, "reason.not_measured")),
        ("report.metal", given(&dossier.metal, "reason.not_run")),
        ("report.warnings", blocks(sections::warnings(trace, view))),
        ("report.inputs", blocks(vec![inputs::sourced(&trace.inputs)])),
        ("report.ledger", blocks(sections::ledger(trace))),
        ("report.error", error(dossier, view)),
        ("report.source", source(dossier, view)),
    ];
    // After the verdict; a report without sliders does not say that it has none.
    sections.splice(1..1, tried);
    sections
}

/// What is not in the report, a line for each reason.
fn absent(missing: &[Section<'_>], view: &View) -> Markup {
    let mut reasons: Vec<(&str, Vec<&str>)> = Vec::new();
    for (key, content) in missing {
        let Err(reason) = content else { continue };
        let name = view.say(key);
        match reasons.iter_mut().find(|(known, _)| known == reason) {
            Some((_, names)) => names.push(name),
            None => reasons.push((reason, vec![name])),
        }
    }
    html! {
        @for (reason, names) in reasons {
            p class="missing" {
                (view.say_with("report.missing", &[("names", &names.join(", ")), ("reason", view.say(reason))]))
            }
        }
    }
}

/// Verdict: headline, limiting limit, every broken limit in full, all limits.
fn verdict(trace: &Trace, view: &View) -> Markup {
    let headline = verdict::headline(trace);
    let good = matches!(headline, Cell::Mark(Mark::Ok, _));
    html! {
        p class=(if good { "verdict good" } else { "verdict bad" }) { (headline.whole(view)) }
        (markup(&verdict::sentences(trace), view))
        (markup(&verdict::tables(trace, true), view))
    }
}

/// The history over the line and, where the run goes on much longer, over everything; with the
/// values for the script.
fn histories(trace: &Trace, view: &View) -> Markup {
    let span = |span| time_range(trace, span).map_or(0.0, |(from, to)| to - from);
    let longer = span(Span::Whole) > 1.3 * span(Span::Line);
    let spans = [Span::Line, Span::Whole].into_iter().take(if longer { 2 } else { 1 });
    html! {
        fieldset id="choose" hidden { legend { (view.say("report.choose")) } }
        @for span in spans {
            @let drawing = history(trace, view, span);
            figure class="wide" data-hint=(view.say("report.hover"))
                data-frame=[drawing.frame.as_ref().map(script::frame)] {
                (PreEscaped(&drawing.svg))
            }
        }
        @let zoom = format!("{}|{}", view.say("report.enlarge"), view.say("report.reduce"));
        script type="application/json" id="history-data" data-zoom=(zoom) { (PreEscaped(script::data(trace, view))) }
    }
}

fn facts(dossier: &Dossier<'_>, view: &View) -> Markup {
    let trace = dossier.trace;
    let facts = [
        ("word.part", dossier.part.clone()),
        ("word.revision", dossier.revision.clone()),
        ("word.date", dossier.date.clone()),
        ("word.steel", trace.steel.clone()),
        ("word.mass", Cell::number(trace.mass_kg, Quantity::Mass).whole(view)),
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

fn error(dossier: &Dossier<'_>, view: &View) -> Result<Markup, &'static str> {
    let given = dossier.discretisation.as_ref().ok_or("reason.not_run")?;
    let mut blocks = given.clone();
    blocks.push(sections::work(dossier.trace));
    Ok(markup(&blocks, view))
}

fn source(dossier: &Dossier<'_>, view: &View) -> Result<Markup, &'static str> {
    if dossier.file_text.is_empty() {
        return Err("reason.no_file");
    }
    Ok(html! {
        p { (view.say("report.reproduce")) }
        pre tabindex="0" { @for line in dossier.file_text.lines() { (clean(line)) "\n" } }
    })
}

const CSS: &str = include_str!("report.css");
