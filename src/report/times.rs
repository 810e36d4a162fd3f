//! How long hand-overs may take, in blocks; and the one place where times and states become cells.

use super::dossier::DelayRow;
use super::limits::legend;
use crate::ask::enquiry::{Enquiry, Guarding, Judged};
use crate::ask::hand_overs::{ExitChart, HandOverTimes, Pair, State};
use crate::ask::model::Model;
use crate::ask::times::{Edge, Times, TimesOptions};
use crate::judge::Limit;
use crate::picture::{Axis, LineChart, Rule, Series};
use crate::show::{Block, Cell, Column, Joint, Mark, NoteKind, Quantity, Seconds, Side, Table, Text, View, limit, say};

/// From when on the part is right: at once where no limit sets a time.
pub fn earliest(seconds: Option<f64>) -> Cell {
    seconds.map_or_else(
        || say("time.at_once").into(),
        |s| Cell::Seconds(Seconds::Of(s, Side::Up)),
    )
}

/// Until when the part is right: where no limit sets a time, any that was searched.
pub fn latest(seconds: Option<f64>, searched_s: Option<f64>) -> Cell {
    match (seconds, searched_s) {
        (Some(s), _) => Cell::Seconds(Seconds::allowed(s)),
        (None, Some(end)) => say("time.any_to")
            .with("time", Cell::number(end, Quantity::Seconds))
            .into(),
        (None, None) => Cell::Seconds(Seconds::Any),
    }
}

/// Earliest and latest seconds; `searched_s` is the longest time that was looked at.
pub fn ends(times: &Times, searched_s: f64) -> [Cell; 2] {
    match times {
        Times::Between {
            earliest: from,
            latest: to,
        } => [
            earliest(from.map(|edge| edge.seconds)),
            latest(to.map(|edge| edge.seconds), Some(searched_s)),
        ],
        Times::Never { .. } => [Cell::Seconds(Seconds::None), Cell::Seconds(Seconds::None)],
    }
}

/// The numbers of the limits that decide: that of the earliest before that of the latest time, or the
/// two that exclude each other.
pub fn deciding(times: &Times) -> Cell {
    let pair = match times {
        Times::Between { earliest, latest } => (earliest.map(|e| e.limit), latest.map(|e| e.limit)),
        Times::Never { limit, other, .. } => (*other, Some(*limit)),
    };
    let number = |k: usize| Cell::count(k + 1);
    match pair {
        (Some(a), Some(b)) if a != b => number(a).joined(Joint::Slash, number(b)),
        (a, b) => b.or(a).map_or_else(|| say("limit.none").into(), number),
    }
}

/// What to do with a part.
pub fn state(state: State) -> Cell {
    match state {
        State::Good => Cell::Mark(Mark::Ok, say("plan.good")),
        State::Wait => Cell::Mark(Mark::Watch, say("plan.wait")),
        State::Alarm => Cell::Mark(Mark::Watch, say("plan.alarm")),
        State::Reject => Cell::Mark(Mark::Broken, say("plan.bad")),
    }
}

/// Longest seconds that the search of a hand-over looks at.
pub(crate) fn searched_s(planned_s: f64) -> f64 {
    planned_s + TimesOptions::default().longest_s
}

/// Times of all hand-overs, and of the second of two for several lengths of the first.
pub fn blocks(judged: &Judged, times: &[HandOverTimes], together: Option<(&str, &str, &[Pair])>) -> Vec<Block> {
    let mut blocks = vec![Block::heading(Cell::name(judged.enquiry.title()))];
    blocks.extend(section(judged, times));
    blocks.extend(together.map(|(first, second, found)| Block::Table(pairs(judged, first, second, found))));
    blocks
}

/// Times of all hand-overs as a section of a page.
pub fn section(judged: &Judged, times: &[HandOverTimes]) -> Vec<Block> {
    let mut blocks: Vec<Block> = headline(judged, times).into_iter().map(Block::sentence).collect();
    blocks.extend(times.iter().filter_map(guard_used).map(Block::sentence));
    blocks.push(Block::Table(table(times)));
    blocks.push(legend(judged.enquiry.model.limits()));
    blocks.extend(guard_notes(judged));
    blocks
}

/// The risks that the times keep, and whose guard bands they are.
fn guard_notes(judged: &Judged) -> Vec<Block> {
    let risks = judged.risks();
    let kept = say("delays.guard")
        .with("alarm", Cell::number(risks.alarm, Quantity::Probability))
        .with("reject", Cell::number(risks.reject, Quantity::Probability));
    let kept = judged
        .risk
        .is_some()
        .then(|| Block::Note(NoteKind::Remark, kept.into()));
    let basis = judged.risk.is_some() && judged.enquiry.guarding == Guarding::Stated;
    let basis = basis.then(|| {
        let text = match judged.measures_exit() {
            true => say("delays.basis"),
            false => say("delays.basis_times"),
        };
        Block::Note(NoteKind::Remark, text.with("option", Cell::name("--out")).into())
    });
    kept.into_iter().chain(basis).chain(guarding(judged.enquiry)).collect()
}

/// Whose guard bands an answer keeps, and by which rule.
pub fn guarding(enquiry: &Enquiry) -> Vec<Block> {
    let option = || Cell::name("--no-guard");
    let table = || Cell::name("[[study.scatter]]");
    let texts = match enquiry.guarding {
        Guarding::Bare => vec![say("delays.bare").with("option", option())],
        _ if enquiry.scattered().is_empty() => vec![say("delays.no_guard").with("table", table())],
        Guarding::Stated => vec![say("delays.rule")],
        Guarding::Assumed => vec![
            say("delays.rule"),
            say("delays.assumed").with("table", table()).with("option", option()),
        ],
    };
    let note = |text: Text| Block::Note(NoteKind::Remark, text.into());
    let known = counted_as_known(enquiry.counted_as_known());
    texts.into_iter().map(note).chain(known).collect()
}

/// How many of the program's own values an answer counts as known, and where they are taken in.
pub fn counted_as_known(count: usize) -> Option<Block> {
    let text = say("delays.known")
        .count(count)
        .with("command", Cell::name("trace --certainty"));
    (count > 0).then(|| Block::Note(NoteKind::Remark, text.into()))
}

/// One row a hand-over. Alarm, reject and worst times stand there only where the file states what they need.
fn table(times: &[HandOverTimes]) -> Table {
    let seconds = |id| Column::numbers(say(id), Quantity::Seconds);
    let mut columns = vec![
        Column::words(say("delays.hand_over")),
        seconds("sheet.planned"),
        seconds("sheet.earliest"),
    ];
    let guarded = times.iter().any(|t| t.reject.is_some());
    let worst = times.iter().any(|t| t.others_worst.is_some());
    if guarded {
        columns.extend([seconds("sheet.alarm"), seconds("sheet.reject")]);
    }
    if worst {
        columns.push(seconds("delays.others_late"));
    }
    columns.extend([
        seconds("delays.latest"),
        Column::mixed(say("limit.number")),
        Column::numbers(say("delays.rate"), Quantity::CoolingRate),
    ]);
    let rows = times.iter().map(|t| {
        let end = searched_s(t.planned_s);
        let last = |times: &Option<Times>| {
            times.as_ref().map_or_else(
                || say("delays.not_stated").into(),
                |times| {
                    let [_, latest] = ends(times, end);
                    latest
                },
            )
        };
        let [from, _] = ends(t.stated(), end);
        let [_, to] = ends(&t.alone, end);
        let mut row = vec![Cell::name(&t.stage), Cell::number(t.planned_s, Quantity::Seconds), from];
        if guarded {
            row.extend([last(&t.alarm), last(&t.reject)]);
        }
        if worst {
            row.push(last(&t.others_worst));
        }
        let rate = t.alone.limit().and_then(|k| t.k_per_s.get(k));
        row.extend([
            to,
            deciding(&t.alone),
            rate.map_or_else(
                || say("limit.none").into(),
                |rate| Cell::number(*rate, Quantity::CoolingRate).signed(),
            ),
        ]);
        row
    });
    with_note(Table::new(columns).rows(rows), times.iter().map(|t| &t.alone))
}

/// The table with the meaning of an open end, where it has one.
fn with_note<'a>(table: Table, mut shown: impl Iterator<Item = &'a Times>) -> Table {
    if shown.any(|times| matches!(times, Times::Between { latest: None, .. })) {
        table.note(say("time.searched"))
    } else {
        table
    }
}

/// What the second hand-over may take by the length of the first.
fn pairs(judged: &Judged, first: &str, second: &str, found: &[Pair]) -> Table {
    let seconds = |head: Cell| Column::numbers(head, Quantity::Seconds);
    let caption = say("delays.together")
        .with("first", Cell::name(first))
        .with("second", Cell::name(second));
    let columns = vec![
        seconds(Cell::name(first)),
        seconds(say("sheet.earliest").into()),
        seconds(say("delays.latest").into()),
        Column::mixed(say("limit.number")),
    ];
    let handovers = judged.enquiry.model.handovers();
    let planned = handovers.iter().find(|h| h.stage == second).map_or(0.0, |h| h.seconds);
    let rows = found.iter().map(|pair| {
        let [from, to] = ends(&pair.second, searched_s(planned));
        let first = Cell::number(pair.first_s, Quantity::Seconds);
        vec![first, from, to, deciding(&pair.second)]
    });
    with_note(
        Table::new(columns).caption(caption).rows(rows),
        found.iter().map(|pair| &pair.second),
    )
}

/// That the guard bands leave no time, or not the planned one, at a hand-over.
fn guard_used(t: &HandOverTimes) -> Option<Text> {
    if !t.alone.holds_at(t.planned_s) {
        return None;
    }
    let text = match t.state(t.planned_s) {
        State::Good => return None,
        State::Wait => {
            let from = t.stated().earliest().map(|edge| edge.seconds);
            say("delays.used_wait").with("time", earliest(from))
        }
        State::Alarm => say("delays.used_alarm"),
        State::Reject => say("delays.used_reject"),
    };
    Some(text.with("stage", Cell::name(&t.stage)))
}

/// The answer: what is broken, else the hand-over with least to spare.
fn headline(judged: &Judged, times: &[HandOverTimes]) -> Vec<Text> {
    let limits = judged.enquiry.model.limits();
    let broken = judged.planned.verdicts.iter().enumerate().filter(|(_, v)| !v.holds);
    let broken: Vec<Text> = broken
        .map(|(k, verdict)| {
            mended(times, k)
                .with("limit", limit(&limits[k]))
                .with("by", Cell::number(-verdict.margin_k, Quantity::Margin).up())
        })
        .chain(times.iter().filter_map(|t| excluded(t, limits)))
        .collect();
    if !broken.is_empty() {
        return broken;
    }
    least_to_spare(times, limits)
}

/// The end of a hand-over's times that is nearest to its planned seconds, guard bands kept.
fn least_to_spare(times: &[HandOverTimes], limits: &[Limit]) -> Vec<Text> {
    let ends_of = |t: &'_ HandOverTimes| {
        let spare = |edge: Edge, early: bool| match early {
            true => t.planned_s - edge.seconds,
            false => edge.seconds - t.planned_s,
        };
        let both = [(t.stated().earliest(), true), (t.stated().latest(), false)];
        both.map(|(edge, early)| edge.map(|edge| (spare(edge, early), edge, early)))
    };
    let all = times
        .iter()
        .flat_map(|t| ends_of(t).into_iter().flatten().map(move |end| (t, end)));
    let Some((t, (_, edge, early))) = all.min_by(|a, b| a.1.0.total_cmp(&b.1.0)) else {
        let more = Cell::number(TimesOptions::default().longest_s, Quantity::Seconds);
        return vec![say("delays.no_latest").with("time", more)];
    };
    let about = |text: Text, edge: Edge| {
        text.with("stage", Cell::name(&t.stage))
            .with("planned", Cell::number(t.planned_s, Quantity::Seconds))
            .with("limit", limit(&limits[edge.limit]))
    };
    if early {
        let text = say("delays.tightest_early").with("time", earliest(Some(edge.seconds)));
        return vec![about(text, edge)];
    }
    let bare = t.alone.latest().unwrap_or(edge);
    let text = say("delays.tightest").with("time", Cell::Seconds(Seconds::allowed(bare.seconds)));
    let mut answer = vec![about(text, bare)];
    if let (Some(alarm), Some(reject)) = (&t.alarm, &t.reject) {
        let [_, alarm] = ends(alarm, searched_s(t.planned_s));
        let [_, reject] = ends(reject, searched_s(t.planned_s));
        answer.push(say("delays.guarded").with("alarm", alarm).with("reject", reject));
    }
    answer
}

/// The hand-over that mends a broken limit with the least change, if one can.
fn mended(times: &[HandOverTimes], broken: usize) -> Text {
    let found = times.iter().filter_map(|t| {
        let Times::Between {
            earliest: from,
            latest: to,
        } = t.alone
        else {
            return None;
        };
        let from = from.filter(|edge| edge.limit == broken && edge.seconds > t.planned_s);
        let to = to.filter(|edge| edge.limit == broken && edge.seconds < t.planned_s);
        let (id, edge, time) = match (from, to) {
            (Some(edge), _) => ("delays.too_hot", edge, earliest(Some(edge.seconds))),
            (None, Some(edge)) => ("delays.too_cold", edge, latest(Some(edge.seconds), None)),
            (None, None) => return None,
        };
        let text = say(id).with("stage", Cell::name(&t.stage)).with("time", time);
        Some(((edge.seconds - t.planned_s).abs(), text))
    });
    found
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map_or_else(|| say("delays.broken"), |(_, text)| text)
}

/// That two limits exclude each other whatever a hand-over takes.
fn excluded(t: &HandOverTimes, limits: &[Limit]) -> Option<Text> {
    let Times::Never {
        limit: one,
        other: Some(other),
        ..
    } = t.alone
    else {
        return None;
    };
    Some(
        say("delays.excluded")
            .with("stage", Cell::name(&t.stage))
            .with("limit", limit(limits.get(one)?))
            .with("other", limit(limits.get(other)?)),
    )
}

/// Rows of the sheet: earliest, alarm and reject times with their guard band. Without stated
/// uncertainties the reject time is the latest time itself and there is no alarm time; so it is, and
/// marked, where the guard band leaves no time at all. Hand-overs that nothing limits are left out.
pub fn delay_rows(times: &[HandOverTimes], limits: &[Limit]) -> Vec<DelayRow> {
    // None left where no length is right, open where nothing breaks.
    let latest = |times: &Times| match times {
        Times::Between { latest, .. } => latest.map(|edge| edge.seconds),
        Times::Never { .. } => Some(0.0),
    };
    times
        .iter()
        .filter_map(|of| {
            let guard_used = matches!(of.stated(), Times::Never { .. }) && of.alone.holds_at(of.planned_s);
            let stated = if guard_used { &of.alone } else { of.stated() };
            let decides = stated.limit()?;
            let alarm = of.alarm.as_ref().filter(|_| !guard_used);
            Some(DelayRow {
                stage: of.stage.clone(),
                planned_s: of.planned_s,
                guard_used,
                earliest_s: stated.earliest().map(|edge| edge.seconds),
                alarm_s: alarm.and_then(latest),
                reject_s: latest(stated),
                node: limits.get(decides).map_or(String::new(), |l| l.node.clone()),
            })
        })
        .collect()
}

/// Allowed time of a hand-over over the exit temperature, one curve a limit; `None` where no limit ends
/// it in the times that were looked at.
pub fn exit_chart(
    chart: &ExitChart,
    (stage, planned_s): (&str, f64),
    limits: &[Cell],
    view: &View,
) -> Option<LineChart> {
    let curve = |k: usize| -> Vec<(f64, Option<f64>)> {
        let latest = |row: &Vec<Times>| Some(row.get(k)?.latest()?.seconds);
        let exits = chart.exit_c.iter().map(|&c| view.display.temperature(c));
        exits.zip(chart.by_limit.iter().map(latest)).collect()
    };
    let series: Vec<Series> = limits
        .iter()
        .enumerate()
        .map(|(k, limit)| Series {
            name: limit.whole(view),
            points: curve(k),
            ink: k,
            dots: true,
            hidden: false,
        })
        .filter(|s| s.points.iter().any(|p| p.1.is_some()))
        .collect();
    if series.is_empty() {
        return None;
    }
    // limits that allow much more than the first one would only press the others together
    let most = chart
        .all
        .iter()
        .filter_map(Times::latest)
        .fold(0.0_f64, |most, edge| most.max(edge.seconds));
    let mut y = Axis::new(view.say("word.time"), "s");
    if most > 0.0 {
        y.range = Some((0.0, 1.6 * most));
    }
    let planned = Cell::from(say("sheet.planned")).joined(Joint::Space, Cell::number(planned_s, Quantity::Seconds));
    Some(LineChart {
        title: view.say_with("plan.chart", &[("stage", stage)]),
        x: Axis::new(view.say("axis.temperature"), view.temperature_unit()),
        y,
        series,
        rules: vec![Rule {
            value: planned_s,
            upright: false,
            label: planned.whole(view),
        }],
        ..LineChart::default()
    })
}

/// A limit beside its curve: the node as the file names it, and the value.
pub fn curve_name(limit: &Limit) -> Cell {
    Cell::name(&limit.node).joined(Joint::Space, limit.bound)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::{Bound, Kind, Moment, Owner};

    fn times(from: f64, to: f64) -> Times {
        let edge = |seconds, limit| Some(Edge { seconds, limit });
        Times::Between {
            earliest: edge(from, 0),
            latest: edge(to, 1),
        }
    }

    fn hand_over(planned_s: f64, alone: Times, reject: Times) -> HandOverTimes {
        HandOverTimes {
            stage: "heater to press".to_owned(),
            kind: Kind::Carry,
            path: String::new(),
            planned_s,
            alone,
            others_worst: None,
            reject: Some(reject),
            alarm: Some(reject),
            margins_k: vec![8.0, 70.0],
            k_per_s: vec![6.0, -6.0],
            runs: 1,
        }
    }

    fn limits() -> Vec<Limit> {
        let one = |bound| Limit {
            stage: None,
            moment: Moment::End,
            node: "surface".to_owned(),
            other: None,
            bound,
            owner: Owner::Given,
            source: String::new(),
        };
        vec![one(Bound::MaxC(960.0)), one(Bound::MinC(800.0))]
    }

    const NEVER: Times = Times::Never {
        limit: 0,
        other: None,
        margin_k: -3.0,
    };

    /// A planned time that is too early for the guard band leaves the times of the sheet guarded; only where the band
    /// leaves no time at all do they stand without it.
    #[test]
    fn a_sheet_states_guarded_times() {
        let early = hand_over(3.6, times(1.6, 20.4), times(4.5, 18.1));
        let none = hand_over(3.6, times(1.6, 20.4), NEVER);
        let rows = delay_rows(&[early, none], &limits());
        assert!(!rows[0].guard_used && rows[1].guard_used);
        assert_eq!((rows[0].earliest_s, rows[0].reject_s), (Some(4.5), Some(18.1)));
        assert_eq!(
            (rows[1].earliest_s, rows[1].reject_s, rows[1].alarm_s),
            (Some(1.6), Some(20.4), None)
        );
    }

    /// The end that is nearest is named, be it the early one, and a wait is called a wait.
    #[test]
    fn the_headline_looks_at_both_ends() {
        let view = View::default();
        let plain = |text: Text| Cell::from(text).whole(&view).replace('\u{a0}', " ");
        let early = hand_over(8.5, times(7.0, 46.3), times(8.8, 44.1));
        let late = hand_over(3.6, times(0.5, 20.4), times(1.0, 18.1));
        let told = least_to_spare(&[late.clone(), early.clone()], &limits());
        let told: Vec<String> = told.into_iter().map(plain).collect();
        assert_eq!(told.len(), 1);
        assert!(
            told[0].contains("not before 8.8 s, planned 8.5 s") && told[0].contains("960"),
            "{told:?}"
        );
        let told = guard_used(&early).map(plain).unwrap();
        assert!(told.ends_with("too early, parts wait until 8.8 s."), "{told}");
        assert!(guard_used(&late).is_none());
    }
}
