//! The set-up sheet: one page for the wall at the hammer, a second one for stops.

use maud::{Markup, html};

use super::super::dossier::{DelayRow, Dossier};
use super::super::{times, verdict};
use super::content::Content;
use super::fit;
use super::wall::{Col, Wall};
use super::{Paper, document, mark, page_css, text};
use crate::judge::Verdict;
use crate::line::trace::{InputRecord, Owner};
use crate::show::html::markup;
use crate::show::{Cell, Joint, Mark, Quantity, Seconds, Side, Text, View, judged, nodes, say};

/// Most rows of each kind; what has less margin comes first, the rest is in the report.
const LIMITS: usize = 10;
const TIMES: usize = 8;
const SETTINGS: usize = 24;

impl Content {
    fn of(dossier: &Dossier<'_>, view: &View) -> Content {
        let verdicts = &dossier.trace.verdicts;
        let broken = verdicts.iter().filter(|v| !v.holds).count();
        let headline = verdict::headline(dossier.trace);
        let sign = match (broken, &headline) {
            (1.., _) => "\u{2717} ",
            (_, Cell::Mark(Mark::Ok, _)) => "\u{2713} ",
            _ => "! ",
        };
        let stop = say("sheet.not_released")
            .with("k", Cell::count(broken))
            .with("n", Cell::count(verdicts.len()));
        let words = if broken > 0 { stop.into() } else { headline };
        let (settings, starred) = settings(dossier, view);
        let released = broken == 0;
        let rows: &[DelayRow] = if released { &dossier.delays } else { &[] };
        let off = rows
            .iter()
            .filter(|row| row.guard_used || off_plan(row).is_some())
            .count();
        let mut verdict = words.whole(view);
        if off > 0 {
            verdict = format!(
                "{verdict} \u{2013} {}",
                Cell::from(say("sheet.guard_not_kept").count(off)).whole(view)
            );
        }
        let sign = if off > 0 { "! " } else { sign };
        Content {
            title: text(&dossier.trace.title, 90),
            facts: facts(dossier, view),
            released,
            verdict: format!("{sign}{verdict}"),
            settings,
            starred,
            limits: limits(dossier, view),
            times: (!rows.is_empty()).then(|| time_table(rows, view)),
            notes: notes(dossier, rows, view),
            reactions: reactions(rows, released, view),
            cautions: cautions(dossier, view),
        }
    }
}

/// The set-up sheet as one HTML file: settings, limits, times, reaction, cautions, signatures on
/// one page; the stop table, where it exists, on a second one.
pub fn sheet_html(dossier: &Dossier<'_>, view: &View, paper: Paper) -> String {
    let content = Content::of(dossier, view);
    let size = fit::first_page(&content, view, paper);
    let stops = dossier.stops.as_ref().filter(|_| content.released);
    let pages = if stops.is_some() { 2 } else { 1 };
    let title = format!("{} \u{2013} {}", view.say("sheet.title"), dossier.trace.title);
    let class = if content.released { "sheet" } else { "sheet void" };
    let body = html! {
        main class=(class) style=(format!("font-size:{size:.2}pt")) {
            (head(&content, view))
            p class=(if content.released { "go" } else { "stop" }) { (content.verdict) }
            (settings_section(&content, view))
            section {
                h2 { (view.say("sheet.limits")) }
                (content.limits.markup())
                @if let Some(note) = content.notes.first() { p class="small" { (note) } }
            }
            @if content.released { (times_section(&content, view)) }
            section {
                h2 { (view.say("sheet.reaction")) }
                ol { @for line in &content.reactions { li { (line) } } }
            }
            section class="cautions" {
                h2 { "\u{26a0}\u{fe0e} " (view.say("sheet.cautions")) }
                p { @for (i, words) in content.cautions.iter().enumerate() {
                    @if i == 0 || i == 2 { strong { (words) } } @else { (words) } " "
                } }
            }
            (signatures(&content, view))
            (foot(dossier, view, 1, pages))
        }
        @if let Some(stops) = stops {
            section class="second" aria-label=(view.say("sheet.stop_table")) style=(format!("font-size:{:.2}pt", fit::second_page(stops, view, paper))) {
                h2 { (view.say("sheet.stop_table")) " \u{2013} " (content.title) }
                (markup(stops, view))
                (foot(dossier, view, 2, pages))
            }
        }
    };
    document(view, &title, (&css(paper), "light"), &body)
}

fn head(content: &Content, view: &View) -> Markup {
    html! {
        header {
            div class="top" {
                h1 { (content.title) }
                p class="kind" { (view.say("sheet.title")) }
            }
            dl class="facts" {
                @for (key, value) in &content.facts { div { dt { (view.say(key)) } dd { (value) } } }
            }
        }
    }
}

/// Part, revision and hash with the number of the page, on each.
fn foot(dossier: &Dossier<'_>, view: &View, page: usize, pages: usize) -> Markup {
    html! { p class="foot" { span { (mark(dossier, view)) } span { (page) " / " (pages) } } }
}

fn facts(dossier: &Dossier<'_>, view: &View) -> Vec<(&'static str, String)> {
    let hash: String = dossier.input_hash().chars().take(12).collect();
    let blank = |given: &str, most: usize| match given {
        "" => "\u{2026}".repeat(6),
        given => text(given, most),
    };
    vec![
        ("word.part", blank(&dossier.part, 40)),
        ("word.revision", blank(&dossier.revision, 20)),
        ("word.date", blank(&dossier.date, 20)),
        ("word.steel", text(&dossier.trace.steel, 30)),
        (
            "word.mass",
            Cell::number(dossier.trace.mass_kg, Quantity::Mass).whole(view),
        ),
        ("word.hash", hash),
    ]
}

/// Settings in the order of the work: exit band, heater with its coils, takt, dies. A default bears an asterisk.
fn settings(dossier: &Dossier<'_>, view: &View) -> (Vec<(String, String)>, bool) {
    let mut rows: Vec<(Cell, Cell, bool)> = Vec::new();
    if let Some((low, high)) = dossier.exit_band_c {
        let band = Cell::allowed(Some(low), Some(high), Quantity::Temperature);
        rows.push((say("sheet.exit_band").into(), band, false));
    }
    rows.extend(
        dossier
            .heater_settings
            .iter()
            .map(|(name, value)| (name.clone(), value.clone(), false)),
    );
    let solved = !dossier.heater_settings.is_empty();
    let wanted = |i: &&InputRecord| !(solved && i.path.starts_with("heater.") && i.path.ends_with("power_kw"));
    rows.extend(dossier.trace.inputs.iter().filter(wanted).filter_map(|input| {
        let default = input.owner == Owner::Default;
        Some((setting_name(input, view)?, setting_value(input), default))
    }));
    rows.truncate(SETTINGS);
    let starred = rows.iter().any(|row| row.2);
    let shown = rows.iter().map(|(name, value, default)| {
        let star = if *default { " *" } else { "" };
        (
            text(&name.whole(view), 80),
            format!("{}{star}", text(&value.whole(view), 40)),
        )
    });
    (shown.collect(), starred)
}

/// The words for an input that someone sets at the line; nothing for other inputs.
fn setting_name(input: &InputRecord, view: &View) -> Option<Cell> {
    let known = view.say(&format!("set.{}", input.path));
    if !known.is_empty() {
        return Some(Cell::name(known));
    }
    // powers and sprays have paths with a name in the middle
    if let Some(name) = input
        .path
        .strip_prefix("heater.")
        .and_then(|p| p.strip_suffix("power_kw"))
    {
        return Some(say("set.power").with("name", Cell::name(name.trim_matches('.'))).into());
    }
    let name = input
        .path
        .strip_prefix("stage.")
        .filter(|name| name.contains("spray"))?;
    Some(say("set.seconds").with("name", Cell::name(name)).into())
}

/// A value with its unit in the units of the view.
fn setting_value(input: &InputRecord) -> Cell {
    let number: Option<f64> = input.value.trim().parse().ok();
    match (number, input.unit.as_str()) {
        (Some(c), "degC") => Cell::number(c, Quantity::Temperature),
        (Some(s), "s") => Cell::number(s, Quantity::Seconds),
        (Some(mm), "mm") => Cell::number(1e-3 * mm, Quantity::Length),
        (_, unit) => super::super::inputs::value(&input.value).joined(Joint::Space, Cell::name(unit)),
    }
}

fn settings_section(content: &Content, view: &View) -> Markup {
    html! {
        section {
            h2 { (view.say("sheet.settings")) }
            @if content.settings.is_empty() {
                p { (view.say("sheet.only_given")) }
            } @else {
                dl class="settings" {
                    @for (name, value) in &content.settings { div { dt { (name) } dd { (value) } } }
                }
                @if content.starred { p class="small" { (view.say("sheet.starred")) } }
            }
        }
    }
}

/// Limits: least margin first when there are too many, else in the order of the line.
fn limits(dossier: &Dossier<'_>, view: &View) -> Wall {
    let mut chosen: Vec<&Verdict> = dossier.trace.verdicts.iter().collect();
    if chosen.len() > LIMITS {
        chosen.sort_by(|a, b| a.margin_k.total_cmp(&b.margin_k));
        chosen.truncate(LIMITS);
        chosen.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    }
    let row = |v: &&Verdict| {
        let cross = if v.holds { "" } else { "\u{2717} " };
        let cells = vec![
            verdict::limit_stage(&v.limit).whole(view),
            nodes(&v.limit).whole(view),
            view.moment(v.limit.moment),
            Cell::from(v.limit.bound).whole(view),
            format!("{cross}{}", judged(v.limit.bound, v.value).whole(view)),
        ];
        (!v.holds, cells)
    };
    Wall {
        columns: vec![
            Col::name(view.say("word.stage"), 0.20),
            Col::plain(view.say("word.node"), 0.27),
            Col::plain(view.say("word.moment"), 0.17),
            Col::big(view.say("word.limit"), 0.19),
            Col::plain(view.say("sheet.expected"), 0.17),
        ],
        rows: chosen.iter().map(row).collect(),
    }
}

/// That the planned seconds of a hand-over lie outside the times printed for it.
fn off_plan(row: &DelayRow) -> Option<Text> {
    let early = row.earliest_s.filter(|s| row.planned_s < *s);
    let late = row.reject_s.filter(|s| row.planned_s > *s);
    let text = match (early, late) {
        (Some(_), _) => say("time.too_early").with("time", times::earliest(early)),
        (None, Some(_)) => say("time.too_late").with("time", times::latest(late, None)),
        (None, None) => return None,
    };
    Some(text.with("stage", Cell::name(text_of(&row.stage))))
}

/// A name of a stage in a sentence of the sheet.
fn text_of(stage: &str) -> String {
    text(stage, 40)
}

fn time_table(times: &[DelayRow], view: &View) -> Wall {
    let row = |row: &DelayRow| {
        let used = if row.guard_used { " !" } else { "" };
        let off = if off_plan(row).is_some() { " !" } else { "" };
        let alarm = row
            .alarm_s
            .map_or(Cell::name("\u{2013}"), |s| times::latest(Some(s), None));
        let cells = vec![
            row.stage.clone(),
            format!(
                "{}{off}",
                Cell::Seconds(Seconds::Of(row.planned_s, Side::Nearest)).whole(view)
            ),
            times::earliest(row.earliest_s).whole(view),
            alarm.whole(view),
            format!("{}{used}", times::latest(row.reject_s, None).whole(view)),
            view.node(&row.node),
        ];
        (false, cells)
    };
    Wall {
        columns: vec![
            Col::name(view.say("word.stage"), 0.22),
            Col::plain(view.say("sheet.planned"), 0.10),
            Col::plain(view.say("sheet.earliest"), 0.12),
            Col::big(view.say("sheet.alarm"), 0.16),
            Col::big(view.say("sheet.reject"), 0.16),
            Col::plain(view.say("word.node"), 0.24),
        ],
        rows: times.iter().take(TIMES).map(row).collect(),
    }
}

/// Notes of both tables; the first belongs to the limits and is empty where all are listed.
fn notes(dossier: &Dossier<'_>, times: &[DelayRow], view: &View) -> Vec<String> {
    let more = dossier.trace.verdicts.len().saturating_sub(LIMITS);
    let more = match more {
        0 => String::new(),
        more => view.say_with("sheet.more", &[("n", &more.to_string())]),
    };
    let used = times.iter().any(|t| t.guard_used);
    let unguarded = !times.is_empty() && !used && times.iter().all(|t| t.alarm_s.is_none());
    let mut notes = vec![more];
    notes.extend(used.then(|| view.say("sheet.guard_used").to_owned()));
    let off = times.iter().filter_map(off_plan);
    notes.extend(off.map(|text| format!("! {}", Cell::from(text).whole(view))));
    notes.extend(unguarded.then(|| view.say("sheet.guard_missing").to_owned()));
    notes
}

fn times_section(content: &Content, view: &View) -> Markup {
    html! {
        section {
            h2 { (view.say("sheet.times")) }
            @match &content.times {
                Some(times) => { (times.markup()) }
                None => p { (view.say("sheet.no_times")) }
            }
            @for note in content.notes.iter().skip(1) { p class="small" { strong { (note) } } }
        }
    }
}

/// What to do, one sentence a line.
fn reactions(times: &[DelayRow], released: bool, view: &View) -> Vec<String> {
    if !released {
        return vec![view.say("react.void").to_owned()];
    }
    let tightest = times
        .iter()
        .filter(|t| !t.guard_used)
        .filter_map(|t| Some((t, t.reject_s?)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let mut lines = Vec::new();
    if times.iter().any(|t| t.alarm_s.is_some()) {
        lines.push(view.say("react.alarm").to_owned());
    }
    lines.push(view.say("react.reject").to_owned());
    if let Some((row, reject_s)) = tightest {
        let stop = say("react.stop")
            .with("s", Cell::number(reject_s.max(0.0), Quantity::Seconds).down())
            .with("stage", Cell::name(text_of(&row.stage)));
        lines.push(Cell::from(stop).whole(view));
        lines.push(view.say("react.on_dies").to_owned());
    }
    lines.push(view.say("react.hot").to_owned());
    lines.push(view.say("react.reheat").to_owned());
    lines
}

/// The cautions: three that always stand, then what this run adds.
fn cautions(dossier: &Dossier<'_>, view: &View) -> Vec<String> {
    let mut words = ["caution.support", "caution.first", "caution.verify"]
        .map(|key| view.say(key).to_owned())
        .to_vec();
    let inputs = &dossier.trace.inputs;
    let defaults = inputs.iter().filter(|i| i.owner == Owner::Default).count();
    let warnings = dossier.trace.warnings.len();
    for (key, n) in [("caution.defaults", defaults), ("caution.warnings", warnings)] {
        if n > 0 {
            words.push(Cell::from(say(key).count(n)).whole(view));
        }
    }
    words
}

/// Lines to sign; nobody releases a sheet that is not released.
fn signatures(content: &Content, view: &View) -> Markup {
    let keys = ["sheet.set_by", "sheet.checked_by", "sheet.released_by"];
    let keys = &keys[..if content.released { 3 } else { 2 }];
    html! {
        footer class="sign" {
            @for key in keys { div { span class="rule" {} (view.say(key)) } }
        }
    }
}

fn css(paper: Paper) -> String {
    let (width, height) = paper.size_mm();
    format!(
        "{}{CSS}.sheet,.second{{min-height:{:.1}mm}}@media screen{{main,.second{{width:{:.1}mm;min-height:{:.1}mm}}}}",
        page_css(paper, "10mm", ""),
        height - 21.0,
        width - 20.0,
        height - 20.0
    )
}

const CSS: &str = include_str!("sheet.css");

#[cfg(test)]
mod tests {
    use super::*;

    /// What stands without guard band is no rule after a stop; a planned time that is too early is told with its wait.
    #[test]
    fn the_rule_after_a_stop_keeps_the_guard_band() {
        let view = View::default();
        let row = |stage: &str, reject_s: f64, guard_used: bool| DelayRow {
            stage: stage.to_owned(),
            planned_s: 3.6,
            earliest_s: Some(4.5),
            alarm_s: None,
            reject_s: Some(reject_s),
            node: "surface".to_owned(),
            guard_used,
        };
        let rows = [row("bare", 10.4, true), row("guarded", 18.1, false)];
        let plain = |text: &str| text.replace('\u{a0}', " ");
        let lines = reactions(&rows, true, &view);
        assert!(
            lines.iter().any(|line| plain(line).contains("longer than 18.1 s in")),
            "{lines:?}"
        );
        assert!(lines.iter().all(|line| !plain(line).contains("10.4")), "{lines:?}");
        let told = off_plan(&rows[1]).map(|text| plain(&Cell::from(text).whole(&view)));
        assert_eq!(
            told.as_deref(),
            Some("guarded as planned is too early: wait until 4.5 s.")
        );
    }
}
