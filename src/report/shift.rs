//! A shift: counts, charts, drifts, capability, parts to be set aside; the same as CSV.

use super::ReportError;
use super::measured::{bad_rows, joins};
use crate::ask::enquiry::ExitKnown;
use crate::ask::statistics::Interval;
use crate::measured::BadRow;
use crate::measured::charts::Rule;
use crate::measured::{Bench, Cause, Series, SeriesKind, Shift, ShiftPart, State};
use crate::picture::{Axis, Drawing, LineChart, Rule as Line, Series as Curve};
use crate::show::{Block, Cell, Column, Joint, Mark, NoteKind, Quantity, Table, Text, View, say};

/// Parts listed on a screen; the CSV has all.
const MOST: usize = 40;

/// The whole answer.
pub fn blocks(title: &str, bench: &Bench, shift: &Shift, view: &View) -> Vec<Block> {
    let count = |state: State| Cell::count(shift.parts.iter().filter(|p| p.state == state).count());
    let summary = say("shift.summary")
        .with("good", count(State::Good))
        .with("alarm", count(State::Alarm))
        .with("reject", count(State::Reject))
        .count(shift.parts.len());
    let mut blocks = vec![Block::heading(Cell::name(title)), Block::sentence(summary)];
    blocks.extend(warnings(shift));
    blocks.push(Block::Table(charts(shift)));
    blocks.extend(
        shift
            .series
            .iter()
            .filter(|s| s.kind != SeriesKind::Seconds)
            .map(|s| picture(s, view))
            .map(Block::from),
    );
    blocks.extend(shift.drifts.iter().map(|d| {
        let unit = if is_time(shift, &d.series) {
            Quantity::Seconds
        } else {
            Quantity::Difference
        };
        let text = say("shift.drift")
            .with("series", Cell::name(&d.series))
            .with("change", Cell::number(d.change, unit).signed())
            .with("cause", cause(d.cause));
        Block::Note(NoteKind::Warning, text.into())
    }));
    blocks.extend(capability(shift));
    blocks.extend(rejects(shift));
    let error = say("shift.error").with("error", Cell::number(shift.error_k, Quantity::Effect).up());
    blocks.push(Block::Note(NoteKind::Remark, error.into()));
    if shift.by_run() > 0 {
        let text = say("shift.by_run").count(shift.by_run());
        blocks.push(Block::Note(NoteKind::Remark, text.into()));
    }
    blocks.extend(joins(bench));
    blocks.extend(bad_rows(&rows(bench, shift)));
    blocks
}

/// Rows with something wrong, those that could not be judged among them.
pub fn rows(bench: &Bench, shift: &Shift) -> Vec<BadRow> {
    let mut rows = bench.bad.clone();
    let more = shift.not_judged.iter().filter(|row| !bench.bad.contains(row));
    rows.extend(more.cloned());
    rows
}

/// What the verdicts do not cover.
fn warnings(shift: &Shift) -> Vec<Block> {
    let caution = |text: Text| Block::Note(NoteKind::Caution, text.into());
    let mut blocks = Vec::new();
    if !shift.not_judged.is_empty() {
        blocks.push(caution(say("shift.not_judged").count(shift.not_judged.len())));
    }
    if shift.without_seconds() > 0 {
        blocks.push(caution(say("shift.without_seconds").count(shift.without_seconds())));
    }
    let unread = |stage: &String| {
        let text = match shift.by_table {
            true => say("shift.not_complete"),
            false => say("shift.unread"),
        };
        caution(text.with("stage", Cell::name(stage)))
    };
    blocks.extend(shift.unread.iter().map(unread));
    let ignored = shift.ignored.iter();
    blocks.extend(ignored.map(|column| caution(say("shift.ignored").with("column", Cell::name(column)))));
    blocks.extend(shift.exit_known.and_then(exit_known));
    if shift.older_table {
        blocks.push(caution(say("shift.older_table")));
    }
    blocks
}

/// How the guard bands count the exit, where the study does not say how well it is measured.
fn exit_known(known: ExitKnown) -> Option<Block> {
    let (kind, text) = match known {
        ExitKnown::Stated(_) => return None,
        ExitKnown::Instrument(sd) => {
            let sd = Cell::number(sd, Quantity::Difference).up();
            (NoteKind::Remark, say("shift.exit_by_instrument").with("sd", sd))
        }
        ExitKnown::Scatters => (NoteKind::Caution, say("shift.exit_scatters")),
        ExitKnown::AsRead => (NoteKind::Caution, say("shift.exit_as_read")),
    };
    Some(Block::Note(kind, text.into()))
}

/// One row that cannot be judged, for a log that is followed.
pub fn not_judged(row: &BadRow) -> Block {
    let text = say("shift.row")
        .with("line", Cell::count(row.line))
        .with("why", Cell::name(&row.reason));
    Block::Note(NoteKind::Caution, text.into())
}

fn is_time(shift: &Shift, name: &str) -> bool {
    shift
        .series
        .iter()
        .any(|s| s.name == name && s.kind == SeriesKind::Seconds)
}

fn cause(cause: Cause) -> Text {
    match cause {
        Cause::Heater => say("shift.heater"),
        Cause::ExitInstrument => say("shift.exit_instrument"),
        Cause::Instrument => say("shift.instrument"),
        Cause::Handling => say("shift.handling"),
    }
}

fn rule(rule: Rule) -> Text {
    match rule {
        Rule::Beyond => say("shift.beyond"),
        Rule::TwoOfThree => say("shift.two_of_three"),
        Rule::FourOfFive => say("shift.four_of_five"),
        Rule::Eight => say("shift.eight"),
        Rule::Range => say("shift.range"),
    }
}

fn charts(shift: &Shift) -> Table {
    let columns = vec![
        Column::words(say("shift.series")),
        Column::mixed(say("scatter.mean")),
        Column::mixed(say("shift.sigma")),
        Column::mixed(say("shift.limits")),
        Column::words(say("shift.broken")),
        Column::words(say("shift.ewma")),
        Column::mixed(say("decide.drift")),
    ];
    let rows = shift.series.iter().map(|s| {
        let quantity = match s.kind {
            SeriesKind::Exit => Quantity::Temperature,
            SeriesKind::Seconds => Quantity::Seconds,
            SeriesKind::Off => Quantity::Difference,
        };
        let spread = if s.kind == SeriesKind::Seconds {
            Quantity::Phase
        } else {
            Quantity::Difference
        };
        let number = |value: f64| Cell::number(value, quantity).nearest();
        let sigma = Cell::number(s.chart.sigma, spread)
            .joined(Joint::Brackets, Cell::number(s.chart.sigma_error, Quantity::Percent));
        let broken = s.broken.iter().map(|(r, n, part)| {
            let text = say("shift.times").with("rule", rule(*r)).with("part", Cell::name(part));
            Cell::from(text.count(*n))
        });
        vec![
            Cell::name(&s.name),
            number(s.chart.mean),
            sigma,
            Cell::range(s.chart.limits.0, s.chart.limits.1, quantity),
            Cell::List(broken.collect()),
            s.ewma.as_ref().map_or(Cell::Empty, Cell::name),
            Cell::number(s.drift.0, spread).signed(),
        ]
    });
    let base = shift.series.first().map_or(0, |s| s.base);
    let note = say("shift.note").count(base);
    Table::new(columns).rows(rows).caption(say("shift.charts")).note(note)
}

/// The individuals of a series with their limits.
fn picture(series: &Series, view: &View) -> Drawing {
    let off = series.kind == SeriesKind::Off;
    let shown = |value: f64| {
        if off {
            view.display.difference(value)
        } else {
            view.display.temperature(value)
        }
    };
    let points = series
        .values
        .iter()
        .enumerate()
        .map(|(k, v)| ((k + 1) as f64, Some(shown(*v))))
        .collect();
    let line = |value: f64, id: &'static str| Line {
        value: shown(value),
        upright: false,
        label: view.say(id).to_owned(),
    };
    let unit = if off {
        view.display.difference_unit()
    } else {
        view.display.temperature_unit()
    };
    let chart = LineChart {
        title: series.name.clone(),
        x: Axis::new(view.say("word.part"), ""),
        y: Axis::new(view.say(if off { "measured.off" } else { "axis.temperature" }), unit),
        series: vec![Curve {
            name: String::new(),
            points,
            ink: 0,
            dots: series.values.len() <= 300,
            hidden: false,
        }],
        rules: vec![
            line(series.chart.limits.0, "shift.lower"),
            line(series.chart.mean, "scatter.mean"),
            line(series.chart.limits.1, "shift.upper"),
        ],
        ..LineChart::default()
    };
    chart.draw(&view.style())
}

fn capability(shift: &Shift) -> Option<Block> {
    let (band, c) = shift.capability.as_ref()?;
    let ratio = |v: f64| Cell::number(v, Quantity::Ratio);
    let range = |of: &Interval| Cell::range(of.low, of.high, Quantity::Ratio);
    let cp = c.cp.as_ref()?;
    let text = say("shift.capability")
        .with("band", Cell::range(band.0, band.1, Quantity::Temperature))
        .with("cp", ratio(cp.estimate))
        .with("cp_interval", range(cp))
        .with("cpk", ratio(c.cpk.estimate))
        .with("cpk_interval", range(&c.cpk));
    Some(Block::sentence(text))
}

fn rejects(shift: &Shift) -> Option<Block> {
    let bad: Vec<&ShiftPart> = shift.parts.iter().filter(|p| p.state == State::Reject).collect();
    if bad.is_empty() {
        return None;
    }
    let columns = vec![
        Column::words(say("word.part")),
        Column::numbers(say("decide.line"), Quantity::Count),
        Column::numbers(say("shift.exit"), Quantity::Temperature),
        Column::numbers(say("word.margin"), Quantity::Difference),
        Column::words(say("word.limit")),
        Column::words(say("shift.caught")),
    ];
    let rows = bad.iter().take(MOST).map(|p| {
        vec![
            Cell::name(&p.name),
            Cell::count(p.line),
            Cell::number(p.exit_c, Quantity::Temperature),
            Cell::number(p.margin_k, Quantity::Difference).down().signed(),
            Cell::name(shift.limits.get(p.limit).map_or("", String::as_str)),
            p.caught_at.as_ref().map_or(Cell::Empty, Cell::name),
        ]
    });
    let caption = say("shift.rejects").count(bad.len());
    Some(Block::Table(Table::new(columns).rows(rows).caption(caption)))
}

/// One part in one line, for a log that is followed.
pub fn line(shift_limits: &[String], part: &ShiftPart) -> Block {
    let mark = match part.state {
        State::Good => Cell::Mark(Mark::Ok, say("decide.good")),
        State::Alarm => Cell::Mark(Mark::Watch, say("decide.alarm")),
        State::Reject => Cell::Mark(Mark::Broken, say("decide.reject")),
    };
    let text = say("shift.line")
        .with("part", Cell::name(&part.name))
        .with("exit", Cell::number(part.exit_c, Quantity::Temperature))
        .with("state", mark)
        .with(
            "margin",
            Cell::number(part.margin_k, Quantity::Difference).down().signed(),
        )
        .with(
            "limit",
            Cell::name(shift_limits.get(part.limit).map_or("", String::as_str)),
        );
    Block::sentence(text)
}

/// All parts as CSV.
///
/// # Errors
/// Text that cannot be encoded.
pub fn csv(shift: &Shift) -> Result<String, ReportError> {
    let told = |error: String| ReportError::Text(error);
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    let mut head: Vec<String> = ["part", "line", "state", "exit_c", "margin_k", "limit", "caught_at"]
        .map(str::to_owned)
        .to_vec();
    head.extend(shift.times.iter().cloned());
    head.extend(
        shift
            .places
            .iter()
            .map(|p| format!("{}, {}, {} degC", p.stage, p.moment, p.node)),
    );
    head.extend(shift.slots.iter().map(|name| format!("{name}, off K")));
    writer.write_record(&head).map_err(|error| told(error.to_string()))?;
    for p in &shift.parts {
        let number = |v: f64| format!("{v:.2}");
        let mut row = vec![
            p.name.clone(),
            p.line.to_string(),
            p.state.word().to_owned(),
            number(p.exit_c),
            number(p.margin_k),
            shift.limits.get(p.limit).cloned().unwrap_or_default(),
            p.caught_at.clone().unwrap_or_default(),
        ];
        let maybe = |v: &Option<f64>| v.map_or(String::new(), number);
        row.extend(p.seconds.iter().map(maybe));
        row.extend(p.temps_c.iter().map(|v| number(*v)));
        row.extend(p.off_k.iter().map(maybe));
        writer.write_record(&row).map_err(|error| told(error.to_string()))?;
    }
    let bytes = writer.into_inner().map_err(|error| told(error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| told(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A measurement without a chart keeps its column, under its own name.
    #[test]
    fn every_measurement_has_its_column() {
        let part = ShiftPart {
            name: "1".to_owned(),
            line: 2,
            exit_c: 1230.0,
            seconds: vec![None],
            temps_c: Vec::new(),
            margin_k: 5.0,
            limit: 0,
            state: State::Good,
            caught_at: None,
            off_k: vec![None, Some(3.0)],
            by_run: false,
        };
        let shift = Shift {
            schema_version: 1,
            parts: vec![part],
            limits: vec!["press".to_owned()],
            places: Vec::new(),
            times: vec!["stage.press.seconds".to_owned()],
            slots: vec!["camera".to_owned(), "couple".to_owned()],
            series: Vec::new(),
            capability: None,
            drifts: Vec::new(),
            error_k: 0.0,
            not_judged: Vec::new(),
            unread: Vec::new(),
            ignored: Vec::new(),
            exit_known: None,
            by_table: false,
            older_table: false,
        };
        let text = csv(&shift).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        assert!(
            lines[0].ends_with("stage.press.seconds,\"camera, off K\",\"couple, off K\""),
            "{text}"
        );
        assert_eq!(lines[1], "1,2,good,1230.00,5.00,press,,,,3.00");
    }
}
