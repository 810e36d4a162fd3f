//! The move budget: what the drives give, what temperature allows, who is busy when.

use super::history::{Span, history_chart};
use crate::ask::enquiry::Enquiry;
use crate::ask::model::Model;
use crate::ask::moves::{MoveRow, Shared};
use crate::ask::schedule::{Chart, Placed, Task};
use crate::judge::Limit;
use crate::line::Trace;
use crate::picture::{Axis, CycleBar, CycleChart, CycleRow, Drawing, Rule};
use crate::show::{Block, Cell, Column, NoteKind, Quantity, Seconds, Side, Table, Text, View, limit, say};

/// What a budget says.
#[derive(Debug, Clone, Copy)]
pub struct Budget<'a> {
    /// Times and slack of each move.
    pub rows: &'a [MoveRow],
    /// The largest total, shared over the moves.
    pub shared: &'a Shared,
    /// The cycle, where the file gives a takt.
    pub chart: Option<&'a Chart>,
    /// Time from part to part, s.
    pub takt_s: Option<f64>,
}

fn seconds(s: f64) -> Cell {
    Cell::number(s, Quantity::Seconds)
}

/// The budget of a line.
pub fn blocks(enquiry: &Enquiry, budget: &Budget) -> Vec<Block> {
    let mut blocks = vec![Block::heading(Cell::name(enquiry.title()))];
    blocks.extend(budget.rows.iter().filter_map(too_early).map(Block::sentence));
    blocks.extend(least_slack(budget.rows).map(Block::sentence));
    blocks.extend(cycle(budget));
    blocks.push(Block::Table(times(budget.rows)));
    let differing = budget.rows.iter().filter(|r| (r.timing.mean_s - r.now_s).abs() > 0.1);
    blocks.extend(differing.map(|row| {
        let text = say("moves.differs")
            .with("stage", Cell::name(&row.stage))
            .with("now", seconds(row.now_s))
            .with("mean", seconds(row.timing.mean_s));
        Block::Note(NoteKind::Remark, text.into())
    }));
    blocks.push(Block::Table(shares(budget.shared, enquiry.model.limits())));
    blocks.extend(budget.chart.map(|chart| Block::Table(devices(chart))));
    blocks.extend(super::times::guarding(enquiry));
    blocks
}

/// That the drives bring the part too early.
fn too_early(row: &MoveRow) -> Option<Text> {
    let from = row.earliest_s.filter(|s| row.timing.mean_s < *s)?;
    let text = say("moves.too_early")
        .with("stage", Cell::name(&row.stage))
        .with("mean", seconds(row.timing.mean_s));
    Some(text.with("time", super::times::earliest(Some(from))))
}

/// The move with the least slack.
fn least_slack(rows: &[MoveRow]) -> Option<Text> {
    let slack = |row: &MoveRow| row.slack_s.unwrap_or(f64::INFINITY);
    let row = rows
        .iter()
        .filter(|r| r.slack_s.is_some())
        .min_by(|a, b| slack(a).total_cmp(&slack(b)))?;
    Some(
        say("moves.least_slack")
            .with("stage", Cell::name(&row.stage))
            .with("time", seconds(slack(row)).down())
            .with("margin", Cell::maybe(row.slack_k, Quantity::Margin)),
    )
}

/// What an activity is called.
fn task(task: &Task) -> Cell {
    match task {
        Task::Named(name) => Cell::name(name),
        Task::DieSpray(stage) => say("moves.die_spray").with("stage", Cell::name(stage)).into(),
    }
}

/// What limits the takt, and conflicts.
fn cycle(budget: &Budget) -> Vec<Block> {
    let Some((chart, takt_s)) = budget.chart.zip(budget.takt_s) else {
        let text = say("moves.no_chart").with("key", Cell::name("takt_s"));
        return vec![Block::sentence(text)];
    };
    let mut blocks = Vec::new();
    let limiting = chart.limiting.as_ref();
    if let Some(device) = limiting.and_then(|name| chart.devices.iter().find(|d| d.device == *name)) {
        let text = say("moves.limits_takt")
            .with("device", Cell::name(&device.device))
            .with("busy", seconds(device.busy_s))
            .with("takt", seconds(takt_s))
            .with("hot", seconds(chart.hot_time_s));
        blocks.push(Block::sentence(text));
    }
    let shortest = seconds(chart.shortest_takt_s).up();
    blocks.push(match chart.conflicts.first() {
        None => Block::sentence(say("moves.no_conflict").with("takt", shortest)),
        Some(c) => {
            let text = say("moves.conflict")
                .with("device", Cell::name(&c.device))
                .with("first", task(&c.first))
                .with("second", task(&c.second))
                .with("overlap", seconds(c.overlap_s))
                .with("takt", shortest);
            Block::Note(NoteKind::Caution, text.into())
        }
    });
    blocks.extend(chart.interruptions.iter().map(|one| {
        let text = say("moves.stands")
            .with("name", task(&one.name))
            .with("time", seconds(one.seconds))
            .with("parts", Cell::number(f64::from(one.every_parts), Quantity::Count))
            .with("mean", seconds(chart.mean_takt_s).up());
        Block::sentence(text)
    }));
    blocks
}

/// Times of the moves.
fn times(rows: &[MoveRow]) -> Table {
    let column = |head: Text| Column::numbers(head, Quantity::Seconds);
    let columns = vec![
        Column::words(say("moves.move")),
        column(say("moves.least")),
        column(say("scatter.mean")),
        column(say("moves.p95")),
        column(say("steel.never_above")),
        column(say("moves.now")),
        column(say("sheet.earliest")),
        column(say("moves.reject")),
        column(say("moves.longest")),
        column(say("moves.slack")),
    ];
    let allowed = |s: Option<f64>| Cell::Seconds(s.map_or(Seconds::Any, |s| Seconds::Of(s, Side::Down)));
    let rows = rows.iter().map(|r| {
        vec![
            Cell::name(&r.stage),
            seconds(r.timing.minimum_s),
            seconds(r.timing.mean_s),
            seconds(r.timing.p95_s),
            seconds(r.timing.never_exceed_s).up(),
            seconds(r.now_s),
            super::times::earliest(r.earliest_s),
            allowed(r.reject_s),
            allowed(r.longest_s),
            allowed(r.slack_s),
        ]
    });
    Table::new(columns).caption(say("moves.caption")).rows(rows)
}

/// The total shared over the moves.
fn shares(shared: &Shared, limits: &[Limit]) -> Table {
    let caption = match shared.limit.and_then(|k| limits.get(k)) {
        Some(one) => say("moves.sharing_by").with("limit", limit(one)),
        None => say("moves.sharing"),
    };
    let columns = vec![
        Column::words(say("moves.move")),
        Column::numbers(say("moves.share"), Quantity::Seconds),
        Column::numbers(say("moves.acceleration"), Quantity::Acceleration),
    ];
    let rows = shared.moves.iter().map(|m| {
        let acceleration = match m.acceleration_m_s2 {
            Some(a) => Cell::number(a, Quantity::Acceleration).up(),
            None => say("moves.not_reached").into(),
        };
        vec![Cell::name(&m.stage), seconds(m.seconds).down(), acceleration]
    });
    Table::new(columns)
        .caption(caption.with("total", seconds(shared.total_s).down()))
        .rows(rows)
}

/// How busy the devices are.
fn devices(chart: &Chart) -> Table {
    let columns = vec![
        Column::words(say("moves.device")),
        Column::numbers(say("moves.busy"), Quantity::Seconds),
        Column::numbers(say("moves.free"), Quantity::Seconds),
    ];
    let rows = chart
        .devices
        .iter()
        .map(|d| vec![Cell::name(&d.device), seconds(d.busy_s), seconds(d.idle_s)]);
    Table::new(columns).rows(rows)
}

/// The cycle with the part's temperatures above it, on one time axis.
pub fn cycle_chart(chart: &Chart, takt_s: Option<f64>, trace: &Trace, view: &View) -> Drawing {
    let row = |name: String, of: &dyn Fn(&&Placed) -> bool| CycleRow {
        name,
        bars: chart.activities.iter().filter(of).map(|a| bar(a, view)).collect(),
    };
    let mut rows = vec![row(view.say("moves.hot_part").to_owned(), &|a| a.hot)];
    rows.extend(
        chart
            .devices
            .iter()
            .map(|device| row(device.device.clone(), &|a| a.uses(&device.device))),
    );
    let mut temperatures = history_chart(trace, view, Span::Line);
    temperatures.series.retain(|s| !s.hidden);
    let rule = |takt: f64| Rule {
        value: takt,
        upright: true,
        label: Cell::from(say("moves.takt").with("takt", seconds(takt))).whole(view),
    };
    CycleChart {
        above: Some(temperatures),
        title: view.say("moves.chart").to_owned(),
        axis: Axis::new(view.say("axis.time_after_exit"), "s"),
        rows,
        rules: takt_s.map(rule).into_iter().collect(),
    }
    .draw(&view.style())
}

fn bar(activity: &Placed, view: &View) -> CycleBar {
    CycleBar {
        name: task(&activity.name).whole(view),
        x: (activity.start_s, activity.end_s),
        idle: activity.devices.is_empty() && activity.alternate.is_empty(),
    }
}
