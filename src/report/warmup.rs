//! A warm-up in words, as a table, a picture and CSV.

use super::ReportError;
use super::csv::write_rows;
use crate::line::warmup::{AfterBreak, DieFace, DieName, Preheat, Steady, WarmPart, Warmup, WorstLimit};
use crate::picture::{Axis, Drawing, LineChart, Rule, Series};
use crate::show::{Block, Cell, Column, Joint, Mark, NoteKind, Quantity, Table, Text, View, say};

/// The short answer, then the tables of tools and parts.
pub fn blocks(result: &Warmup) -> Vec<Block> {
    let mut blocks = vec![
        Block::heading(Cell::name(&result.title)),
        Block::sentence(answer(result)),
    ];
    if let Some(first) = result.parts.first().filter(|p| !p.good).and_then(|p| p.worst.as_ref()) {
        blocks.push(Block::sentence(say("warmup.part_one").with("limit", limit(first))));
    }
    if let Some(preheat) = &result.preheat {
        blocks.push(Block::sentence(preheated(preheat)));
    }
    if let Some(steady) = &result.steady {
        blocks.extend(settled(steady, result.parts.len()));
    }
    blocks.extend(result.breaks.iter().map(|pause| Block::sentence(after(pause))));
    blocks.push(Block::Table(faces(result)));
    blocks.push(Block::Table(parts(result)));
    blocks
}

/// From which part on all are good.
fn answer(result: &Warmup) -> Text {
    let n = result.parts.len();
    match (result.first_good, result.parts.iter().any(|p| p.good)) {
        (Some(1), _) => say("warmup.all").count(n),
        (Some(part), _) => say("warmup.first_good").with("part", number(part)).count(n),
        (None, true) => say("warmup.not_lasting").count(n),
        (None, false) => say("warmup.never").count(n),
    }
}

fn number(part: u32) -> Cell {
    Cell::count(part as usize)
}

fn temperature(c: f64) -> Cell {
    Cell::number(c, Quantity::Temperature)
}

/// The limit with the least margin.
fn limit(worst: &WorstLimit) -> Text {
    say("warmup.limit")
        .with("margin", Cell::number(worst.margin_k, Quantity::Margin).signed())
        .with("stage", Cell::name(&worst.stage))
        .with("moment", Cell::Moment(worst.moment))
        .with("number", Cell::count(worst.limit))
        .with("node", Cell::name(&worst.node))
}

fn verdict(part: &WarmPart) -> Text {
    match &part.worst {
        Some(worst) if part.good => say("warmup.good_margin").with("limit", limit(worst)),
        Some(worst) => say("warmup.bad_by").with("limit", limit(worst)),
        None => say("warmup.no_limit"),
    }
}

/// Faces this near to those of steady work count as there, K (the tolerance of `Steady::near_from`).
const NEAR_K: f64 = 5.0;

/// The state that repeats, and where dies that start hot end.
fn settled(steady: &Steady, parts: usize) -> Vec<Block> {
    let found = say("warmup.steady")
        .with("verdict", verdict(&steady.part))
        .count(steady.evaluations)
        .with("distance", Cell::number(steady.distance_k, Quantity::Difference).up());
    let near = match steady.near_from as usize > parts {
        true => say("warmup.near_about"),
        false => say("warmup.near"),
    }
    .with("distance", Cell::number(NEAR_K, Quantity::Margin))
    .count(steady.near_from as usize);
    let mut blocks = vec![Block::sentence(found), Block::sentence(near)];
    if let Some(hot) = &steady.from_hot {
        let text = match hot.same {
            true => say("warmup.hot_same"),
            false => say("warmup.hot_apart")
                .with("apart", Cell::number(hot.apart_k, Quantity::Difference).up())
                .with("verdict", verdict(&hot.part)),
        };
        blocks.push(Block::sentence(text.with("start", temperature(hot.start_c))));
    }
    if !steady.converged || steady.from_hot.as_ref().is_some_and(|hot| !hot.converged) {
        blocks.push(Block::Note(NoteKind::Caution, say("warmup.not_settled").into()));
    }
    blocks
}

/// Preheat that the gain is told for, K.
const PREHEAT_STEP_K: f64 = 100.0;

fn preheated(preheat: &Preheat) -> Text {
    let worth = say("warmup.worth")
        .with("step", Cell::number(PREHEAT_STEP_K, Quantity::Margin))
        .with("gain", Cell::number(preheat.gain_k_per_100_k, Quantity::Difference));
    let whole = |c: f64| temperature(c).nearest();
    let named = |worst: &Option<WorstLimit>| worst.as_ref().map_or(Cell::Empty, |w| limit(w).into());
    let text = match (preheat.needed_c, preheat.most_c) {
        (Some(needed), Some(most)) => say("warmup.preheat_between")
            .with("needed", whole(needed))
            .with("most", whole(most))
            .with("limit", named(&preheat.too_hot)),
        (Some(needed), None) if needed <= preheat.tried_from_c => {
            say("warmup.preheat_enough").with("needed", whole(needed))
        }
        (Some(needed), None) => say("warmup.preheat_needed").with("needed", whole(needed)),
        (None, _) => say("warmup.preheat_no_use")
            .with("tried", whole(preheat.tried_to_c))
            .with("limit", named(&preheat.worst)),
    };
    text.with("worth", worth)
}

fn after(pause: &AfterBreak) -> Text {
    let faces = pause.parts.first().map(|part| part.faces.iter().map(|f| f.before_c));
    let coldest = faces.map(|faces| faces.fold(f64::INFINITY, f64::min));
    let good = match pause.first_good {
        Some(1) => say("warmup.break_first"),
        Some(part) => say("warmup.break_later").with("part", number(part)),
        None => say("warmup.break_never").count(pause.parts.len()),
    };
    say("warmup.break")
        .with("minutes", Cell::number(pause.minutes * 60.0, Quantity::Minutes))
        .with("face", Cell::maybe(coldest, Quantity::Temperature))
        .with("good", good)
}

/// A tool by its stage.
fn tool(die: &DieName) -> Cell {
    Cell::name(&die.stage).joined(Joint::Comma, Cell::Term(die.body.clone()))
}

fn faces(result: &Warmup) -> Table {
    let column = |head: Text| Column::numbers(head, Quantity::Temperature);
    let columns = vec![
        Column::words(say("warmup.face")),
        column(say("warmup.part").count(1)),
        column(say("warmup.part").count(result.parts.len())),
        column(say("warmup.in_steady")),
        column(say("warmup.peak")),
        column(say("warmup.through")),
        column(say("warmup.tempering")),
    ];
    let last = result.parts.last();
    let steady = result.steady.as_ref().map(|s| &s.part);
    let rows = result.dies.iter().enumerate().map(|(i, die)| {
        let of = |part: Option<&WarmPart>, get: fn(&DieFace) -> f64| {
            Cell::maybe(part.and_then(|p| p.faces.get(i)).map(get), Quantity::Temperature)
        };
        vec![
            tool(die),
            temperature(die.start_c),
            of(last, |f| f.before_c),
            of(steady, |f| f.before_c),
            of(steady, |f| f.peak_c).up(),
            of(steady, |f| f.through_c),
            Cell::maybe(die.tempering_c, Quantity::Temperature).down(),
        ]
    });
    Table::new(columns).caption(say("warmup.faces")).rows(rows)
}

/// The first parts, every fifth, those where good turns to bad or back, the last and the steady one.
fn parts(result: &Warmup) -> Table {
    let columns = vec![
        Column::mixed(say("word.part")),
        Column::words(say("warmup.verdict")),
        Column::numbers(say("word.margin"), Quantity::Difference),
        Column::numbers(say("word.value"), Quantity::Temperature),
        Column::words(say("word.node")),
        Column::words(say("warmup.decided")),
    ];
    let count = result.parts.len();
    let shown = result.parts.iter().enumerate().filter(|(index, part)| {
        let turn = *index > 0 && part.good != result.parts[index - 1].good;
        *index < 5 || index + 1 == count || turn || (index + 1) % 5 == 0
    });
    Table::new(columns)
        .rows(shown.map(|(_, part)| row(part, number(part.number))))
        .rows(
            result
                .steady
                .iter()
                .map(|s| row(&s.part, say("warmup.in_steady").into())),
        )
}

fn row(part: &WarmPart, name: Cell) -> Vec<Cell> {
    let verdict = match part.good {
        true => Cell::Mark(Mark::Ok, say("plan.good")),
        false => Cell::Mark(Mark::Broken, say("warmup.bad")),
    };
    let Some(worst) = &part.worst else {
        let none = say("warmup.no_limit").into();
        return vec![name, verdict, Cell::Empty, Cell::Empty, Cell::Empty, none];
    };
    vec![
        name,
        verdict,
        Cell::number(worst.margin_k, Quantity::Difference).signed().down(),
        temperature(worst.value),
        Cell::name(&worst.node),
        Cell::name(&worst.stage).joined(Joint::Comma, Cell::Moment(worst.moment)),
    ]
}

/// Die faces against the part number: each die when a part comes, with the steady values as the
/// last points and the lowest tempering limit as a line.
pub fn warmup_chart(result: &Warmup, view: &View) -> Drawing {
    let is_die = |die: &DieName| die.tempering_c.is_some();
    let mut series = Vec::new();
    for (i, die) in result.dies.iter().enumerate().filter(|(_, d)| is_die(d)) {
        let points = |get: fn(&DieFace) -> f64| {
            result
                .parts
                .iter()
                .map(|p| {
                    (
                        f64::from(p.number),
                        p.faces.get(i).map(|f| view.display.temperature(get(f))),
                    )
                })
                .collect()
        };
        series.push(Series {
            name: tool(die).whole(view),
            points: points(|f| f.before_c),
            ink: i,
            dots: result.parts.len() <= 60,
            hidden: false,
        });
    }
    let peaks = |part: &WarmPart| {
        part.faces
            .iter()
            .zip(&result.dies)
            .filter(|(_, d)| is_die(d))
            .map(|(f, _)| f.peak_c)
            .fold(f64::NEG_INFINITY, f64::max)
    };
    series.push(Series {
        name: view.say("warmup.hottest").to_owned(),
        points: result
            .parts
            .iter()
            .map(|p| (f64::from(p.number), Some(view.display.temperature(peaks(p)))))
            .collect(),
        ink: result.dies.len(),
        dots: false,
        hidden: false,
    });
    let tempering = result
        .dies
        .iter()
        .filter_map(|d| d.tempering_c)
        .fold(f64::INFINITY, f64::min);
    let mut rules = Vec::new();
    if tempering.is_finite() {
        rules.push(Rule {
            value: view.display.temperature(tempering),
            upright: false,
            label: view.say("warmup.tempering_limit").to_owned(),
        });
    }
    if let Some(first) = result.first_good.filter(|n| *n > 1) {
        rules.push(Rule {
            value: f64::from(first),
            upright: true,
            label: Cell::from(say("warmup.first_rule").with("part", number(first))).whole(view),
        });
    }
    LineChart {
        title: Cell::from(say("warmup.chart").with("title", Cell::name(&result.title))).whole(view),
        x: Axis::new(view.say("word.part"), ""),
        y: Axis::new(view.say("warmup.temperature"), view.temperature_unit()),
        series,
        rules,
        ..LineChart::default()
    }
    .draw(&view.style())
}

/// One row a part: number, verdict, margin, then four temperatures a tool, degC.
///
/// # Errors
/// Text that cannot be encoded.
pub fn warmup_csv(result: &Warmup) -> Result<String, ReportError> {
    let mut header = vec!["part".to_owned(), "good".to_owned(), "margin_k".to_owned()];
    for die in &result.dies {
        for what in ["before_c", "before_hottest_c", "peak_c", "after_c"] {
            header.push(format!("{}.{}.{what}", die.stage, die.body));
        }
    }
    let rows = result.parts.iter().map(|part| {
        let margin = part.worst.as_ref().map(|w| format!("{:.2}", w.margin_k));
        let mut row = vec![
            part.number.to_string(),
            part.good.to_string(),
            margin.unwrap_or_default(),
        ];
        for face in &part.faces {
            let values = [face.before_c, face.before_hottest_c, face.peak_c, face.after_c];
            row.extend(values.map(|value| format!("{value:.2}")));
        }
        row
    });
    write_rows(std::iter::once(header).chain(rows))
}
