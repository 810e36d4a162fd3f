//! The electrical side of a row of coils: converters, limits, cooling water, other frequencies.

use super::{kind, temperature};
use crate::ask::heating::{CoilAnswer, ConverterState, Electrics, Frequencies, Overload, When};
use crate::heater::energy::EventKind;
use crate::heater::line::HeaterLine;
use crate::heater::ratings::{Rated, Rating};
use crate::show::{Block, Cell, Column, Joint, NoteKind, Quantity, Table, Text, say};
use crate::units::Display;

/// Converters, what is passed or reached, and water.
pub(super) fn electrics(answer: &CoilAnswer, line: &HeaterLine) -> Vec<Block> {
    let electrics = &answer.electrics;
    let mut blocks = Vec::new();
    if !electrics.converters.is_empty() {
        let names = line.channels().iter().map(|c| Cell::name(&c.name)).collect();
        blocks.push(Block::sentence(say("heat.order").with("names", Cell::List(names))));
    }
    let passed = answer.overloads.iter().map(overload);
    blocks.extend(passed.map(|text| Block::Note(NoteKind::Caution, text.into())));
    blocks.extend(settled(electrics));
    blocks
}

/// Converters, limits reached and water of a settled line.
pub(super) fn settled(electrics: &Electrics) -> Vec<Block> {
    let mut blocks = Vec::new();
    if !electrics.converters.is_empty() {
        blocks.push(Block::Table(converters(electrics)));
    }
    blocks.extend(
        electrics
            .binding
            .iter()
            .map(|r| Block::sentence(against(say("heat.binds"), r, r.value.min(r.limit)))),
    );
    blocks.push(Block::Table(water(electrics)));
    blocks
}

/// Power of a converter, with its voltage where its coils have one in common.
pub(super) fn setting(converter: &ConverterState) -> (Cell, Cell) {
    let power = Cell::number(converter.reading.power_w, Quantity::Power);
    let value = match converter.parallel {
        true => power.joined(Joint::Comma, Cell::number(converter.reading.volts, Quantity::Voltage)),
        false => power,
    };
    (Cell::name(&converter.name), value)
}

fn overload(overload: &Overload) -> Text {
    let when = match overload.when {
        When::Settled => say("heat.in_steady_work"),
        When::Start => kind(EventKind::StartUp),
        When::Empty => say("heat.as_it_fills"),
        When::RunOut => say("heat.as_it_empties"),
        When::Pace => say("heat.on_the_way"),
        When::Next => say("heat.change_order"),
        When::Warm => say("heat.one_warm"),
        When::Stop { seconds, way } => kind(EventKind::Stop(seconds, way)),
    };
    let rating = &overload.rating;
    against(say("heat.passed"), rating, rating.value).with("when", when)
}

/// A reading beside its limit, into a text. As the tables have it; rounded up only where it would look like the limit.
fn against(text: Text, rating: &Rating, shown: f64) -> Text {
    let quantity = match rating.what {
        Rated::Power => Quantity::Power,
        Rated::Voltage => Quantity::Voltage,
        Rated::Current => Quantity::Current,
        Rated::Reactive => Quantity::Reactive,
    };
    let value = Cell::number(shown, quantity);
    // These have one unit everywhere.
    let step = 10f64.powi(quantity.decimals(Display::Metric) as i32);
    let in_steps = |value: f64| (quantity.shown(value, Display::Metric) * step).round();
    let alike = in_steps(shown) <= in_steps(rating.limit);
    let value = match shown > rating.limit && alike {
        true => value.up(),
        false => value,
    };
    text.with("name", Cell::name(&rating.name))
        .with("value", value)
        .with("limit", Cell::number(rating.limit, quantity))
}

fn converters(electrics: &Electrics) -> Table {
    let columns = vec![
        Column::words(say("heat.converter")),
        Column::words(say("heating.coil")),
        Column::numbers(say("heating.frequency"), Quantity::Frequency),
        Column::words(say("heat.division")),
        Column::numbers(say("heating.power"), Quantity::Power),
        Column::numbers(say("heat.voltage"), Quantity::Voltage),
        Column::numbers(say("heat.current"), Quantity::Current),
        Column::numbers(say("heat.reactive"), Quantity::Reactive),
    ];
    let rows = electrics.converters.iter().map(|c| {
        // Coils on voltages of their own have none in common.
        let common = |value: f64, quantity: Quantity| match c.parallel {
            true => Cell::number(value, quantity),
            false => Cell::Empty,
        };
        vec![
            Cell::name(&c.name),
            Cell::List(c.coils.iter().map(Cell::name).collect()),
            Cell::number(c.frequency_hz, Quantity::Frequency),
            say(if c.parallel { "heat.by_voltage" } else { "heat.by_power" }).into(),
            Cell::number(c.reading.power_w, Quantity::Power),
            common(c.reading.volts, Quantity::Voltage),
            common(c.reading.amperes, Quantity::Current),
            Cell::number(c.reading.reactive_var, Quantity::Reactive),
        ]
    });
    Table::new(columns).caption(say("heat.converters")).rows(rows)
}

fn water(electrics: &Electrics) -> Table {
    let columns = vec![
        Column::words(say("heating.coil")),
        Column::numbers(say("heat.into_water"), Quantity::Power),
        Column::numbers(say("heat.flow"), Quantity::Flow),
    ];
    let row = |name: Cell, heat_w: f64, flow: f64| {
        vec![
            name,
            Cell::number(heat_w, Quantity::Power),
            Cell::number(flow, Quantity::Flow).up(),
        ]
    };
    let coils = electrics.water.iter();
    let rows = coils.map(|c| row(Cell::name(&c.name), c.heat_w, c.flow_m3_s));
    let (heat_w, flow) = electrics.all_water();
    let rise = Cell::number(electrics.water_rise_k, Quantity::Difference);
    Table::new(columns)
        .caption(say("heat.water").with("rise", rise))
        .rows(rows)
        .row(row(say("word.sum").into(), heat_w, flow))
}

/// What other frequencies would cost.
pub(super) fn frequencies(frequencies: &Frequencies) -> Table {
    let columns = vec![
        Column::numbers(say("heat.times"), Quantity::Factor),
        Column::numbers(say("heat.even_effect"), Quantity::Difference),
        Column::numbers(say("zone.hottest"), Quantity::Temperature),
        Column::numbers(say("heat.mains"), Quantity::EnergyPerTonne),
        Column::words(Cell::Empty),
    ];
    let rows = frequencies.rows.iter().map(|row| {
        let remark = match (row.met, row.not_given.is_empty()) {
            (_, false) => {
                let names = Cell::List(row.not_given.iter().map(Cell::name).collect());
                say("heat.not_given").with("name", names).into()
            }
            (false, true) => say("heat.out_of_reach").into(),
            (true, true) => Cell::Empty,
        };
        vec![
            Cell::number(row.times, Quantity::Factor),
            Cell::number(row.difference_k, Quantity::Difference),
            temperature(row.peak_c).up(),
            Cell::number(row.mains_j_per_kg, Quantity::EnergyPerTonne),
            remark,
        ]
    });
    let caption = match frequencies.searched {
        true => say("heat.other_searched"),
        false => say("heat.other_scaled"),
    };
    Table::new(columns).caption(caption).rows(rows)
}
