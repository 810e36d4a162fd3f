//! The scale that a run follows, as a table.

use super::csv::stage_name;
use super::table::text_table;
use super::view::View;
use crate::line::Trace;

/// Header and rows: one for each moment, the thickness by where the surface looks.
pub(crate) fn rows(trace: &Trace, view: &View) -> (Vec<String>, Vec<Vec<String>>) {
    let head = |key: &str| format!(">{} [\u{b5}m]", view.say(key));
    let header = vec![
        view.say("word.stage").to_owned(),
        view.say("word.moment").to_owned(),
        head("layer.lower"),
        head("layer.upper"),
        head("layer.side"),
        format!(">{} [{}]", view.say("layer.colder"), view.difference_unit()),
    ];
    let rows = trace
        .scale
        .iter()
        .map(|s| {
            vec![
                stage_name(trace, s.stage),
                view.moment(s.moment),
                view.number(s.lower_um, 0),
                view.number(s.upper_um, 0),
                view.number(s.side_um, 0),
                view.number(view.display.difference(s.outside_colder_k), 0),
            ]
        })
        .collect();
    (header, rows)
}

/// The table for the terminal; empty where no scale is followed.
pub(crate) fn text(trace: &Trace, view: &View) -> String {
    if trace.scale.is_empty() {
        return String::new();
    }
    let (header, rows) = rows(trace, view);
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    format!("\n{}:\n{}", view.say("layer.title"), text_table(&header, &rows))
}
