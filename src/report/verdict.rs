//! The short answer: does everything hold, what limits, by how much.

use super::csv::stage_name;
use super::history::{Span, history, plot, shown_nodes};
use crate::judge::{Cause, Limit, Moment, Owner, Verdict};
use crate::line::Trace;
use crate::show::terminal::{self, Terminal};
use crate::show::{
    Block, Cell, Chart, Column, Joint, Mark, NoteKind, Quantity, Table, Text, View, judged, limit, nodes, say, warning,
};
use crate::units::Display;

/// The answer for a terminal of 80 columns, in English, without colour.
pub fn verdict_text(trace: &Trace, display: Display) -> String {
    let view = View::from(display);
    terminal::text(&blocks(trace, &view), &view, Terminal::default())
}

/// Verdict, limiting node and moment, margins; broken limits; limits and the times that they allow; the
/// moments; what else the run followed; the history; warnings.
pub fn blocks(trace: &Trace, view: &View) -> Vec<Block> {
    let mut blocks = vec![Block::heading(Cell::name(&trace.title))];
    blocks.extend(answer(trace));
    blocks.extend(tables(trace, false));
    blocks.extend(moments(trace, 6));
    let plot = plot(trace, view);
    if plot.is_some() {
        let drawing = history(trace, view, Span::Line);
        blocks.push(Block::Chart(Chart { drawing, plot }));
    }
    let note = |one| Block::Note(NoteKind::Warning, warning(one, view));
    blocks.extend(trace.warnings.iter().map(note));
    blocks
}

/// The verdict that has least margin: broken before held, then by margin in K.
pub fn limiting(trace: &Trace) -> Option<&Verdict> {
    trace.verdicts.iter().min_by(|a, b| a.margin_k.total_cmp(&b.margin_k))
}

/// Pass or fail, counted over what was judged.
pub fn headline(trace: &Trace) -> Cell {
    let judged = trace.verdicts.len();
    let broken = trace.verdicts.iter().filter(|v| !v.holds).count();
    match (judged, broken) {
        (0, _) => Cell::Mark(Mark::Watch, say("verdict.none")),
        (_, 0) => Cell::Mark(Mark::Ok, say("verdict.pass").count(judged)),
        _ => Cell::Mark(
            Mark::Broken,
            say("verdict.fail").with("k", Cell::count(broken)).count(judged),
        ),
    }
}

/// The headline with the limiting verdict, then every other broken limit.
pub fn answer(trace: &Trace) -> Vec<Block> {
    let mut blocks = vec![Block::sentence(headline(trace))];
    blocks.extend(sentences(trace));
    blocks
}

/// The limiting verdict and every other broken limit, a sentence each.
pub fn sentences(trace: &Trace) -> Vec<Block> {
    let worst = limiting(trace);
    let limiting = worst.map(|worst| {
        let words = Cell::from(say("verdict.limiting"));
        Block::sentence(words.joined(Joint::Colon, sentence(trace, worst)))
    });
    let others = trace.verdicts.iter().filter(|v| !v.holds && worst != Some(*v));
    limiting
        .into_iter()
        .chain(others.map(|v| Block::sentence(sentence(trace, v))))
        .collect()
}

/// One verdict: node, stage, moment, time, value, limit, margins in K and s, crossing, owner, source;
/// with the cause in front where it is broken.
pub fn sentence(trace: &Trace, verdict: &Verdict) -> Cell {
    let mut clauses: Vec<Cell> = vec![
        say("verdict.at")
            .with("node", nodes(&verdict.limit))
            .with("place", place(trace, verdict))
            .with("time", Cell::number(verdict.time_s, Quantity::Seconds))
            .with("value", judged(verdict.limit.bound, verdict.value))
            .with("limit", verdict.limit.bound)
            .with("margin", Cell::number(verdict.margin_k, Quantity::Margin))
            .into(),
    ];
    if let Some(stage) = &verdict.margin_stage {
        clauses.extend(to_spare(verdict).map(|text| text.with("stage", Cell::name(stage)).into()));
        if verdict.earliest_s.or(verdict.latest_s).is_some() {
            let allowed = Cell::allowed(verdict.earliest_s, verdict.latest_s, Quantity::Seconds);
            let text = say("verdict.may_take").with("stage", Cell::name(stage));
            clauses.push(text.with("times", allowed).into());
        }
    }
    if let Some(time) = verdict.crossing_s {
        let time = Cell::number(time, Quantity::Phase);
        clauses.push(say("verdict.crossed").with("time", time).into());
    }
    let set = say("verdict.set")
        .with("owner", owner(verdict.limit.owner))
        .with("source", Cell::name(&verdict.limit.source));
    clauses.push(set.into());
    let all = Cell::List(clauses);
    match verdict.cause {
        Some(cause) => Cell::Mark(
            Mark::Broken,
            say("verdict.broken_by")
                .with("cause", self::cause(cause))
                .with("what", all),
        ),
        None => all,
    }
}

/// Seconds that the stage could have lasted longer, or by which it was too long or too short.
fn to_spare(verdict: &Verdict) -> Option<Text> {
    let seconds = verdict.margin_s?;
    let amount = Cell::number(seconds.abs(), Quantity::Seconds);
    Some(match (seconds >= 0.0, verdict.cause) {
        (true, _) => say("verdict.spare").with("time", amount.down()),
        (false, Some(Cause::TooHot)) if verdict.latest_s.is_none() => say("verdict.early").with("time", amount.up()),
        (false, _) => say("verdict.late").with("time", amount.up()),
    })
}

/// Margin in K and, where a stage decides it, in s.
pub(crate) fn to_spare_words(verdict: &Verdict) -> Cell {
    let margin = Cell::number(verdict.margin_k, Quantity::Margin);
    match verdict.margin_s {
        Some(seconds) => margin.joined(Joint::Comma, Cell::number(seconds, Quantity::Seconds).down()),
        None => margin,
    }
}

/// The nodes of a limit by their short names.
pub(crate) fn curves(limit: &Limit) -> Cell {
    let node = Cell::Curve(limit.node.clone());
    match &limit.other {
        Some(other) => node.joined(Joint::Slash, Cell::Curve(other.clone())),
        None => node,
    }
}

/// Stage and moment of the worst value; a limit that holds always is met at no named moment.
fn place(trace: &Trace, verdict: &Verdict) -> Cell {
    let stage = Cell::name(stage_name(trace, verdict.stage));
    match verdict.moment {
        Moment::Always => stage,
        moment => stage.joined(Joint::Comma, Cell::Moment(moment)),
    }
}

/// Why a limit is broken.
pub(crate) fn cause(cause: Cause) -> Text {
    say(match cause {
        Cause::TooHot => "cause.too_hot",
        Cause::TooCold => "cause.too_cold",
        Cause::TooUneven => "cause.too_uneven",
    })
}

/// Who gave a number.
pub(crate) fn owner(owner: Owner) -> Text {
    say(match owner {
        Owner::Given => "owner.given",
        Owner::Library => "owner.library",
        Owner::Default => "owner.default",
        Owner::Measured => "owner.measured",
        Owner::Target => "owner.target",
    })
}

/// The stage that a limit names.
pub(crate) fn limit_stage(limit: &Limit) -> Cell {
    match &limit.stage {
        Some(name) => Cell::name(name),
        None => say("word.every_stage").into(),
    }
}

/// The limits with their values, and the seconds that they allow; with the sources on a page.
pub fn tables(trace: &Trace, sources: bool) -> Vec<Block> {
    let mut columns = vec![
        Column::numbers(say("limit.number"), Quantity::Count),
        Column::words(say("report.verdict")),
    ];
    columns.extend(match sources {
        true => vec![
            Column::words(say("word.stage")),
            Column::words(say("word.moment")),
            Column::words(say("word.node")),
            Column::mixed(say("verdict.bound")),
        ],
        false => vec![Column::words(say("verdict.bound"))],
    });
    columns.extend([
        Column::mixed(say("word.value")),
        Column::words(say("verdict.where")),
        Column::numbers(say("word.margin"), Quantity::Margin),
        Column::words(say("word.owner")),
    ]);
    columns.extend(sources.then(|| Column::words(say("word.source"))));
    let rows = trace.verdicts.iter().enumerate().map(|(k, v)| {
        let mut row = vec![
            Cell::count(k + 1),
            match v.holds {
                true => Cell::Mark(Mark::Ok, say("verdict.holds")),
                false => Cell::Mark(Mark::Broken, say("verdict.broken")),
            },
        ];
        row.extend(match sources {
            true => vec![
                limit_stage(&v.limit),
                Cell::Moment(v.limit.moment),
                nodes(&v.limit),
                v.limit.bound.into(),
            ],
            // Where a page is narrow, a limit in words takes fewer lines than four columns.
            false => vec![limit(&v.limit).into()],
        });
        row.extend([
            judged(v.limit.bound, v.value),
            place(trace, v),
            Cell::number(v.margin_k, Quantity::Margin),
            owner(v.limit.owner).into(),
        ]);
        row.extend(sources.then(|| Cell::name(&v.limit.source)));
        row
    });
    vec![Block::Table(Table::new(columns).rows(rows)), Block::Table(times(trace))]
}

/// What the hand-over into the worst moment of each limit may take for that limit, where its length matters.
fn times(trace: &Trace) -> Table {
    let seconds = |id| Column::numbers(say(id), Quantity::Seconds);
    let columns = vec![
        Column::numbers(say("limit.number"), Quantity::Count),
        Column::words(say("delays.hand_over")),
        seconds("sheet.earliest"),
        seconds("delays.latest"),
        seconds("verdict.spare_s"),
    ];
    let rows = trace.verdicts.iter().enumerate().filter_map(|(k, v)| {
        let stage = v.margin_stage.as_ref()?;
        Some(vec![
            Cell::count(k + 1),
            Cell::name(stage),
            super::times::earliest(v.earliest_s),
            super::times::latest(v.latest_s, Some(super::times::searched_s(planned(trace, stage)))),
            v.margin_s
                .map_or_else(|| say("time.any").into(), |s| Cell::number(s, Quantity::Seconds).down()),
        ])
    });
    let table = Table::new(columns).caption(say("verdict.times")).rows(rows);
    let open = |v: &Verdict| v.margin_stage.is_some() && v.latest_s.is_none();
    if trace.verdicts.iter().any(open) {
        table.note(say("time.searched"))
    } else {
        table
    }
}

/// Seconds that a stage took in the run.
fn planned(trace: &Trace, stage: &str) -> f64 {
    let span = trace.stages.iter().find(|s| s.name == stage);
    span.map_or(0.0, |s| s.end_s - s.start_s)
}

/// Temperatures of the first `most` nodes shown at every moment, the ends of a bar and the scale.
pub fn moments(trace: &Trace, most: usize) -> Vec<Block> {
    let shown: Vec<usize> = shown_nodes(trace).into_iter().take(most).collect();
    let mut columns = vec![
        Column::words(say("word.stage")),
        Column::words(say("word.moment")),
        Column::numbers(say("word.time"), Quantity::Seconds),
    ];
    columns.extend(shown.iter().map(|&i| Column {
        unit_in_head: false,
        ..Column::numbers(Cell::Curve(trace.nodes[i].clone()), Quantity::Temperature)
    }));
    let moments = trace
        .moments
        .iter()
        .enumerate()
        .filter(|(i, _)| !repeats_end(trace, *i));
    let rows = moments.map(|(_, m)| {
        let mut row = vec![
            Cell::name(stage_name(trace, m.stage)),
            Cell::Moment(m.moment),
            Cell::number(m.time_s, Quantity::Seconds),
        ];
        let temperature = |i: &usize| Cell::maybe(m.temps_c.get(*i).copied().flatten(), Quantity::Temperature);
        row.extend(shown.iter().map(temperature));
        row
    });
    let caption = Cell::from(say("report.moments")).joined(Joint::Comma, Cell::Unit(Quantity::Temperature));
    let mut blocks = vec![Block::Table(Table::new(columns).caption(caption).rows(rows))];
    blocks.extend(super::ends::blocks(trace));
    blocks.extend(super::layer::blocks(trace));
    blocks
}

/// Whether a moment is a start that only repeats the end of the stage before.
fn repeats_end(trace: &Trace, index: usize) -> bool {
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
