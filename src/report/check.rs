//! What the program takes from a line file: billet, heater, stages, limits.

use std::path::Path;

use super::verdict::limit_stage;
use crate::line::plan::{CoilLine, Heater, Plan, Section, StartField};
use crate::line::run::Need;
use crate::line::trace::Owner;
use crate::show::{Block, Cell, Column, Joint, Quantity, Table, Text, nodes, say};

/// The answer for a file that is right.
pub fn blocks(plan: &Plan, path: &Path) -> Vec<Block> {
    let right = say("check.right")
        .with("file", Cell::name(path.display().to_string()))
        .with("title", Cell::name(&plan.title));
    let defaults = plan.inputs.iter().filter(|input| input.owner == Owner::Default).count();
    let inputs = say("check.inputs")
        .count(plan.inputs.len())
        .with("defaults", Cell::count(defaults))
        .with("option", Cell::name("--show-defaults"));
    vec![
        Block::sentence(right),
        Block::Table(facts(plan)),
        Block::Table(stages(plan)),
        Block::Table(limits(plan)),
        Block::sentence(inputs),
        Block::sentence(need(plan)),
    ]
}

/// What a run takes, so that nobody waits for one that was too much.
fn need(plan: &Plan) -> Text {
    let need = Need::of(plan, plan.resolution);
    let whole = |value: f64| Cell::count(value.ceil() as usize);
    say("check.need")
        .with("cells", whole(need.cells))
        .with("steps", whole(need.steps))
        .with("memory", whole(need.memory_mb))
        .with("time", Cell::number(need.seconds, Quantity::Seconds))
}

fn facts(plan: &Plan) -> Table {
    let mass = plan.piece.volume_m3() * plan.metal.density_kg_m3.value;
    let mut rows = vec![
        vec![say("word.steel").into(), Cell::name(&plan.metal.name)],
        vec![say("check.billet").into(), size(plan)],
    ];
    if plan.piece.length_m.is_some() {
        rows.push(vec![say("word.mass").into(), Cell::number(mass, Quantity::Mass)]);
    }
    rows.push(vec![say("word.resolution").into(), Cell::name(plan.resolution.word())]);
    rows.extend(
        heater(&plan.heater)
            .into_iter()
            .map(|(name, value)| vec![name.into(), value]),
    );
    Table::new(vec![Column::words(say("word.what")), Column::words(say("word.value"))]).rows(rows)
}

/// Section and length, with the signs of drawings.
fn size(plan: &Plan) -> Cell {
    let length = |m: f64| Cell::number(m, Quantity::Length);
    let sign = |sign: &str, m: f64| Cell::name(sign).joined(Joint::Space, length(m));
    let section = match plan.piece.section {
        Section::Round { radius_m } => sign("\u{d8}", 2.0 * radius_m),
        Section::Square { side_m } => sign("\u{25a1}", side_m),
        Section::Rectangle { width_m, height_m } => length(width_m).joined(Joint::Times, length(height_m)),
        Section::Plate { thickness_m } => say("check.plate").with("t", length(thickness_m)).into(),
    };
    match plan.piece.length_m {
        Some(metres) => section.joined(Joint::Times, length(metres)),
        None => section.joined(Joint::Comma, say("check.long")),
    }
}

fn heater(heater: &Heater) -> Vec<(Text, Cell)> {
    let temperature = |c: f64| Cell::number(c, Quantity::Temperature);
    let kind = |text: Text| (say("term.heater"), Cell::from(text));
    let seconds = |s: f64| (say("set.heater.seconds"), Cell::number(s, Quantity::Seconds));
    match heater {
        Heater::Measured(StartField::Uniform { temp_c }) => vec![
            kind(say("check.measured")),
            (say("set.heater.temperature_c"), temperature(*temp_c)),
        ],
        Heater::Measured(StartField::Parabolic { surface_c, core_c }) => vec![
            kind(say("check.measured")),
            (say("set.heater.surface_c"), temperature(*surface_c)),
            (say("set.heater.core_c"), temperature(*core_c)),
        ],
        Heater::Measured(StartField::Along(places)) => vec![kind(say("check.along").count(places.len()))],
        Heater::Measured(StartField::Sections(places)) => vec![kind(say("check.along").count(places.len()))],
        Heater::Measured(StartField::Points(points)) => vec![kind(say("check.across").count(points.len()))],
        Heater::CoilLine(coils) => coil_line(coils),
        Heater::StaticCoil(coil) => vec![
            kind(say("check.static_coil")),
            (
                say("heating.frequency"),
                Cell::number(coil.set.coil.frequency_hz, Quantity::Frequency),
            ),
            match coil.set.steps.iter().map(|s| s.seconds).sum::<f64>() {
                0.0 => (say("heating.power"), say("check.to_find").into()),
                total_s => seconds(total_s),
            },
        ],
        Heater::Furnace {
            furnace_c, seconds: s, ..
        } => vec![
            kind(say("term.furnace")),
            (say("set.heater.temperature_c"), temperature(*furnace_c)),
            seconds(*s),
        ],
    }
}

fn coil_line(coils: &CoilLine) -> Vec<(Text, Cell)> {
    let line = &coils.line;
    let powers = say(if coils.is_set() { "owner.given" } else { "check.to_find" });
    let length = Cell::number(line.length_m(), Quantity::Place);
    vec![
        (
            say("term.heater"),
            say("check.coils")
                .count(coils.line.coils().count())
                .with("length", length)
                .into(),
        ),
        (
            say("check.inside"),
            Cell::count((line.length_m() / line.billet_m).round() as usize),
        ),
        (say("set.shop.takt_s"), Cell::number(line.takt_s, Quantity::Seconds)),
        (say("heating.power"), powers.into()),
    ]
}

fn stages(plan: &Plan) -> Table {
    let columns = vec![
        Column::words(say("word.stage")),
        Column::words(say("check.kind")),
        Column::numbers(say("check.start"), Quantity::Phase),
        Column::numbers(say("check.length"), Quantity::Phase),
    ];
    let mut at = 0.0;
    let rows = plan.stages.iter().map(|stage| {
        let start = at;
        at += stage.seconds();
        vec![
            Cell::name(&stage.name),
            Cell::name(stage.kind.kind().to_string()),
            Cell::number(start, Quantity::Phase),
            Cell::number(stage.seconds(), Quantity::Phase),
        ]
    });
    Table::new(columns).rows(rows)
}

fn limits(plan: &Plan) -> Table {
    let columns = vec![
        Column::mixed(say("word.limit")),
        Column::words(say("word.stage")),
        Column::words(say("word.moment")),
        Column::words(say("word.node")),
        Column::words(say("word.source")),
    ];
    let rows = plan.limits.iter().map(|limit| {
        vec![
            limit.bound.into(),
            limit_stage(limit),
            Cell::Moment(limit.moment),
            nodes(limit),
            Cell::name(&limit.source),
        ]
    });
    Table::new(columns).rows(rows)
}
