//! The temperature history: nodes over time, window band, limits and stages.

use crate::judge::{Bound, Kind, Moment, Verdict};
use crate::line::Trace;
use crate::line::trace::StageSpan;
use crate::picture::{Axis, Band, Drawing, LimitMark, LineChart, MarkKind, Remark, Series, StageBar};
use crate::show::{Cell, Joint, Plot, Quantity, View, judged};
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
    let inks = inks(&trace.nodes);
    let curve = |(i, node): (usize, &String)| Series {
        name: view.curve(node),
        points: points(trace, i, view),
        ink: inks[i],
        dots: false,
        hidden: !shown.contains(&i),
    };
    let mut x = Axis::new(view.say("axis.time_after_exit"), "s");
    x.range = time_range(trace, span);
    let end = x.range.map_or(0.0, |r| r.1);
    LineChart {
        title: format!("{} \u{2013} {}", trace.title, view.say("history.title")),
        x,
        y: Axis::new(view.say("axis.temperature"), view.temperature_unit()),
        series: trace.nodes.iter().enumerate().map(curve).collect(),
        bands: bands(trace, view),
        rules: Vec::new(),
        marks: marks(trace, view, end, span),
        remarks: if span == Span::Line {
            moved(trace, &shown, view)
        } else {
            Vec::new()
        },
        stages: trace.stages.iter().map(stage_bar).collect(),
    }
}

/// Change of a node between two samples of one moment that no cooling gives: it is in other metal from there on, K.
const OTHER_METAL_K: f64 = 2.0;
/// Change of a node from which on the picture says so, K.
const TOLD_K: f64 = 20.0;

/// Where a stage begins with a node in other metal than the stage before ended: sample, old and new value.
fn moves(trace: &Trace, node: usize) -> impl Iterator<Item = (usize, f64, f64)> {
    let value = move |k: usize| trace.samples[k].temps_c.get(node).copied().flatten();
    (1..trace.samples.len()).filter_map(move |k| {
        let (before, here) = (&trace.samples[k - 1], &trace.samples[k]);
        let (old, new) = value(k - 1).zip(value(k))?;
        let at_once = before.stage != here.stage && here.time_s - before.time_s < 1e-6;
        (at_once && (new - old).abs() > OTHER_METAL_K).then_some((k, old, new))
    })
}

/// A node over time; the curve breaks where the node moves to other metal.
fn points(trace: &Trace, node: usize, view: &View) -> Vec<(f64, Option<f64>)> {
    let mut breaks = moves(trace, node).map(|(k, ..)| k).peekable();
    let mut points = Vec::with_capacity(trace.samples.len());
    for (k, sample) in trace.samples.iter().enumerate() {
        if breaks.next_if_eq(&k).is_some() {
            points.push((sample.time_s, None));
        }
        let temp = sample.temps_c.get(node).copied().flatten();
        points.push((sample.time_s, temp.map(|t| view.display.temperature(t))));
    }
    points
}

/// Words where visible nodes move far: their old place has left the part.
fn moved(trace: &Trace, shown: &[usize], view: &View) -> Vec<Remark> {
    let mut found: Vec<(usize, f64, Vec<String>)> = Vec::new();
    for &node in shown {
        for (k, _, new) in moves(trace, node).filter(|(_, old, new)| (new - old).abs() > TOLD_K) {
            let name = view.curve(&trace.nodes[node]);
            match found.iter_mut().find(|(at, ..)| *at == k) {
                Some((.., names)) => names.push(name),
                None => found.push((k, new, vec![name])),
            }
        }
    }
    let remark = |(k, new, names): (usize, f64, Vec<String>)| Remark {
        at: (trace.samples[k].time_s, view.display.temperature(new)),
        words: view.say_with("history.moved", &[("node", &names.join(", "))]),
    };
    found.into_iter().map(remark).collect()
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

/// Nodes with a style of their own in every picture of every line.
const KNOWN: [&str; 23] = [
    "core",
    "surface",
    "mean",
    "edge",
    "flash.mean",
    "hottest",
    "coldest",
    "web.mean",
    "grip_end",
    "free_end",
    "flash.core",
    "flash.surface",
    "flash.coldest",
    "flash.hottest",
    "body.mean",
    "body.surface",
    "body.core",
    "body.coldest",
    "body.hottest",
    "web.core",
    "web.surface",
    "web.coldest",
    "web.hottest",
];

/// Styles of the nodes: known names have theirs everywhere, the others one after the other.
fn inks(nodes: &[String]) -> Vec<usize> {
    let mut next = KNOWN.len()..;
    let known = |node: &String| KNOWN.iter().position(|name| name == node);
    nodes
        .iter()
        .map(|node| known(node).or_else(|| next.next()).unwrap_or_default())
        .collect()
}

/// The history for a terminal.
pub(crate) fn plot(trace: &Trace, view: &View) -> Option<Plot> {
    let range = time_range(trace, Span::Line)?;
    let curve = |i: usize| {
        let points = trace
            .samples
            .iter()
            .map(|s| (s.time_s, s.temps_c.get(i).copied().flatten()));
        (view.curve(&trace.nodes[i]), points.collect())
    };
    Some(Plot {
        curves: shown_nodes(trace).into_iter().map(curve).collect(),
        range,
        busy: trace
            .stages
            .iter()
            .filter(|s| is_tool(s))
            .map(|s| (s.start_s, s.end_s))
            .collect(),
        quantity: Quantity::Temperature,
    })
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
                label: view.say("history.window").to_owned(),
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

/// The limits as bars. Each stands with its words once: the same words again would only crowd the picture, and over
/// the whole run the line is too short for words. A broken one says what it came to.
fn marks(trace: &Trace, view: &View, end: f64, span: Span) -> Vec<LimitMark> {
    let mut named: Vec<String> = Vec::new();
    let mark = |verdict: &Verdict| {
        let (limit_c, kind) = match verdict.limit.bound {
            Bound::MinC(c) => (c, MarkKind::AtLeast),
            Bound::MaxC(c) => (c, MarkKind::AtMost),
            Bound::MaxDifferenceK(_) => return None,
        };
        let node = Cell::Curve(verdict.limit.node.clone());
        let mut label = node.joined(Joint::Space, verdict.limit.bound).whole(view);
        if !verdict.holds {
            let value = judged(verdict.limit.bound, verdict.value).whole(view);
            label = format!("\u{2717} {label}: {value}");
        } else if named.contains(&label) || span == Span::Whole {
            label.clear();
        } else {
            named.push(label.clone());
        }
        let always = verdict.limit.moment == Moment::Always;
        let stage = verdict.limit.stage.as_ref();
        let stage = stage.and_then(|name| trace.stages.iter().find(|s| s.name == *name));
        Some(LimitMark {
            x: match (always, stage) {
                (true, Some(stage)) => (stage.start_s, stage.end_s),
                (true, None) => (0.0, end),
                _ => (verdict.time_s, verdict.time_s),
            },
            y: view.display.temperature(limit_c),
            value: Some((verdict.time_s, view.display.temperature(verdict.value))),
            kind,
            broken: !verdict.holds,
            label,
        })
    };
    trace.verdicts.iter().filter_map(mark).collect()
}
