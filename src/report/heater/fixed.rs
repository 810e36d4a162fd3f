//! What a static coil does.

use super::{after, miss, pictures, spent, temperature};
use crate::heater::energy::Spent;
use crate::heater::fixed::{Charge, FixedCoil, FixedResult, PowerPoint, PowerStep};
use crate::heater::line::Exit;
use crate::heater::scaling::SCALING_C;
use crate::line::plan::StaticCoil;
use crate::show::{Block, Cell, Column, NoteKind, Quantity, Table, View, say};

/// What a static coil does.
pub fn static_coil(result: &FixedResult, set: &FixedCoil, heater: &StaticCoil) -> Vec<Block> {
    let exit = &result.exit;
    let seconds = set.steps.iter().map(|s| s.seconds).sum();
    let state = after(seconds, (exit.surface_c, exit.core_c, exit.mean_c));
    let above = say("heat.above")
        .with("t", temperature(SCALING_C))
        .with("time", Cell::number(exit.scaling_s, Quantity::Seconds));
    let mut blocks = vec![
        Block::sentence(state),
        Block::sentence(say("heat.peak").with("peak", temperature(exit.peak_c).up())),
        Block::Table(steps(&set.steps, result)),
        Block::Table(charge(&result.charge, heater.supply_efficiency)),
        Block::sentence(above),
    ];
    let missed = heater.missed(result);
    if heater.goal.is_some() && missed.is_empty() {
        blocks.insert(0, Block::sentence(say("heat.met")));
    }
    if !missed.is_empty() {
        let why = Cell::List(missed.iter().map(|m| miss(m).into()).collect());
        let text = say("heat.missed").with("why", why);
        blocks.push(Block::Note(NoteKind::Caution, text.into()));
    }
    if let Some(never) = too_hot(exit, heater) {
        let text = say("heat.burnt")
            .with("limit", temperature(never))
            .with("over", Cell::number(exit.peak_c - never, Quantity::Difference).up());
        blocks.push(Block::Note(NoteKind::Caution, text.into()));
    }
    if let Some(allowed) = too_uneven(exit, heater) {
        let apart = (exit.surface_c - exit.core_c).abs();
        let text = say("heat.miss_uneven")
            .with("value", Cell::number(apart, Quantity::Difference).up())
            .with("wanted", Cell::number(allowed, Quantity::Difference));
        blocks.push(Block::Note(NoteKind::Caution, text.into()));
    }
    blocks
}

/// The never-exceed temperature that a billet of a static coil passes, degC.
pub fn too_hot(exit: &Exit, heater: &StaticCoil) -> Option<f64> {
    heater.never_above_c.filter(|never| exit.peak_c > *never)
}

/// The allowed difference of surface and core that a billet of a static coil passes, K.
pub fn too_uneven(exit: &Exit, heater: &StaticCoil) -> Option<f64> {
    let apart = (exit.surface_c - exit.core_c).abs();
    heater.difference_k.filter(|allowed| apart > *allowed)
}

/// The steps of the power with the mean powers and the temperatures at their ends.
fn steps(steps: &[PowerStep], result: &FixedResult) -> Table {
    let columns = vec![
        Column::numbers(say("heat.step"), Quantity::Count),
        Column::numbers(say("heat.until"), Quantity::Seconds),
        Column::numbers(say("heating.power"), Quantity::Power),
        Column::numbers(say("heating.into_load"), Quantity::Power),
        Column::numbers(say("zone.surface"), Quantity::Temperature),
        Column::numbers(say("zone.core"), Quantity::Temperature),
        Column::numbers(say("zone.mean"), Quantity::Temperature),
    ];
    let mut until = 0.0;
    let rows = steps.iter().enumerate().filter_map(|(index, step)| {
        let from = until;
        until += step.seconds;
        let to = until;
        let inside = |t: f64| t > from + 1e-9 && t <= to + 1e-9;
        let powers: Vec<_> = result.powers.iter().filter(|p| inside(p.time_s)).collect();
        let mean = |f: fn(&PowerPoint) -> f64| powers.iter().map(|p| f(p)).sum::<f64>() / powers.len().max(1) as f64;
        let end = result.track.iter().rfind(|p| inside(p.time_s))?;
        Some(vec![
            Cell::count(index + 1),
            Cell::number(to, Quantity::Seconds),
            Cell::number(mean(|p| p.terminals_w), Quantity::Power),
            Cell::number(mean(|p| p.load_w), Quantity::Power),
            temperature(end.surface_c),
            temperature(end.core_c),
            temperature(end.mean_c),
        ])
    });
    Table::new(columns).rows(rows)
}

/// Where the energy of a charge goes.
fn charge(charge: &Charge, supply: f64) -> Table {
    let mains = charge.terminals_j / supply;
    let columns = vec![
        Column::words(say("word.energy")),
        Column::numbers(Cell::Empty, Quantity::Energy),
        Column::numbers(Cell::Empty, Quantity::EnergyPerTonne),
        Column::numbers(Cell::Empty, Quantity::Share),
    ];
    let rows = [
        (Spent::Mains, mains),
        (Spent::Supply, mains - charge.terminals_j),
        (Spent::Windings, charge.winding_j),
        (Spent::Linings, charge.lining_j),
        (Spent::Open, charge.ends_j),
        (Spent::Steel, charge.steel_j),
    ]
    .map(|(of, joules)| {
        vec![
            spent(of).into(),
            Cell::number(joules, Quantity::Energy),
            Cell::number(joules / charge.mass_kg, Quantity::EnergyPerTonne),
            Cell::number(joules / mains, Quantity::Share),
        ]
    });
    Table::new(columns).rows(rows)
}

/// The section of a report on a static coil: temperatures over time with the steps of the power, and
/// where the energy goes.
pub fn static_section(result: &FixedResult, heater: &StaticCoil, view: &View) -> Vec<Block> {
    vec![
        pictures::static_coil(result, heater.set.start_c, view).into(),
        Block::Table(charge(&result.charge, heater.supply_efficiency)),
    ]
}
