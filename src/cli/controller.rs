//! The table for the line controller: timers by exit temperature, rounded to the safe side.

use serde_json::json;

use super::Global;
use super::delays::{Found, delays_json};
use super::out;
use super::planning::Job;
use crate::ask::Failure;
use crate::ask::decide::DecisionTable;
use crate::ask::model::Model;
use crate::ask::sensitivity::exit_sensitivity;
use crate::report::OutFile;
use crate::report::chart::{Axis, LineChart, Rule, Series, Style};

/// Longest extra time in the table, s.
const LONGEST_S: f64 = 30.0;

/// Exit temperatures of the table: seven, 15 K apart, around the nominal one.
fn exit_temperatures(nominal_c: f64) -> Vec<f64> {
    (-3..=3).map(|k| nominal_c + 15.0 * f64::from(k)).collect()
}

/// The two tables (reject and alarm guard band), made on the quick grid and shifted so that the
/// nominal margins are those of the full run.
pub(super) fn tables(job: &Job, found: &Found) -> Result<(DecisionTable, DecisionTable), Failure> {
    let exit = job.model.exit_inputs().ok_or_else(crate::ask::delays::no_exit)?;
    let temperatures = exit_temperatures(exit.surface.1);
    let model: &dyn Model = match &job.quick {
        Some(quick) => quick,
        None => &job.model,
    };
    // The controller measures every time, and the exit temperature where the study says how well.
    let mut measured: Vec<&str> = model.handovers().iter().map(|h| h.path.as_str()).collect();
    let mut meter = None;
    if let Some(sd) = job.study.exit_sd_k {
        measured.push(&exit.surface.0);
        measured.extend(exit.core.as_ref().map(|(path, _)| path.as_str()));
        meter = Some((exit_sensitivity(model, &model.run(&[])?)?, sd));
    }
    let guard = |risk: f64| {
        let meter = meter.as_ref().map(|(slope, sd)| (slope, *sd));
        found
            .uncertainty
            .as_ref()
            .map_or_else(|| Ok(Vec::new()), |u| u.guard_k(risk, &measured, meter))
    };
    let mut reject = DecisionTable::build(model, &temperatures, LONGEST_S, &guard(found.options.reject_risk)?)?;
    if job.quick.is_some() {
        let quick = model.run(&[])?.margins_k();
        let shift: Vec<f64> = found
            .nominal
            .margins_k()
            .iter()
            .zip(&quick)
            .map(|(full, quick)| full - quick)
            .collect();
        reject.shift(&shift);
    }
    let alarm = DecisionTable {
        guard_k: if found.uncertainty.is_some() {
            guard(found.options.alarm_risk)?
        } else {
            reject.guard_k.clone()
        },
        ..reject.clone()
    };
    Ok((reject, alarm))
}

/// All files of `billet delays --out`.
pub(super) fn files(job: &Job, found: &Found, _global: &Global) -> Result<Vec<OutFile>, Failure> {
    let (reject, alarm) = tables(job, found)?;
    let mut csv = String::from("exit_c,stage,planned_s,alarm_s,alarm_clears_s,reject_s\n");
    let mut rows = Vec::new();
    for &exit in &reject.exit_c {
        for (k, stage) in reject.stages.iter().enumerate() {
            let reject_s = reject.longest_s(k, exit)?;
            let alarm_s = alarm.longest_s(k, exit)?;
            // Hysteresis: an alarm given goes only when the time is this much below it.
            let clears_s = alarm_s.map(|s| (s - job.study.hysteresis_s).max(0.0));
            let cell = |s: Option<f64>| s.map_or_else(String::new, |s| format!("{s:.1}"));
            csv.push_str(&format!(
                "{exit:.0},{},{:.1},{},{},{}\n",
                quoted(&stage.stage),
                stage.nominal_s,
                cell(alarm_s),
                cell(clears_s),
                cell(reject_s)
            ));
            rows.push(json!({
                "exit_c": exit,
                "stage": stage.stage,
                "planned_s": stage.nominal_s,
                "alarm_s": alarm_s,
                "alarm_clears_s": clears_s,
                "reject_s": reject_s,
            }));
        }
    }
    let controller = json!({
        "schema_version": 1,
        "title": job.title(),
        "meaning": "seconds of the whole hand-over, the others as planned; rounded down to 0.1 s; empty or null: reject at once. Not a safety function.",
        "reject_risk": found.options.reject_risk,
        "alarm_risk": found.options.alarm_risk,
        "hysteresis_s": job.study.hysteresis_s,
        "hysteresis_k": job.study.hysteresis_k,
        "timers": rows,
    });
    let table = serde_json::to_value(&reject).unwrap_or_default();
    let mut files = vec![
        OutFile::text("delays.json", out::json(&delays_json(job, found, &[]))),
        OutFile::text("controller.csv", csv),
        OutFile::text("controller.json", out::json(&controller)),
        OutFile::text("decision-table.json", out::json(&table)),
    ];
    for (k, stage) in reject.stages.iter().enumerate() {
        let Some(svg) = chart(&reject, k)? else { continue };
        let word: String = stage
            .stage
            .chars()
            .map(|c| {
                if c.is_ascii_alphanumeric() {
                    c.to_ascii_lowercase()
                } else {
                    '-'
                }
            })
            .take(60)
            .collect();
        files.push(OutFile::text(format!("delay-{:02}-{word}.svg", k + 1), svg));
    }
    Ok(files)
}

/// A CSV field, quoted where it has to be.
pub(super) fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r', ';']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// Allowed seconds of one hand-over against exit temperature, one line per limit.
///
/// A limit that holds to the end of the table at every exit temperature limits nothing there and
/// gets no line; `None` where that leaves nothing to draw.
fn chart(table: &DecisionTable, stage: usize) -> Result<Option<String>, Failure> {
    let mut lines = Vec::new();
    let mut end: f64 = 0.0;
    for (limit, name) in table.limits.iter().enumerate() {
        let mut points = Vec::new();
        for &exit in &table.exit_c {
            let longest = table.longest_for(stage, exit, Some(limit))?;
            end = end.max(longest.unwrap_or(0.0));
            points.push((exit, longest));
        }
        lines.push((name, points));
    }
    let mut series = Vec::new();
    for (name, points) in lines {
        let below = |y: &Option<f64>| y.is_some_and(|y| y > 0.0 && y < end - 1e-6);
        if points.iter().any(|(_, y)| below(y)) {
            series.push(Series {
                name: name.clone(),
                points,
                ink: series.len(),
                dots: true,
                hidden: false,
            });
        }
    }
    if series.is_empty() {
        return Ok(None);
    }
    let losses = &table.stages[stage];
    let chart = LineChart {
        title: format!("Longest {} by exit temperature, up to {end:.0} s", losses.stage),
        x: Axis::new("exit temperature, surface", "degC"),
        y: Axis::new("longest time", "s"),
        series,
        bands: Vec::new(),
        rules: vec![Rule {
            value: losses.nominal_s,
            upright: false,
            label: format!("planned {:.1} s", losses.nominal_s),
        }],
        marks: Vec::new(),
        stages: Vec::new(),
        alt: format!(
            "Allowed seconds of {} over exit temperature, one line per limit",
            losses.stage
        ),
    };
    Ok(Some(chart.draw(&Style::default()).svg))
}
