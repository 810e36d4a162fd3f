//! The heat bill: where the heat of the part went, phase by phase.

use super::ReportError;
use super::chart::{Axis, Bar, BarChart, Drawing, Style};
use super::csv::stage_name;
use super::table::text_table;
use crate::line::Trace;
use crate::line::trace::HeatEntry;
use crate::units::Display;

/// Heat of one phase by kind, kJ: (tools, air and water, forming), gains positive.
fn kinds(entry: &HeatEntry) -> (f64, f64, f64) {
    let mut sums = (0.0, 0.0, 0.0);
    for flow in &entry.flows {
        match flow.name.as_str() {
            "deformation" | "friction" => sums.2 += flow.energy_kj,
            "radiation and convection" | "descaling water" | "furnace" => sums.1 += flow.energy_kj,
            _ => sums.0 += flow.energy_kj,
        }
    }
    sums
}

/// The bill as a table, with what a blow, a second lying and a second in air cost, and what each
/// phase did to each zone.
pub fn bill_text(trace: &Trace, display: Display) -> String {
    let mut rows = Vec::new();
    for entry in &trace.bill {
        let (tools, air, forming) = kinds(entry);
        let zones: Vec<String> = entry
            .zones
            .iter()
            .map(|zone| format!("{} {:+.0}", zone.zone, display.difference(zone.mean_change_k)))
            .collect();
        rows.push(vec![
            stage_name(trace, entry.stage),
            entry.phase.clone(),
            format!("{:.3}", entry.seconds),
            signed(tools),
            signed(air),
            signed(forming),
            zones.join(", "),
        ]);
    }
    let zones = format!("mean of zones [{}]", display.difference_unit());
    let header = ["stage", "phase", ">s", ">tools kJ", ">air kJ", ">forming kJ", &zones];
    let mut text = format!("Heat bill:\n{}", text_table(&header, &rows));
    let rate = |words: &[&str], of: fn(&HeatEntry) -> f64| {
        let entries = || {
            trace
                .bill
                .iter()
                .filter(|e| words.iter().any(|w| e.phase.starts_with(w)))
        };
        let (heat, seconds) = (
            entries().map(of).sum::<f64>(),
            entries().map(|e| e.seconds).sum::<f64>(),
        );
        (heat, seconds, entries().count())
    };
    let (blow, _, blows) = rate(&["blow "], |e| kinds(e).0);
    let (lying, lying_s, _) = rate(&["lying", "stuck"], |e| kinds(e).0);
    let (air, air_s, _) = rate(&["air", "lifted", "rebound"], |e| kinds(e).1);
    if blows > 0 && lying_s > 0.0 && air_s > 0.0 {
        let (blow, lying, air) = (-blow / blows as f64, -lying / lying_s, -air / air_s);
        text.push_str(&format!(
            "\nTo the dies {blow:.2} kJ a blow and {lying:.2} kJ a second of lying; to the air {air:.2} kJ a second.\n"
        ));
        if blow > 0.0 {
            text.push_str(&format!(
                "A second of lying costs the part what {:.1} blows take.\n",
                lying / blow
            ));
        }
    }
    text
}

/// The losses of every phase as bars.
pub fn bill_chart(trace: &Trace) -> Drawing {
    let bars = trace
        .bill
        .iter()
        .map(|entry| {
            let (tools, air, _) = kinds(entry);
            Bar {
                name: format!("{}: {}", stage_name(trace, entry.stage), entry.phase),
                value: -(tools + air),
                note: format!(
                    "{:.1} kJ in {:.3} s: tools {:.1}, air {:.1}",
                    -(tools + air),
                    entry.seconds,
                    -tools,
                    -air
                ),
                alarm: false,
            }
        })
        .collect();
    BarChart {
        title: format!("{}: heat lost, phase by phase", trace.title),
        axis: Axis::new("heat lost", "kJ"),
        bars,
        decimals: 1,
    }
    .draw(&Style::default())
}

/// One row a phase and name: stage, phase, start, seconds, name, kJ; zones follow as `zone <name>`.
///
/// # Errors
/// Text that cannot be encoded.
pub fn bill_csv(trace: &Trace) -> Result<String, ReportError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let wrong = |e: csv::Error| ReportError::Text(e.to_string());
    writer
        .write_record(["stage", "phase", "start_s", "seconds", "name", "energy_kj"])
        .map_err(wrong)?;
    for entry in &trace.bill {
        let named = entry.flows.iter().map(|f| (f.name.clone(), f.energy_kj));
        let zones = entry.zones.iter().map(|z| (format!("zone {}", z.zone), z.change_kj));
        for (name, energy) in named.chain(zones) {
            writer
                .write_record([
                    stage_name(trace, entry.stage),
                    entry.phase.clone(),
                    format!("{:.4}", entry.start_s),
                    format!("{:.4}", entry.seconds),
                    name,
                    format!("{energy:.4}"),
                ])
                .map_err(wrong)?;
        }
    }
    let bytes = writer.into_inner().map_err(|e| ReportError::Text(e.to_string()))?;
    String::from_utf8(bytes).map_err(|e| ReportError::Text(e.to_string()))
}

/// An energy with its sign; what rounds to nothing has none.
fn signed(kj: f64) -> String {
    if kj.abs() < 0.005 {
        "0".to_owned()
    } else {
        format!("{kj:+.2}")
    }
}
