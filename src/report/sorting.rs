//! Sorting limits: bands of readings for stated risks, by reading alone and by the margin of the model.

use super::measured::{assumed, bad_rows, joins};
use crate::measured::{BadRow, Bench, Choice, Gate, Sorting};
use crate::picture::{Axis, Drawing, LineChart, Series};
use crate::show::{Block, Cell, Column, NoteKind, Quantity, Table, View, say};

/// The whole answer.
pub fn blocks(title: &str, bench: &Bench, found: &Sorting, cost: f64, view: &View) -> Vec<Block> {
    let summary = say("sort.summary")
        .with("mean", Cell::number(found.exit.0, Quantity::Temperature))
        .with("sd", Cell::number(found.exit.1, Quantity::Difference))
        .with("bad", Cell::number(found.bad, Quantity::Probability))
        .count(found.samples);
    let mut blocks = vec![Block::heading(Cell::name(title)), Block::sentence(summary)];
    blocks.extend(found.breaks.iter().take(3).map(|(limit, share)| {
        let text = say("sort.breaks")
            .with("limit", Cell::name(limit))
            .with("share", Cell::number(*share, Quantity::Probability));
        Block::sentence(text)
    }));
    if !found.left_out.is_empty() {
        let text = say("sort.left_out").count(found.left_out.len());
        blocks.push(Block::Note(NoteKind::Caution, text.into()));
    }
    for gate in &found.gates {
        blocks.extend(of_gate(gate, cost, view));
    }
    let error = say("sort.error")
        .with("error", Cell::number(found.error_k, Quantity::Effect).up())
        .count(found.runs);
    blocks.push(Block::Note(NoteKind::Remark, error.into()));
    blocks.extend(assumed(bench));
    blocks.extend(joins(bench));
    let rows: Vec<BadRow> = bench.bad.iter().chain(&found.left_out).cloned().collect();
    blocks.extend(bad_rows(&rows));
    blocks
}

fn probability(p: f64) -> Cell {
    Cell::number(p, Quantity::Probability)
}

fn band(choice: &Choice) -> Cell {
    if choice.accept.0.is_infinite() && choice.accept.1.is_infinite() {
        return say("sort.any").into();
    }
    let end = |value: f64| Some(value).filter(|value| value.is_finite());
    Cell::Interval {
        low: end(choice.accept.0),
        high: end(choice.accept.1),
        quantity: Quantity::Temperature,
        allowed: true,
    }
}

fn of_gate(gate: &Gate, cost: f64, view: &View) -> Vec<Block> {
    let head = say("sort.gate")
        .with("name", Cell::name(&gate.name))
        .with("sd", Cell::number(gate.error_k.0, Quantity::Difference))
        .with("bias", Cell::number(gate.error_k.1, Quantity::Difference));
    let columns = vec![
        Column::mixed(say("sort.risk")),
        Column::mixed(say("sort.band")),
        Column::mixed(say("sort.accepts")),
        Column::mixed(say("sort.rejects")),
        Column::numbers(say("sort.margin"), Quantity::Difference),
        Column::mixed(say("sort.model_rejects")),
    ];
    let rows = gate.by_model.iter().map(|model| {
        let plain = gate.bands.iter().find(|b| b.asked == model.asked);
        let margin = Some(model.accept.0).filter(|m| m.is_finite());
        vec![
            probability(model.asked),
            plain.map_or(say("sort.none").into(), band),
            plain.map_or(Cell::Empty, |b| probability(b.false_accept)),
            plain.map_or(Cell::Empty, |b| probability(b.false_reject)),
            margin.map_or(Cell::Empty, |m| Cell::number(m, Quantity::Difference).up().signed()),
            probability(model.false_reject),
        ]
    });
    let mut blocks = vec![Block::Table(
        Table::new(columns).rows(rows).caption(head).note(say("sort.note")),
    )];
    let priced = Cell::number(cost, Quantity::Plain);
    blocks.push(Block::sentence(match &gate.cheapest {
        Some(c) => say("sort.cheapest")
            .with("cost", priced)
            .with("band", band(c))
            .with("accepts", probability(c.false_accept))
            .with("rejects", probability(c.false_reject)),
        None => say("sort.useless").with("cost", priced),
    }));
    blocks.extend(picture(gate, cost, view).map(Block::from));
    blocks.extend(gate.best_setting.map(|set| {
        let text = say("sort.setting").with("set", Cell::number(set, Quantity::Ratio));
        Block::sentence(text)
    }));
    let less = gate.half_spot_k.zip(gate.loose_scale_k);
    blocks.extend(less.map(|(half, loose)| {
        let text = say("sort.spot")
            .with("half", Cell::number(-half, Quantity::Difference))
            .with("loose", Cell::number(-loose, Quantity::Difference));
        Block::sentence(text)
    }));
    blocks
}

/// Cost over the lower edge of the band, with the best upper edge of each.
fn picture(gate: &Gate, cost: f64, view: &View) -> Option<Drawing> {
    let mut edges: Vec<(f64, f64, f64)> = Vec::new();
    for choice in gate.grid.iter().filter(|c| c.accept.0.is_finite()) {
        let (rejects, accepts) = (choice.false_reject, choice.false_accept);
        match edges.last_mut() {
            Some(last) if last.0 == choice.accept.0 => {
                if rejects + cost * accepts < last.1 + cost * last.2 {
                    *last = (choice.accept.0, rejects, accepts);
                }
            }
            _ => edges.push((choice.accept.0, rejects, accepts)),
        }
    }
    if edges.len() < 3 {
        return None;
    }
    let series = |name: &str, ink: usize, of: &dyn Fn(&(f64, f64, f64)) -> f64| Series {
        name: view.say(name).to_owned(),
        points: edges
            .iter()
            .map(|e| (view.display.temperature(e.0), Some(100.0 * of(e))))
            .collect(),
        ink,
        ..Series::default()
    };
    let chart = LineChart {
        title: format!("{} \u{2013} {}", gate.name, view.say("sort.picture")),
        x: Axis::new(view.say("sort.lower_edge"), view.display.temperature_unit()),
        y: Axis::new(view.say("sort.share"), "%"),
        series: vec![series("sort.rejects", 0, &|e| e.1), series("sort.accepts", 1, &|e| e.2)],
        ..LineChart::default()
    };
    Some(chart.draw(&view.style()))
}
