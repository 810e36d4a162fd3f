//! Delay limits, exit band and stops as sections and rows of the sheet.

use super::super::chart::{Axis, LineChart, Rule, Series};
use super::super::dossier::{DelayRow, Part};
use super::table;
use crate::ask::band::Band;
use crate::ask::delays::{Allowed, DelayLimit, ExitChart};
use crate::ask::stoppage::{Hold, Survival};
use crate::judge::{Bound, Limit};
use crate::show::number::down;
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
        Some(stage) => format!("{stage}, {}", view.moment(&limit.moment)),
        None => view.moment(&limit.moment),
    };
    format!("{} {bound} ({place})", limit.node)
}

/// Total time of a hand-over: none left where it is broken already, endless where nothing breaks.
fn total(nominal_s: f64, allowed: &Allowed) -> Option<f64> {
    match allowed {
        Allowed::Extra { seconds, .. } => Some(nominal_s + seconds),
        Allowed::Broken { .. } => Some(0.0),
        Allowed::Endless { .. } => None,
    }
}

/// Rows of the sheet: alarm and reject times with their guard band. Without stated uncertainties the
/// reject time is the longest time itself and there is no alarm time; so it is, and marked, where
/// the guard band is used up without any delay. Hand-overs that nothing limits
/// are left out.
pub fn delay_rows(delays: &[DelayLimit], limits: &[Limit]) -> Vec<DelayRow> {
    delays
        .iter()
        .filter_map(|delay| {
            let guard_used = matches!(delay.reject, Some(Allowed::Broken { .. }));
            let reject = match &delay.reject {
                Some(guarded) if !guard_used => guarded,
                _ => &delay.nominal,
            };
            let decides = reject.limit().or(delay.nominal.limit());
            let alarm = delay.alarm.as_ref().filter(|_| !guard_used);
            Some(DelayRow {
                stage: delay.stage.clone(),
                guard_used,
                alarm_s: alarm.and_then(|a| total(delay.nominal_s, a)),
                reject_s: total(delay.nominal_s, reject)?,
                node: decides
                    .and_then(|k| limits.get(k))
                    .map_or(String::new(), |l| l.node.clone()),
            })
        })
        .collect()
}

/// The section on delay limits.
pub fn delays(delays: &[DelayLimit], limits: &[Limit], view: &View) -> Part {
    let clock = |nominal: f64, allowed: Option<&Allowed>| match allowed {
        None => "\u{2013}".to_owned(),
        Some(Allowed::Broken { .. }) => "!".to_owned(),
        Some(a) => total(nominal, a).map_or("\u{221e}".to_owned(), |s| view.number(down(s, 1).max(0.0), 1)),
    };
    let rows = delays
        .iter()
        .map(|d| {
            vec![
                d.stage.clone(),
                view.seconds(d.nominal_s, Side::Nearest),
                clock(d.nominal_s, d.alarm.as_ref()),
                clock(d.nominal_s, d.reject.as_ref()),
                clock(d.nominal_s, Some(&d.nominal)),
                d.nominal
                    .limit()
                    .and_then(|k| limits.get(k))
                    .map_or(String::new(), |l| limit_words(l, view)),
            ]
        })
        .collect();
    let head = |key: &str| format!(">{} s", view.say(key));
    let endless = !delays.is_empty() && delays.iter().all(|d| d.nominal.limit().is_none());
    let mut text = Vec::new();
    if endless {
        text.push(view.say("plan.none_broken").to_owned());
    }
    if delays.iter().any(|d| matches!(d.reject, Some(Allowed::Broken { .. }))) {
        text.push(view.say("sheet.guard_used").to_owned());
    }
    Part {
        text,
        tables: vec![table(
            "",
            &[
                view.say("word.stage"),
                &head("sheet.planned"),
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
            points: curve(&|i| {
                let allowed = chart.by_limit.get(i)?.get(k)?;
                Some(nominal_s + allowed.seconds()?)
            }),
            ink: k,
            dots: true,
            hidden: false,
        })
        .filter(|s| s.points.iter().any(|p| p.1.is_some()))
        .collect();
    // limits that allow much more than the first one would only press the others together
    let most = chart
        .first
        .iter()
        .filter_map(Allowed::seconds)
        .fold(0.0_f64, |most, s| most.max(nominal_s + s));
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
            let longest = match &s.longest {
                Allowed::Extra { seconds, .. } => view.seconds(*seconds, Side::Down),
                Allowed::Broken { .. } => view.number(0.0, 1),
                Allowed::Endless { .. } => "\u{221e}".to_owned(),
            };
            let mut row = vec![s.position.stage.clone(), place.to_owned(), longest];
            row.extend(s.good.iter().map(|good| {
                if *good {
                    format!("\u{2713}\u{a0}{}", view.say("plan.good"))
                } else {
                    format!("\u{2717}\u{a0}{}", view.say("plan.bad"))
                }
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
