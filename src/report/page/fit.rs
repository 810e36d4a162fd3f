//! How large the sheet may be set so that it stays on one page.

use crate::picture::text_width;
use super::super::dossier::{DelayRow, Dossier};
use super::sheet::{TIMES, stage_of};
use super::{Paper, limits};
use crate::judge::Verdict;
use crate::show::View;

/// What the sheet holds.
pub(super) struct Content<'a> {
    pub dossier: &'a Dossier<'a>,
    pub settings: &'a [(String, String)],
    pub limits: &'a [&'a Verdict],
    pub times: &'a [DelayRow],
    pub reactions: &'a [String],
    pub cautions: &'a [String],
}

/// Largest base size in points.
const LARGEST: f64 = 12.0;
/// Height of a line in em.
const LINE: f64 = 1.25;

/// Lines that a text takes in a column; sizes and widths in em.
fn lines(words: &str, size: f64, bold: bool, width: f64) -> f64 {
    (text_width(words, size, bold) / width).ceil().max(1.0)
}

/// Base size in points at which everything fits on one page, from the heights and widths of the
/// style sheet. Text widths are those of a wide face, so that other machines have room to spare.
pub(super) fn base_size(content: &Content<'_>, view: &View, paper: Paper) -> f64 {
    let (width_mm, height_mm) = paper.size_mm();
    let to_points = 72.0 / 25.4;
    let (width, height) = ((width_mm - 20.0) * to_points, (height_mm - 20.0) * to_points);
    let fits = |size: f64| size * 1.02 * needed(content, view, width / size) <= height;
    if fits(LARGEST) {
        return LARGEST;
    }
    let (mut low, mut high) = (4.0, LARGEST);
    for _ in 0..12 {
        let middle = 0.5 * (low + high);
        if fits(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// Height of the sheet in em for a width in em.
fn needed(content: &Content<'_>, view: &View, width: f64) -> f64 {
    let kind = text_width(view.say("sheet.title"), 1.05, true) + 1.0;
    let title: String = content.dossier.trace.title.chars().take(90).collect();
    let title_lines = lines(&title, 1.9, true, (width - kind).max(10.0));
    let broken = content.dossier.trace.verdicts.iter().any(|v| !v.holds);
    let head = title_lines * 1.9 * 1.1 + 0.7 + 3.1 + if broken { 3.3 } else { 2.4 };
    let headings = 5.0 * 2.6;
    let settings: f64 = content
        .settings
        .chunks(2)
        .map(|pair| {
            pair.iter()
                .map(|(name, value)| {
                    let room = width / 2.0 - 2.0 - text_width(value, 1.6, true);
                    LINE * lines(name, 1.0, false, room.max(4.0))
                })
                .fold(2.1, f64::max)
                + 0.25
        })
        .sum();
    let stage_room = 0.19 * width;
    let node_room = width - stage_room - 0.17 * width - 17.0;
    let row = |stage: &str, node: &str, node_room: f64| {
        let stage = 1.15 * LINE * lines(stage, 1.15, true, stage_room);
        let node = LINE * lines(node, 1.0, false, node_room.max(5.0));
        stage.max(node).max(1.65 * 1.1) + 0.36
    };
    let limits: f64 = content
        .limits
        .iter()
        .map(|v| row(&stage_of(v, view), &limits::node(v, view), node_room))
        .sum();
    let times: f64 = content
        .times
        .iter()
        .take(TIMES)
        .map(|t| row(&t.stage, &view.node(&t.node), width * 0.3))
        .sum();
    let more = content.dossier.trace.verdicts.len() > content.limits.len();
    let unguarded = !content.times.is_empty() && content.times.iter().all(|t| t.alarm_s.is_none());
    let used = content.times.iter().any(|t| t.guard_used);
    let notes: f64 = [
        more.then(|| view.say_with("sheet.more", &[("n", "10")])),
        (unguarded && !used).then(|| view.say("sheet.guard_missing").to_owned()),
        used.then(|| view.say("sheet.guard_used").to_owned()),
    ]
    .iter()
    .flatten()
    .map(|n| 0.82 * LINE * lines(n, 0.82, true, width) + 0.5)
    .sum();
    let reactions: f64 = content
        .reactions
        .iter()
        .map(|r| 1.05 * LINE * lines(r, 1.05, false, width - 1.7))
        .sum::<f64>()
        + 0.5;
    let cautions = LINE * lines(&content.cautions.join(" "), 1.04, false, width - 1.5) + 1.4;
    let sign = 4.4;
    head + headings + settings + limits + times + notes + reactions + cautions + sign + 2.8
}
