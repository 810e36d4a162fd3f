//! The set-up sheet: one page for the wall at the hammer.

use maud::{Markup, html};

use super::super::dossier::{DelayRow, Dossier};
use super::fit::{Content, base_size};
use super::{Paper, document, limits, text};
use crate::judge::Verdict;
use crate::line::trace::{InputRecord, Owner};
use crate::report::times;
use crate::report::verdict::limit_stage;
use crate::show::html::markup;
use crate::text::number::down;
use crate::show::{Side, View};

/// Most rows of each kind; what has less margin comes first, the rest is in the report.
const LIMITS: usize = 10;
pub(super) const TIMES: usize = 8;
const SETTINGS: usize = 10;

/// The set-up sheet as one HTML file: settings, limits, times, reaction, cautions, signatures on
/// one page; the stop table, where it exists, on a second one.
pub fn sheet_html(dossier: &Dossier<'_>, view: &View, paper: Paper) -> String {
    let settings = settings(dossier, view);
    let limits = chosen_limits(dossier);
    let times = dossier.delays.clone();
    let size = base_size(
        &Content {
            dossier,
            settings: &settings,
            limits: &limits,
            times: &times,
            reactions: &reactions(&times, view),
            cautions: &caution_words(dossier, view),
        },
        view,
        paper,
    );
    let title = format!("{} \u{2013} {}", view.say("sheet.title"), dossier.trace.title);
    let body = html! {
        main class="sheet" style=(format!("font-size:{size:.2}pt")) {
            (head(dossier, view))
            (verdict(dossier, view))
            section {
                h2 { (view.say("sheet.settings")) }
                @if settings.is_empty() {
                    p { (view.say("sheet.only_given")) }
                } @else {
                    dl class="settings" {
                        @for (name, value) in &settings {
                            div { dt { (text(name, 80)) } dd { (text(value, 40)) } }
                        }
                    }
                }
            }
            (limit_table(dossier, &limits, view))
            (time_table(&times, view))
            (reaction(&times, view))
            (cautions(dossier, view))
            footer class="sign" {
                @for key in ["sheet.set_by", "sheet.checked_by", "sheet.released_by"] {
                    div { span class="rule" {} (view.say(key)) }
                }
            }
        }
        @if let Some(stops) = &dossier.stops {
            section class="second" {
                h1 { (view.say("sheet.stop_table")) }
                p { (text(&dossier.trace.title, 120)) }
                (markup(stops, view))
            }
        }
    };
    document(view, &title, &css(paper), &body)
}

fn head(dossier: &Dossier<'_>, view: &View) -> Markup {
    let hash: String = dossier.input_hash().chars().take(12).collect();
    let blank = |text: &str| {
        if text.is_empty() {
            "\u{2026}\u{2026}\u{2026}\u{2026}\u{2026}\u{2026}".to_owned()
        } else {
            text.to_owned()
        }
    };
    let facts = [
        ("word.part", text(&blank(&dossier.part), 40)),
        ("word.revision", text(&blank(&dossier.revision), 20)),
        ("word.date", text(&blank(&dossier.date), 20)),
        ("word.steel", text(&dossier.trace.steel, 30)),
        (
            "word.mass",
            format!(
                "{} {}",
                view.number(view.display.mass(dossier.trace.mass_kg), 2),
                view.display.mass_unit()
            ),
        ),
        ("word.hash", hash),
    ];
    html! {
        header {
            div class="top" {
                h1 { (text(&dossier.trace.title, 90)) }
                p class="kind" { (view.say("sheet.title")) }
            }
            dl class="facts" {
                @for (key, value) in &facts {
                    div { dt { (view.say(key)) } dd { (value) } }
                }
            }
        }
    }
}

/// The run's verdict where it forbids the sheet; a sheet that may be used says nothing more.
fn verdict(dossier: &Dossier<'_>, view: &View) -> Markup {
    let total = dossier.trace.verdicts.len();
    let broken = dossier.trace.verdicts.iter().filter(|v| !v.holds).count();
    if broken > 0 {
        let places = [("k", broken.to_string()), ("n", total.to_string())];
        let places = places.each_ref().map(|(name, value)| (*name, value.as_str()));
        html! { p class="stop" { "\u{2717} " (view.say_with("sheet.not_released", &places)) } }
    } else {
        let (words, good) = limits::headline(dossier.trace, view);
        html! { p class="go" { (if good { "\u{2713} " } else { "! " }) (words) } }
    }
}

/// Settings in the order of the work: exit band, heater, takt, dies.
fn settings(dossier: &Dossier<'_>, view: &View) -> Vec<(String, String)> {
    let mut rows = Vec::new();
    if let Some((low, high)) = dossier.exit_band_c {
        rows.push((
            view.say("sheet.exit_band").to_owned(),
            format!(
                "{} \u{2013} {} {}",
                view.degrees(low, Side::Up),
                view.degrees(high, Side::Down),
                view.temperature_unit()
            ),
        ));
    }
    for input in &dossier.trace.inputs {
        if let Some(name) = setting_name(input, view) {
            let mark = if input.owner == Owner::Default { " *" } else { "" };
            rows.push((name, format!("{}{mark}", setting_value(input, view))));
        }
    }
    rows.truncate(SETTINGS);
    rows
}

/// The words for an input that someone sets at the line; nothing for other inputs.
fn setting_name(input: &InputRecord, view: &View) -> Option<String> {
    let known = view.say(&format!("set.{}", input.path));
    if !known.is_empty() {
        return Some(known.to_owned());
    }
    // powers and sprays have paths with a name in the middle
    if input.path.starts_with("heater.") && input.path.ends_with("power_kw") {
        let name = input
            .path
            .trim_start_matches("heater.")
            .trim_end_matches("power_kw")
            .trim_matches('.');
        return Some(view.say_with("set.power", &[("name", name)]));
    }
    if input.path.starts_with("stage.") && input.path.contains("spray") {
        let name = input.path.trim_start_matches("stage.");
        return Some(view.say_with("set.seconds", &[("name", name)]));
    }
    None
}

/// A value with its unit in the units of the view.
fn setting_value(input: &InputRecord, view: &View) -> String {
    let number: Option<f64> = input.value.trim().parse().ok();
    match (number, input.unit.as_str()) {
        (Some(c), "degC") => format!("{} {}", view.degrees(c, Side::Nearest), view.temperature_unit()),
        (Some(v), "s") => format!("{} s", view.seconds(v, Side::Nearest)),
        (Some(mm), "mm") => format!(
            "{} {}",
            view.number(view.display.length(mm / 1e3), 2),
            view.display.length_unit()
        ),
        (Some(_), unit) => {
            let value = if view.decimal_comma {
                input.value.replace('.', ",")
            } else {
                input.value.clone()
            };
            format!("{value} {unit}")
        }
        (None, unit) => format!("{} {unit}", input.value),
    }
}

/// Limits to print: least margin first when there are too many, else in the order of the line.
fn chosen_limits<'a>(dossier: &Dossier<'a>) -> Vec<&'a Verdict> {
    let mut all: Vec<&Verdict> = dossier.trace.verdicts.iter().collect();
    if all.len() > LIMITS {
        all.sort_by(|a, b| a.margin_k.total_cmp(&b.margin_k));
        all.truncate(LIMITS);
        all.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    }
    all
}

/// The stage that a limit names.
pub(super) fn stage_of(verdict: &Verdict, view: &View) -> String {
    limit_stage(&verdict.limit).whole(view)
}

fn limit_table(dossier: &Dossier<'_>, chosen: &[&Verdict], view: &View) -> Markup {
    let more = dossier.trace.verdicts.len().saturating_sub(chosen.len());
    let more = (more > 0).then(|| view.say_with("sheet.more", &[("n", &more.to_string())]));
    html! {
        section {
            h2 { (view.say("sheet.limits")) }
            table class="limits" {
                thead {
                    tr {
                        @for key in ["word.stage", "word.node", "word.moment", "word.limit", "sheet.expected"] {
                            th scope="col" { (view.say(key)) }
                        }
                    }
                }
                tbody {
                    @for verdict in chosen {
                        tr class=[(!verdict.holds).then_some("broken")] {
                            th scope="row" { (text(&stage_of(verdict, view), 32)) }
                            td { (text(&limits::node(verdict, view), 70)) }
                            td class="one" { (text(&view.moment(verdict.limit.moment), 30)) }
                            td class="big" { (limits::bound_sign(verdict.limit.bound, view)) }
                            td class="one" {
                                @if !verdict.holds { strong { "\u{2717} " } }
                                (limits::value(verdict, view))
                            }
                        }
                    }
                }
            }
            @if let Some(more) = more { p class="small" { (more) } }
        }
    }
}

fn time_table(times: &[DelayRow], view: &View) -> Markup {
    let used = times.iter().any(|t| t.guard_used);
    let no_alarm = !used && times.iter().all(|t| t.alarm_s.is_none());
    html! {
        section {
            h2 { (view.say("sheet.times")) }
            @if times.is_empty() {
                p { (view.say("sheet.no_times")) }
            } @else {
                table class="limits" {
                    thead {
                        tr {
                            @for key in ["word.stage", "sheet.planned", "sheet.earliest", "sheet.alarm", "sheet.reject", "word.node"] {
                                th scope="col" { (view.say(key)) }
                            }
                        }
                    }
                    tbody {
                        @for row in times.iter().take(TIMES) {
                            tr {
                                th scope="row" { (text(&row.stage, 40)) }
                                td class="one" { (view.seconds(row.planned_s, Side::Nearest)) " s" }
                                td class="one" { (times::earliest(row.earliest_s).whole(view)) }
                                td class="big" {
                                    (row.alarm_s.map_or("\u{2013}".to_owned(), |s| times::latest(Some(s), None).whole(view)))
                                }
                                td class="big" {
                                    (times::latest(row.reject_s, None).whole(view))
                                    @if row.guard_used { " !" }
                                }
                                td { (text(&view.node(&row.node), 60)) }
                            }
                        }
                    }
                }
                @if used { p class="small" { strong { (view.say("sheet.guard_used")) } } }
                @if no_alarm { p class="small" { (view.say("sheet.guard_missing")) } }
            }
        }
    }
}

/// What to do, one sentence a line.
fn reactions(times: &[DelayRow], view: &View) -> Vec<String> {
    let tightest = times
        .iter()
        .filter_map(|t| Some((t, t.reject_s?)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let mut lines = Vec::new();
    if times.iter().any(|t| t.alarm_s.is_some()) {
        lines.push(view.say("react.alarm").to_owned());
    }
    lines.push(view.say("react.reject").to_owned());
    if let Some((row, reject_s)) = tightest {
        lines.push(view.say_with(
            "react.stop",
            &[
                ("s", &view.number(down(reject_s, 1).max(0.0), 1)),
                ("stage", &format!("\u{201c}{}\u{201d}", text(&row.stage, 40))),
            ],
        ));
    }
    lines.push(view.say("react.hot").to_owned());
    lines.push(view.say("react.reheat").to_owned());
    lines
}

fn reaction(times: &[DelayRow], view: &View) -> Markup {
    html! {
        section {
            h2 { (view.say("sheet.reaction")) }
            ol { @for line in reactions(times, view) { li { (line) } } }
        }
    }
}

/// The cautions: three that always stand, then what this run adds.
fn caution_words(dossier: &Dossier<'_>, view: &View) -> Vec<String> {
    let mut words: Vec<String> = ["caution.support", "caution.first", "caution.verify"]
        .map(|key| view.say(key).to_owned())
        .to_vec();
    let defaults = dossier
        .trace
        .inputs
        .iter()
        .filter(|i| i.owner == Owner::Default)
        .count();
    if defaults > 0 {
        let n = defaults.to_string();
        words.push(format!("* {}", view.say_with("caution.defaults", &[("n", &n)])));
    }
    let warnings = dossier.trace.warnings.len();
    if warnings > 0 {
        let n = warnings.to_string();
        words.push(view.say_with("caution.warnings", &[("n", &n)]));
    }
    words
}

fn cautions(dossier: &Dossier<'_>, view: &View) -> Markup {
    html! {
        section class="cautions" {
            h2 { "\u{26a0}\u{fe0e} " (view.say("sheet.cautions")) }
            p {
                @for (i, words) in caution_words(dossier, view).iter().enumerate() {
                    @if i == 0 || i == 2 { strong { (words) } } @else { (words) }
                    " "
                }
            }
        }
    }
}

fn css(paper: Paper) -> String {
    let (width, height) = paper.size_mm();
    format!(
        "@page{{size:{} portrait;margin:10mm}}{CSS}.sheet{{min-height:{:.1}mm}}@media screen{{main,.second{{width:{:.1}mm;min-height:{:.1}mm}}}}",
        paper.css(),
        height - 21.0,
        width - 20.0,
        height - 20.0
    )
}

const CSS: &str = include_str!("sheet.css");
