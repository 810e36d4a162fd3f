//! The sections of the report that come from the trace itself.

use maud::{Markup, PreEscaped, html};

use crate::picture::{Axis, Bar, BarChart, Step, StepKind, Waterfall};
use super::super::csv::stage_name;
use super::super::history::{Span, history, time_range};
use super::super::map::{common_range, heat_map, section};
use super::super::verdict;
use super::{figure, limits, script, table, text};
use crate::judge::{Bound, Moment};
use crate::line::Trace;
use crate::line::trace::DieRecord;
use crate::show::html::markup;
use crate::show::{Cell, Side, View};

/// Verdict: headline, limiting limit, every broken limit in full, all limits.
pub(super) fn verdict(trace: &Trace, view: &View) -> Markup {
    let (words, good) = limits::headline(trace, view);
    html! {
        p class=(if good { "verdict good" } else { "verdict bad" }) {
            (if good { "\u{2713} " } else { "\u{2717} " }) (words)
        }
        (markup(&verdict::sentences(trace), view))
        (markup(&verdict::tables(trace, true), view))
    }
}

/// The history over the line and, where the run goes on much longer, over everything; with the
/// values for the script.
pub(super) fn histories(trace: &Trace, view: &View) -> Markup {
    let line = time_range(trace, Span::Line);
    let whole = time_range(trace, Span::Whole);
    let longer = match (line, whole) {
        (Some(l), Some(w)) => (w.1 - w.0) > 1.3 * (l.1 - l.0),
        _ => false,
    };
    let mut spans = vec![Span::Line];
    if longer {
        spans.push(Span::Whole);
    }
    html! {
        fieldset id="choose" hidden { legend { (view.say("report.choose")) } }
        @for span in spans {
            @let drawing = history(trace, view, span);
            figure class="wide" data-hint=(view.say("report.hover"))
                data-frame=[drawing.frame.as_ref().map(script::frame)] {
                (PreEscaped(&drawing.svg))
            }
        }
        script type="application/json" id="history-data" { (PreEscaped(script::data(trace, view))) }
    }
}

/// Margins of all limits as bars and the fall from the start to the limiting moment.
pub(super) fn margins(trace: &Trace, view: &View) -> Markup {
    let bars = BarChart {
        title: view.say("report.margin_by_limit").to_owned(),
        axis: Axis::new(view.say("word.margin"), view.difference_unit()),
        bars: trace
            .verdicts
            .iter()
            .map(|v| {
                let seconds = v.margin_s.map_or(String::new(), |s| {
                    format!(", {} s", view.seconds(s, Side::Down).replace('-', "\u{2212}"))
                });
                Bar {
                    name: format!(
                        "{}: {} {}",
                        stage_name(trace, v.stage),
                        v.limit.node,
                        limits::bound_sign(v.limit.bound, view)
                    ),
                    value: view.display.difference(v.margin_k),
                    note: format!("{}{seconds}", limits::margin_k(v, view)),
                    alarm: !v.holds,
                }
            })
            .collect(),
        decimals: 0,
    };
    html! {
        (figure(&bars.draw(&view.style())))
        @if let Some(fall) = waterfall(trace, view) {
            (figure(&fall.draw(&view.style())))
        }
    }
}

/// The fall of the limiting node from its first moment to the limiting one, by stage.
fn waterfall(trace: &Trace, view: &View) -> Option<Waterfall> {
    let verdict = trace
        .verdicts
        .iter()
        .filter(|v| !matches!(v.limit.bound, Bound::MaxDifferenceK(_)) && v.time_s > 0.0)
        .min_by(|a, b| a.margin_k.total_cmp(&b.margin_k))?;
    let node = trace.nodes.iter().position(|n| *n == verdict.limit.node)?;
    let known: Vec<(usize, Moment, f64, f64)> = trace
        .moments
        .iter()
        .filter(|m| m.time_s <= verdict.time_s + 1e-9)
        .filter_map(|m| {
            let temp = m.temps_c.get(node).copied().flatten()?;
            Some((m.stage, m.moment, m.time_s, view.display.temperature(temp)))
        })
        .collect();
    let &(_, _, begin, first) = known.first()?;
    let mut steps = vec![Step {
        name: format!("{} s", view.seconds(begin, Side::Nearest)),
        kind: StepKind::Level,
        value: first,
        note: String::new(),
    }];
    let mut before = (begin, first);
    for stage in 0..=verdict.stage {
        // the limiting stage ends at the limiting moment
        let Some(&(_, _, time, temp)) = known.iter().rfind(|m| m.0 == stage) else {
            continue;
        };
        let (time, temp) = if stage == verdict.stage {
            (verdict.time_s, view.display.temperature(verdict.value))
        } else {
            (time, temp)
        };
        steps.push(Step {
            name: stage_name(trace, stage),
            kind: StepKind::Change,
            value: temp - before.1,
            note: format!("{} s", view.seconds(time - before.0, Side::Nearest)),
        });
        before = (time, temp);
    }
    steps.push(Step {
        name: format!("{}, {}", stage_name(trace, verdict.stage), view.moment(verdict.moment)),
        kind: StepKind::Level,
        value: before.1,
        note: String::new(),
    });
    let limit_c = match verdict.limit.bound {
        Bound::MinC(c) | Bound::MaxC(c) => c,
        Bound::MaxDifferenceK(_) => return None,
    };
    Some(Waterfall {
        title: view.say_with("report.waterfall", &[("node", &verdict.limit.node)]),
        axis: Axis::new(view.say("axis.temperature"), view.temperature_unit()),
        steps,
        limit: Some((
            view.display.temperature(limit_c),
            limits::bound_sign(verdict.limit.bound, view),
        )),
        decimals: 0,
    })
}

/// Temperatures of the visible nodes at every moment, ends of a bar and scale.
pub(super) fn moments(trace: &Trace, view: &View) -> Markup {
    markup(&verdict::moments(trace, usize::MAX), view)
}

/// The section maps, on one colour scale where that shows anything.
pub(super) fn maps(trace: &Trace, view: &View) -> Markup {
    let shared = common_range(&trace.maps);
    let span = |range: Option<(f64, f64)>| range.map_or(0.0, |(low, high)| high - low);
    html! {
        div class="maps" {
            @for map in trace.maps.iter().take(12) {
                // an even section would be one flat colour on the scale of all
                @let own = common_range(std::slice::from_ref(map));
                @let range = shared.filter(|_| span(own) > 0.2 * span(shared));
                // one scale of text for all maps: the width follows from the drawing's own
                figure style=(format!("width:{}px", heat_map(map, view, range).natural_size().0 * 3 / 8)) {
                    (PreEscaped(&section(map, view, range).svg))
                }
            }
        }
    }
}

/// Tool faces and the heat that they took.
pub(super) fn dies(trace: &Trace, view: &View) -> Markup {
    let unit = view.temperature_unit();
    let head = |key: &str| format!(">{} {unit}", view.say(key));
    // the ledger counts what the part lost to the body; the record may not
    let heat = |d: &DieRecord| {
        let booked = trace
            .ledger
            .entries
            .iter()
            .find(|e| e.stage == d.stage && e.name == d.body);
        booked.map_or(d.heat_kj, |e| -e.energy_kj)
    };
    let rubbed = trace.dies.iter().any(|d| d.friction_kj > 0.0);
    let rows: Vec<Vec<String>> = trace
        .dies
        .iter()
        .map(|d| {
            let mut row = vec![
                stage_name(trace, d.stage),
                d.body.clone(),
                view.degrees(d.face_start_c, Side::Nearest),
                view.degrees(d.face_peak_c, Side::Up),
                view.degrees(d.face_end_c, Side::Nearest),
                view.number(heat(d), 1),
            ];
            row.extend(rubbed.then(|| view.number(d.friction_kj, 2)));
            row
        })
        .collect();
    let kj = |key: &str| format!(">{} kJ", view.say(key));
    let mut header = vec![
        view.say("word.stage").to_owned(),
        view.say("word.tool").to_owned(),
        head("report.face_start"),
        head("report.face_peak"),
        head("report.face_end"),
        kj("report.heat_taken"),
    ];
    header.extend(rubbed.then(|| kj("report.rubbed")));
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    table("", &header, &rows)
}

/// Heat by name, over all stages, as bars and per mass.
pub(super) fn heat(trace: &Trace, view: &View) -> Markup {
    let mut names: Vec<(&str, f64)> = Vec::new();
    for entry in &trace.ledger.entries {
        match names.iter_mut().find(|(name, _)| *name == entry.name) {
            Some(sum) => sum.1 += entry.energy_kj,
            None => names.push((&entry.name, entry.energy_kj)),
        }
    }
    // 1 kJ/kg is 1/3.6 kWh/t
    let per_tonne = |kj: f64| {
        if trace.mass_kg > 0.0 {
            view.number(kj / trace.mass_kg / 3.6, 1)
        } else {
            String::new()
        }
    };
    let chart = BarChart {
        title: view.say("report.heat").to_owned(),
        axis: Axis::new(view.say("word.energy"), "kJ"),
        bars: names
            .iter()
            .map(|&(name, value)| Bar {
                name: name.to_owned(),
                value,
                note: String::new(),
                alarm: false,
            })
            .collect(),
        decimals: 1,
    };
    let rows: Vec<Vec<String>> = names
        .iter()
        .map(|&(name, kj)| vec![name.to_owned(), view.number(kj, 1), per_tonne(kj)])
        .collect();
    html! {
        (figure(&chart.draw(&view.style())))
        (table("", &[view.say("word.what"), ">kJ", ">kWh/t"], &rows))
    }
}

/// The energy ledger by stage and name with its closure.
pub(super) fn ledger(trace: &Trace, view: &View) -> Markup {
    let mut rows: Vec<Vec<String>> = trace
        .ledger
        .entries
        .iter()
        .map(|e| vec![stage_name(trace, e.stage), e.name.clone(), view.number(e.energy_kj, 3)])
        .collect();
    let sum: f64 = trace.ledger.entries.iter().map(|e| e.energy_kj).sum();
    rows.push(vec![
        view.say("word.sum").to_owned(),
        String::new(),
        view.number(sum, 3),
    ]);
    rows.push(vec![
        view.say("report.stored").to_owned(),
        String::new(),
        view.number(trace.ledger.stored_kj, 3),
    ]);
    let closure = format!("{:.1e}", trace.ledger.imbalance.abs());
    html! {
        (table("", &[view.say("word.stage"), view.say("word.what"), ">kJ"], &rows))
        p { (view.say_with("report.imbalance", &[("x", &closure)])) }
    }
}

/// Every input with owner and source.
pub(super) fn inputs(trace: &Trace, view: &View) -> Markup {
    let rows: Vec<Vec<String>> = trace
        .inputs
        .iter()
        .map(|i| {
            vec![
                i.path.clone(),
                super::super::inputs::value(&i.value).whole(view),
                i.unit.clone(),
                Cell::from(verdict::owner(i.owner)).whole(view),
                i.source.clone(),
            ]
        })
        .collect();
    table(
        "",
        &[
            view.say("word.input"),
            &format!(">{}", view.say("word.value")),
            view.say("word.unit"),
            view.say("word.owner"),
            view.say("word.source"),
        ],
        &rows,
    )
}

/// Warnings, or that there is none.
pub(super) fn warnings(trace: &Trace, view: &View) -> Markup {
    html! {
        @if trace.warnings.is_empty() {
            p { (view.say("report.no_warnings")) }
        } @else {
            ul {
                @for warning in &trace.warnings {
                    li { code { (text(&warning.code, 60)) } ": " (text(&warning.message, 1000)) }
                }
            }
        }
    }
}
