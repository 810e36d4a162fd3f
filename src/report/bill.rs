//! The heat bill: where the heat of the part went, phase by phase.

use super::ReportError;
use super::csv::{stage_name, write_rows};
use crate::line::Trace;
use crate::line::trace::HeatEntry;
use crate::picture::{Axis, Bar, BarChart, Drawing};
use crate::show::{Block, Cell, Column, Joint, Quantity, Table, View, say};

/// Heat of one phase by kind, kJ: (tools, air and water, forming), gains positive.
fn kinds(entry: &HeatEntry) -> (f64, f64, f64) {
    let mut sums = (0.0, 0.0, 0.0);
    for flow in &entry.flows {
        match flow.name.as_str() {
            "deformation" | "friction" => sums.2 += flow.energy_kj,
            "radiation and convection" | "descaling water" | "furnace" => sums.1 += flow.energy_kj,
            _ => sums.0 += flow.energy_kj,
        }
    }
    sums
}

/// An energy of the bill, kJ.
fn heat(kj: f64) -> Cell {
    Cell::number(kj * 1e3, Quantity::Heat)
}

/// The bill as a table, with what a blow, a second lying and a second in air cost, and what each
/// phase did to each zone.
pub fn blocks(trace: &Trace) -> Vec<Block> {
    let columns = vec![
        Column::words(say("word.stage")),
        Column::words(say("bill.phase")),
        Column::numbers(say("word.time"), Quantity::Phase),
        Column::numbers(say("bill.tools"), Quantity::Heat),
        Column::numbers(say("bill.air"), Quantity::Heat),
        Column::numbers(say("bill.forming"), Quantity::Heat),
        Column::words(say("bill.zones")),
    ];
    let rows = trace.bill.iter().map(|entry| {
        let (tools, air, forming) = kinds(entry);
        let zones = entry.zones.iter().map(|zone| {
            let change = Cell::number(zone.mean_change_k, Quantity::Margin).signed().nearest();
            Cell::name(&zone.zone).joined(Joint::Space, change)
        });
        vec![
            Cell::name(stage_name(trace, entry.stage)),
            Cell::Term(entry.phase.clone()),
            Cell::number(entry.seconds, Quantity::Phase),
            heat(tools).signed(),
            heat(air).signed(),
            heat(forming).signed(),
            Cell::List(zones.collect()),
        ]
    });
    let mut blocks = vec![Block::Table(Table::new(columns).caption(say("report.heat")).rows(rows))];
    if let Some(costs) = Costs::of(trace) {
        let text = say("bill.costs")
            .with("blow", heat(costs.blow_kj))
            .with("lying", heat(costs.lying_kj_s))
            .with("air", heat(costs.air_kj_s));
        blocks.push(Block::sentence(text));
        if costs.blow_kj > 0.0 {
            let blows = Cell::number(costs.lying_kj_s / costs.blow_kj, Quantity::Factor);
            blocks.push(Block::sentence(say("bill.worth").with("blows", blows)));
        }
    }
    blocks
}

/// What the part loses in one blow and in one second of lying or of hanging in air, kJ.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Costs {
    /// To the dies in a blow.
    pub blow_kj: f64,
    /// To the dies in a second of lying.
    pub lying_kj_s: f64,
    /// To the air in a second.
    pub air_kj_s: f64,
}

impl Costs {
    /// The costs of a run; `None` without blows, without lying or without time in air.
    pub fn of(trace: &Trace) -> Option<Costs> {
        let sum = |words: &[&str], of: fn(&HeatEntry) -> f64| {
            let entries = || {
                trace
                    .bill
                    .iter()
                    .filter(|e| words.iter().any(|w| e.phase.starts_with(w)))
            };
            let heat: f64 = entries().map(of).sum();
            (-heat, entries().map(|e| e.seconds).sum::<f64>(), entries().count())
        };
        let (blow, _, blows) = sum(&["blow "], |e| kinds(e).0);
        let (lying, lying_s, _) = sum(&["lying", "stuck"], |e| kinds(e).0);
        let (air, air_s, _) = sum(&["air", "lifted", "rebound"], |e| kinds(e).1);
        (blows > 0 && lying_s > 0.0 && air_s > 0.0).then(|| Costs {
            blow_kj: blow / blows as f64,
            lying_kj_s: lying / lying_s,
            air_kj_s: air / air_s,
        })
    }
}

/// The losses of every phase as bars.
pub fn bill_chart(trace: &Trace, view: &View) -> Drawing {
    let bars = trace
        .bill
        .iter()
        .map(|entry| {
            let (tools, air, _) = kinds(entry);
            let name = Cell::name(stage_name(trace, entry.stage)).joined(Joint::Colon, Cell::Term(entry.phase.clone()));
            let note = say("bill.note")
                .with("lost", heat(-(tools + air)))
                .with("time", Cell::number(entry.seconds, Quantity::Phase))
                .with("tools", heat(-tools))
                .with("air", heat(-air));
            Bar {
                name: name.whole(view),
                value: -(tools + air),
                note: Cell::from(note).whole(view),
                alarm: false,
            }
        })
        .collect();
    let title = say("bill.chart").with("title", Cell::name(&trace.title));
    BarChart {
        title: Cell::from(title).whole(view),
        axis: Axis::new(view.say("bill.lost"), "kJ"),
        bars,
        decimals: 1,
    }
    .draw(&view.style())
}

/// One row a phase and name: stage, phase, start, seconds, name, kJ; zones follow as `zone <name>`.
///
/// # Errors
/// Text that cannot be encoded.
pub fn bill_csv(trace: &Trace) -> Result<String, ReportError> {
    let head = ["stage", "phase", "start_s", "seconds", "name", "energy_kj"].map(str::to_owned);
    let rows = trace.bill.iter().flat_map(|entry| {
        let named = entry.flows.iter().map(|f| (f.name.clone(), f.energy_kj));
        let zones = entry.zones.iter().map(|z| (format!("zone {}", z.zone), z.change_kj));
        named.chain(zones).map(|(name, energy)| {
            vec![
                stage_name(trace, entry.stage),
                entry.phase.clone(),
                format!("{:.4}", entry.start_s),
                format!("{:.4}", entry.seconds),
                name,
                format!("{energy:.4}"),
            ]
        })
    });
    write_rows(std::iter::once(head.to_vec()).chain(rows))
}
