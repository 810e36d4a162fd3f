//! Which parts in flight survive a stop of the line, in blocks.

use super::limits::legend;
use super::times::state;
use crate::ask::enquiry::Judged;
use crate::ask::hand_overs::State;
use crate::ask::model::Model;
use crate::ask::stoppage::{Hold, Survival};
use crate::ask::times::Times;
use crate::show::{Block, Cell, Column, Joint, NoteKind, Quantity, Seconds, Table, Text, limit, say};

/// What was asked: the stop lengths of the table and the longest stop that was searched, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked<'a> {
    /// Stop lengths of the table.
    pub stops_s: &'a [f64],
    /// Longest stop searched.
    pub longest_s: f64,
}

/// The answer and the table of a line.
pub fn blocks(judged: &Judged, found: &[Survival], asked: &Asked) -> Vec<Block> {
    let mut blocks = vec![Block::heading(Cell::name(judged.enquiry.title()))];
    blocks.extend(headline(judged, found, asked.stops_s).into_iter().map(Block::sentence));
    blocks.extend(section(judged, found, asked));
    blocks
}

/// The table as a section of a page.
pub fn section(judged: &Judged, found: &[Survival], asked: &Asked) -> Vec<Block> {
    let mut blocks = vec![Block::Table(table(found, asked)), legend(judged.enquiry.model.limits())];
    let mut note = |id| blocks.push(Block::Note(NoteKind::Remark, say(id).into()));
    note("stops.rule");
    if judged.risk.is_some() {
        note("stops.guard");
    }
    blocks.extend(super::times::guarding(judged.enquiry));
    blocks
}

fn table(found: &[Survival], asked: &Asked) -> Table {
    let mut columns = vec![
        Column::words(say("word.stage")),
        Column::words(say("plan.where")),
        Column::numbers(say("plan.longest_stop"), Quantity::Seconds),
        Column::mixed(say("limit.number")),
    ];
    let stops = asked
        .stops_s
        .iter()
        .map(|s| Column::words(Cell::number(*s, Quantity::Seconds)));
    columns.extend(stops);
    let rows = found.iter().map(|s| {
        let longest = super::times::latest(s.longest_s(), Some(asked.longest_s));
        let mut row = vec![
            Cell::name(&s.position.stage),
            place(s.position.hold),
            longest,
            deciding(s),
        ];
        row.extend(s.states.iter().map(|one| state(*one)));
        row
    });
    let table = Table::new(columns).caption(say("stops.caption")).rows(rows);
    if found.iter().any(|s| s.longest_s().is_none()) {
        table.note(say("time.searched"))
    } else {
        table
    }
}

/// The limit that ends the wait; both where two exclude each other.
fn deciding(survival: &Survival) -> Cell {
    let number = |k: usize| Cell::count(k + 1);
    match survival.stated() {
        Times::Never {
            limit,
            other: Some(other),
            ..
        } => number(*other).joined(Joint::Slash, number(*limit)),
        _ => survival.limit().map_or_else(|| say("limit.none").into(), number),
    }
}

/// Where a part waits, in words.
fn place(hold: Hold) -> Cell {
    say(match hold {
        Hold::InPlace => "plan.in_place",
        Hold::OnDieBefore => "plan.on_die_before",
        Hold::OnDieAfter => "plan.on_die_after",
        Hold::OnRest => "plan.on_rest",
    })
    .into()
}

/// What is broken without a stop, then what to reject at each stop length.
fn headline(judged: &Judged, found: &[Survival], stops: &[f64]) -> Vec<Text> {
    let time = |s: f64| Cell::number(s, Quantity::Seconds);
    let broken = judged.planned.verdicts.iter().filter(|v| !v.holds);
    let mut answer: Vec<Text> = broken
        .map(|v| say("stops.broken").with("limit", limit(&v.limit)))
        .collect();
    let here = || found.iter().filter(|s| s.position.hold != Hold::OnRest);
    let goes_on = |state: &State| matches!(state, State::Good | State::Alarm);
    let all = |k: usize, wanted: bool| here().all(|s| s.states.get(k).is_some_and(|state| goes_on(state) == wanted));
    let chosen = |wanted: bool| (0..stops.len()).filter(move |&k| all(k, wanted)).map(|k| stops[k]);
    let longest = chosen(true).fold(0.0, f64::max);
    let hopeless = chosen(false).fold(f64::INFINITY, f64::min);
    answer.push(if !answer.is_empty() {
        say("stops.mend")
    } else if longest > 0.0 {
        say("stops.carry_on").with("time", time(longest))
    } else {
        say("stops.costs").with("time", time(stops.iter().copied().fold(f64::INFINITY, f64::min)))
    });
    if hopeless.is_finite() {
        answer.push(say("stops.reject_all").with("time", time(hopeless)));
    }
    let weakest = here()
        .filter_map(|s| Some((s, s.longest_s()?)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((s, stop)) = weakest {
        answer.push(
            say("stops.first")
                .with("stage", Cell::name(&s.position.stage))
                .with("where", place(s.position.hold))
                .with("time", Cell::Seconds(Seconds::allowed(stop))),
        );
    }
    answer
}
