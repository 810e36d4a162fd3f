//! Pictures of the heater.

use super::{kind, spent, way};
use crate::ask::heating::{CoilAnswer, Following, Pace, Stop};
use crate::heater::SectionField;
use crate::heater::advice::{Advice, AdvicePoint};
use crate::heater::energy::EnergyTable;
use crate::heater::fixed::FixedResult;
use crate::heater::line::{Criteria, Exit, Gone, HeaterLine, Steady, Study, Target, TrackPoint, Verdict, ZoneKind};
use crate::line::plan::CoilLine;
use crate::picture::{Axis, Bar, BarChart, Drawing, LineChart, Rule, Series, StageBar};
use crate::show::{Cell, Quantity, Text, View, say};

fn words(text: Text, view: &View) -> String {
    Cell::from(text).whole(view)
}

fn axis(text: &'static str, quantity: Quantity, view: &View) -> Axis {
    Axis::new(view.say(text), quantity.unit(view.display))
}

fn temperatures(view: &View) -> Axis {
    axis("axis.temperature", Quantity::Temperature, view)
}

fn bar(name: String, value: f64) -> Bar {
    Bar {
        name,
        value,
        note: String::new(),
        alarm: false,
    }
}

/// A line at a temperature, with its value.
fn rule(temp_c: f64, label: &'static str, view: &View) -> Rule {
    let value = Cell::number(temp_c, Quantity::Temperature).whole(view);
    Rule {
        value: view.display.temperature(temp_c),
        upright: false,
        label: format!("{} {value}", view.say(label)),
    }
}

/// Temperatures that a picture along the heater marks, degC.
#[derive(Debug, Clone, Copy, Default)]
pub struct Marks {
    /// Never to be exceeded.
    pub never_above_c: Option<f64>,
    /// The target.
    pub target_c: Option<f64>,
    /// Where the steel loses its magnetism.
    pub curie_c: Option<f64>,
}

impl Marks {
    /// Those of an answer.
    pub fn of(answer: &CoilAnswer, heater: &CoilLine) -> Marks {
        Marks {
            never_above_c: Some(answer.criteria.never_above_c),
            target_c: heater.goal.map(|g| g.value_c),
            curie_c: answer.curie_c,
        }
    }

    fn rules(self, view: &View) -> Vec<Rule> {
        let all = [
            (self.never_above_c, "steel.never_above"),
            (self.target_c, "heat.target"),
            (self.curie_c, "heat.curie"),
        ];
        let one = |(temp_c, label): (Option<f64>, &'static str)| temp_c.map(|c| rule(c, label, view));
        all.into_iter().filter_map(one).collect()
    }
}

/// Where the energy goes, as bars.
pub fn energy(table: &EnergyTable, view: &View) -> Drawing {
    let shown = |j_per_kg: f64| Quantity::EnergyPerTonne.shown(j_per_kg, view.display);
    let shares = table
        .shares
        .iter()
        .map(|(of, watts)| (spent(*of), table.per_kg(*watts)));
    let least = [(say("heat.least"), table.per_kg(table.least_w))];
    // The bar has room for the event only; how often it happens is in the table.
    let events = table.events.iter().map(|e| (kind(e.kind), e.j_per_kg));
    let good = table.good_j_per_kg().map(|good| (say("heat.good_tonne"), good));
    let bars = shares.chain(least).chain(events).chain(good);
    BarChart {
        title: view.say("heat.chart_energy").to_owned(),
        axis: axis("word.energy", Quantity::EnergyPerTonne, view),
        bars: bars.map(|(name, value)| bar(words(name, view), shown(value))).collect(),
        decimals: 0,
    }
    .draw(&view.style())
}

fn track(view: &View, points: &[TrackPoint], x: &dyn Fn(&TrackPoint) -> f64) -> Vec<Series> {
    let one = |name: &str, ink: usize, value: fn(&TrackPoint) -> f64| Series {
        name: view.say(name).to_owned(),
        points: points
            .iter()
            .map(|p| (x(p), Some(view.display.temperature(value(p)))))
            .collect(),
        ink,
        ..Series::default()
    };
    vec![
        one("zone.core", 0, |p| p.core_c),
        one("zone.surface", 1, |p| p.surface_c),
        one("zone.mean", 2, |p| p.mean_c),
        one("zone.hottest", 5, |p| p.hottest_c),
    ]
}

/// Temperatures along the heater, with the power of each coil under the axis.
pub fn along(line: &HeaterLine, steady: &Steady, marks: Marks, view: &View) -> Drawing {
    let place = |metres: f64| Quantity::Place.shown(metres, view.display);
    let mut at = 0.0;
    let mut stages = Vec::new();
    for zone in &line.zones {
        let name = match (&zone.kind, steady.coils.iter().find(|c| c.name == zone.name)) {
            (ZoneKind::Coil { .. }, Some(c)) => format!("{} {:.0} kW", zone.name, c.terminals_w / 1e3),
            _ => zone.name.clone(),
        };
        stages.push(StageBar {
            name,
            x: (place(at), place(at + zone.length_m)),
            tool: matches!(zone.kind, ZoneKind::Coil { .. }),
        });
        at += zone.length_m;
    }
    LineChart {
        title: view.say("heat.chart_along").to_owned(),
        x: axis("heating.place", Quantity::Place, view),
        y: temperatures(view),
        series: track(view, &steady.track, &|p| place(p.place_m)),
        rules: marks.rules(view),
        stages,
        ..LineChart::default()
    }
    .draw(&view.style())
}

/// Power of each coil as bars.
pub fn power(steady: &Steady, view: &View) -> Drawing {
    let bars = steady.coils.iter().map(|c| {
        let name = format!("{} {:.0} Hz", c.name, c.frequency_hz);
        bar(name, c.terminals_w / 1e3)
    });
    BarChart {
        title: view.say("heating.power").to_owned(),
        axis: axis("heat.mode", Quantity::Power, view),
        bars: bars.collect(),
        decimals: 1,
    }
    .draw(&view.style())
}

/// Temperature over the section at the exit, one curve per place along the billet; of a rectangular
/// bar also from the axis to the corner.
pub fn section(exit: &Exit, view: &View) -> Drawing {
    let curve = |name: String, points: &[(f64, f64)], ink: usize| Series {
        name,
        points: points
            .iter()
            .map(|(s, t)| (*s, Some(view.display.temperature(*t))))
            .collect(),
        ink,
        ..Series::default()
    };
    let (along, profiles) = (&exit.along, &exit.profiles);
    let last = profiles.len().saturating_sub(1);
    let mut shown: Vec<usize> = vec![0, profiles.len() / 2, last];
    shown.dedup();
    let mut series: Vec<Series> = shown
        .iter()
        .filter_map(|&j| profiles.get(j).zip(along.get(j)))
        .enumerate()
        .map(|(ink, (profile, place))| {
            let name = match profiles.len() {
                1 => say("heat.all_along"),
                _ => say("heat.at_share").with("share", Cell::number(*place, Quantity::Share)),
            };
            curve(words(name, view), profile, ink)
        })
        .collect();
    let corner = exit.sections.get(exit.sections.len() / 2).map(SectionField::diagonal);
    let across = match corner {
        Some(_) => "heat.half_side",
        None => "heat.radius",
    };
    series.extend(corner.map(|points| curve(view.say("heat.corner").to_owned(), &points, 5)));
    LineChart {
        title: view.say("heat.chart_section").to_owned(),
        x: Axis::new(view.say(across), ""),
        y: temperatures(view),
        series,
        ..LineChart::default()
    }
    .draw(&view.style())
}

/// Heat density over the section as the billet comes into each coil and as it leaves it.
pub fn density(steady: &Steady, view: &View) -> Drawing {
    let mut series = Vec::new();
    for coil in &steady.coils {
        for (points, when) in coil.heat.iter().zip(["heat.in", "heat.out"]) {
            series.push(Series {
                name: view.say_with(when, &[("coil", &coil.name)]),
                points: points.iter().map(|(s, q)| (*s, Some(q / 1e6))).collect(),
                ink: series.len(),
                ..Series::default()
            });
        }
    }
    LineChart {
        title: view.say("heat.chart_density").to_owned(),
        x: Axis::new(view.say("heat.radius"), ""),
        y: Axis::new(view.say("heat.density"), "MW/m\u{b3}"),
        series,
        ..LineChart::default()
    }
    .draw(&view.style())
}

/// Efficiency and surface-core difference against frequency.
pub fn frequency(advice: &Advice, view: &View) -> Drawing {
    let one = |name: &str, ink: usize, value: fn(&AdvicePoint) -> f64| Series {
        name: view.say(name).to_owned(),
        points: advice
            .points
            .iter()
            .filter(|p| p.frequency_hz <= 4.0 * advice.high_hz)
            .map(|p| (p.frequency_hz / 1e3, Some(value(p))))
            .collect(),
        ink,
        ..Series::default()
    };
    let rule = |hz: f64, depths: usize| Rule {
        value: hz / 1e3,
        upright: true,
        label: words(say("heat.skin_depths").count(depths), view),
    };
    LineChart {
        title: view.say("heat.chart_frequency").to_owned(),
        x: Axis::new(view.say("heating.frequency"), "kHz"),
        y: Axis::new(view.say("heat.factor_axis"), "").over(0.0, 1.0),
        series: vec![
            one("heat.efficiency_hot", 0, |p| p.efficiency_hot),
            one("heat.efficiency_cold", 1, |p| p.efficiency_cold),
            one("heat.difference_factor", 2, |p| p.difference_factor),
        ],
        rules: vec![rule(advice.low_hz, 4), rule(advice.high_hz, 6)],
        ..LineChart::default()
    }
    .draw(&view.style())
}

/// Ink of what is rejected.
const REJECTED: usize = 3;

/// Billets at the exit in the order of their numbers: mean, surface, core and hottest ever; rejects are marked.
fn study(title: Text, study: &Study, criteria: &Criteria, view: &View) -> Drawing {
    billets(title, study, limits_of(criteria, None, view), criteria.at_least.0, view)
}

/// Never-exceed temperature and gate of an order, with its name where there are two.
fn limits_of(criteria: &Criteria, order: Option<&str>, view: &View) -> Vec<Rule> {
    let gates = [Some(criteria.at_least.1), criteria.at_most_c];
    let gates = gates.into_iter().flatten().map(|c| rule(c, "heat.sort_limit", view));
    let all = std::iter::once(rule(criteria.never_above_c, "steel.never_above", view)).chain(gates);
    let named = |rule: Rule| match order {
        Some(order) => Rule {
            label: format!("{order}: {}", rule.label),
            ..rule
        },
        None => rule,
    };
    all.map(named).collect()
}

/// Billets as they leave against the lines of a picture.
fn billets(title: Text, study: &Study, rules: Vec<Rule>, target: Target, view: &View) -> Drawing {
    let one = |name: &str, ink: usize, value: fn(&Gone) -> f64| Series {
        name: view.say(name).to_owned(),
        points: study
            .billets
            .iter()
            .map(|b| (b.billet.number as f64, Some(view.display.temperature(value(&b.billet)))))
            .collect(),
        ink,
        dots: true,
        ..Series::default()
    };
    let mut series = vec![
        one("zone.core", 0, |b| b.core_c),
        one("zone.surface", 1, |b| b.surface_c),
        one("zone.mean", 2, |b| b.mean_c),
        one("heat.hottest_ever", 5, |b| b.peak_c),
    ];
    // A gap after each keeps the dots of the rejects unjoined.
    let rejects = study.billets.iter().filter(|b| b.verdict != Verdict::Good);
    let points = rejects.flat_map(|b| {
        let number = b.billet.number as f64;
        let value = view.display.temperature(target.of(&b.billet));
        [(number, Some(value)), (number, None)]
    });
    let rejects = Series {
        name: view.say("heat.rejected").to_owned(),
        points: points.collect(),
        ink: REJECTED,
        dots: true,
        ..Series::default()
    };
    if !rejects.points.is_empty() {
        series.push(rejects);
    }
    LineChart {
        title: words(title, view),
        x: Axis::new(view.say("heat.billet"), ""),
        y: temperatures(view),
        series,
        rules,
        ..LineChart::default()
    }
    .draw(&view.style())
}

/// Billets after a cold start.
pub fn cold_start(cold: &Study, answer: &CoilAnswer, view: &View) -> Drawing {
    study(say("heat.chart_start"), cold, &answer.criteria, view)
}

/// Billets after a change of pace.
pub fn pace(pace: &Pace, answer: &CoilAnswer, view: &View) -> Drawing {
    let title = say("heat.chart_pace").with("takt", Cell::number(pace.takt_s, Quantity::Seconds));
    study(title, &pace.course.study, &answer.criteria, view)
}

/// Billets of the change to the next order, each order against its limits, with a line at the first of the new one.
pub fn next(next: &Following, answer: &CoilAnswer, view: &View) -> Drawing {
    let title = say("heat.chart_next").with("title", Cell::name(&next.title));
    let study = &next.course.study;
    let mut rules = match next.criteria == answer.criteria {
        true => limits_of(&next.criteria, None, view),
        false => {
            let before = limits_of(&answer.criteria, Some(view.say("heat.order_before")), view);
            let new = limits_of(&next.criteria, Some(view.say("heat.order_new")), view);
            before.into_iter().chain(new).collect()
        }
    };
    let first = study.billets.iter().find(|b| b.billet.order > 0);
    rules.extend(first.map(|b| Rule {
        value: b.billet.number as f64,
        upright: true,
        label: view.say("heat.first_new").to_owned(),
    }));
    billets(title, study, rules, next.criteria.at_least.0, view)
}

/// Billets after a stop.
pub fn stop(stop: &Stop, answer: &CoilAnswer, view: &View) -> Drawing {
    let title = say("heat.chart_stop")
        .with("time", Cell::number(stop.seconds, Quantity::Seconds))
        .with("mode", way(stop.way));
    study(title, stop.study(), &answer.criteria, view)
}

/// Temperatures over time in a static coil from the start on, at a temperature (degC), with the steps of the power.
pub fn static_coil(result: &FixedResult, start_c: f64, view: &View) -> Drawing {
    let start = TrackPoint {
        place_m: 0.0,
        time_s: 0.0,
        core_c: start_c,
        surface_c: start_c,
        mean_c: start_c,
        hottest_c: start_c,
    };
    let points: Vec<TrackPoint> = std::iter::once(start).chain(result.track.iter().copied()).collect();
    let mut stages: Vec<StageBar> = Vec::new();
    let mut before = 0.0;
    for p in &result.powers {
        let name = format!("{:.0} kW", p.terminals_w / 1e3);
        match stages.last_mut() {
            Some(bar) if bar.name == name => bar.x.1 = p.time_s,
            _ => stages.push(StageBar {
                name,
                x: (before, p.time_s),
                tool: p.terminals_w > 0.0,
            }),
        }
        before = p.time_s;
    }
    LineChart {
        title: view.say("heat.chart_static").to_owned(),
        x: axis("word.time", Quantity::Seconds, view),
        y: temperatures(view),
        series: track(view, &points, &|p| p.time_s),
        stages,
        ..LineChart::default()
    }
    .draw(&view.style())
}
