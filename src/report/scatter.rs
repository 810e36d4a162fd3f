//! How likely a bad part is, and what it depends on.

use super::limits::{legend, numbered};
use crate::ask::answer::{RareFound, ScatterAnswer};
use crate::ask::random::Scheme;
use crate::ask::respond::Response;
use crate::ask::risk::{CauseOf, Causes};
use crate::ask::scatter::{LimitScatter, ScatterResult};
use crate::ask::statistics::Proportion;
use crate::ask::study::Study;
use crate::judge::{Bound, Limit};
use crate::picture::{Axis, Drawing, Histogram};
use crate::show::{Block, Cell, Column, Joint, NoteKind, Quantity, Table, Text, View, limit, quantity, say};

fn probability(p: f64) -> Cell {
    Cell::number(p, Quantity::Probability)
}

/// The answer of a study: `title` of the line, the resolution of its runs and the seconds they took.
pub fn answer(
    found: &ScatterAnswer,
    study: &Study,
    limits: &[Limit],
    (title, resolution, seconds): (&str, &str, f64),
) -> Vec<Block> {
    let result = &found.result;
    let any = &result.any;
    let first = say("scatter.answer")
        .with("share", probability(any.estimate))
        .with("low", probability(any.low))
        .with("high", probability(any.high))
        .with("confidence", confidence(any))
        .count(result.runs as usize)
        .with("resolution", Cell::name(resolution));
    let mut blocks = vec![Block::heading(Cell::name(title)), Block::sentence(first)];
    blocks.extend(mostly(found, study, limits).map(Block::sentence));
    blocks.extend(failed(result));
    blocks.extend(found.response.as_ref().map(|r| Block::sentence(surface(r))));
    if found.stopped {
        let text = say("scatter.stopped")
            .count(result.runs as usize + result.failed.len())
            .with("all", Cell::count(found.key.samples as usize));
        blocks.push(Block::Note(NoteKind::Caution, text.into()));
    }
    blocks.push(Block::Table(by_limit(result, limits)));
    blocks.extend(found.causes.as_ref().and_then(taken_out).map(Block::Table));
    blocks.push(Block::Table(causes(found, study, limits)));
    blocks.push(Block::Table(rare(found)));
    blocks.push(legend(limits));
    let scheme = match study.scheme {
        Scheme::Independent => say("scatter.independent"),
        Scheme::LatinHypercube => say("scatter.latin"),
        Scheme::QuasiRandom => say("scatter.quasi"),
    };
    let key = say("scatter.key")
        .with("seed", Cell::name(found.key.seed.to_string()))
        .count(found.key.samples as usize)
        .with("scheme", scheme)
        .with("time", Cell::number(seconds, Quantity::Seconds));
    blocks.push(Block::sentence(key));
    blocks.extend(super::times::counted_as_known(found.known));
    blocks
}

fn confidence(p: &Proportion) -> Cell {
    Cell::number(p.confidence, Quantity::Percent)
}

/// The limit that breaks most often, and the input that it depends on most.
fn mostly(found: &ScatterAnswer, study: &Study, limits: &[Limit]) -> Option<Text> {
    let broken = |k: usize| &found.result.limits[k].broken;
    let worst = (0..limits.len())
        .max_by(|&a, &b| broken(a).estimate.total_cmp(&broken(b).estimate).then(b.cmp(&a)))
        .filter(|&k| broken(k).count > 0)?;
    let text = match found.ranked(worst).first() {
        Some((input, share)) => say("scatter.mostly_by")
            .with("input", Cell::name(&study.scattered[*input].path))
            .with("share", Cell::number(*share, Quantity::Percent)),
        None => say("scatter.mostly"),
    };
    Some(text.with("limit", limit(&limits[worst])))
}

/// Runs that failed.
fn failed(result: &ScatterResult) -> Option<Block> {
    let first = result.failed.first()?;
    let text = say("scatter.failed")
        .count(result.failed.len())
        .with("index", Cell::count(first.index as usize))
        .with("why", Cell::name(&first.message));
    Some(Block::Note(NoteKind::Caution, text.into()))
}

fn surface(r: &Response) -> Text {
    let count = |n: u64| Cell::count(n as usize);
    let worst = r.error_k.iter().copied().fold(0.0, f64::max);
    say("scatter.surface")
        .with("run", count(r.fitted + r.compared + r.near))
        .with("fitted", count(r.fitted))
        .with("compared", count(r.compared))
        .with("near", count(r.near))
        .with("taken", count(r.taken))
        .with("error", Cell::number(worst, Quantity::Effect).up())
}

/// Probability, mean, spread, tail and capability of each limit.
fn by_limit(result: &ScatterResult, limits: &[Limit]) -> Table {
    let columns = vec![
        Column::numbers(say("limit.number"), Quantity::Count),
        Column::numbers(say("scatter.broken"), Quantity::Probability),
        Column::mixed(say("scatter.interval").with("confidence", confidence(&result.any))),
        Column::mixed(say("scatter.mean")),
        Column::numbers(say("scatter.sd"), Quantity::Difference),
        Column::numbers(say("scatter.skew"), Quantity::Ratio),
        Column::mixed(say("scatter.tail")),
        Column::numbers(Cell::name("Cpk"), Quantity::Ratio),
    ];
    let rows = result.limits.iter().zip(limits).enumerate().map(|(k, (l, limit))| {
        let tail = match limit.bound {
            Bound::MinC(_) => l.value.quantiles[0],
            _ => l.value.quantiles[6],
        };
        let of = quantity(limit.bound);
        vec![
            Cell::count(k + 1),
            probability(l.broken.estimate),
            Cell::range(l.broken.low, l.broken.high, Quantity::Probability),
            Cell::number(l.value.mean, of).nearest(),
            Cell::number(l.value.sd, Quantity::Difference),
            Cell::maybe(l.capability.as_ref().map(|_| l.value.skewness), Quantity::Ratio).signed(),
            Cell::number(tail, of).nearest(),
            Cell::maybe(l.capability.as_ref().map(|c| c.cpk.estimate), Quantity::Ratio),
        ]
    });
    Table::new(columns).rows(rows)
}

/// How many of the bad parts go when a cause is taken out.
fn taken_out(found: &Causes) -> Option<Table> {
    if found.causes.is_empty() {
        return None;
    }
    let columns = vec![
        Column::words(say("scatter.cause")),
        Column::mixed(say("scatter.bad_go")),
    ];
    let rows = found.causes.iter().map(|cause| {
        let name = match &cause.of {
            CauseOf::Input(path) => Cell::name(path),
            CauseOf::Retries(path) => say("scatter.retries_of").with("input", Cell::name(path)).into(),
        };
        let share = match cause.is_seen() {
            true => Cell::number(cause.removed, Quantity::Share),
            false => say("decide.noise").into(),
        };
        vec![name, share]
    });
    Some(Table::new(columns).caption(say("scatter.taken_out")).rows(rows))
}

/// What each input has in the variance of each limit.
fn causes(found: &ScatterAnswer, study: &Study, limits: &[Limit]) -> Table {
    let mut columns = vec![Column::words(say("scatter.cause"))];
    columns.extend(numbered(limits, Quantity::Percent));
    let rows = study.scattered.iter().enumerate().map(|(i, entry)| {
        let mut row = vec![Cell::name(&entry.path)];
        row.extend((0..limits.len()).map(|k| match &found.shares {
            Some(shares) => {
                // A share within twice its standard error is noise.
                let of = |share: f64, error: f64| match share.abs() > 2.0 * error {
                    true => Cell::number(share, Quantity::Percent),
                    false => say("scatter.noise").into(),
                };
                let s = &shares[k][i];
                of(s.first, s.first_error).joined(Joint::Brackets, of(s.total, s.total_error))
            }
            None => Cell::number(found.stack.limits[k].shares[i], Quantity::Percent),
        }));
        row
    });
    let line = |word: Text, value: &dyn Fn(usize) -> f64| {
        let name = Cell::from(word).joined(Joint::Comma, Cell::Unit(Quantity::Difference));
        let mut row = vec![name];
        row.extend((0..limits.len()).map(|k| Cell::number(value(k), Quantity::Difference)));
        row
    };
    let caption = match &found.shares {
        Some(_) => say("scatter.total"),
        None => say("scatter.linear"),
    };
    Table::new(columns)
        .caption(caption)
        .rows(rows)
        .row(line(say("scatter.root"), &|k| found.stack.limits[k].sd))
        .row(line(say("scatter.all_worst"), &|k| found.stack.limits[k].worst))
}

/// Rare events, where they were asked for.
fn rare(found: &ScatterAnswer) -> Table {
    let columns = vec![
        Column::mixed(say("limit.number")),
        Column::numbers(say("scatter.broken"), Quantity::Probability),
        Column::mixed(say("scatter.interval").with("confidence", confidence(&found.result.any))),
        Column::numbers(say("scatter.error"), Quantity::Percent),
        Column::numbers(say("scatter.count"), Quantity::Count),
    ];
    let row = |name: Cell, event: &RareFound| match event {
        Ok(e) => vec![
            name,
            probability(e.probability),
            Cell::range(e.low, e.high, Quantity::Probability),
            Cell::number(e.relative_error, Quantity::Percent),
            Cell::count(e.evaluations as usize),
        ],
        Err(message) => vec![name, Cell::Empty, Cell::name(message), Cell::Empty, Cell::Empty],
    };
    let each = found
        .rare
        .iter()
        .enumerate()
        .map(|(k, event)| row(Cell::count(k + 1), event));
    let any = found.rare_any.iter().map(|event| row(say("scatter.any").into(), event));
    Table::new(columns).caption(say("scatter.rare")).rows(each).rows(any)
}

/// The section of a report: the figures of each limit, and the histogram of the one that breaks most
/// often.
pub fn section(result: &ScatterResult, limits: &[Limit], view: &View) -> Vec<Block> {
    let runs = say("scatter.runs")
        .count(result.runs as usize)
        .with("failed", Cell::count(result.failed.len()));
    let key = |s: &LimitScatter| {
        let cpk = s.capability.as_ref().map_or(f64::INFINITY, |c| c.cpk.estimate);
        (s.broken.estimate, -cpk)
    };
    let worst = result.limits.iter().zip(limits).max_by(|a, b| {
        let (a, b) = (key(a.0), key(b.0));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    let chart = worst
        .filter(|(s, _)| s.value.sd > 0.0)
        .map(|(s, about)| counted(s, about, view).into());
    let tables = [Block::Table(by_limit(result, limits)), legend(limits)];
    [Block::sentence(runs)].into_iter().chain(chart).chain(tables).collect()
}

/// The frame of a histogram of a limited value with its limit.
fn frame(about: &Limit, view: &View) -> Histogram {
    let of = quantity(about.bound);
    let shown = |v: f64| of.shown(v, view.display);
    let (low, high) = match about.bound {
        Bound::MinC(c) => (Some(shown(c)), None),
        Bound::MaxC(c) | Bound::MaxDifferenceK(c) => (None, Some(shown(c))),
    };
    Histogram {
        title: Cell::from(limit(about)).whole(view),
        axis: Axis::new(about.node.clone(), of.unit(view.display)),
        low_limit: low,
        high_limit: high,
        ..Histogram::default()
    }
}

/// The histogram of a limited value that a study has counted.
fn counted(s: &LimitScatter, about: &Limit, view: &View) -> Drawing {
    let shown = |v: f64| quantity(about.bound).shown(v, view.display);
    let classes = s.histogram.counts.iter().enumerate().map(|(i, &count)| {
        let from = s.histogram.start + s.histogram.width * i as f64;
        (shown(from), shown(from + s.histogram.width), count as usize)
    });
    let chart = Histogram {
        counted: view.say("scatter.parts").to_owned(),
        given: classes.collect(),
        ..frame(about, view)
    };
    let style = view.style();
    chart.draw(&style.sized(style.width, 640))
}

/// The histogram of a limited value from the margins of all samples, K.
pub fn histogram(margins: &[f64], about: &Limit, view: &View) -> Drawing {
    let (sign, base) = match about.bound {
        Bound::MinC(c) => (1.0, c),
        Bound::MaxC(c) | Bound::MaxDifferenceK(c) => (-1.0, c),
    };
    let shown = |margin: &f64| quantity(about.bound).shown(base + sign * margin, view.display);
    let chart = Histogram {
        counted: view.say("scatter.count").to_owned(),
        values: margins.iter().map(shown).collect(),
        ..frame(about, view)
    };
    chart.draw(&view.style())
}

/// How far a part of a study that was spread over machines has come.
pub fn part((part, parts): (u64, u64), samples: usize, complete: bool) -> Vec<Block> {
    let text = match complete {
        true => say("scatter.part_done"),
        false => say("scatter.part_open"),
    };
    let text = text
        .with("part", Cell::count(part as usize))
        .with("parts", Cell::count(parts as usize))
        .count(samples)
        .with("option", Cell::name("--merge"));
    vec![Block::sentence(text)]
}
