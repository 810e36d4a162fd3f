//! The band of heater exit temperature, in blocks.

use super::limits::legend;
use crate::ask::band::{Band, BandEnd, EndOf};
use crate::ask::enquiry::{Enquiry, ExitBands};
use crate::ask::model::{Model, Probe};
use crate::judge::Limit;
use crate::show::{Block, Cell, Column, NoteKind, Quantity, Table, Text, limit, say};

/// What was found beside the band.
#[derive(Debug, Clone, Default)]
pub struct More<'a> {
    /// Bands with the core at other distances below the surface, K.
    pub by_core: &'a [(f64, Band)],
    /// A wanted temperature in degC somewhere and the exit that gives it.
    pub wanted: Option<(&'a Probe, f64, f64)>,
}

/// The answer, the bands with their guards, and by distance of the core.
pub fn blocks(enquiry: &Enquiry, bands: &ExitBands, more: &More) -> Vec<Block> {
    let limits = enquiry.model.limits();
    let mut blocks = vec![Block::heading(Cell::name(enquiry.title()))];
    let planned = enquiry.model.exit_inputs().map(|exit| exit.surface.1);
    blocks.extend(answer(&bands.bare, planned, limits).into_iter().map(Block::sentence));
    blocks.extend(stated(bands).map(Block::sentence));
    blocks.extend(
        planned
            .and_then(|c| planned_outside(bands.stated(), c))
            .map(Block::sentence),
    );
    if enquiry.model.exit_inputs().is_some_and(|exit| exit.base_c != 0.0) {
        let text = say("band.computed").with("command", Cell::name("billet heat"));
        blocks.push(Block::Note(NoteKind::Remark, text.into()));
    }
    if let Some((probe, wanted, exit)) = more.wanted {
        let text = say("band.wanted")
            .with("wanted", Cell::number(wanted, Quantity::Temperature))
            .with("node", Cell::name(&probe.node))
            .with("moment", Cell::Moment(probe.moment))
            .with("stage", Cell::name(&probe.stage))
            .with("exit", Cell::number(exit, Quantity::Temperature));
        blocks.push(Block::sentence(text));
    }
    blocks.push(Block::Table(guarded(bands)));
    if !more.by_core.is_empty() {
        blocks.push(Block::Table(by_core(more.by_core)));
    }
    blocks.push(legend(limits));
    blocks.extend(super::times::guarding(enquiry));
    blocks
}

/// What the guard band for the reject risk leaves.
fn stated(bands: &ExitBands) -> Option<Text> {
    let (bare, reject) = (allowed_c(&bands.bare), bands.reject.as_ref()?);
    bare?;
    Some(match allowed_c(reject) {
        Some((low, high)) => {
            say("band.stated").with("range", Cell::allowed(Some(low), Some(high), Quantity::Temperature))
        }
        None => say("band.none_left"),
    })
}

/// That the planned exit is not one that an instruction may state.
fn planned_outside(stated: &Band, planned_c: f64) -> Option<Text> {
    let (low, high) = allowed_c(stated)?;
    let text = say("band.planned_outside").with("planned", Cell::number(planned_c, Quantity::Temperature));
    (planned_c < low || planned_c > high).then_some(text)
}

/// The bands as a section of a page.
pub fn section(bands: &ExitBands) -> Vec<Block> {
    vec![Block::Table(guarded(bands))]
}

/// The allowed exit temperatures in degC, where there are such.
pub fn allowed_c(band: &Band) -> Option<(f64, f64)> {
    match band {
        Band::Open { low, high } => Some((low.exit_c, high.exit_c)),
        _ => None,
    }
}

fn answer(band: &Band, planned: Option<f64>, limits: &[Limit]) -> Vec<Text> {
    let named = |k: usize| limits.get(k).map_or(Cell::Empty, |one| limit(one).into());
    let degrees = |c: f64| Cell::number(c, Quantity::Temperature);
    match band {
        Band::Open { low, high } => {
            let text = say("band.answer")
                .with(
                    "range",
                    Cell::allowed(Some(low.exit_c), Some(high.exit_c), Quantity::Temperature),
                )
                .with("planned", planned.map_or(Cell::Empty, degrees));
            let end = |end: &BandEnd, breaks, unsearched| match end.by {
                EndOf::Limit(k) => say(breaks).with("limit", named(k)),
                EndOf::Steel => say("band.steel"),
                EndOf::Search => say(unsearched),
            };
            vec![
                text,
                end(low, "band.colder", "band.colder_open"),
                end(high, "band.hotter", "band.hotter_open"),
            ]
        }
        Band::Closed {
            wants_hotter,
            wants_colder,
            best_exit_c,
            short_k,
            openings,
        } => {
            let text = say("band.excluded")
                .with("hotter", named(*wants_hotter))
                .with("colder", named(*wants_colder))
                .with("temperature", degrees(*best_exit_c))
                .with("by", Cell::number(*short_k, Quantity::Difference).up());
            let opening = openings.first().map_or_else(
                || say("band.not_opened"),
                |opening| {
                    say("band.opens")
                        .with("time", Cell::number(opening.shorten_s, Quantity::Seconds).up())
                        .with("stage", Cell::name(&opening.stage))
                },
            );
            vec![text, opening]
        }
        Band::Hopeless { limit, margin_k } => vec![
            say("band.hopeless")
                .with("limit", named(*limit))
                .with("by", Cell::number(-margin_k, Quantity::Difference).up()),
        ],
    }
}

/// Both ends of a band with what ends them.
fn ends(band: &Band) -> Vec<Cell> {
    let Band::Open { low, high } = band else {
        let none = || say("band.none").into();
        return vec![none(), none(), none(), none()];
    };
    let by = |end: &BandEnd| match end.by {
        EndOf::Limit(k) => Cell::count(k + 1),
        EndOf::Steel => say("band.by_steel").into(),
        EndOf::Search => say("band.by_search").into(),
    };
    let degrees = |end: &BandEnd| Cell::number(end.exit_c, Quantity::Temperature);
    vec![degrees(low).up(), by(low), degrees(high).down(), by(high)]
}

fn columns(first: Column) -> Vec<Column> {
    let degrees = |id| Column::numbers(say(id), Quantity::Temperature);
    let by = || Column::mixed(say("limit.number"));
    vec![first, degrees("band.from"), by(), degrees("band.to"), by()]
}

fn guarded(bands: &ExitBands) -> Table {
    let all = [
        ("band.bare", Some(&bands.bare)),
        ("band.for_reject", bands.reject.as_ref()),
        ("band.for_alarm", bands.alarm.as_ref()),
    ];
    let rows = all.into_iter().filter_map(|(id, band)| {
        let mut row = vec![say(id).into()];
        row.extend(ends(band?));
        Some(row)
    });
    Table::new(columns(Column::words(say("band.guard"))))
        .caption(say("band.caption"))
        .rows(rows)
}

fn by_core(bands: &[(f64, Band)]) -> Table {
    let rows = bands.iter().map(|(difference, band)| {
        let mut row = vec![Cell::number(*difference, Quantity::Margin).nearest()];
        row.extend(ends(band));
        row
    });
    let first = Column::numbers(say("band.core_below"), Quantity::Margin);
    Table::new(columns(first)).caption(say("band.by_core")).rows(rows)
}
