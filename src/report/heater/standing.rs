//! The stops of a row of coils, and how long a hold may last.

use super::{course, kind, numbers, powers, temperature, way};
use crate::ask::heating::{CoilAnswer, Stop};
use crate::heater::energy::EventKind;
use crate::heater::line::{Criteria, HeaterLine, HoldTime, Verdict};
use crate::show::{Block, Cell, Column, Quantity, Table, Text, say};

/// The stops, what the heater does in them, and how long a hold may last.
pub(super) fn standing(answer: &CoilAnswer, line: &HeaterLine) -> Vec<Block> {
    if answer.stops.is_empty() {
        return Vec::new();
    }
    let mut blocks = vec![
        Block::Table(stops(&answer.stops)),
        Block::sentence(
            say("heat.hold_note")
                .with("powers", powers(&answer.hold_w))
                .with("terminals", powers(&answer.hold_terminals_w)),
        ),
    ];
    if let Some((stop, takt_s)) = answer.stops.iter().find_map(|s| s.takt_s.map(|t| (s, t))) {
        let text = say("heat.run_on_note")
            .with("powers", powers(&stop.powers_w))
            .with("takt", Cell::number(takt_s, Quantity::Seconds));
        blocks.push(Block::sentence(text));
    }
    if let Some(time) = &answer.lasting {
        blocks.push(Block::sentence(lasting(time, &answer.criteria)));
        blocks.push(Block::sentence(restart(time, &answer.criteria)));
    }
    for stop in &answer.stops {
        let caption = say("heat.steps_restart").with("stop", kind(EventKind::Stop(stop.seconds, stop.way)));
        blocks.extend(course(
            &stop.restart,
            line,
            (stop.seconds, answer.criteria.never_above_c),
            caption,
        ));
    }
    blocks
}

fn stops(stops: &[Stop]) -> Table {
    let columns = vec![
        Column::numbers(say("heat.stop"), Quantity::Seconds),
        Column::words(say("heat.mode")),
        Column::numbers(say("heat.set_aside"), Quantity::Count),
        Column::numbers(say("heat.rejected"), Quantity::Count),
        Column::words(say("cause.too_cold")),
        Column::words(say("cause.too_hot")),
        Column::words(say("cause.too_uneven")),
        Column::numbers(say("heat.good_from"), Quantity::Count),
        Column::numbers(say("zone.hottest"), Quantity::Temperature),
    ];
    let rows = stops.iter().map(|s| {
        vec![
            Cell::number(s.seconds, Quantity::Seconds),
            way(s.way).into(),
            Cell::count(s.pushed_out()),
            Cell::count(s.rejected_after()),
            numbers(s.study(), Verdict::TooCold),
            numbers(s.study(), Verdict::TooHot),
            numbers(s.study(), Verdict::Uneven),
            s.study().first_good.map_or(say("heat.none").into(), Cell::count),
            temperature(s.study().peak_c).up(),
        ]
    });
    Table::new(columns).caption(say("heat.stops")).rows(rows)
}

/// A time of a hold, or more than was looked at.
fn held(seconds: Option<f64>, looked_s: f64) -> Cell {
    match seconds {
        Some(s) => Cell::number(s, Quantity::Seconds).down(),
        None => say("heat.more_than")
            .with("time", Cell::number(looked_s, Quantity::Seconds))
            .into(),
    }
}

fn lasting(time: &HoldTime, criteria: &Criteria) -> Text {
    say("heat.lasting")
        .with("hot", held(time.until_hot_s, time.looked_s))
        .with("limit", temperature(criteria.never_above_c))
        .with("cold", held(time.until_cold_s, time.looked_s))
}

/// How long the hold may last for what comes after it.
fn restart(time: &HoldTime, criteria: &Criteria) -> Text {
    say("heat.restart")
        .with("limit", temperature(criteria.never_above_c))
        .with("hot", held(time.until_restart_hot_s, time.looked_s))
        .with("rejects", held(time.until_rejects_s, time.looked_s))
}
