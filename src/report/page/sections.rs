//! The sections of the report that come from the trace itself.

use maud::{Markup, PreEscaped, html};

use super::super::chart::{Axis, Bar, BarChart, Step, StepKind, Waterfall};
use super::super::csv::stage_name;
use super::super::history::{Span, history, shown_nodes, time_range};
use super::super::map::{common_range, heat_map, section};
use super::super::verdict::repeats_end;
use super::{figure, limits, script, table, text};
use crate::judge::{Bound, Moment, Verdict};
use crate::line::Trace;
use crate::line::trace::{DieRecord, Owner};
use crate::show::{Side, View};

/// Verdict: headline, limiting limit, every broken limit in full.
pub(super) fn verdict(trace: &Trace, view: &View) -> Markup {
    let (words, good) = limits::headline(trace, view);
    let worst = super::super::verdict::limiting(trace);
    html! {
        p class=(if good { "verdict good" } else { "verdict bad" }) {
            (if good { "\u{2713} " } else { "\u{2717} " }) (words)
        }
        @if let Some(worst) = worst {
            p class=[(!worst.holds).then_some("broken")] {
                strong { (view.say("verdict.limiting")) ": " } (sentence(trace, worst, view))
            }
        }
        @for broken in trace.verdicts.iter().filter(|v| !v.holds && worst != Some(*v)) {
            p class="broken" { (sentence(trace, broken, view)) }
        }
        (table("", &[
            "", view.say("word.stage"), view.say("word.moment"), view.say("word.node"),
            &format!(">{}", view.say("word.limit")), &format!(">{}", view.say("word.value")),
            &format!(">{}", view.say("word.margin")), view.say("word.time"),
            view.say("word.owner"), view.say("word.source"),
        ], &trace.verdicts.iter().map(|v| vec![
            if v.holds { format!("\u{2713} {}", view.say("verdict.holds")) }
            else { format!("\u{2717} {}", view.say("verdict.broken")) },
            stage_name(trace, v.stage),
            view.moment(v.moment),
            limits::node(v, view),
            limits::bound_sign(v.limit.bound, view),
            limits::value(v, view),
            limits::margin_k(v, view),
            limits::margin_s(v, view),
            owner(v.limit.owner, view).to_owned(),
            v.limit.source.clone(),
        ]).collect::<Vec<_>>()))
    }
}

/// One verdict with node, stage, moment, value, limit, margin, crossing, owner and cause.
fn sentence(trace: &Trace, verdict: &Verdict, view: &View) -> String {
    let mut out = String::new();
    if let Some(cause) = verdict.cause {
        out.push_str(&format!(
            "\u{2717} {}, {}: ",
            view.say("verdict.broken"),
            limits::cause(cause, view)
        ));
    }
    out.push_str(&format!(
        "{}, {}, {} ({} s): {}; {}; {} {}",
        limits::node(verdict, view),
        stage_name(trace, verdict.stage),
        view.moment(verdict.moment),
        view.seconds(verdict.time_s, Side::Nearest),
        limits::value(verdict, view),
        limits::bound_words(verdict.limit.bound, view),
        view.say("word.margin"),
        limits::margin_k(verdict, view)
    ));
    let seconds = limits::margin_s(verdict, view);
    if !seconds.is_empty() {
        out.push_str(&format!(", {seconds}"));
    }
    if let Some(t) = verdict.crossing_s {
        let t = view.number(t, 3);
        out.push_str(&format!("; {}", view.say_with("verdict.crossed", &[("s", &t)])));
    }
    out.push_str(&format!(
        " ({}: {}, {})",
        view.say("word.limit"),
        owner(verdict.limit.owner, view),
        verdict.limit.source
    ));
    text(&out, 900)
}

/// The owner of a number in words.
pub(super) fn owner(owner: Owner, view: &View) -> &'static str {
    view.say(match owner {
        Owner::Given => "owner.given",
        Owner::Library => "owner.library",
        Owner::Default => "owner.default",
    })
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
            limits::bound_words(verdict.limit.bound, view),
        )),
        decimals: 0,
    })
}

/// Temperatures of the visible nodes at every moment.
pub(super) fn moments(trace: &Trace, view: &View) -> Markup {
    let nodes = shown_nodes(trace);
    let mut header = vec![
        view.say("word.stage").to_owned(),
        view.say("word.moment").to_owned(),
        ">s".to_owned(),
    ];
    header.extend(
        nodes
            .iter()
            .map(|&i| format!(">{} {}", trace.nodes[i], view.temperature_unit())),
    );
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    let rows: Vec<Vec<String>> = trace
        .moments
        .iter()
        .enumerate()
        .filter(|(i, _)| !repeats_end(trace, *i))
        .map(|(_, m)| {
            let mut row = vec![
                stage_name(trace, m.stage),
                view.moment(m.moment),
                view.seconds(m.time_s, Side::Nearest),
            ];
            row.extend(nodes.iter().map(|&i| {
                m.temps_c
                    .get(i)
                    .copied()
                    .flatten()
                    .map_or(String::new(), |t| view.degrees(t, Side::Nearest))
            }));
            row
        })
        .collect();
    html! {
        (table("", &header, &rows))
        (crate::show::html::markup(&crate::report::layer::blocks(trace), view))
        (crate::show::html::markup(&crate::report::ends::blocks(trace), view))
    }
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
                crate::show::number::short(&i.value),
                i.unit.clone(),
                owner(i.owner, view).to_owned(),
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
