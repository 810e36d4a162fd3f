//! The temperature history: nodes over time, window band, limits and stages.

use crate::picture::{Axis, Band, Drawing, LimitMark, LineChart, MarkKind, Series, StageBar};
use crate::judge::{Bound, Kind, Moment, Verdict};
use crate::line::Trace;
use crate::line::trace::StageSpan;
use crate::text::number::fixed;
use crate::show::{Side, View};
use crate::units::Display;

/// Which part of the run is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Span {
    /// From heater exit to the last tool, with a little of what lies around it.
    #[default]
    Line,
    /// Everything from the first sample to the last.
    Whole,
}

/// Most curves that are drawn visibly; a report can show the others.
const CURVES: usize = 8;

/// The history as an SVG picture in English.
pub fn history_svg(trace: &Trace, display: Display) -> String {
    history(trace, &View::from(display), Span::Line).svg
}

/// The history as a picture.
pub fn history(trace: &Trace, view: &View, span: Span) -> Drawing {
    let style = view.style();
    history_chart(trace, view, span).draw(&style)
}

/// The chart behind [`history`], for callers that change it before drawing.
pub fn history_chart(trace: &Trace, view: &View, span: Span) -> LineChart {
    let shown = shown_nodes(trace);
    let inks = inks(trace, &shown);
    let series = trace
        .nodes
        .iter()
        .enumerate()
        .map(|(i, node)| Series {
            name: node.clone(),
            points: trace
                .samples
                .iter()
                .map(|s| {
                    let temp = s.temps_c.get(i).copied().flatten();
                    (s.time_s, temp.map(|t| view.display.temperature(t)))
                })
                .collect(),
            ink: inks[i],
            dots: false,
            hidden: !shown.contains(&i),
        })
        .collect();
    let mut x = Axis::new(view.say("axis.time_after_exit"), "s");
    x.range = time_range(trace, span);
    let end = x.range.map_or(0.0, |r| r.1);
    LineChart {
        title: format!("{} \u{2013} {}", trace.title, view.say("history.title")),
        x,
        y: Axis::new(view.say("axis.temperature"), view.temperature_unit()),
        series,
        bands: bands(trace, view),
        rules: Vec::new(),
        marks: marks(trace, view, end, span),
        stages: trace.stages.iter().map(stage_bar).collect(),
        alt: words(trace, view),
    }
}

fn stage_bar(stage: &StageSpan) -> StageBar {
    StageBar {
        name: stage.name.clone(),
        x: (stage.start_s, stage.end_s),
        tool: is_tool(stage),
    }
}

/// Whether a tool works on the part in a stage.
pub(crate) fn is_tool(stage: &StageSpan) -> bool {
    stage.kind.has_tools()
}

/// Indices of the nodes drawn visibly: those with limits first, then the usual ones.
pub(crate) fn shown_nodes(trace: &Trace) -> Vec<usize> {
    let usual = ["core", "surface", "mean", "edge"];
    let limited = trace
        .verdicts
        .iter()
        .flat_map(|v| [Some(v.limit.node.as_str()), v.limit.other.as_deref()])
        .flatten();
    let mut shown: Vec<usize> = Vec::new();
    let wanted = usual
        .into_iter()
        .chain(limited)
        .chain(trace.nodes.iter().map(String::as_str).filter(|n| n.ends_with(".mean")));
    for name in wanted {
        if let Some(i) = trace.nodes.iter().position(|n| n == name)
            && !shown.contains(&i)
            && shown.len() < CURVES
        {
            shown.push(i);
        }
    }
    if shown.is_empty() {
        shown.extend(0..trace.nodes.len().min(CURVES));
    }
    shown.sort_unstable();
    shown
}

/// Styles of the nodes: the usual ones keep theirs in every picture, and no two visible ones share
/// one.
fn inks(trace: &Trace, shown: &[usize]) -> Vec<usize> {
    let usual = ["core", "surface", "mean", "edge", "flash.mean"];
    let own = |i: usize| usual.iter().position(|&n| n == trace.nodes[i]);
    let mut free: Vec<usize> = (0..CURVES)
        .rev()
        .filter(|ink| !shown.iter().any(|&i| own(i) == Some(*ink)))
        .collect();
    let mut inks: Vec<usize> = (0..trace.nodes.len()).map(|i| own(i).unwrap_or(i)).collect();
    for &i in shown {
        if own(i).is_none()
            && let Some(ink) = free.pop()
        {
            inks[i] = ink;
        }
    }
    inks
}

/// The span of time that a picture shows.
pub(crate) fn time_range(trace: &Trace, span: Span) -> Option<(f64, f64)> {
    let first = trace.samples.first()?.time_s;
    let last = trace.samples.last()?.time_s;
    if span == Span::Whole {
        return (last > first).then_some((first, last));
    }
    let busy = trace
        .stages
        .iter()
        .filter(|s| !matches!(s.kind, Kind::Cool | Kind::Heater))
        .map(|s| s.end_s)
        .fold(f64::NAN, f64::max);
    let end = if busy.is_finite() && busy > 0.0 {
        last.min(1.12 * busy)
    } else {
        last
    };
    let start = first.max(-0.04 * end.abs());
    (end > start).then_some((start, end))
}

/// Allowed values by stage: the strictest limits on the part at the stage's own moments, below the
/// strictest maximum that holds always.
fn bands(trace: &Trace, view: &View) -> Vec<Band> {
    let top = strictest_maximum(trace);
    let mut bands = Vec::new();
    let mut from = trace
        .stages
        .iter()
        .find(|s| s.kind != Kind::Heater)
        .map_or(0.0, |s| s.start_s);
    for (index, stage) in trace.stages.iter().enumerate() {
        if !is_tool(stage) {
            continue;
        }
        let here = trace
            .verdicts
            .iter()
            .filter(|v| v.limit.moment != Moment::Always && concerns(v, index, stage));
        let (mut low, mut high): (Option<f64>, Option<f64>) = (None, top);
        for verdict in here {
            match verdict.limit.bound {
                Bound::MinC(c) => low = Some(low.map_or(c, |l: f64| l.max(c))),
                Bound::MaxC(c) => high = Some(high.map_or(c, |h: f64| h.min(c))),
                Bound::MaxDifferenceK(_) => {}
            }
        }
        if low.is_some() {
            bands.push(Band {
                x: (from, stage.end_s),
                low: low.map(|c| view.display.temperature(c)),
                high: high.map(|c| view.display.temperature(c)),
                label: if bands.is_empty() {
                    view.say("history.window").to_owned()
                } else {
                    String::new()
                },
            });
            from = stage.end_s;
        }
    }
    bands
}

fn concerns(verdict: &Verdict, index: usize, stage: &StageSpan) -> bool {
    match &verdict.limit.stage {
        Some(name) => *name == stage.name,
        None => verdict.stage == index,
    }
}

fn strictest_maximum(trace: &Trace) -> Option<f64> {
    trace
        .verdicts
        .iter()
        .filter(|v| v.limit.moment == Moment::Always && v.limit.stage.is_none())
        .filter_map(|v| match v.limit.bound {
            Bound::MaxC(c) => Some(c),
            _ => None,
        })
        .fold(None, |best, c| Some(best.map_or(c, |b: f64| b.min(c))))
}

fn marks(trace: &Trace, view: &View, end: f64, span: Span) -> Vec<LimitMark> {
    let mut named: Vec<String> = Vec::new();
    trace
        .verdicts
        .iter()
        .filter_map(|verdict| {
            let (limit_c, kind, sign) = match verdict.limit.bound {
                Bound::MinC(c) => (c, MarkKind::AtLeast, "\u{2265}"),
                Bound::MaxC(c) => (c, MarkKind::AtMost, "\u{2264}"),
                Bound::MaxDifferenceK(_) => return None,
            };
            let side = match kind {
                MarkKind::AtLeast => Side::Up,
                MarkKind::AtMost => Side::Down,
            };
            let mut label = format!("{} {sign} {}", verdict.limit.node, view.degrees(limit_c, side));
            if verdict.holds {
                // one name for each limit; the same words once more would only crowd the picture,
                // and over the whole run the line is too short for words
                if named.contains(&label) || span == Span::Whole {
                    label.clear();
                } else {
                    named.push(label.clone());
                }
            } else {
                let side = match kind {
                    MarkKind::AtLeast => Side::Down,
                    MarkKind::AtMost => Side::Up,
                };
                label = format!("\u{2717} {label}: {}", view.degrees(verdict.value, side));
            }
            let x = if verdict.limit.moment == Moment::Always {
                match verdict
                    .limit
                    .stage
                    .as_ref()
                    .and_then(|name| trace.stages.iter().find(|s| s.name == *name))
                {
                    Some(stage) => (stage.start_s, stage.end_s),
                    None => (0.0, end),
                }
            } else {
                (verdict.time_s, verdict.time_s)
            };
            Some(LimitMark {
                x,
                y: view.display.temperature(limit_c),
                value: Some((verdict.time_s, view.display.temperature(verdict.value))),
                kind,
                broken: !verdict.holds,
                label,
            })
        })
        .collect()
}

/// The history in words: each visible node at heater exit and at the end of each tool stage.
fn words(trace: &Trace, view: &View) -> String {
    let mut parts = vec![format!(
        "{}: {} [{}].",
        trace.title.chars().take(200).collect::<String>(),
        view.say("history.title"),
        view.temperature_unit()
    )];
    for moment in trace.moments.iter().filter(|m| m.moment != Moment::End) {
        let Some(stage) = trace.stages.get(moment.stage) else {
            continue;
        };
        if !is_tool(stage) && moment.time_s != 0.0 {
            continue;
        }
        let values: Vec<String> = shown_nodes(trace)
            .into_iter()
            .filter_map(|i| {
                let temp = moment.temps_c.get(i).copied().flatten()?;
                Some(format!("{} {}", trace.nodes[i], view.degrees(temp, Side::Nearest)))
            })
            .collect();
        if !values.is_empty() && parts.len() < 14 {
            parts.push(format!(
                "{}, {}, {} s: {}.",
                stage.name,
                moment.moment,
                fixed(moment.time_s, 1, view.decimal_comma),
                values.join(", ")
            ));
        }
    }
    parts.join(" ")
}
