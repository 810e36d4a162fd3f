//! The answer for a static coil.

use std::fmt::Write;

use serde_json::json;

use super::Answer;
use crate::cli::exit::Exit;
use crate::cli::out;
use crate::heater::HeaterError;
use crate::heater::fixed::FixedResult;
use crate::line::plan::{Plan, StaticCoil};
use crate::report::heater::{section_svg, static_svg};
use crate::report::table::{COLUMNS, text_table, wrap};
use crate::report::{OutFile, Side, View};

pub(super) fn answer(plan: &Plan, heater: &StaticCoil, view: &View) -> Result<Answer, HeaterError> {
    let bar = heater.bar(&plan.piece, &plan.metal, plan.resolution)?;
    let result = heater.set.heat(&bar)?;
    let seconds: f64 = heater.set.steps.iter().map(|s| s.seconds).sum();
    let unit = view.temperature_unit();
    let exit = &result.exit;
    let said = |text: &str| wrap(text, usize::from(COLUMNS), "  ");
    let mut text = said(&format!(
        "After {seconds:.0} s: surface {} {unit}, core {} {unit}, mean {} {unit}, hottest point ever {} {unit}.",
        view.degrees(exit.surface_c, Side::Nearest),
        view.degrees(exit.core_c, Side::Nearest),
        view.degrees(exit.mean_c, Side::Nearest),
        view.degrees(exit.peak_c, Side::Up),
    ));
    text.push('\n');
    text.push_str(&steps(heater, &result, view));
    text.push('\n');
    text.push_str(&energy(heater, &result, view));
    let _ = writeln!(
        text,
        "\nSurface above {} {unit} for {} s.",
        view.degrees(900.0, Side::Nearest),
        view.seconds(exit.scaling_s, Side::Nearest)
    );
    let burnt = heater.never_above_c.filter(|n| exit.peak_c > *n);
    if let Some(never) = burnt {
        text.push_str(&said(&format!(
            "The hottest point passes what it must never exceed, {} {unit}, by {} {}.",
            view.degrees(never, Side::Nearest),
            view.kelvins(exit.peak_c - never, Side::Up),
            view.difference_unit(),
        )));
    }
    let apart = (exit.surface_c - exit.core_c).abs();
    let uneven = heater.difference_k.filter(|k| apart > *k);
    if let Some(k) = uneven {
        text.push_str(&said(&format!(
            "Surface and core differ by {} {}, allowed {}.",
            view.kelvins(apart, Side::Up),
            view.difference_unit(),
            view.kelvins(k, Side::Nearest)
        )));
    }
    let json = json!({ "title": plan.title, "static_coil": result, "seconds": seconds });
    let files = vec![
        OutFile::text("heater.json", out::json(&json)),
        OutFile::text("heater.svg", static_svg(&result, view)),
        OutFile::text("exit.svg", section_svg(exit, view)),
        OutFile::text("heater.csv", super::coils::track_csv(&result.track)),
    ];
    Ok(Answer {
        text,
        json,
        files,
        exit: if burnt.or(uneven).is_some() {
            Exit::LimitBroken
        } else {
            Exit::Fine
        },
    })
}

fn steps(heater: &StaticCoil, result: &FixedResult, view: &View) -> String {
    let mut until = 0.0;
    let mut rows = Vec::new();
    for (index, step) in heater.set.steps.iter().enumerate() {
        let from = until;
        until += step.seconds;
        let inside = |t: f64| t > from + 1e-9 && t <= until + 1e-9;
        let powers: Vec<_> = result.powers.iter().filter(|p| inside(p.time_s)).collect();
        let mean = |f: fn(&crate::heater::fixed::PowerPoint) -> f64| {
            powers.iter().map(|p| f(p)).sum::<f64>() / powers.len().max(1) as f64
        };
        let Some(end) = result.track.iter().rfind(|p| inside(p.time_s)) else {
            continue;
        };
        rows.push(vec![
            (index + 1).to_string(),
            view.number(until, 0),
            view.number(mean(|p| p.terminals_w) / 1e3, 1),
            view.number(mean(|p| p.load_w) / 1e3, 1),
            view.degrees(end.surface_c, Side::Nearest),
            view.degrees(end.core_c, Side::Nearest),
            view.degrees(end.mean_c, Side::Nearest),
        ]);
    }
    let unit = view.temperature_unit();
    let head: Vec<String> = ["surface", "core", "mean"]
        .iter()
        .map(|n| format!("> {n} {unit}"))
        .collect();
    text_table(
        &[
            "step",
            "> until s",
            "> kW",
            "> in steel kW",
            &head[0],
            &head[1],
            &head[2],
        ],
        &rows,
    )
}

fn energy(heater: &StaticCoil, result: &FixedResult, view: &View) -> String {
    let c = &result.charge;
    let mains = c.terminals_j / heater.supply_efficiency;
    let shares = [
        ("from the mains", mains),
        ("supply (transformer, converter, busbars)", mains - c.terminals_j),
        ("winding", c.winding_j),
        ("lining", c.lining_j),
        ("end faces", c.ends_j),
        ("steel", c.steel_j),
    ];
    let rows: Vec<Vec<String>> = shares
        .iter()
        .map(|(name, joules)| {
            vec![
                (*name).to_owned(),
                view.number(joules / 3.6e6, 3),
                view.number(joules / 3.6e6 / (c.mass_kg / 1e3), 1),
                view.number(100.0 * joules / mains, 1),
            ]
        })
        .collect();
    text_table(&["energy", "> kWh", "> kWh/t", "> %"], &rows)
}
