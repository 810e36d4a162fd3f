//! Bar ends that are too cold, as a table.

use super::csv::stage_name;
use super::table::text_table;
use super::view::View;
use crate::judge::Moment;
use crate::line::Trace;
use crate::line::trace::ColdEnds;

/// Header and rows of the moments at which some length of bar is below its limit, or was in the stage
/// before.
pub(crate) fn rows(trace: &Trace, view: &View) -> (Vec<String>, Vec<Vec<String>>) {
    let display = view.display;
    let unit = display.length_unit();
    let head = |key: &str| format!(">{} [{unit}]", view.say(key));
    let header = vec![
        view.say("word.stage").to_owned(),
        view.say("word.moment").to_owned(),
        head("ends.grip_surface"),
        head("ends.grip_mean"),
        head("ends.free_surface"),
        head("ends.free_mean"),
    ];
    let length = |mm: f64| view.number(display.length(mm * 1e-3), if unit == "in" { 2 } else { 1 });
    let rows = cold(trace)
        .map(|e| {
            vec![
                stage_name(trace, e.stage),
                view.moment(e.moment),
                length(e.grip_end_surface_mm),
                length(e.grip_end_mean_mm),
                length(e.free_end_surface_mm),
                length(e.free_end_mean_mm),
            ]
        })
        .collect();
    (header, rows)
}

fn cold(trace: &Trace) -> impl Iterator<Item = &ColdEnds> {
    trace
        .ends
        .iter()
        .filter(|e| {
            e.grip_end_surface_mm.max(e.free_end_surface_mm) > 0.05 || e.grip_end_mean_mm.max(e.free_end_mean_mm) > 0.05
        })
        // The start of a stage repeats the end of the one before.
        .filter(|e| e.moment != Moment::Start)
}

/// The title with the temperature in it.
pub(crate) fn title(trace: &Trace, view: &View) -> Option<String> {
    let below_c = trace.ends.first()?.below_c;
    let temperature = format!(
        "{} {}",
        view.number(view.display.temperature(below_c), 0),
        view.temperature_unit()
    );
    Some(view.say_with("ends.title", &[("temperature", &temperature)]))
}

/// The table for the terminal; empty where no end is too cold.
pub(crate) fn text(trace: &Trace, view: &View) -> String {
    let (header, rows) = rows(trace, view);
    match title(trace, view).filter(|_| !rows.is_empty()) {
        Some(title) => {
            let header: Vec<&str> = header.iter().map(String::as_str).collect();
            format!("\n{title}:\n{}", text_table(&header, &rows))
        }
        None => String::new(),
    }
}
