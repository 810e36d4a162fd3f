//! What to do with one part, in blocks.

use crate::ask::decide::{Decision, DecisionTable, Log, LoggedPart, PartVerdict, StepStatistics};
use crate::report::ReportError;
use crate::report::csv::write_rows;
use crate::show::{Block, Cell, Column, Mark, Quantity, Seconds, Side, Table, say};

/// The tightest limit of a decision and its margin in K.
pub fn tightest(decision: &Decision) -> Option<(usize, f64)> {
    match *decision {
        Decision::Good { limit, margin_k }
        | Decision::Alarm { limit, margin_k }
        | Decision::Wait { limit, margin_k, .. }
        | Decision::Reject { limit, margin_k } => Some((limit, margin_k)),
        Decision::Outside => None,
    }
}

/// The word of a decision.
fn state(decision: &Decision) -> Cell {
    match decision {
        Decision::Good { .. } => Cell::Mark(Mark::Ok, say("decide.good")),
        Decision::Wait { .. } => Cell::Mark(Mark::Watch, say("decide.wait")),
        Decision::Alarm { .. } => Cell::Mark(Mark::Watch, say("decide.alarm")),
        Decision::Reject { .. } => Cell::Mark(Mark::Broken, say("decide.reject")),
        Decision::Outside => Cell::Mark(Mark::Broken, say("decide.outside")),
    }
}

/// The decision in one sentence and as a row.
pub fn blocks(table: &DecisionTable, decision: &Decision) -> Vec<Block> {
    let state = state(decision);
    let ends = table.exit_c.first().zip(table.exit_c.last());
    let covered = ends.map_or(Cell::Empty, |(first, last)| {
        Cell::range(*first, *last, Quantity::Temperature)
    });
    let Some((limit, margin_k)) = tightest(decision) else {
        let text = say("decide.covers").with("state", state).with("range", covered);
        return vec![Block::sentence(text)];
    };
    let margin = Cell::number(margin_k, Quantity::Difference).down().signed();
    let name = Cell::name(table.limits.get(limit).map_or("", String::as_str));
    let until = match decision {
        Decision::Wait { until_s, .. } => Cell::Seconds(Seconds::Of(*until_s, Side::Up)),
        _ => say("time.at_once").into(),
    };
    let text = match decision {
        Decision::Wait { .. } => say("decide.until").with("time", until.clone()),
        _ => say("decide.answer"),
    };
    let text = text
        .with("state", state.clone())
        .with("margin", margin.clone())
        .with("limit", name.clone());
    let columns = vec![
        Column::words(say("decide.decision")),
        Column::numbers(say("sheet.earliest"), Quantity::Seconds),
        Column::words(say("word.limit")),
        Column::numbers(say("word.margin"), Quantity::Difference),
    ];
    let row = Table::new(columns).row(vec![state, until, name, margin]);
    vec![Block::sentence(text), Block::Table(row)]
}

/// Most parts listed one by one.
const LISTED: usize = 20;

/// Verdicts and cycle of a log.
pub fn log_blocks(table: &DecisionTable, log: &Log) -> Vec<Block> {
    let good = log.parts.iter().filter(|part| part.verdict.goes_on()).count();
    let stopped: Vec<&LoggedPart> = log.parts.iter().filter(|part| !part.verdict.goes_on()).collect();
    let answer = say("decide.logged")
        .count(log.parts.len())
        .with("good", Cell::count(good))
        .with("bad", Cell::count(stopped.len()));
    let mut blocks = vec![
        Block::heading(Cell::name(&table.identity.title)),
        Block::sentence(answer),
        Block::Table(states(log)),
    ];
    if !stopped.is_empty() {
        blocks.push(Block::Table(listed(table, &stopped)));
    }
    blocks.push(Block::Table(steps(log)));
    blocks
}

fn verdict(verdict: &PartVerdict) -> Cell {
    match verdict {
        PartVerdict::Decided(decision) => state(decision),
        PartVerdict::NotComplete { .. } => Cell::Mark(Mark::Watch, say("decide.incomplete")),
        PartVerdict::Refused { .. } => Cell::Mark(Mark::Broken, say("decide.refused")),
    }
}

/// How many parts there are of each decision.
fn states(log: &Log) -> Table {
    let columns = vec![
        Column::words(say("decide.state")),
        Column::numbers(say("scatter.parts"), Quantity::Count),
    ];
    let rows = log.counts().into_iter().map(|(word, count)| {
        let of = log.parts.iter().find(|part| part.verdict.word() == word);
        vec![
            of.map_or(Cell::Empty, |part| verdict(&part.verdict)),
            Cell::count(count),
        ]
    });
    Table::new(columns).rows(rows)
}

/// The first of the parts that may not go on, and why.
fn listed(table: &DecisionTable, stopped: &[&LoggedPart]) -> Table {
    let columns = vec![
        Column::words(say("word.part")),
        Column::numbers(say("decide.line"), Quantity::Count),
        Column::words(say("decide.state")),
        Column::words(say("decide.why")),
    ];
    let rows = stopped.iter().take(LISTED).map(|part| {
        vec![
            Cell::name(&part.part),
            Cell::count(part.line),
            verdict(&part.verdict),
            reason(table, &part.verdict),
        ]
    });
    let found = Table::new(columns).caption(say("decide.stopped")).rows(rows);
    match stopped.len().checked_sub(LISTED) {
        Some(more) if more > 0 => found.note(say("decide.more").count(more)),
        _ => found,
    }
}

/// The limit that decides, or what is wrong with the row.
fn reason(table: &DecisionTable, verdict: &PartVerdict) -> Cell {
    match verdict {
        PartVerdict::Refused { reason } => Cell::name(reason),
        PartVerdict::NotComplete { stage } => say("decide.no_time").with("stage", Cell::name(stage)).into(),
        PartVerdict::Decided(decision) => match tightest(decision) {
            Some((limit, _)) => Cell::name(table.limits.get(limit).map_or("", String::as_str)),
            None => say("decide.outside").into(),
        },
    }
}

/// Mean, spread, retries and drift of the exit and of every hand-over.
fn steps(log: &Log) -> Table {
    let columns = vec![
        Column::words(say("word.stage")),
        Column::mixed(say("sheet.planned")),
        Column::mixed(say("scatter.mean")),
        Column::mixed(say("scatter.sd")),
        Column::mixed(say("decide.retries")),
        Column::mixed(say("decide.drift")),
    ];
    let row = |of: &StepStatistics, value: Quantity, difference: Quantity| {
        let retries = of.retries.map_or_else(
            || Cell::number(0.0, Quantity::Probability),
            |r| Cell::number(r.probability, Quantity::Probability),
        );
        let drift = match of.drifts() {
            true => Cell::number(of.drift, difference).signed(),
            false => say("decide.noise").into(),
        };
        vec![
            Cell::name(&of.name),
            Cell::number(of.planned, value),
            Cell::number(of.mean, value).nearest(),
            Cell::number(of.sd, difference).nearest(),
            retries,
            drift,
        ]
    };
    let exit = log
        .exit
        .iter()
        .map(|of| row(of, Quantity::Temperature, Quantity::Difference));
    let steps = log.steps.iter().map(|of| row(of, Quantity::Seconds, Quantity::Seconds));
    Table::new(columns).caption(say("decide.cycle")).rows(exit.chain(steps))
}

/// The verdict of every part as CSV.
///
/// # Errors
/// A table that cannot be written.
pub fn verdicts_csv(table: &DecisionTable, log: &Log) -> Result<String, ReportError> {
    let head = ["line", "part", "decision", "goes_on", "limit", "margin_k", "why"];
    let rows = log.parts.iter().map(|part| {
        let (limit, margin, why) = match &part.verdict {
            PartVerdict::Refused { reason } => ("none".to_owned(), "none".to_owned(), reason.clone()),
            PartVerdict::NotComplete { stage } => {
                ("none".to_owned(), "none".to_owned(), format!("`{stage}` has no time"))
            }
            PartVerdict::Decided(decision) => match tightest(decision) {
                Some((limit, margin)) => {
                    let name = table.limits.get(limit).cloned().unwrap_or_default();
                    (name, format!("{margin:.2}"), decision.word().to_owned())
                }
                None => ("none".to_owned(), "none".to_owned(), decision.word().to_owned()),
            },
        };
        vec![
            part.line.to_string(),
            part.part.clone(),
            part.verdict.word().to_owned(),
            part.verdict.goes_on().to_string(),
            limit,
            margin,
            why,
        ]
    });
    write_rows(std::iter::once(head.map(str::to_owned).to_vec()).chain(rows))
}
