//! Profile and energy of a computed heater.

use super::super::chart::{Axis, LineChart, Series, StageBar};
use super::super::dossier::Part;
use super::super::heater::static_chart;
use super::table;
use crate::heater::fixed::FixedResult;
use crate::heater::line::{HeaterLine, Steady};
use crate::show::View;

/// The section on a line of coils in its steady state: temperatures along the line over the coils,
/// the coils with their powers, and where the energy goes.
pub fn coil_line(line: &HeaterLine, steady: &Steady, view: &View) -> Part {
    let curve = |pick: &dyn Fn(usize) -> f64| -> Vec<(f64, Option<f64>)> {
        steady
            .track
            .iter()
            .enumerate()
            .map(|(i, p)| (p.place_m, Some(view.display.temperature(pick(i)))))
            .collect()
    };
    let track = &steady.track;
    let names = ["core", "surface", "mean"];
    let values: [&dyn Fn(usize) -> f64; 3] = [&|i| track[i].core_c, &|i| track[i].surface_c, &|i| track[i].mean_c];
    let chart = LineChart {
        title: view.say("report.heater").to_owned(),
        x: Axis::new(view.say("heating.place"), "m").over(0.0, line.length_m()),
        y: Axis::new(view.say("axis.temperature"), view.temperature_unit()),
        series: names
            .iter()
            .zip(values)
            .enumerate()
            .map(|(ink, (name, pick))| Series {
                name: (*name).to_owned(),
                points: curve(pick),
                ink,
                ..Series::default()
            })
            .collect(),
        stages: steady
            .coils
            .iter()
            .map(|coil| StageBar {
                name: coil.name.clone(),
                x: (coil.from_m, coil.to_m),
                tool: true,
            })
            .collect(),
        ..LineChart::default()
    };
    let kw = |w: f64| view.number(w / 1e3, 1);
    let coils = steady
        .coils
        .iter()
        .map(|c| {
            vec![
                c.name.clone(),
                view.number(c.frequency_hz, 0),
                kw(c.terminals_w),
                kw(c.load_w),
                view.number(100.0 * c.efficiency, 0),
                view.number(c.power_factor, 2),
            ]
        })
        .collect();
    let balance = &steady.balance;
    let energy = [
        ("heating.power", balance.terminals_w),
        ("heating.winding", balance.winding_w),
        ("heating.lining", balance.lining_w),
        ("heating.open", balance.open_w),
        ("heating.steel", balance.steel_w),
    ]
    .into_iter()
    .map(|(key, watts)| {
        vec![
            view.say(key).to_owned(),
            kw(watts),
            view.number(balance.per_tonne(watts), 1),
        ]
    })
    .collect();
    Part {
        text: Vec::new(),
        tables: vec![
            table(
                "",
                &[
                    view.say("heating.coil"),
                    &format!(">{} Hz", view.say("heating.frequency")),
                    &format!(">{} kW", view.say("heating.power")),
                    &format!(">{} kW", view.say("heating.into_load")),
                    &format!(">{} %", view.say("heating.efficiency")),
                    ">cos \u{3c6}",
                ],
                coils,
            ),
            table("", &[view.say("word.energy"), ">kW", ">kWh/t"], energy),
        ],
        drawings: vec![chart.draw(&view.style())],
    }
}

/// The section on a static coil: temperatures at mid-length over time with the steps of the power,
/// and where the energy goes.
pub fn static_coil(result: &FixedResult, view: &View) -> Part {
    let charge = &result.charge;
    let energy = [
        ("heating.power", charge.terminals_j),
        ("heating.winding", charge.winding_j),
        ("heating.lining", charge.lining_j),
        ("heating.open", charge.ends_j),
        ("heating.steel", charge.steel_j),
    ]
    .into_iter()
    .map(|(key, joules)| {
        let kwh = joules / 3.6e6;
        vec![
            view.say(key).to_owned(),
            view.number(kwh, 2),
            view.number(kwh / (charge.mass_kg / 1e3), 1),
        ]
    })
    .collect();
    Part {
        text: Vec::new(),
        tables: vec![table("", &[view.say("word.energy"), ">kWh", ">kWh/t"], energy)],
        drawings: vec![static_chart(result, view.say("report.heater"), view)],
    }
}
