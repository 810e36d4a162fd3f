//! The short answer: does everything hold, what limits, by how much.

use super::csv::{cause_word, owner_word, stage_name};
use super::table::{cut, paint, plain, text_table, wrap};
use crate::judge::{Bound, Moment, Verdict};
use crate::line::Trace;
use crate::show::terminal::{self, Terminal};
use crate::show::{Side, View};
use crate::units::Display;

/// The answer for a terminal, in English, without colour.
pub fn verdict_text(trace: &Trace, display: Display) -> String {
    answer(trace, &View::from(display), false)
}

/// Verdict, limiting node and moment, margins; broken limits; the table of moments; the history as
/// spark lines; warnings.
pub fn answer(trace: &Trace, view: &View, colour: bool) -> String {
    let mut text = String::new();
    text.push_str(&format!("{}\n", cut(&trace.title, 80)));
    text.push_str(&headline(trace, view, colour));
    for verdict in trace.verdicts.iter().filter(|v| !v.holds) {
        text.push('\n');
        text.push_str(&wrap(&broken_limit(trace, verdict, view), 80, "  "));
    }
    if !trace.verdicts.is_empty() {
        text.push('\n');
        text.push_str(&limit_table(trace, view));
    }
    text.push('\n');
    text.push_str(&moment_table(trace, view));
    let mut more = super::ends::blocks(trace);
    more.extend(super::layer::blocks(trace));
    let more = terminal::text(&more, view, Terminal::default());
    if !more.is_empty() {
        text.push('\n');
        text.push_str(&more);
    }
    let history = super::spark::text_history(trace, view);
    if !history.is_empty() {
        text.push('\n');
        text.push_str(&history);
    }
    for warning in &trace.warnings {
        text.push('\n');
        text.push_str(&wrap(
            &format!("warning ({}): {}", warning.code, plain(&warning.message)),
            80,
            "  ",
        ));
    }
    text
}

/// The verdict that has least margin: broken before held, then by margin in K.
pub fn limiting(trace: &Trace) -> Option<&Verdict> {
    trace.verdicts.iter().min_by(|a, b| a.margin_k.total_cmp(&b.margin_k))
}

/// One or two lines: verdict, limiting node and moment, margins.
pub fn headline(trace: &Trace, view: &View, colour: bool) -> String {
    let Some(worst) = limiting(trace) else {
        return "NO LIMITS: nothing was judged.\n".to_owned();
    };
    let broken = trace.verdicts.iter().filter(|v| !v.holds).count();
    let total = trace.verdicts.len();
    let lead = if broken == 0 {
        let all = if total == 1 {
            "the one limit holds".to_owned()
        } else {
            format!("all {total} limits hold")
        };
        format!("{}: {all}.", paint("PASS", true, colour))
    } else {
        format!(
            "{}: {broken} of {total} {} broken.",
            paint("FAIL", false, colour),
            plural(total, "limit")
        )
    };
    let line = format!(
        "limiting: {} {} {}, {} ({}).",
        node_words(worst),
        // A limit that holds always is met at no named moment.
        if worst.moment == Moment::Always {
            "in".to_owned()
        } else {
            format!("at {} of", worst.moment)
        },
        stage_name(trace, worst.stage),
        bound_words(worst, view),
        margin_words(worst, view)
    );
    format!("{lead}\n{}", wrap(&plain(&line), 80, "  "))
}

/// Node, or the two nodes of a difference.
pub(crate) fn node_words(verdict: &Verdict) -> String {
    match (&verdict.limit.bound, &verdict.limit.other) {
        (Bound::MaxDifferenceK(_), Some(other)) => format!("{} to {other}", verdict.limit.node),
        _ => verdict.limit.node.clone(),
    }
}

/// Value and limit, rounded to the safe side.
pub(crate) fn bound_words(verdict: &Verdict, view: &View) -> String {
    let (temp, diff) = (view.display.temperature_unit(), view.display.difference_unit());
    match verdict.limit.bound {
        Bound::MinC(c) => format!(
            "{} {temp}, at least {} {temp}",
            view.degrees(verdict.value, Side::Down),
            view.degrees(c, Side::Up)
        ),
        Bound::MaxC(c) => format!(
            "{} {temp}, at most {} {temp}",
            view.degrees(verdict.value, Side::Up),
            view.degrees(c, Side::Down)
        ),
        Bound::MaxDifferenceK(k) => format!(
            "difference {} {diff}, at most {} {diff}",
            view.kelvins(verdict.value, Side::Up),
            view.kelvins(k, Side::Down)
        ),
    }
}

/// Margin in K and, where there is one, in s with the stage it is about.
pub(crate) fn margin_words(verdict: &Verdict, view: &View) -> String {
    let unit = view.display.difference_unit();
    let mut text = if verdict.margin_k >= 0.0 {
        format!("margin {} {unit}", view.kelvins(verdict.margin_k, Side::Down))
    } else {
        format!("short by {} {unit}", view.kelvins(-verdict.margin_k, Side::Up))
    };
    if let Some(seconds) = verdict.margin_s {
        let what = verdict
            .margin_stage
            .as_ref()
            .map_or(String::new(), |s| format!(" in {s}"));
        text.push_str(&if seconds >= 0.0 {
            format!(", {} s to spare{what}", view.seconds(seconds, Side::Down))
        } else {
            format!(", {} s too long{what}", view.seconds(-seconds, Side::Up))
        });
    }
    text
}

/// A broken limit in one sentence: node, stage, moment, value, limit, owner, cause.
pub fn broken_limit(trace: &Trace, verdict: &Verdict, view: &View) -> String {
    let crossing = verdict
        .crossing_s
        .map_or(String::new(), |t| format!("; crossed at {} s", view.number(t, 3)));
    plain(&format!(
        "BROKEN, {}: {} in {} at {} ({} s): {}; {}{crossing}; limit {} ({}).",
        cause_word(verdict.cause),
        node_words(verdict),
        stage_name(trace, verdict.stage),
        verdict.moment,
        view.seconds(verdict.time_s, Side::Nearest),
        bound_words(verdict, view),
        margin_words(verdict, view),
        match verdict.limit.owner {
            crate::judge::Owner::Given => "given in the line file",
            crate::judge::Owner::Library => "from the steel library",
            crate::judge::Owner::Default => "a default of the program",
        },
        cut(&verdict.limit.source, 160)
    ))
}

fn limit_table(trace: &Trace, view: &View) -> String {
    let rows: Vec<Vec<String>> = trace
        .verdicts
        .iter()
        .map(|v| {
            let (sign, limit, value) = match v.limit.bound {
                Bound::MinC(c) => (">=", view.degrees(c, Side::Up), view.degrees(v.value, Side::Down)),
                Bound::MaxC(c) => ("<=", view.degrees(c, Side::Down), view.degrees(v.value, Side::Up)),
                Bound::MaxDifferenceK(k) => ("dT <=", view.kelvins(k, Side::Down), view.kelvins(v.value, Side::Up)),
            };
            vec![
                if v.holds { "ok" } else { "BROKEN" }.to_owned(),
                stage_name(trace, v.stage),
                v.moment.to_string(),
                node_words(v),
                format!("{sign} {limit}"),
                value,
                view.kelvins(v.margin_k, Side::Down),
                v.margin_s.map_or(String::new(), |s| view.seconds(s, Side::Down)),
                owner_word(v.limit.owner).to_owned(),
            ]
        })
        .collect();
    let temp = view.display.temperature_unit();
    let margin = format!(">margin {}", view.display.difference_unit());
    let limit = format!(">limit {temp}");
    text_table(
        &["", "stage", "moment", "node", &limit, ">value", &margin, ">s", "owner"],
        &rows,
    )
}

/// Stages and moments with the temperatures of the main nodes.
fn moment_table(trace: &Trace, view: &View) -> String {
    let nodes: Vec<usize> = super::history::shown_nodes(trace).into_iter().take(6).collect();
    let mut header = vec!["stage".to_owned(), "moment".to_owned(), ">t s".to_owned()];
    header.extend(nodes.iter().map(|&i| format!(">{}", trace.nodes[i])));
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    let mut before = None;
    let rows: Vec<Vec<String>> = trace
        .moments
        .iter()
        .enumerate()
        .filter(|(i, _)| !repeats_end(trace, *i))
        .map(|(_, moment)| {
            let stage = if before == Some(moment.stage) {
                String::new()
            } else {
                stage_name(trace, moment.stage)
            };
            before = Some(moment.stage);
            let mut row = vec![
                stage,
                moment.moment.to_string(),
                view.seconds(moment.time_s, Side::Nearest),
            ];
            row.extend(nodes.iter().map(|&i| {
                moment
                    .temps_c
                    .get(i)
                    .copied()
                    .flatten()
                    .map_or(String::new(), |t| view.degrees(t, Side::Nearest))
            }));
            row
        })
        .collect();
    let title = format!("temperatures in {}", view.display.temperature_unit());
    format!("{title}\n{}", text_table(&header, &rows))
}

/// Whether a moment is a start that only repeats the end of the stage before.
pub(crate) fn repeats_end(trace: &Trace, index: usize) -> bool {
    let before = index.checked_sub(1).and_then(|k| trace.moments.get(k));
    match (trace.moments.get(index), before) {
        (Some(moment), Some(before)) => {
            moment.moment == Moment::Start
                && before.moment == Moment::End
                && before.time_s == moment.time_s
                && before.temps_c == moment.temps_c
        }
        _ => false,
    }
}

fn plural(count: usize, word: &str) -> String {
    if count == 1 {
        word.to_owned()
    } else {
        format!("{word}s")
    }
}
