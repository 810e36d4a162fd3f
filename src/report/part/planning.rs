//! Delay limits, exit band and stops as sections and rows of the sheet.

use super::super::chart::{Axis, LineChart, Rule, Series};
use super::super::dossier::{DelayRow, Part};
use super::table;
use crate::ask::band::Band;
use crate::ask::hand_overs::{ExitChart, HandOverTimes, State};
use crate::ask::stoppage::{Hold, Survival};
use crate::ask::times::Times;
use crate::judge::{Bound, Limit};
use crate::show::{Side, View};

/// A limit in the words of a view.
fn limit_words(limit: &Limit, view: &View) -> String {
    let unit = view.temperature_unit();
    let bound = match limit.bound {
        Bound::MinC(c) => format!("\u{2265} {} {unit}", view.degrees(c, Side::Up)),
        Bound::MaxC(c) => format!("\u{2264} {} {unit}", view.degrees(c, Side::Down)),
        Bound::MaxDifferenceK(k) => {
            format!(
                "\u{394} \u{2264} {} {}",
                view.kelvins(k, Side::Down),
                view.difference_unit()
            )
        }
    };
    let place = match &limit.stage {
        Some(stage) => format!("{stage}, {}", view.moment(limit.moment)),
        None => view.moment(limit.moment),
    };
    format!("{} {bound} ({place})", limit.node)
}

/// Rows of the sheet: earliest, alarm and reject times with their guard band. Without stated
/// uncertainties the reject time is the latest time itself and there is no alarm time; so it is, and
/// marked, where the guard band leaves no room for the planned time. Hand-overs that nothing limits are
/// left out.
pub fn delay_rows(times: &[HandOverTimes], limits: &[Limit]) -> Vec<DelayRow> {
    times
        .iter()
        .filter_map(|of| {
            let guard_used = !of.stated().holds_at(of.planned_s) && of.alone.holds_at(of.planned_s);
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

/// Latest seconds: none left where no length is right, open where nothing breaks.
fn latest(times: &Times) -> Option<f64> {
    match times {
        Times::Between { latest, .. } => latest.map(|edge| edge.seconds),
        Times::Never { .. } => Some(0.0),
    }
}

/// The section on the times of hand-overs.
pub fn delays(times: &[HandOverTimes], limits: &[Limit], view: &View) -> Part {
    let clock = |times: Option<&Times>| match times {
        None => "\u{2013}".to_owned(),
        Some(Times::Never { .. }) => "!".to_owned(),
        Some(times) => latest(times).map_or("\u{221e}".to_owned(), |s| view.seconds(s, Side::Down)),
    };
    let earliest = |times: &Times| {
        let edge = times.earliest();
        edge.map_or("\u{2013}".to_owned(), |edge| view.seconds(edge.seconds, Side::Up))
    };
    let rows = times
        .iter()
        .map(|of| {
            vec![
                of.stage.clone(),
                view.seconds(of.planned_s, Side::Nearest),
                earliest(of.stated()),
                clock(of.alarm.as_ref()),
                clock(of.reject.as_ref()),
                clock(Some(&of.alone)),
                of.alone
                    .limit()
                    .and_then(|k| limits.get(k))
                    .map_or(String::new(), |l| limit_words(l, view)),
            ]
        })
        .collect();
    let head = |key: &str| format!(">{} s", view.say(key));
    let mut text = Vec::new();
    if !times.is_empty() && times.iter().all(|of| of.alone.limit().is_none()) {
        text.push(view.say("plan.none_broken").to_owned());
    }
    if times
        .iter()
        .any(|of| !of.stated().holds_at(of.planned_s) && of.alone.holds_at(of.planned_s))
    {
        text.push(view.say("sheet.guard_used").to_owned());
    }
    Part {
        text,
        tables: vec![table(
            "",
            &[
                view.say("word.stage"),
                &head("sheet.planned"),
                &head("sheet.earliest"),
                &head("sheet.alarm"),
                &head("sheet.reject"),
                &head("plan.longest"),
                view.say("plan.first"),
            ],
            rows,
        )],
        drawings: Vec::new(),
    }
}

/// Allowed time of a hand-over over the exit temperature, one curve a limit.
pub fn exit_chart(chart: &ExitChart, stage: &str, nominal_s: f64, limits: &[Limit], view: &View) -> LineChart {
    let curve = |pick: &dyn Fn(usize) -> Option<f64>| -> Vec<(f64, Option<f64>)> {
        chart
            .exit_c
            .iter()
            .enumerate()
            .map(|(i, &c)| (view.display.temperature(c), pick(i)))
            .collect()
    };
    let series: Vec<Series> = limits
        .iter()
        .enumerate()
        .map(|(k, limit)| Series {
            name: limit_words(limit, view)
                .split(" (")
                .next()
                .unwrap_or_default()
                .to_owned(),
            points: curve(&|i| Some(chart.by_limit.get(i)?.get(k)?.latest()?.seconds)),
            ink: k,
            dots: true,
            hidden: false,
        })
        .filter(|s| s.points.iter().any(|p| p.1.is_some()))
        .collect();
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
    LineChart {
        title: view.say_with("plan.chart", &[("stage", stage)]),
        x: Axis::new(view.say("axis.temperature"), view.temperature_unit()),
        y,
        series,
        rules: vec![Rule {
            value: nominal_s,
            upright: false,
            label: format!(
                "{} {} s",
                view.say("sheet.planned"),
                view.seconds(nominal_s, Side::Nearest)
            ),
        }],
        ..LineChart::default()
    }
}

/// The allowed exit temperatures in degC, where there are such.
pub fn exit_band(band: &Band) -> Option<(f64, f64)> {
    match band {
        Band::Open { low, high } => Some((low.exit_c, high.exit_c)),
        _ => None,
    }
}

/// The stop table: which parts are still good after a stop, by where they wait.
pub fn stops(survivals: &[Survival], stops_s: &[f64], view: &View) -> Part {
    let mut header = vec![
        view.say("word.stage").to_owned(),
        view.say("plan.where").to_owned(),
        format!(">{} s", view.say("plan.longest_stop")),
    ];
    header.extend(stops_s.iter().map(|s| format!("{} s", view.number(*s, 0))));
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    let rows = survivals
        .iter()
        .map(|s| {
            let place = view.say(match s.position.hold {
                Hold::InPlace => "plan.in_place",
                Hold::OnDieBefore => "plan.on_die_before",
                Hold::OnDieAfter => "plan.on_die_after",
                Hold::OnRest => "plan.on_rest",
            });
            let longest = s
                .longest_s()
                .map_or("\u{221e}".to_owned(), |stop| view.seconds(stop, Side::Down));
            let mut row = vec![s.position.stage.clone(), place.to_owned(), longest];
            row.extend(s.states.iter().map(|state| match state {
                State::Good => format!("\u{2713}\u{a0}{}", view.say("plan.good")),
                State::Alarm => format!("!\u{a0}{}", view.say("sheet.alarm")),
                _ => format!("\u{2717}\u{a0}{}", view.say("plan.bad")),
            }));
            row
        })
        .collect();
    Part {
        text: Vec::new(),
        tables: vec![table("", &header, rows)],
        drawings: Vec::new(),
    }
}
