//! The sections of a report that come from the trace itself, in blocks.

use super::csv::stage_name;
use super::map::{common_range, section};
use super::verdict::{limiting, to_spare_words};
use crate::judge::{Bound, Moment, Verdict};
use crate::line::Trace;
use crate::line::trace::DieRecord;
use crate::picture::{Axis, Bar, BarChart, Step, StepKind, Waterfall};
use crate::show::{Block, Cell, Column, Joint, NoteKind, Quantity, Table, View, quantity, say, warning};

/// Margins of all limits as bars and the fall from the start to the limiting moment.
pub(crate) fn margins(trace: &Trace, view: &View) -> Vec<Block> {
    let bar = |v: &Verdict| {
        let name = Cell::name(stage_name(trace, v.stage)).joined(
            Joint::Colon,
            super::verdict::curves(&v.limit).joined(Joint::Space, v.limit.bound),
        );
        Bar {
            name: name.whole(view),
            value: view.display.difference(v.margin_k),
            note: to_spare_words(v).whole(view).replace('-', "\u{2212}"),
            alarm: !v.holds,
        }
    };
    let bars = BarChart {
        title: view.say("report.margin_by_limit").to_owned(),
        axis: Axis::new(view.say("word.margin"), view.difference_unit()),
        bars: trace.verdicts.iter().map(bar).collect(),
        decimals: 0,
    };
    let fall = limiting(trace).and_then(|verdict| waterfall(trace, verdict, view));
    let mut blocks = vec![bars.draw(&view.style()).into()];
    blocks.extend(fall.map(|fall| fall.draw(&view.style()).into()));
    blocks
}

/// The fall of what a limit is about from its first moment to the worst one, by stage; nothing for a limit that
/// was worst at the start.
fn waterfall(trace: &Trace, verdict: &Verdict, view: &View) -> Option<Waterfall> {
    let limit = &verdict.limit;
    let index = |name: &String| trace.nodes.iter().position(|n| n == name);
    let (node, other) = (index(&limit.node)?, limit.other.as_ref().and_then(index));
    let quantity = quantity(limit.bound);
    let shown = |value: f64| quantity.shown(value, view.display);
    let seconds = |s: f64| Cell::number(s, Quantity::Seconds).whole(view);
    let value = |temps: &[Option<f64>]| -> Option<f64> {
        let one = temps.get(node).copied().flatten()?;
        match limit.bound {
            Bound::MaxDifferenceK(_) => Some((one - temps.get(other?).copied().flatten()?).abs()),
            _ => Some(one),
        }
    };
    let known: Vec<(usize, f64, f64)> = trace
        .moments
        .iter()
        .filter(|m| m.time_s <= verdict.time_s + 1e-9)
        .filter_map(|m| Some((m.stage, m.time_s, shown(value(&m.temps_c)?))))
        .collect();
    let &(_, begin, first) = known.first().filter(|known| known.1 < verdict.time_s)?;
    let level = |name: String, value: f64| Step {
        name,
        kind: StepKind::Level,
        value,
        note: String::new(),
    };
    let mut steps = vec![level(seconds(begin), first)];
    let mut before = (begin, first);
    for stage in 0..=verdict.stage {
        // the limiting stage ends at the limiting moment
        let Some(&(_, time, reached)) = known.iter().rfind(|m| m.0 == stage) else {
            continue;
        };
        let (time, reached) = match stage == verdict.stage {
            true => (verdict.time_s, shown(verdict.value)),
            false => (time, reached),
        };
        steps.push(Step {
            name: stage_name(trace, stage),
            kind: StepKind::Change,
            value: reached - before.1,
            note: seconds(time - before.0),
        });
        before = (time, reached);
    }
    let place = Cell::name(stage_name(trace, verdict.stage));
    let place = match verdict.moment {
        Moment::Always => place,
        moment => place.joined(Joint::Comma, Cell::Moment(moment)),
    };
    steps.push(level(place.whole(view), before.1));
    let (Bound::MinC(bound) | Bound::MaxC(bound) | Bound::MaxDifferenceK(bound)) = limit.bound;
    let what = super::verdict::curves(limit).whole(view);
    Some(Waterfall {
        title: view.say_with("report.waterfall", &[("node", &what)]),
        axis: Axis::new(view.say("axis.temperature"), quantity.unit(view.display)),
        steps,
        limit: Some((shown(bound), Cell::from(limit.bound).whole(view))),
        decimals: 0,
    })
}

/// The section maps, on one colour scale where that shows anything.
pub(crate) fn maps(trace: &Trace, view: &View) -> Vec<Block> {
    let shared = common_range(&trace.maps);
    let span = |range: Option<(f64, f64)>| range.map_or(0.0, |(low, high)| high - low);
    let map = |map| {
        // an even section would be one flat colour on the scale of all
        let own = common_range(std::slice::from_ref(map));
        section(map, view, shared.filter(|_| span(own) > 0.2 * span(shared))).into()
    };
    trace.maps.iter().take(12).map(map).collect()
}

/// Tool faces and the heat that they took.
pub(crate) fn dies(trace: &Trace) -> Vec<Block> {
    // the ledger counts what the part lost to the body; the record may not
    let heat_kj = |d: &DieRecord| {
        let booked = trace
            .ledger
            .entries
            .iter()
            .find(|e| e.stage == d.stage && e.name == d.body);
        booked.map_or(d.heat_kj, |e| -e.energy_kj)
    };
    let rubbed = trace.dies.iter().any(|d| d.friction_kj > 0.0);
    let degrees = |id| Column::numbers(say(id), Quantity::Temperature);
    let mut columns = vec![
        Column::words(say("word.stage")),
        Column::words(say("word.tool")),
        degrees("report.face_start"),
        degrees("report.face_peak"),
        degrees("report.face_end"),
        Column::numbers(say("report.heat_taken"), Quantity::Heat),
    ];
    columns.extend(rubbed.then(|| Column::numbers(say("report.rubbed"), Quantity::Heat)));
    let temperature = |c: f64| Cell::number(c, Quantity::Temperature);
    let rows = trace.dies.iter().map(|d| {
        let mut row = vec![
            Cell::name(stage_name(trace, d.stage)),
            Cell::Term(d.body.clone()),
            temperature(d.face_start_c),
            temperature(d.face_peak_c).up(),
            temperature(d.face_end_c),
            kilojoules(heat_kj(d)),
        ];
        row.extend(rubbed.then(|| kilojoules(d.friction_kj)));
        row
    });
    vec![Block::Table(Table::new(columns).rows(rows))]
}

fn kilojoules(kj: f64) -> Cell {
    Cell::number(1e3 * kj, Quantity::Heat)
}

/// Heat by name, over all stages, as bars and per mass.
pub fn heat(trace: &Trace, view: &View) -> Vec<Block> {
    let mut names: Vec<(&str, f64)> = Vec::new();
    for entry in &trace.ledger.entries {
        match names.iter_mut().find(|(name, _)| *name == entry.name) {
            Some(sum) => sum.1 += entry.energy_kj,
            None => names.push((&entry.name, entry.energy_kj)),
        }
    }
    let chart = BarChart {
        title: view.say("report.heat").to_owned(),
        axis: Axis::new(view.say("word.energy"), "kJ"),
        bars: names
            .iter()
            .map(|&(name, value)| Bar {
                name: view.term(name),
                value,
                note: String::new(),
                alarm: false,
            })
            .collect(),
        decimals: 1,
    };
    let columns = vec![
        Column::words(say("word.what")),
        Column::numbers(say("word.energy"), Quantity::Heat),
        Column::numbers(say("word.energy"), Quantity::EnergyPerTonne),
    ];
    let per_mass = |kj: f64| (trace.mass_kg > 0.0).then(|| 1e3 * kj / trace.mass_kg);
    let rows = names.iter().map(|&(name, kj)| {
        vec![
            Cell::Term(name.to_owned()),
            kilojoules(kj),
            Cell::maybe(per_mass(kj), Quantity::EnergyPerTonne),
        ]
    });
    vec![
        chart.draw(&view.style()).into(),
        Block::Table(Table::new(columns).rows(rows)),
    ]
}

/// The energy ledger by stage and name with its closure.
pub(crate) fn ledger(trace: &Trace) -> Vec<Block> {
    let entries = &trace.ledger.entries;
    let columns = vec![
        Column::words(say("word.stage")),
        Column::words(say("word.what")),
        Column::numbers(say("word.energy"), Quantity::Heat),
    ];
    let rows = entries.iter().map(|e| {
        vec![
            Cell::name(stage_name(trace, e.stage)),
            Cell::Term(e.name.clone()),
            kilojoules(e.energy_kj),
        ]
    });
    let total = |id, kj: f64| vec![say(id).into(), Cell::Empty, kilojoules(kj)];
    let table = Table::new(columns)
        .rows(rows)
        .row(total("word.sum", entries.iter().map(|e| e.energy_kj).sum()))
        .row(total("report.stored", trace.ledger.stored_kj));
    let closure = Cell::number(trace.ledger.imbalance.abs(), Quantity::Probability);
    vec![
        Block::Table(table),
        Block::sentence(say("report.imbalance").with("x", closure)),
    ]
}

/// Warnings, or that there is none.
pub fn warnings(trace: &Trace, view: &View) -> Vec<Block> {
    if trace.warnings.is_empty() {
        return vec![Block::sentence(say("report.no_warnings"))];
    }
    let note = |one| Block::Note(NoteKind::Warning, warning(one, view));
    trace.warnings.iter().map(note).collect()
}

/// What the run cost.
pub(crate) fn work(trace: &Trace) -> Block {
    let count = |n: u64| Cell::number(n as f64, Quantity::Count);
    let work = say("report.work")
        .with("steps", count(trace.work.steps))
        .with("rejected", count(trace.work.rejected))
        .with("cells", count(trace.work.cells as u64));
    Block::sentence(work)
}
