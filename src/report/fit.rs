//! A fit: estimates with intervals, what the data tell and what they do not, what was held.

use super::measured::{assumed, bad_rows, deviation, joins};
use crate::measured::{Bench, Estimate, FAR_SD, Fit, Told};
use crate::show::{Block, Cell, Column, Joint, NoteKind, Quantity, Table, say};

/// Held numbers that are shown.
const MOST_HELD: usize = 8;
/// Outliers that are shown; JSON has all.
const MOST_OUTLIERS: usize = 30;

/// The whole answer: `title` of the line.
pub fn blocks(title: &str, bench: &Bench, fit: &Fit) -> Vec<Block> {
    let mut blocks = vec![Block::heading(Cell::name(title))];
    let text = say("fit.summary")
        .count(fit.readings)
        .with("parts", Cell::count(fit.parts))
        .with("unknowns", Cell::count(fit.estimates.len()));
    blocks.push(Block::sentence(text));
    blocks.extend(fit.refused.iter().map(|why| {
        Block::Note(
            NoteKind::Caution,
            say("fit.refused").with("why", Cell::name(why)).into(),
        )
    }));
    blocks.push(Block::Table(
        estimates(&fit.estimates, fit.confidence, true).note(say("fit.note")),
    ));
    if !fit.beside.is_empty() {
        blocks.push(Block::Table(
            estimates(&fit.beside, fit.confidence, false).caption(say("fit.beside")),
        ));
    }
    blocks.extend(correlations(fit));
    blocks.push(Block::Table(directions(fit)));
    blocks.extend(further(fit));
    blocks.push(Block::Table(places(bench, fit)));
    blocks.extend(outliers(fit));
    blocks.extend(stretches(fit));
    blocks.extend(held(fit));
    blocks.push(Block::sentence(convergence(fit)));
    blocks.extend(assumed(bench));
    blocks.extend(joins(bench));
    blocks.extend(bad_rows(&bench.bad));
    blocks
}

fn plain(value: f64) -> Cell {
    Cell::number(significant(value), Quantity::Plain)
}

/// Five significant digits.
fn significant(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let scale = 10_f64.powf(4.0 - value.abs().log10().floor());
    (value * scale).round() / scale
}

fn interval((low, high): (f64, f64)) -> Cell {
    Cell::range(significant(low), significant(high), Quantity::Plain)
}

fn estimates(list: &[Estimate], confidence: f64, asked: bool) -> Table {
    let sure = || Cell::number(confidence, Quantity::Percent);
    let mut columns = vec![
        Column::words(say("fit.unknown")),
        Column::words(say("word.unit")),
        Column::mixed(say("fit.before")),
        Column::mixed(say("fit.found")),
        Column::mixed(say("fit.interval").with("confidence", sure())),
        Column::mixed(say("fit.whole")),
    ];
    columns.extend(asked.then(|| Column::words(say("fit.told"))));
    let rows = list.iter().map(|e| {
        let told: Cell = match &e.told {
            Told::Alone => say("fit.alone").into(),
            Told::OnlyWith { path, correlation } => say("fit.only_with")
                .with("path", Cell::name(path))
                .with("correlation", Cell::number(*correlation, Quantity::Ratio).signed())
                .into(),
            Told::Not => say("fit.not").into(),
            Told::Beside => Cell::Empty,
        };
        let mut cells = vec![
            Cell::name(&e.path),
            Cell::name(&e.unit),
            plain(e.before.0).joined(Joint::Brackets, plain(e.before.1)),
            plain(e.value).joined(Joint::Brackets, plain(e.sd)),
            interval(e.interval),
            interval(e.whole_interval),
        ];
        cells.extend(asked.then_some(told));
        cells
    });
    Table::new(columns).rows(rows)
}

fn correlations(fit: &Fit) -> Option<Block> {
    if fit.estimates.len() < 2 {
        return None;
    }
    let mut columns = vec![Column::words(say("fit.unknown"))];
    columns.extend(
        fit.estimates
            .iter()
            .map(|e| Column::numbers(Cell::name(&e.path), Quantity::Ratio)),
    );
    let rows = fit.estimates.iter().zip(&fit.correlations).map(|(e, row)| {
        let mut cells = vec![Cell::name(&e.path)];
        cells.extend(row.iter().map(|c| Cell::number(*c, Quantity::Ratio)));
        cells
    });
    Some(Block::Table(
        Table::new(columns).rows(rows).caption(say("fit.correlations")),
    ))
}

fn directions(fit: &Fit) -> Table {
    let columns = vec![
        Column::numbers(say("fit.singular"), Quantity::Ratio),
        Column::words(say("fit.along")),
    ];
    let rows = fit.directions.iter().map(|d| {
        let along = d.along.iter().map(|(path, share)| {
            Cell::number(*share, Quantity::Ratio)
                .signed()
                .joined(Joint::Space, Cell::name(path))
        });
        vec![Cell::number(d.singular, Quantity::Ratio), Cell::List(along.collect())]
    });
    Table::new(columns).rows(rows).caption(say("fit.directions"))
}

fn further(fit: &Fit) -> Vec<Block> {
    let note = |f: &crate::measured::Further| {
        let place = Cell::name(&f.stage)
            .joined(Joint::Comma, Cell::Moment(f.moment))
            .joined(Joint::Comma, Cell::Node(f.node.clone()));
        let text = say("fit.further")
            .with("path", Cell::name(&f.path))
            .with("place", place)
            .with("now", plain(f.sd.0))
            .with("later", plain(f.sd.1));
        Block::Note(NoteKind::Remark, text.into())
    };
    fit.further.iter().map(note).collect()
}

fn places(bench: &Bench, fit: &Fit) -> Table {
    let columns = vec![
        Column::words(say("measured.name")),
        Column::numbers(say("measured.readings"), Quantity::Count),
        Column::numbers(say("fit.off_before"), Quantity::Difference),
        Column::numbers(say("fit.off_after"), Quantity::Difference),
        Column::numbers(say("measured.sd"), Quantity::Difference),
        Column::numbers(say("fit.stated"), Quantity::Difference),
    ];
    let rows = fit.places.iter().map(|p| {
        let quantity = deviation(bench, &p.name);
        vec![
            Cell::name(&p.name),
            Cell::count(p.readings),
            Cell::number(p.before_k, quantity).signed(),
            Cell::number(p.mean_k, quantity).signed(),
            Cell::number(p.sd_k, quantity),
            Cell::maybe(p.stated_k, quantity),
        ]
    });
    Table::new(columns).rows(rows).caption(say("fit.places"))
}

fn outliers(fit: &Fit) -> Option<Block> {
    if fit.outliers.is_empty() {
        return None;
    }
    let columns = vec![
        Column::words(say("measured.name")),
        Column::words(say("word.part")),
        Column::numbers(say("decide.line"), Quantity::Count),
        Column::numbers(say("measured.off"), Quantity::Difference),
        Column::numbers(say("measured.in_sd"), Quantity::Factor),
    ];
    let rows = fit.outliers.iter().take(MOST_OUTLIERS).map(|o| {
        vec![
            Cell::name(&o.measurement),
            Cell::name(&o.part),
            Cell::count(o.line),
            Cell::number(o.off_k, Quantity::Difference).signed(),
            Cell::number(o.off_sd, Quantity::Factor).signed(),
        ]
    });
    let caption = say("fit.outliers")
        .with("far", Cell::number(FAR_SD, Quantity::Factor))
        .count(fit.outliers.len());
    Some(Block::Table(Table::new(columns).rows(rows).caption(caption)))
}

fn stretches(fit: &Fit) -> Vec<Block> {
    let note = |s: &crate::measured::Stretch| {
        let text = say("fit.stretch")
            .with("name", Cell::name(&s.measurement))
            .with("from", Cell::name(&s.from))
            .with("to", Cell::name(&s.to))
            .with("off", Cell::number(s.off_k, Quantity::Difference).signed());
        Block::Note(NoteKind::Warning, text.into())
    };
    fit.stretches.iter().map(note).collect()
}

fn held(fit: &Fit) -> Option<Block> {
    if fit.held.is_empty() {
        return None;
    }
    let mut columns = vec![Column::words(say("word.input")), Column::mixed(say("fit.believed"))];
    columns.extend(fit.estimates.iter().map(|e| Column::mixed(Cell::name(&e.path))));
    let rows = fit.held.iter().take(MOST_HELD).map(|h| {
        let mut cells = vec![Cell::name(&h.path), plain(h.value).joined(Joint::Brackets, plain(h.sd))];
        let of = |effect: &f64| Cell::number(significant(*effect), Quantity::Plain).signed();
        cells.extend(h.effect.iter().take(fit.estimates.len()).map(of));
        cells
    });
    Some(Block::Table(Table::new(columns).rows(rows).caption(say("fit.held"))))
}

fn convergence(fit: &Fit) -> Cell {
    let c = &fit.convergence;
    let end = match (c.end, c.starts_agree) {
        (crate::measured::least::End::Converged, true) => say("fit.converged"),
        (crate::measured::least::End::Converged, false) => say("fit.elsewhere"),
        _ => say("fit.not_converged"),
    };
    say("fit.search")
        .with("end", end)
        .with("error", Cell::number(c.error_k, Quantity::Effect).up())
        .count(c.runs)
        .into()
}
