//! The table for the line controller: timers by exit temperature, rounded to the safe side.

use serde_json::json;

use super::out;
use super::planning::{times_json, times_of_line_json};
use crate::ask::Failure;
use crate::ask::decide::{DecisionTable, Guard, structured_text};
use crate::ask::enquiry::Judged;
use crate::ask::hand_overs::{ExitChart, HandOverTimes, State};
use crate::ask::model::Model;
use crate::ask::times::Times;
use crate::report::OutFile;
use crate::report::times::{curve_name, exit_chart};
use crate::show::csv::harmless;
use crate::show::{Cell, View};

/// All files of `billet delays --out`.
pub(super) fn files(judged: &Judged, times: &[HandOverTimes], view: &View) -> Result<Vec<OutFile>, Failure> {
    let table = judged.decision_table()?;
    let limits = judged.enquiry.model.limits();
    let study = &judged.enquiry.study;
    let mut csv = String::from(
        "exit_c,stage,planned_s,planned_state,earliest_s,alarm_s,alarm_clears_s,reject_s,reject_from_the_start,measured_on_each_part\n",
    );
    // Whose scatter the guard bands leave out: the times of `delays` keep that of the exit and of the other times.
    let measured = if judged.measures_exit() {
        "exit and times"
    } else {
        "times"
    };
    let mut rows = Vec::new();
    for &exit_c in &table.exit_c {
        for (k, stage) in table.stages.iter().enumerate() {
            let of = |guard| table.times(k, exit_c, guard, None).unwrap_or(NOTHING);
            let (reject, alarm) = (of(Guard::Reject), of(Guard::Alarm));
            let state = State::of(&reject, Some(&alarm), stage.planned_s);
            let last = stage.seconds[stage.seconds.len() - 1];
            // Hysteresis: an alarm given goes only when the time is this much below it.
            let clears = |s: f64| (s - study.hysteresis_s).max(0.0);
            let alarm_s = latest(&alarm, last);
            csv.push_str(&format!(
                "{exit_c:.0},{},{:.1},{},{},{},{},{},{},{measured}\n",
                quoted(&stage.stage),
                stage.planned_s,
                state.word(),
                cell(reject.earliest().map(|edge| edge.seconds), "at once"),
                cell(alarm_s, "from the start"),
                cell(alarm_s.map(clears), "never"),
                cell(latest(&reject, last), "from the start"),
                matches!(reject, Times::Never { .. }),
            ));
            rows.push(json!({
                "exit_c": exit_c,
                "stage": stage.stage,
                "planned_s": stage.planned_s,
                "planned_state": state,
                "table_ends_s": last,
                "alarm_clears_s": alarm_s.map(clears),
                "reject": times_json(Some(&reject), limits),
                "alarm": times_json(Some(&alarm), limits),
            }));
        }
    }
    let controller = json!({
        "schema_version": 3,
        "identity": table.identity,
        "meaning": CONTROLLER,
        "measured_on_each_part": measured,
        "hysteresis_s": study.hysteresis_s,
        "hysteresis_k": study.hysteresis_k,
        "timers": rows,
    });
    let mut files = vec![
        OutFile::text("delays.json", out::json(&times_of_line_json(judged, times, &[]))),
        OutFile::text("controller-comma.csv", with_commas(&csv)),
        OutFile::text("controller.csv", csv),
        OutFile::text("controller.json", out::json(&controller)),
        OutFile::text(
            "decision-table.json",
            out::json(&serde_json::to_value(&table).unwrap_or_default()),
        ),
    ];
    files.push(OutFile::text("decision.st", structured_text(&table)));
    let names: Vec<Cell> = limits.iter().map(curve_name).collect();
    for (k, stage) in table.stages.iter().enumerate() {
        let Some(svg) = chart(&table, k, &names, view) else {
            continue;
        };
        let plain = |c: char| {
            if c.is_ascii_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '-'
            }
        };
        let word: String = stage.stage.chars().map(plain).take(60).collect();
        files.push(OutFile::text(format!("delay-{:02}-{word}.svg", k + 1), svg));
    }
    Ok(files)
}

const CONTROLLER: &str = "seconds of the whole hand-over, the others as planned; latest times rounded down to 0.1 s, \
earliest up. A time past latest_s or the end of the table is a reject. Not a safety function.";

/// What stands for a place outside the table.
const NOTHING: Times = Times::Never {
    limit: 0,
    other: None,
    margin_k: f64::NEG_INFINITY,
};

/// The latest seconds, at most those where the table ends; `None` where no length is right.
fn latest(times: &Times, last_s: f64) -> Option<f64> {
    match times {
        Times::Between { latest, .. } => Some(latest.map_or(last_s, |edge| edge.seconds)),
        Times::Never { .. } => None,
    }
}

/// Seconds, or a word: no cell is left empty.
fn cell(seconds: Option<f64>, word: &str) -> String {
    seconds.map_or_else(|| word.to_owned(), |s| format!("{s:.1}"))
}

/// The same table with semicolons and decimal commas.
fn with_commas(csv: &str) -> String {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(csv.as_bytes());
    let mut out = String::new();
    for row in reader.records().flatten() {
        let cells = row.iter().map(|cell| match cell.parse::<f64>() {
            Ok(_) => cell.replace('.', ","),
            Err(_) => quoted(cell),
        });
        out.push_str(&cells.collect::<Vec<_>>().join(";"));
        out.push('\n');
    }
    out
}

/// A CSV field, quoted where it has to be; no spreadsheet runs it.
pub(super) fn quoted(text: &str) -> String {
    let text = &harmless(text);
    if text.contains([',', '"', '\n', '\r', ';']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// Latest seconds of one hand-over against exit temperature, one line per limit; `None` where no limit ends
/// them within the table.
fn chart(table: &DecisionTable, stage: usize, limits: &[Cell], view: &View) -> Option<String> {
    let of = |exit_c: f64, only| table.times(stage, exit_c, Guard::Reject, only).unwrap_or(NOTHING);
    let by_limit = |exit_c: f64| (0..limits.len()).map(|limit| of(exit_c, Some(limit))).collect();
    let chart = ExitChart {
        by_limit: table.exit_c.iter().map(|&exit_c| by_limit(exit_c)).collect(),
        all: table.exit_c.iter().map(|&exit_c| of(exit_c, None)).collect(),
        exit_c: table.exit_c.clone(),
    };
    let changes = &table.stages[stage];
    let picture = exit_chart(&chart, (&changes.stage, changes.planned_s), limits, view)?;
    Some(picture.draw(&view.style()).svg)
}
