//! Two or three lines side by side, and one line over a table of part numbers.

use super::limits::{legend, numbered};
use crate::ask::Failure;
use crate::ask::compare::{Different, SideBySide};
use crate::ask::enquiry::{Enquiry, ExitBands};
use crate::ask::family::{FamilyPart, FamilyRow};
use crate::ask::model::Outcome;
use crate::judge::Limit;
use crate::show::{Block, Cell, Column, Joint, Mark, NoteKind, Quantity, Table, limit, say};

/// Names of the lines in the tables.
const LETTERS: [&str; 3] = ["A", "B", "C"];

/// What differs between the lines, and what comes of it.
pub fn lines(files: &[String], outcomes: &[Outcome], different: &[Different], results: &[SideBySide]) -> Vec<Block> {
    let named = LETTERS.iter().zip(files);
    let mut blocks: Vec<Block> = named
        .map(|(letter, file)| Block::sentence(Cell::name(*letter).joined(Joint::Space, Cell::name(file))))
        .collect();
    blocks.extend(LETTERS.iter().zip(outcomes).map(|(letter, outcome)| {
        let text = match outcome.tightest().map(|k| &outcome.verdicts[k]) {
            None => say("compare.no_limits"),
            Some(v) => match v.holds {
                true => say("compare.holds"),
                false => say("compare.breaks"),
            }
            .with("margin", Cell::number(v.margin_k, Quantity::Margin).signed()),
        };
        Block::sentence(text.with("line", Cell::name(*letter)))
    }));
    if different.is_empty() {
        blocks.push(Block::sentence(say("compare.same")));
    }
    let letters = || {
        LETTERS
            .iter()
            .take(files.len())
            .map(|letter| Column::mixed(Cell::name(*letter)))
    };
    let mut columns = vec![Column::words(say("word.input")), Column::words(say("word.unit"))];
    columns.extend(letters());
    let rows = different.iter().map(|d| {
        let mut row = vec![Cell::name(&d.path), Cell::name(&d.unit)];
        let value = |value: &Option<String>| value.as_ref().map_or(Cell::Empty, |v| super::inputs::value(v));
        row.extend(d.values.iter().map(value));
        row
    });
    blocks.push(Block::Table(Table::new(columns).rows(rows)));
    let mut columns = vec![Column::words(say("word.margin"))];
    columns.extend(letters());
    let rows = results.iter().map(|r| {
        let mut row = vec![limit(&r.about).into()];
        let margin = |x: &Option<(f64, f64)>| Cell::maybe(x.map(|x| x.1), Quantity::Difference).signed().down();
        row.extend(r.results.iter().map(margin));
        row
    });
    let mut hot: Vec<Cell> = vec![say("compare.hot_time").into()];
    hot.extend(outcomes.iter().map(|o| Cell::number(o.hot_time_s(), Quantity::Seconds)));
    blocks.push(Block::Table(Table::new(columns).rows(rows).row(hot)));
    blocks
}

/// One line over a table of part numbers.
pub fn family(
    title: &str,
    rows: &[FamilyRow],
    results: &[Result<FamilyPart, Failure>],
    limits: &[Limit],
) -> Vec<Block> {
    let holds = |result: &&Result<FamilyPart, Failure>| matches!(result, Ok(part) if part.outcome.holds());
    let (good, refused) = (
        results.iter().filter(holds).count(),
        results.iter().filter(|r| r.is_err()).count(),
    );
    let counts = say("family.counts")
        .count(rows.len())
        .with("good", Cell::count(good))
        .with("broken", Cell::count(results.len() - good - refused))
        .with("refused", Cell::count(refused));
    let mut columns = vec![
        Column::words(say("word.part")),
        Column::words(say("warmup.verdict")),
        Column::mixed(say("family.tightest")),
    ];
    columns.extend(numbered(limits, Quantity::Margin));
    let table = rows.iter().zip(results).map(|(row, result)| {
        let mut cells = vec![Cell::name(&row.part)];
        match result {
            Ok(part) => {
                let outcome = &part.outcome;
                cells.push(match outcome.holds() {
                    true => Cell::Mark(Mark::Ok, say("verdict.holds")),
                    false => Cell::Mark(Mark::Broken, say("verdict.broken")),
                });
                cells.push(outcome.tightest().map_or(Cell::Empty, |k| Cell::count(k + 1)));
                let margin = |margin_k: f64| Cell::number(margin_k, Quantity::Margin).signed();
                cells.extend(outcome.margins_k().into_iter().map(margin));
                cells.resize(limits.len() + 3, say("limit.none").into());
            }
            Err(_) => {
                cells.push(Cell::Mark(Mark::Watch, say("family.no_run")));
                cells.extend(std::iter::repeat_n(Cell::Empty, limits.len() + 1));
            }
        }
        cells
    });
    let caption = say("family.caption").with("unit", Cell::Unit(Quantity::Margin));
    let mut blocks = vec![
        Block::heading(Cell::name(title)),
        Block::sentence(counts),
        Block::Table(Table::new(columns).caption(caption).rows(table)),
        legend(limits),
    ];
    blocks.extend(family_heater(rows, results));
    for (row, result) in rows.iter().zip(results) {
        if let Err(error) = result {
            let text = error.to_string();
            let first = text.lines().next().unwrap_or_default();
            let why = Cell::name(&row.part).joined(Joint::Colon, Cell::name(first));
            blocks.push(Block::Note(NoteKind::Caution, why));
        }
    }
    blocks
}

/// What the heater needs for each part, where it is computed.
fn family_heater(rows: &[FamilyRow], results: &[Result<FamilyPart, Failure>]) -> Option<Block> {
    let parts = rows.iter().zip(results);
    let needs: Vec<_> = parts
        .filter_map(|(row, result)| Some((row, result.as_ref().ok()?.heater.as_ref()?)))
        .collect();
    let (_, first) = needs.first()?;
    let mut columns = vec![
        Column::words(say("word.part")),
        Column::numbers(say("heat.mains"), Quantity::EnergyPerTonne),
    ];
    let names = first.coils.iter().map(|c| &c.coil);
    columns.extend(names.map(|name| Column::numbers(Cell::name(name), Quantity::Power)));
    let rows = needs.iter().map(|(row, needs)| {
        let mut cells = vec![
            Cell::name(&row.part),
            Cell::number(needs.mains_kwh_t * 3600.0, Quantity::EnergyPerTonne),
        ];
        let powers = needs
            .coils
            .iter()
            .map(|c| Cell::number(1e3 * c.power_kw, Quantity::Power));
        cells.extend(powers);
        cells
    });
    Some(Block::Table(Table::new(columns).rows(rows)))
}

/// The exit that an instruction may state, degC.
pub fn stated_exit_c(bands: &ExitBands) -> Option<(f64, f64)> {
    super::band::allowed_c(bands.stated())
}

/// Exit band and times of the parts of a family: one row a part and hand-over.
pub fn family_times(base: &Enquiry, rows: &[FamilyRow], results: &[Result<FamilyPart, Failure>]) -> Vec<Block> {
    let seconds = |id| Column::numbers(say(id), Quantity::Seconds);
    let columns = vec![
        Column::words(say("word.part")),
        Column::mixed(say("sense.exit")),
        Column::words(say("delays.hand_over")),
        seconds("sheet.planned"),
        seconds("sheet.earliest"),
        seconds("sheet.alarm"),
        seconds("sheet.reject"),
    ];
    let mut table = Table::new(columns);
    for (row, plan) in rows
        .iter()
        .zip(results)
        .filter_map(|(row, result)| Some((row, result.as_ref().ok()?.plan.as_ref()?)))
    {
        let exit = match plan.bands.as_ref().map(stated_exit_c) {
            Some(Some((low, high))) => Cell::allowed(Some(low), Some(high), Quantity::Temperature),
            _ => say("band.none").into(),
        };
        for t in &plan.times {
            let end = super::times::searched_s(t.planned_s);
            let [from, to] = super::times::ends(t.stated(), end);
            let alarm = t.alarm.as_ref().map_or_else(
                || say("delays.not_stated").into(),
                |alarm| {
                    let [_, latest] = super::times::ends(alarm, end);
                    latest
                },
            );
            table = table.row(vec![
                Cell::name(&row.part),
                exit.clone(),
                Cell::name(&t.stage),
                Cell::number(t.planned_s, Quantity::Seconds),
                from,
                alarm,
                to,
            ]);
        }
    }
    let mut blocks = vec![Block::Table(table)];
    blocks.extend(super::times::guarding(base));
    blocks
}
