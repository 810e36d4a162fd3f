//! Tables and pictures of the heater.

use super::View;
use super::chart::{Axis, Bar, BarChart, Drawing, LineChart, Rule, Series, StageBar};
use super::table::text_table;
use crate::heater::SectionField;
use crate::heater::advice::Advice;
use crate::heater::fixed::FixedResult;
use crate::heater::line::{Exit, HeaterLine, Steady, Study, TrackPoint, Verdict, ZoneKind};
use crate::units::Display;

/// Power and energy shares of a heater at work: name, power in W.
#[derive(Debug, Clone, PartialEq)]
pub struct EnergyTable {
    /// Shares from the mains down; the first is the sum of the others.
    pub shares: Vec<(String, f64)>,
    /// Throughput, kg/s, good and rejected.
    pub kg_s: f64,
    /// Enthalpy that the target temperature needs at least, W.
    pub least_w: f64,
    /// Start-up and stops: name, and what they cost from the mains beyond their good billets, spread
    /// over the good billets of the shift, kWh/t.
    pub events: Vec<(String, f64)>,
}

/// A start-up or a stop, with the billets that nobody forges.
#[derive(Debug, Clone)]
pub struct Event<'a> {
    /// Name for the table.
    pub name: String,
    /// What came out.
    pub study: &'a Study,
    /// Billets rejected or set aside.
    pub lost: usize,
}

impl EnergyTable {
    /// The table of a settled line. `supply` is terminal over mains power; `least_w` the enthalpy
    /// rise to the target.
    pub fn of(steady: &Steady, supply: f64, least_w: f64) -> EnergyTable {
        let b = &steady.balance;
        let mains = b.terminals_w / supply;
        EnergyTable {
            shares: vec![
                ("from the mains".to_owned(), mains),
                (
                    "supply (transformer, converter, busbars)".to_owned(),
                    mains - b.terminals_w,
                ),
                ("windings".to_owned(), b.winding_w),
                ("linings".to_owned(), b.lining_w),
                ("open gaps".to_owned(), b.open_w),
                ("steel at the exit".to_owned(), b.steel_w),
            ],
            kg_s: b.kg_s,
            least_w,
            events: Vec::new(),
        }
    }

    /// Adds start-up and stops that happen once in `shift_h` (h) each; of several ways to bridge one,
    /// the one that costs least.
    ///
    /// An event costs E_study − n_good e with the mains energy E of its study, its good billets n and
    /// the energy e of a billet in the periodic state. A study begins or ends in that state, so what
    /// is stored in the column counts where it is lost: in the start-up that fills it again. The sum is
    /// spread over the mass of the good billets of the shift.
    pub fn add_events(
        &mut self,
        events: &[Vec<Event>],
        steady: &Steady,
        shift_h: f64,
        line: &HeaterLine,
        bar: &crate::heater::Bar,
        supply: f64,
    ) {
        let each_j = steady.balance.terminals_w * line.takt_s / supply;
        let good = |e: &Event| e.study.billets.len() as f64 - e.lost as f64;
        let extra = |e: &Event| e.study.energies.terminals_j / supply - good(e) * each_j;
        let chosen: Vec<&Event> = events
            .iter()
            .filter_map(|ways| ways.iter().min_by(|a, b| extra(a).total_cmp(&extra(b))))
            .collect();
        let span = |e: &Event| e.study.moments.last().map_or(0.0, |m| m.time_s);
        let busy: f64 = chosen.iter().map(|e| span(e)).sum();
        let rest = ((shift_h * 3600.0 - busy) / line.takt_s).max(0.0);
        let billets = rest + chosen.iter().map(|e| good(e)).sum::<f64>();
        let tonnes = billets * bar.mass_kg_m() * line.billet_m / 1e3;
        self.events = chosen
            .iter()
            .map(|e| {
                let name = format!("{}: {} rejects, once in {shift_h} h", e.name, e.lost);
                (name, extra(e) / 3.6e6 / tonnes)
            })
            .collect();
    }

    /// Energy from the mains per tonne of good billets, start-up and stops included, kWh/t; `None`
    /// where none were asked about.
    pub fn good_kwh_t(&self) -> Option<f64> {
        (!self.events.is_empty()).then(|| self.mains_kwh_t() + self.events.iter().map(|e| e.1).sum::<f64>())
    }

    fn kwh_t(&self, watts: f64) -> f64 {
        watts / self.kg_s / 3600.0
    }

    /// Energy per tonne from the mains, kWh/t.
    pub fn mains_kwh_t(&self) -> f64 {
        self.shares.first().map_or(f64::NAN, |s| self.kwh_t(s.1))
    }

    /// As text.
    pub fn text(&self, view: &View) -> String {
        let whole = self.shares.first().map_or(1.0, |s| s.1);
        let mut rows: Vec<Vec<String>> = self
            .shares
            .iter()
            .map(|(name, w)| {
                vec![
                    name.clone(),
                    view.number(w / 1e3, 1),
                    view.number(self.kwh_t(*w), 1),
                    view.number(100.0 * w / whole, 1),
                ]
            })
            .collect();
        rows.push(vec![
            "least: enthalpy to the target".to_owned(),
            view.number(self.least_w / 1e3, 1),
            view.number(self.kwh_t(self.least_w), 1),
            view.number(100.0 * self.least_w / whole, 1),
        ]);
        let share = |kwh_t: f64| view.number(100.0 * kwh_t / self.mains_kwh_t(), 1);
        for (name, kwh_t) in &self.events {
            rows.push(vec![
                name.clone(),
                view.number(kwh_t * self.kg_s * 3.6, 1),
                view.number(*kwh_t, 1),
                share(*kwh_t),
            ]);
        }
        if let Some(kwh_t) = self.good_kwh_t() {
            rows.push(vec![
                "from the mains for a tonne of good billets".to_owned(),
                view.number(kwh_t * self.kg_s * 3.6, 1),
                view.number(kwh_t, 1),
                share(kwh_t),
            ]);
        }
        text_table(&["energy", "> kW", "> kWh/t", "> %"], &rows)
    }

    /// As a picture.
    pub fn svg(&self, view: &View) -> String {
        let bars = self
            .shares
            .iter()
            .map(|(name, w)| Bar {
                name: name.clone(),
                value: self.kwh_t(*w),
                note: String::new(),
                alarm: false,
            })
            .chain(std::iter::once(Bar {
                name: "least: enthalpy to the target".to_owned(),
                value: self.kwh_t(self.least_w),
                note: String::new(),
                alarm: false,
            }))
            .chain(self.events.iter().map(|(name, kwh_t)| Bar {
                // The bar has room for the event only; how often it happens is in the table.
                name: name.split(':').next().unwrap_or(name).to_owned(),
                value: *kwh_t,
                note: String::new(),
                alarm: false,
            }))
            .chain(self.good_kwh_t().map(|kwh_t| Bar {
                name: "for a tonne of good billets".to_owned(),
                value: kwh_t,
                note: String::new(),
                alarm: false,
            }))
            .collect();
        BarChart {
            title: "Where the energy goes".to_owned(),
            axis: Axis::new("energy", "kWh/t"),
            bars,
            decimals: 0,
        }
        .draw(&view.style())
        .svg
    }
}

/// The coils of a settled line as a table.
pub fn coil_table(steady: &Steady, view: &View) -> String {
    let rows: Vec<Vec<String>> = steady
        .coils
        .iter()
        .map(|c| {
            vec![
                c.name.clone(),
                view.number(c.frequency_hz, 0),
                view.number(c.terminals_w / 1e3, 1),
                view.number(c.load_w / 1e3, 1),
                view.number(c.efficiency, 3),
                view.number(c.power_factor, 3),
                view.number(c.field_a_m / 1e3, 1),
            ]
        })
        .collect();
    text_table(
        &[
            "coil",
            "> Hz",
            "> kW",
            "> in steel kW",
            "> efficiency",
            "> cos phi",
            "> field kA/m",
        ],
        &rows,
    )
}

/// A length along the heater: m, or in with US units.
fn place(view: &View, metres: f64) -> f64 {
    match view.display {
        Display::Metric => metres,
        Display::Us => view.display.length(metres),
    }
}

fn place_unit(view: &View) -> &'static str {
    match view.display {
        Display::Metric => "m",
        Display::Us => view.display.length_unit(),
    }
}

fn series(view: &View, points: &[TrackPoint], x: &dyn Fn(&TrackPoint) -> f64) -> Vec<Series> {
    let one = |name: &str, ink: usize, value: fn(&TrackPoint) -> f64| Series {
        name: name.to_owned(),
        points: points
            .iter()
            .map(|p| (x(p), Some(view.display.temperature(value(p)))))
            .collect(),
        ink,
        ..Series::default()
    };
    vec![
        one("core", 0, |p| p.core_c),
        one("surface", 1, |p| p.surface_c),
        one("mean", 2, |p| p.mean_c),
        one("hottest", 5, |p| p.hottest_c),
    ]
}

/// Temperatures along the heater, with the power of each coil under the axis.
pub fn along_svg(line: &HeaterLine, steady: &Steady, never_above_c: Option<f64>, view: &View) -> String {
    let mut at = 0.0;
    let mut stages = Vec::new();
    for zone in &line.zones {
        let name = match (&zone.kind, steady.coils.iter().find(|c| c.name == zone.name)) {
            (ZoneKind::Coil { .. }, Some(c)) => format!("{} {:.0} kW", zone.name, c.terminals_w / 1e3),
            _ => zone.name.clone(),
        };
        stages.push(StageBar {
            name,
            x: (place(view, at), place(view, at + zone.length_m)),
            tool: matches!(zone.kind, ZoneKind::Coil { .. }),
        });
        at += zone.length_m;
    }
    let rules = never_above_c
        .map(|c| Rule {
            value: view.display.temperature(c),
            upright: false,
            label: "never above".to_owned(),
        })
        .into_iter()
        .collect();
    LineChart {
        title: "Bar temperatures along the heater".to_owned(),
        x: Axis::new("place along the heater", place_unit(view)),
        y: Axis::new("temperature", view.temperature_unit()),
        series: series(view, &steady.track, &|p| place(view, p.place_m)),
        rules,
        stages,
        ..LineChart::default()
    }
    .draw(&view.style())
    .svg
}

/// Power of each coil as bars.
pub fn power_svg(steady: &Steady, view: &View) -> String {
    BarChart {
        title: "Power at the terminals".to_owned(),
        axis: Axis::new("power", "kW"),
        bars: steady
            .coils
            .iter()
            .map(|c| Bar {
                name: format!("{} {:.0} Hz", c.name, c.frequency_hz),
                value: c.terminals_w / 1e3,
                note: String::new(),
                alarm: false,
            })
            .collect(),
        decimals: 1,
    }
    .draw(&view.style())
    .svg
}

/// Temperature over the section at the exit, one curve per place along the billet; of a rectangular
/// bar also from the axis to the corner.
pub fn section_svg(exit: &Exit, view: &View) -> String {
    let (along, profiles) = (&exit.along, &exit.profiles);
    let last = profiles.len().saturating_sub(1);
    let mut shown: Vec<usize> = vec![0, profiles.len() / 2, last];
    shown.dedup();
    let mut series: Vec<Series> = shown
        .iter()
        .filter_map(|&j| profiles.get(j).zip(along.get(j)).map(|p| (j, p)))
        .enumerate()
        .map(|(n, (_, (profile, place)))| Series {
            name: if profiles.len() == 1 {
                "all along".to_owned()
            } else {
                format!("at {:.0} % of the length", 100.0 * place)
            },
            points: profile
                .iter()
                .map(|(s, t)| (*s, Some(view.display.temperature(*t))))
                .collect(),
            ink: n,
            ..Series::default()
        })
        .collect();
    let corner = exit.sections.get(exit.sections.len() / 2).map(SectionField::diagonal);
    if let Some(points) = &corner {
        series.push(Series {
            name: "to the corner, at mid-length".to_owned(),
            points: points
                .iter()
                .map(|(s, t)| (*s, Some(view.display.temperature(*t))))
                .collect(),
            ink: 5,
            ..Series::default()
        });
    }
    let across = match corner {
        Some(_) => "distance from the axis over half the side",
        None => "radius over outer radius",
    };
    LineChart {
        title: "Temperature over the section at the exit".to_owned(),
        x: Axis::new(across, ""),
        y: Axis::new("temperature", view.temperature_unit()),
        series,
        ..LineChart::default()
    }
    .draw(&view.style())
    .svg
}

/// Heat density over the section as the billet comes into each coil and as it leaves it.
pub fn density_svg(steady: &Steady, view: &View) -> String {
    let mut series = Vec::new();
    for coil in &steady.coils {
        for (points, when) in coil.heat.iter().zip(["in", "out"]) {
            series.push(Series {
                name: format!("{}, {when}", coil.name),
                points: points.iter().map(|(s, q)| (*s, Some(q / 1e6))).collect(),
                ink: series.len(),
                ..Series::default()
            });
        }
    }
    LineChart {
        title: "Heat density over the section".to_owned(),
        x: Axis::new("radius over outer radius", ""),
        y: Axis::new("heat density", "MW/m³"),
        series,
        ..LineChart::default()
    }
    .draw(&view.style())
    .svg
}

/// Efficiency and surface-core difference against frequency.
pub fn advice_svg(advice: &Advice, view: &View) -> String {
    let one = |name: &str, ink: usize, value: fn(&crate::heater::advice::AdvicePoint) -> f64| Series {
        name: name.to_owned(),
        points: advice
            .points
            .iter()
            .filter(|p| p.frequency_hz <= 4.0 * advice.high_hz)
            .map(|p| (p.frequency_hz / 1e3, Some(value(p))))
            .collect(),
        ink,
        ..Series::default()
    };
    let rule = |hz: f64, label: &str| Rule {
        value: hz / 1e3,
        upright: true,
        label: label.to_owned(),
    };
    LineChart {
        title: "Which frequency".to_owned(),
        x: Axis::new("frequency", "kHz"),
        y: Axis::new("efficiency; difference factor (1 = thin skin)", "").over(0.0, 1.0),
        series: vec![
            one("efficiency, hot", 0, |p| p.efficiency_hot),
            one("efficiency, cold", 1, |p| p.efficiency_cold),
            one("difference factor", 2, |p| p.difference_factor),
        ],
        rules: vec![rule(advice.low_hz, "4 skin depths"), rule(advice.high_hz, "6")],
        ..LineChart::default()
    }
    .draw(&view.style())
    .svg
}

/// Billets at the exit in the order of their numbers: mean, surface, core and hottest ever.
pub fn study_svg(title: &str, study: &Study, never_above_c: f64, low_c: f64, view: &View) -> String {
    let one = |name: &str, ink: usize, value: &dyn Fn(&crate::heater::line::Gone) -> f64| Series {
        name: name.to_owned(),
        points: study
            .billets
            .iter()
            .map(|b| (b.billet.number as f64, Some(view.display.temperature(value(&b.billet)))))
            .collect(),
        ink,
        dots: true,
        ..Series::default()
    };
    let rule = |value: f64, label: &str| Rule {
        value: view.display.temperature(value),
        upright: false,
        label: label.to_owned(),
    };
    LineChart {
        title: title.to_owned(),
        x: Axis::new("billet, counted from the hot end", ""),
        y: Axis::new("temperature", view.temperature_unit()),
        series: vec![
            one("core", 0, &|b| b.core_c),
            one("surface", 1, &|b| b.surface_c),
            one("mean", 2, &|b| b.mean_c),
            one("hottest ever", 5, &|b| b.peak_c),
        ],
        rules: vec![rule(never_above_c, "never above"), rule(low_c, "sort limit")],
        ..LineChart::default()
    }
    .draw(&view.style())
    .svg
}

/// Temperatures over time in a static coil.
pub fn static_svg(result: &FixedResult, view: &View) -> String {
    static_chart(result, "Billet in the static coil", view).svg
}

/// The same as a drawing with a title.
pub(crate) fn static_chart(result: &FixedResult, title: &str, view: &View) -> Drawing {
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
        title: title.to_owned(),
        x: Axis::new("time", "s"),
        y: Axis::new("temperature", view.temperature_unit()),
        series: series(view, &result.track, &|p| p.time_s),
        stages,
        ..LineChart::default()
    }
    .draw(&view.style())
}

/// Verdict in a word.
pub fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Good => "good",
        Verdict::TooCold => "too cold",
        Verdict::TooHot => "too hot",
        Verdict::Uneven => "uneven",
    }
}

/// Billet numbers with a verdict, as ranges: `1-4, 7`.
pub fn numbers(study: &Study, verdict: Verdict) -> String {
    let mut ranges: Vec<(usize, usize)> = Vec::new();
    for b in study.billets.iter().filter(|b| b.verdict == verdict) {
        let n = b.billet.number;
        match ranges.last_mut() {
            Some(range) if range.1 + 1 == n => range.1 = n,
            _ => ranges.push((n, n)),
        }
    }
    let text: Vec<String> = ranges
        .iter()
        .map(|(a, b)| if a == b { a.to_string() } else { format!("{a}-{b}") })
        .collect();
    if text.is_empty() {
        "none".to_owned()
    } else {
        text.join(", ")
    }
}
