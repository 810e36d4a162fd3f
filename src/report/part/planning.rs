//! Delay limits, exit band, sensitivities, stops and scatter as sections and rows of the sheet.

use super::super::chart::{Axis, Histogram as HistogramChart, LineChart, Rule, Series};
use super::super::dossier::{DelayRow, Part};
use super::super::number::signed;
use super::super::view::{Side, View};
use super::table;
use crate::ask::band::Band;
use crate::ask::hand_overs::{ExitChart, HandOverTimes, State};
use crate::ask::scatter::ScatterResult;
use crate::ask::sensitivity::Sensitivity;
use crate::ask::stoppage::{Hold, Survival};
use crate::ask::times::Times;
use crate::judge::{Bound, Limit};

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

/// The section on sensitivities: change of the limiting margin with one unit of each input, the
/// strongest first.
pub fn sensitivities(list: &[Sensitivity], limiting: usize, limits: &[Limit], view: &View) -> Part {
    let mut order: Vec<(&Sensitivity, f64)> = list
        .iter()
        .filter_map(|s| Some((s, *s.margin_per_unit.get(limiting)?)))
        .filter(|(_, k)| k.is_finite())
        .collect();
    // by what a usual step changes, so that inputs of different units can be compared
    order.sort_by(|a, b| (b.1 * b.0.step).abs().total_cmp(&(a.1 * a.0.step).abs()));
    let number = |v: f64| signed(v, 2, view.decimal_comma);
    let rows = order
        .iter()
        .take(25)
        .map(|(s, k)| {
            vec![
                s.path.clone(),
                view.number(s.nominal, 2),
                s.unit.clone(),
                number(view.display.difference(*k)),
            ]
        })
        .collect();
    let mut text = Vec::new();
    if let Some(limit) = limits.get(limiting) {
        text.push(view.say_with("plan.for_limit", &[("limit", &limit_words(limit, view))]));
    }
    Part {
        text,
        tables: vec![table(
            "",
            &[
                view.say("word.input"),
                &format!(">{}", view.say("word.value")),
                view.say("word.unit"),
                &format!(">{} {}", view.say("plan.per_unit"), view.difference_unit()),
            ],
            rows,
        )],
        drawings: Vec::new(),
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

/// The section on scatter: share of broken limits with its interval, mean, spread, capability, and
/// the histogram of the limit that breaks most often.
pub fn scatter(result: &ScatterResult, limits: &[Limit], view: &View) -> Part {
    let percent = |share: f64| format!("{} %", view.number(100.0 * share, 2));
    let show = |limit: Option<&Limit>, value: f64| match limit.map(|l| l.bound) {
        Some(Bound::MaxDifferenceK(_)) | None => view.number(view.display.difference(value), 1),
        Some(_) => view.number(view.display.temperature(value), 1),
    };
    let rows = result
        .limits
        .iter()
        .enumerate()
        .map(|(k, s)| {
            vec![
                limits.get(k).map_or(s.name.clone(), |l| limit_words(l, view)),
                percent(s.broken.estimate),
                format!("{} \u{2013} {}", percent(s.broken.low), percent(s.broken.high)),
                show(limits.get(k), s.value.mean),
                view.number(view.display.difference(s.value.sd), 1),
                s.capability
                    .as_ref()
                    .map_or("\u{2013}".to_owned(), |c| view.number(c.cpk.estimate, 2)),
            ]
        })
        .collect();
    let confidence = result.any.confidence * 100.0;
    let worst = result
        .limits
        .iter()
        .enumerate()
        .max_by(|a, b| {
            let key = |s: &crate::ask::scatter::LimitScatter| {
                let cpk = s.capability.as_ref().map_or(f64::INFINITY, |c| c.cpk.estimate);
                (s.broken.estimate, -cpk)
            };
            let (a, b) = (key(a.1), key(b.1));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        })
        .filter(|(_, s)| s.value.sd > 0.0);
    let mut drawings = Vec::new();
    if let Some((k, s)) = worst
        && let Some(limit) = limits.get(k)
    {
        let unit = match limit.bound {
            Bound::MaxDifferenceK(_) => view.difference_unit(),
            _ => view.temperature_unit(),
        };
        let shown = |v: f64| match limit.bound {
            Bound::MaxDifferenceK(_) => view.display.difference(v),
            _ => view.display.temperature(v),
        };
        let (low, high) = match limit.bound {
            Bound::MinC(c) => (Some(shown(c)), None),
            Bound::MaxC(c) | Bound::MaxDifferenceK(c) => (None, Some(shown(c))),
        };
        let classes = s
            .histogram
            .counts
            .iter()
            .enumerate()
            .map(|(i, &count)| {
                let from = s.histogram.start + s.histogram.width * i as f64;
                (shown(from), shown(from + s.histogram.width), count as usize)
            })
            .collect();
        let chart = HistogramChart {
            title: limit_words(limit, view),
            axis: Axis::new(limit.node.clone(), unit),
            counted: view.say("scatter.parts").to_owned(),
            given: classes,
            low_limit: low,
            high_limit: high,
            ..HistogramChart::default()
        };
        let style = view.style();
        drawings.push(chart.draw(&style.sized(style.width, 640)));
    }
    let n = result.runs.to_string();
    let failed = result.failed.len().to_string();
    Part {
        text: vec![view.say_with("scatter.runs", &[("n", &n), ("failed", &failed)])],
        tables: vec![table(
            "",
            &[
                view.say("word.limit"),
                &format!(">{}", view.say("scatter.broken")),
                &format!(">{} %", view.number(confidence, 0)),
                &format!(">{}", view.say("scatter.mean")),
                &format!(">{}", view.say("scatter.sd")),
                ">Cpk",
            ],
            rows,
        )],
        drawings,
    }
}
