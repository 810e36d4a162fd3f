//! Measurements beside runs: tables by place, pictures over time, rows with something wrong, how logs were joined.

use crate::line::Trace;
use crate::measured::{BadRow, Bench, Comparison, Deviation, Join, JoinedBy, What};
use crate::picture::{Axis, Drawing, LineChart, Series};
use crate::report::history::{Span, history_chart};
use crate::show::{Block, Cell, Column, NoteKind, Quantity, Table, View, say};

/// Rows of the longest list of bad rows on a screen; JSON has all.
const MOST_ROWS: usize = 40;
/// Parts farthest off that are listed.
const FARTHEST: usize = 10;

/// The comparison of a line: `trace` is its planned run.
pub fn blocks(bench: &Bench, found: &Comparison, trace: &Trace, view: &View) -> Vec<Block> {
    let mut blocks = vec![Block::heading(Cell::name(&trace.title))];
    blocks.extend(section(bench, found, trace, view));
    blocks
}

/// The same without the title, for a report.
pub fn section(bench: &Bench, found: &Comparison, trace: &Trace, view: &View) -> Vec<Block> {
    let text = say("measured.summary")
        .count(found.readings.len())
        .with("parts", Cell::count(found.parts.0))
        .with("all", Cell::count(found.parts.1));
    let mut blocks = vec![Block::sentence(text), Block::Table(places(bench, found))];
    blocks.extend(overlay(bench, found, trace, view).map(Block::from));
    blocks.extend(over_parts(bench, found, view).map(Block::from));
    blocks.push(Block::Table(farthest(bench, found)));
    blocks.extend(assumed(bench));
    blocks.extend(joins(bench));
    blocks.extend(bad_rows(&bench.bad));
    blocks
}

/// What deviations of a measurement are shown as: kelvin of temperatures, their own unit of meters.
pub(super) fn deviation(bench: &Bench, name: &str) -> Quantity {
    let is_temperature = |m: &crate::measured::Measurement| m.name == name && m.at().is_some();
    match bench.given.measurements.iter().any(is_temperature) {
        true => Quantity::Difference,
        false => Quantity::Plain,
    }
}

fn kelvin(value: f64) -> Cell {
    Cell::number(value, Quantity::Difference).signed()
}

fn places(bench: &Bench, found: &Comparison) -> Table {
    let columns = vec![
        Column::words(say("measured.name")),
        Column::words(say("measured.place")),
        Column::numbers(say("measured.readings"), Quantity::Count),
        Column::numbers(say("measured.mean"), Quantity::Difference),
        Column::numbers(say("measured.median"), Quantity::Difference),
        Column::numbers(say("measured.sd"), Quantity::Difference),
        Column::numbers(say("measured.known"), Quantity::Difference),
        Column::numbers(say("measured.in_sd"), Quantity::Factor),
    ];
    let rows = found.places.iter().map(|p| {
        let of = |value: f64| Cell::number(value, deviation(bench, &p.name));
        vec![
            Cell::name(&p.name),
            Cell::name(&p.place),
            Cell::count(p.readings),
            of(p.mean_k).signed(),
            of(p.median_k).signed(),
            of(p.sd_k),
            of(p.known_k),
            Cell::number(p.mean_sd, Quantity::Factor).signed(),
        ]
    });
    Table::new(columns).rows(rows).note(say("measured.note"))
}

fn farthest(bench: &Bench, found: &Comparison) -> Table {
    let is_temperature = |d: &&Deviation| bench.given.measurements[d.measurement].at().is_some();
    let mut order: Vec<&Deviation> = found.readings.iter().filter(is_temperature).collect();
    let median = |m: usize| {
        let name = &bench.given.measurements[m].name;
        found
            .places
            .iter()
            .find(|p| p.name == *name)
            .map_or(0.0, |p| p.median_k)
    };
    order.sort_by(|a, b| {
        let off = |d: &Deviation| (d.off_k - median(d.measurement)).abs();
        off(b).total_cmp(&off(a))
    });
    let columns = vec![
        Column::words(say("measured.name")),
        Column::words(say("word.part")),
        Column::numbers(say("decide.line"), Quantity::Count),
        Column::numbers(say("word.time"), Quantity::Seconds),
        Column::numbers(say("measured.read"), Quantity::Temperature),
        Column::numbers(say("measured.shown"), Quantity::Temperature),
        Column::numbers(say("measured.off"), Quantity::Difference),
        Column::numbers(say("measured.in_sd"), Quantity::Factor),
    ];
    let rows = order.iter().take(FARTHEST).map(|d| {
        vec![
            Cell::name(&bench.given.measurements[d.measurement].name),
            Cell::name(&d.part),
            Cell::count(d.line),
            Cell::number(d.time_s, Quantity::Seconds),
            Cell::number(d.read_c, Quantity::Temperature),
            Cell::number(d.shown_c, Quantity::Temperature),
            kelvin(d.off_k),
            Cell::number(d.off_sd, Quantity::Factor).signed(),
        ]
    });
    Table::new(columns).rows(rows).caption(say("measured.farthest"))
}

/// The planned run with what was read, over time.
fn overlay(bench: &Bench, found: &Comparison, trace: &Trace, view: &View) -> Option<Drawing> {
    let of_line = |d: &&Deviation| {
        let m = &bench.given.measurements[d.measurement];
        m.line.is_none() && m.at().is_some()
    };
    let mut chart = history_chart(trace, view, Span::Whole);
    chart.title = view.say("measured.title").to_owned();
    let count = chart.series.len();
    for (m, measurement) in bench.given.measurements.iter().enumerate() {
        let points: Vec<(f64, Option<f64>)> = found
            .readings
            .iter()
            .filter(of_line)
            .filter(|d| d.measurement == m)
            .take(400)
            .flat_map(|d| [(d.time_s, Some(view.display.temperature(d.read_c))), (d.time_s, None)])
            .collect();
        if !points.is_empty() {
            chart.series.push(Series {
                name: measurement.name.clone(),
                points,
                ink: count + m,
                dots: true,
                hidden: false,
            });
        }
    }
    (chart.series.len() > count && !trace.samples.is_empty()).then(|| chart.draw(&view.style()))
}

/// Deviations of the parts one after the other.
fn over_parts(bench: &Bench, found: &Comparison, view: &View) -> Option<Drawing> {
    let mut series = Vec::new();
    for (m, measurement) in bench.given.measurements.iter().enumerate() {
        let of = found.readings.iter().filter(|d| d.measurement == m);
        let curve = matches!(measurement.what, What::Curve(_)) || measurement.at().is_none();
        let points: Vec<(f64, Option<f64>)> = of
            .enumerate()
            .map(|(k, d)| ((k + 1) as f64, Some(view.display.difference(d.off_k))))
            .collect();
        if points.len() > 2 && !curve {
            series.push(Series {
                name: measurement.name.clone(),
                points,
                ink: m,
                dots: true,
                hidden: false,
            });
        }
    }
    if series.is_empty() {
        return None;
    }
    let chart = LineChart {
        title: view.say("measured.over_parts").to_owned(),
        x: Axis::new(view.say("word.part"), ""),
        y: Axis::new(view.say("measured.off"), view.display.difference_unit()),
        series,
        ..LineChart::default()
    };
    Some(chart.draw(&view.style()))
}

/// How logs were joined, and how many cells had no value.
pub fn joins(bench: &Bench) -> Vec<Block> {
    let mut blocks = Vec::new();
    for trial in &bench.trials {
        blocks.extend(trial.joins.iter().map(join));
        let missing = trial.missing.iter().filter(|(_, count)| *count > 0);
        blocks.extend(missing.map(|(m, count)| {
            let text = say("measured.missing").with("name", Cell::name(&bench.given.measurements[*m].name));
            Block::Note(NoteKind::Remark, text.count(*count).into())
        }));
    }
    let usual = bench.with_usual_seconds();
    if usual > 0 {
        let text = say("measured.usual_seconds").count(usual);
        blocks.push(Block::Note(NoteKind::Warning, text.into()));
    }
    blocks
}

/// What is assumed of scatter that is not stated.
pub(super) fn assumed(bench: &Bench) -> Vec<Block> {
    let note = |(name, sd): (&str, f64)| {
        let text = say("measured.assumed")
            .with("name", Cell::name(name))
            .with("sd", Cell::number(sd, deviation(bench, name)));
        Block::Note(NoteKind::Remark, text.into())
    };
    bench.assumed_scatter().into_iter().map(note).collect()
}

fn join(join: &Join) -> Block {
    let by: Cell = match &join.by {
        JoinedBy::Name => say("measured.by_name").into(),
        JoinedBy::Order => say("measured.by_order").into(),
        JoinedBy::Clock(offset) if offset.given => say("measured.by_given_clock")
            .with("offset", Cell::number(offset.seconds, Quantity::Seconds).signed())
            .into(),
        JoinedBy::Clock(offset) => say("measured.by_clock")
            .with("offset", Cell::number(offset.seconds, Quantity::Seconds).signed())
            .with("sd", Cell::number(offset.sd_s, Quantity::Phase))
            .with(
                "other",
                offset
                    .second_best
                    .map_or(Cell::Empty, |(s, _)| Cell::number(s, Quantity::Seconds).signed()),
            )
            .with("count", offset.second_best.map_or(Cell::Empty, |(_, n)| Cell::count(n)))
            .into(),
    };
    let text = say("measured.joined")
        .with("file", Cell::name(&join.file))
        .with("rows", Cell::count(join.rows))
        .with("by", by)
        .count(join.joined);
    Block::Note(NoteKind::Remark, text.into())
}

/// Rows that are not used.
pub fn bad_rows(bad: &[BadRow]) -> Option<Block> {
    if bad.is_empty() {
        return None;
    }
    let columns = vec![
        Column::words(say("measured.file")),
        Column::numbers(say("decide.line"), Quantity::Count),
        Column::words(say("measured.name")),
        Column::words(say("decide.why")),
    ];
    let rows = bad.iter().take(MOST_ROWS).map(|row| {
        let line = if row.line > 0 {
            Cell::count(row.line)
        } else {
            Cell::Empty
        };
        vec![
            Cell::name(&row.file),
            line,
            Cell::name(&row.measurement),
            Cell::name(&row.reason),
        ]
    });
    let table = Table::new(columns)
        .rows(rows)
        .caption(say("measured.bad").count(bad.len()));
    Some(Block::Table(table))
}
