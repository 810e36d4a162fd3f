//! What a heater does: powers, exit state, energy, start-up and stops.

pub mod fixed;
mod order;
mod panel;
pub mod pictures;
mod standing;

use crate::ask::heating::{Cause, CoilAnswer, Effect, Electrics, Pace};
use crate::heater::energy::{EnergyTable, EventCost, EventKind, Spent, StopWay};
use crate::heater::line::{Channel, CoilResult, Converter, Course, HeaterLine, Motion, Steady, Study, Verdict};
use crate::heater::search::{Miss, Missed, Remedy, Status};
use crate::line::plan::CoilLine;
use crate::show::{Block, Cell, Column, Joint, NoteKind, Quantity, Table, Text, View, say};

fn temperature(c: f64) -> Cell {
    Cell::number(c, Quantity::Temperature)
}

/// Powers of the coils in a row.
fn powers(watts: &[f64]) -> Cell {
    let parts = watts.iter().map(|w| Cell::number(*w, Quantity::Power));
    parts
        .reduce(|all, one| all.joined(Joint::Slash, one))
        .unwrap_or(Cell::Empty)
}

/// The answer for a row of coils.
pub fn coil_line(answer: &CoilAnswer, heater: &CoilLine) -> Vec<Block> {
    let mut blocks = vec![
        Block::sentence(status(answer, &heater.line)),
        Block::sentence(exit(&answer.steady, &answer.energy)),
    ];
    blocks.extend(gate(answer));
    blocks.extend(ends(answer, &heater.line));
    blocks.extend(melts(answer));
    if let Some((goal, found)) = heater.goal.zip(answer.found.as_ref()).filter(|(g, _)| g.after_s > 0.0) {
        let (surface, core) = (found.at_target.surface_c, found.at_target.core_c);
        let text = after(goal.after_s, (surface, core, found.at_target.mean_c));
        blocks.push(Block::sentence(text));
    }
    blocks.extend(answer.remedies.iter().map(|one| Block::sentence(remedy(one))));
    blocks.push(Block::Table(coils(&answer.steady)));
    blocks.extend(electrical(&answer.steady).map(Block::Table));
    blocks.extend(panel::electrics(answer, &heater.line));
    blocks.push(Block::Table(energy(&answer.energy)));
    blocks.push(Block::Table(effects(&answer.effects)));
    if !answer.frequencies.rows.is_empty() {
        blocks.push(Block::Table(panel::frequencies(&answer.frequencies)));
    }
    if let Some(advice) = &answer.advice {
        let range = Cell::range(round_hz(advice.low_hz), round_hz(advice.high_hz), Quantity::Frequency);
        blocks.push(Block::sentence(say("heat.band").with("range", range)));
    }
    let (never, line) = (answer.criteria.never_above_c, &heater.line);
    if let Some(start) = &answer.cold {
        blocks.push(Block::sentence(cold_start(&start.study, answer.billet_kg)));
        blocks.extend(course(start, line, (0.0, never), say("heat.steps_start")));
    }
    let (empty, run_out) = match line.converters.iter().any(Converter::is_parallel) {
        true => ("heat.empty_on_voltage", "heat.run_out_on_voltage"),
        false => ("heat.empty", "heat.run_out"),
    };
    for (study, sentence, caption) in [
        (&answer.empty, say(empty), say("heat.empty_powers")),
        (&answer.run_out, say(run_out), say("heat.run_out_powers")),
    ] {
        if let Some(study) = study {
            blocks.push(Block::sentence(came_of(sentence, study)));
            blocks.push(Block::Table(powers_over_time(study, line, caption)));
        }
    }
    if let Some(pace) = &answer.pace {
        blocks.push(Block::sentence(new_pace(pace)));
        if !pace.met {
            blocks.push(Block::Note(NoteKind::Caution, say("heat.pace_missed").into()));
        }
        blocks.extend(course(&pace.course, line, (0.0, never), say("heat.steps_pace")));
        let scaled = came_of(say("heat.scaled").with("powers", powers(&pace.scaled_w)), &pace.scaled);
        blocks.push(Block::sentence(scaled));
    }
    blocks.extend(answer.next.iter().flat_map(|next| order::next(next, line)));
    blocks.extend(answer.warm.iter().flat_map(order::warm));
    blocks.extend(standing::standing(answer, line));
    blocks
}

/// How the search ended.
fn status(answer: &CoilAnswer, line: &HeaterLine) -> Text {
    match answer.found.as_ref().map(|f| &f.status) {
        None if answer.missed.is_empty() => say("heat.at_powers"),
        None => {
            let why = answer.missed.iter().map(|m| miss(m).into()).collect();
            say("heat.missed").with("why", Cell::List(why))
        }
        Some(Status::Met) => say("heat.met"),
        Some(Status::MetAtBound(at)) => {
            let channels = line.channels();
            let named = at.iter().filter_map(|i| channels.get(*i));
            say("heat.met_at_bound").with("coils", Cell::List(named.map(|c| Cell::name(&c.name)).collect()))
        }
        Some(Status::Impossible(missed)) => {
            say("heat.impossible").with("why", Cell::List(missed.iter().map(|m| miss(m).into()).collect()))
        }
    }
}

/// Why a target is out of reach.
fn miss(missed: &Missed) -> Text {
    let (text, quantity) = match missed.miss {
        Miss::TooCold => (say("heat.miss_cold"), Quantity::Temperature),
        Miss::TooHot => (say("heat.miss_hot"), Quantity::Temperature),
        Miss::Uneven => (say("heat.miss_uneven"), Quantity::Difference),
        Miss::PeakTooHot => (say("heat.miss_peak"), Quantity::Temperature),
    };
    let value = Cell::number(missed.value, quantity);
    // Rounded away from what is wanted.
    let value = match missed.value < missed.wanted {
        true => value.down(),
        false => value.up(),
    };
    text.with("value", value)
        .with("wanted", Cell::number(missed.wanted, quantity))
}

fn exit(steady: &Steady, energy: &EnergyTable) -> Text {
    let exit = &steady.exit;
    say("heat.exit")
        .with("surface", temperature(exit.surface_c))
        .with("core", temperature(exit.core_c))
        .with("mean", temperature(exit.mean_c))
        .with("peak", temperature(exit.peak_c).up())
        .with(
            "energy",
            Cell::number(energy.per_kg(energy.mains_w()), Quantity::EnergyPerTonne),
        )
        .with("rate", Cell::number(steady.balance.kg_s, Quantity::Throughput))
}

/// The exit where its gate rejects it.
fn gate(answer: &CoilAnswer) -> Option<Block> {
    let (value_c, low) = (answer.outside_gate()?, answer.criteria.at_least.1);
    // Rounded out of the gate.
    let value = match value_c < low {
        true => temperature(value_c).down(),
        false => temperature(value_c).up(),
    };
    let high = answer.criteria.at_most_c;
    let text = say("heat.outside_gate")
        .with("t", value)
        .with("low", temperature(low))
        .with("high", high.map_or(say("heat.none").into(), temperature));
    Some(Block::Note(NoteKind::Caution, text.into()))
}

/// What would melt.
fn melts(answer: &CoilAnswer) -> Option<Block> {
    let (peak_c, solidus_c, metal) = answer.melts()?;
    let text = say("heat.melts")
        .with("peak", temperature(peak_c).up())
        .with("metal", Cell::name(metal))
        .with("solidus", temperature(solidus_c));
    Some(Block::Note(NoteKind::Caution, text.into()))
}

/// How much colder the colder end of a billet is, and whether the exit gate is for the middle only.
fn ends(answer: &CoilAnswer, line: &HeaterLine) -> Vec<Block> {
    let Some(end) = answer.steady.exit.colder_end(answer.criteria.at_least.0) else {
        // A billet pushed on steadily is the same all along.
        let open = (line.motion == Motion::Indexed).then(|| say("heat.ends_open").into());
        return open
            .map(|text| Block::Note(NoteKind::Remark, text))
            .into_iter()
            .collect();
    };
    let text = match end.leads {
        true => say("heat.colder_front"),
        false => say("heat.colder_rear"),
    };
    let below = Cell::number(end.below_k, Quantity::Difference).up();
    let mut blocks = vec![Block::sentence(
        text.with("below", below).with("t", temperature(end.value_c).down()),
    )];
    if let Some(value_c) = answer.cold_end() {
        let text = say("heat.cold_end")
            .with("t", temperature(value_c).down())
            .with("limit", temperature(answer.criteria.at_least.1));
        blocks.push(Block::Note(NoteKind::Caution, text.into()));
    }
    blocks
}

/// Surface, core and mean some time later.
fn after(seconds: f64, (surface_c, core_c, mean_c): (f64, f64, f64)) -> Text {
    say("heat.after")
        .with("time", Cell::number(seconds, Quantity::Seconds))
        .with("surface", temperature(surface_c))
        .with("core", temperature(core_c))
        .with("mean", temperature(mean_c))
}

fn remedy(remedy: &Remedy) -> Text {
    match remedy {
        Remedy::Takt { takt_s, powers_w } => say("heat.remedy_takt")
            .with("takt", Cell::number(*takt_s, Quantity::Seconds))
            .with("powers", powers(powers_w)),
        Remedy::Power { powers_w } => say("heat.remedy_power").with("powers", powers(powers_w)),
        Remedy::Frequency { factor, powers_w } => say("heat.remedy_frequency")
            .with("factor", Cell::number(*factor, Quantity::Ratio))
            .with("powers", powers(powers_w)),
    }
}

/// Two significant digits: more would pretend.
fn round_hz(hz: f64) -> f64 {
    let scale = 10f64.powf(hz.log10().floor() - 1.0);
    (hz / scale).round() * scale
}

/// The coils of a settled line.
fn coils(steady: &Steady) -> Table {
    let columns = vec![
        Column::words(say("heating.coil")),
        Column::numbers(say("heating.frequency"), Quantity::Frequency),
        Column::numbers(say("heating.power"), Quantity::Power),
        Column::numbers(say("heating.into_load"), Quantity::Power),
        Column::numbers(say("heating.efficiency"), Quantity::Share),
        Column::numbers(Cell::name("cos \u{3c6}"), Quantity::Ratio),
        Column::numbers(say("heat.field"), Quantity::FieldStrength),
    ];
    let rows = steady.coils.iter().map(|c| {
        vec![
            Cell::name(&c.name),
            Cell::number(c.frequency_hz, Quantity::Frequency),
            Cell::number(c.terminals_w, Quantity::Power),
            Cell::number(c.load_w, Quantity::Power),
            Cell::number(c.efficiency, Quantity::Share),
            Cell::number(c.power_factor, Quantity::Ratio),
            Cell::number(c.field_a_m, Quantity::FieldStrength),
        ]
    });
    Table::new(columns).rows(rows)
}

/// Volts, amperes and reactive power of the coils, where all turns are known.
fn electrical(steady: &Steady) -> Option<Table> {
    // One turn is none that was given.
    if steady.coils.iter().any(|c| c.electrical.turns <= 1.0) {
        return None;
    }
    let columns = vec![
        Column::words(say("heating.coil")),
        Column::numbers(say("heat.turns"), Quantity::Factor),
        Column::numbers(say("heat.voltage"), Quantity::Voltage),
        Column::numbers(say("heat.current"), Quantity::Current),
        Column::numbers(say("heat.reactive"), Quantity::Reactive),
    ];
    let rows = steady.coils.iter().map(|c| {
        let e = &c.electrical;
        vec![
            Cell::name(&c.name),
            Cell::number(e.turns, Quantity::Factor),
            Cell::number(e.volts, Quantity::Voltage),
            Cell::number(e.amperes, Quantity::Current),
            Cell::number(e.reactive_var, Quantity::Reactive),
        ]
    });
    Some(Table::new(columns).rows(rows))
}

/// What moves the exit.
pub fn effects(effects: &[Effect]) -> Table {
    let columns = vec![
        Column::words(say("heat.cause")),
        Column::numbers(say("heat.exit_effect"), Quantity::Effect),
        Column::numbers(say("heat.even_effect"), Quantity::Effect),
    ];
    let rows = effects.iter().map(|e| {
        let cause = match &e.cause {
            Cause::Power(name) => say("heat.cause_power")
                .with("coil", Cell::name(name))
                .with("power", Cell::number(1e3, Quantity::Power)),
            Cause::Takt => say("heat.cause_takt").with("time", Cell::number(1.0, Quantity::Seconds)),
            Cause::Start => say("heat.cause_start").with("warmer", Cell::number(1.0, Quantity::Difference)),
            Cause::Size => say("heat.cause_size").with("thicker", Cell::number(1e-3, Quantity::Length)),
        };
        vec![
            cause.into(),
            Cell::number(e.exit_k, Quantity::Effect).signed(),
            Cell::number(e.difference_k, Quantity::Effect).signed(),
        ]
    });
    Table::new(columns).rows(rows)
}

/// Spans of a table of powers over time.
const SPANS: usize = 10;

/// Powers that a study took, over time.
fn powers_over_time(study: &Study, line: &HeaterLine, caption: Text) -> Table {
    let columns = vec![
        Column::numbers(say("heat.from_time"), Quantity::Seconds),
        Column::words(say("heating.power")),
    ];
    let spans = study.mean_powers(SPANS).into_iter();
    let rows = spans.map(|(from, watts)| vec![Cell::number(from, Quantity::Seconds), powers(&line.by_channel(&watts))]);
    Table::new(columns).caption(caption).rows(rows)
}

/// What energy is spent on, in words.
fn spent(spent: Spent) -> Text {
    match spent {
        Spent::Mains => say("heat.mains"),
        Spent::Supply => say("heat.supply"),
        Spent::Windings => say("heating.winding"),
        Spent::Linings => say("heating.lining"),
        Spent::Open => say("heating.open"),
        Spent::Steel => say("heating.steel"),
    }
}

fn way(way: StopWay) -> Text {
    match way {
        StopWay::Off => say("heat.off"),
        StopWay::Hold => say("heat.hold"),
        StopWay::RunOn => say("heat.run_on"),
    }
}

/// A start-up or a stop in words.
fn kind(kind: EventKind) -> Text {
    match kind {
        EventKind::StartUp => say("heat.start_up"),
        EventKind::Stop(seconds, how) => say("heat.stop_of")
            .with("time", Cell::number(seconds, Quantity::Seconds))
            .with("mode", way(how)),
    }
}

fn event(event: &EventCost) -> Text {
    say("heat.event")
        .with("event", kind(event.kind))
        .count(event.lost)
        .with("time", Cell::number(event.every_s, Quantity::Hours))
}

/// Where the energy goes: power, energy per mass and share of each.
fn energy(table: &EnergyTable) -> Table {
    let columns = vec![
        Column::words(say("word.energy")),
        Column::numbers(Cell::Empty, Quantity::Power),
        Column::numbers(Cell::Empty, Quantity::EnergyPerTonne),
        Column::numbers(Cell::Empty, Quantity::Share),
    ];
    let row = |name: Text, j_per_kg: f64| {
        vec![
            name.into(),
            Cell::number(j_per_kg * table.kg_s, Quantity::Power),
            Cell::number(j_per_kg, Quantity::EnergyPerTonne),
            Cell::number(j_per_kg / table.per_kg(table.mains_w()), Quantity::Share),
        ]
    };
    let shares = table
        .shares
        .iter()
        .map(|(of, watts)| row(spent(*of), table.per_kg(*watts)));
    let events = table.events.iter().map(|e| row(event(e), e.j_per_kg));
    let good = table.good_j_per_kg().map(|good| row(say("heat.good_tonne"), good));
    Table::new(columns)
        .rows(shares)
        .row(row(say("heat.least"), table.per_kg(table.least_w)))
        .rows(events)
        .rows(good)
}

fn cold_start(study: &Study, billet_kg: f64) -> Text {
    let Some(first) = study.first_good else {
        return say("heat.start_never");
    };
    say("heat.start")
        .with("first", Cell::count(first))
        .with("lost", Cell::count(study.rejected))
        .with("mass", Cell::number(study.rejected as f64 * billet_kg, Quantity::Batch))
        .with("energy", Cell::number(study.rejected_j, Quantity::Energy))
}

/// Rejects and hottest point of a study, into a text.
fn came_of(text: Text, study: &Study) -> Text {
    text.with("lost", Cell::count(study.rejected))
        .with("peak", temperature(study.peak_c).up())
}

/// The powers of a transition that begins at `from_s` (s) of its study, what comes of them, and what comes of
/// the settled powers at once.
fn course(course: &Course, line: &HeaterLine, (from_s, never_c): (f64, f64), caption: Text) -> Vec<Block> {
    let study = &course.study;
    let mut blocks = Vec::new();
    if !course.phases.is_empty() {
        let columns = vec![
            Column::numbers(say("heat.from_time"), Quantity::Seconds),
            Column::words(say("heating.power")),
        ];
        let mut at = 0.0;
        let rows = course.phases.iter().map(|phase| {
            let from = at;
            at += phase.seconds;
            let watts = line.set_powers(&phase.drives);
            vec![Cell::number(from, Quantity::Seconds), powers(&watts)]
        });
        let mut rows: Vec<_> = rows.collect();
        rows.push(vec![Cell::number(at, Quantity::Seconds), powers(&course.settled_w)]);
        blocks.push(Block::Table(Table::new(columns).caption(caption).rows(rows)));
    }
    let first = study.billets.iter().find(|b| Some(b.billet.number) == study.first_good);
    let good = first.map_or(say("heat.none").into(), |b| {
        Cell::number((b.billet.time_s - from_s).max(0.0), Quantity::Minutes)
    });
    let text = say("heat.course")
        .with("peak", temperature(study.peak_c).up())
        .with("limit", temperature(never_c))
        .with("time", good)
        .with("energy", Cell::number(study.energies.terminals_j, Quantity::Energy));
    blocks.push(Block::sentence(text));
    if study.peak_c > never_c {
        let text = say("heat.course_hot")
            .with("limit", temperature(never_c))
            .with("peak", temperature(study.peak_c).up());
        blocks.push(Block::Note(NoteKind::Caution, text.into()));
    }
    if !course.phases.is_empty() {
        blocks.push(Block::sentence(came_of(say("heat.at_once"), &course.at_once)));
    }
    blocks
}

fn new_pace(pace: &Pace) -> Text {
    let study = &pace.course.study;
    let text = match study.first_good {
        Some(first) => say("heat.pace")
            .with("lost", Cell::count(study.rejected))
            .with("cold", numbers(study, Verdict::TooCold))
            .with("hot", numbers(study, Verdict::TooHot))
            .with("uneven", numbers(study, Verdict::Uneven))
            .with("first", Cell::count(first)),
        None => say("heat.pace_never"),
    };
    text.with("takt", Cell::number(pace.takt_s, Quantity::Seconds))
        .with("powers", powers(&pace.powers_w))
}

/// Billet numbers with a verdict, as ranges: `1-4, 7`.
fn numbers(study: &Study, verdict: Verdict) -> Cell {
    let mut ranges: Vec<(usize, usize)> = Vec::new();
    for b in study.billets.iter().filter(|b| b.verdict == verdict) {
        let n = b.billet.number;
        match ranges.last_mut() {
            Some(range) if range.1 + 1 == n => range.1 = n,
            _ => ranges.push((n, n)),
        }
    }
    if ranges.is_empty() {
        return say("heat.none").into();
    }
    let range = |(a, b): &(usize, usize)| if a == b { a.to_string() } else { format!("{a}-{b}") };
    Cell::List(ranges.iter().map(|r| Cell::name(range(r))).collect())
}

/// What a page tells of a line of coils at work.
#[derive(Debug, Clone)]
pub struct AtWork<'a> {
    /// The line with what is asked of it.
    pub heater: &'a CoilLine,
    /// Its settled state.
    pub steady: Steady,
    /// Hold power of each channel at the terminals, W.
    pub hold_terminals_w: Vec<f64>,
    /// Where the steel loses its magnetism, degC.
    pub curie_c: Option<f64>,
}

impl AtWork<'_> {
    /// What the picture along the heater marks.
    fn marks(&self) -> pictures::Marks {
        pictures::Marks {
            never_above_c: self.heater.criteria.map(|c| c.never_above_c),
            target_c: self.heater.goal.map(|g| g.value_c),
            curie_c: self.curie_c,
        }
    }

    /// The section of a report: temperatures along the line, the coils with their powers, volts and amperes where turns
    /// are given, cooling water, and where the energy goes.
    pub fn section(&self, view: &View) -> Vec<Block> {
        let energy = energy(&EnergyTable::of(
            &self.steady,
            self.heater.supply_efficiency,
            self.steady.balance.steel_w,
        ));
        let mut blocks = vec![
            pictures::along(&self.heater.line, &self.steady, self.marks(), view).into(),
            Block::Table(coils(&self.steady)),
        ];
        blocks.extend(electrical(&self.steady).map(Block::Table));
        blocks.extend(panel::settled(&Electrics::of(self.heater, &self.steady)));
        blocks.push(Block::Table(energy));
        blocks
    }

    /// Hold power of each channel at the terminals.
    fn hold(&self) -> Vec<(Cell, Cell)> {
        let hold = || Cell::from(say("heat.hold"));
        // Powers of converters stand in no order that the coils above tell.
        let in_a_row = self.heater.line.converters.is_empty() && self.hold_terminals_w.len() <= HOLDS_IN_A_ROW;
        if in_a_row {
            return vec![(hold(), powers(&self.hold_terminals_w))];
        }
        let channels = self.heater.line.channels().into_iter().zip(&self.hold_terminals_w);
        let row = |(channel, watts): (Channel, &f64)| {
            let name = hold().joined(Joint::Comma, Cell::name(channel.name));
            (name, Cell::number(*watts, Quantity::Power))
        };
        channels.map(row).collect()
    }

    /// What is set at the heater: converters and coils by name, exit gate, hold power, energy.
    pub fn settings(&self) -> Vec<(Cell, Cell)> {
        let electrics = Electrics::of(self.heater, &self.steady);
        let mut rows: Vec<(Cell, Cell)> = electrics.converters.iter().map(panel::setting).collect();
        rows.extend(self.steady.coils.iter().map(coil_setting));
        if let Some(criteria) = &self.heater.criteria {
            let gate = Cell::allowed(Some(criteria.at_least.1), criteria.at_most_c, Quantity::Temperature);
            rows.push((say("heat.gate").into(), gate));
        }
        rows.extend(self.hold());
        let mains_j_per_kg = 3600.0 * self.steady.balance.terminals_kwh_t() / self.heater.supply_efficiency;
        let energy = Cell::number(mains_j_per_kg, Quantity::EnergyPerTonne);
        rows.push((say("heat.mains").into(), energy));
        rows
    }
}

/// Most hold powers in one row of a sheet.
const HOLDS_IN_A_ROW: usize = 3;

/// Power and frequency of a coil, and its voltage and current where its turns are known.
fn coil_setting(coil: &CoilResult) -> (Cell, Cell) {
    let power = Cell::number(coil.terminals_w, Quantity::Power);
    let mut value = power.joined(Joint::Comma, Cell::number(coil.frequency_hz, Quantity::Frequency));
    if coil.electrical.turns > 1.0 {
        value = value
            .joined(Joint::Comma, Cell::number(coil.electrical.volts, Quantity::Voltage))
            .joined(Joint::Comma, Cell::number(coil.electrical.amperes, Quantity::Current));
    }
    (Cell::name(&coil.name), value)
}
