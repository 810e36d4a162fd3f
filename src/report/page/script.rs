//! The small script that reads values off the history and shows or hides curves. Without script
//! the page is complete: every value of a moment stands in its tables.

use serde_json::json;

use super::text;
use crate::line::Trace;
use crate::picture::Frame;
use crate::show::View;
use crate::show::html::script_data;
use crate::text::number::fixed;

/// Most samples handed to the script; more would only repeat pixels.
const SAMPLES: usize = 1200;

/// The values of the history as JSON that can stand inside a script element.
pub(super) fn data(trace: &Trace, view: &View) -> String {
    let every = trace.samples.len().div_ceil(SAMPLES).max(1);
    let last = trace.samples.len().saturating_sub(1);
    let kept: Vec<_> = trace
        .samples
        .iter()
        .enumerate()
        .filter(|(i, _)| i % every == 0 || *i == last)
        .map(|(_, s)| s)
        .collect();
    let round = |v: f64, decimals: usize| -> Option<f64> {
        // text and back, so that the file holds short numbers
        fixed(v, decimals, false).parse().ok()
    };
    let times: Vec<Option<f64>> = kept.iter().map(|s| round(s.time_s, 2)).collect();
    let temps: Vec<Vec<Option<f64>>> = (0..trace.nodes.len())
        .map(|i| {
            kept.iter()
                .map(|s| {
                    let temp = s.temps_c.get(i).copied().flatten()?;
                    round(view.display.temperature(temp), 0)
                })
                .collect()
        })
        .collect();
    let stages: Vec<_> = trace
        .stages
        .iter()
        .map(|s| json!([round(s.start_s, 2), round(s.end_s, 2), text(&s.name, 200)]))
        .collect();
    script_data(&json!({
        "names": trace.nodes.iter().map(|n| text(&view.curve(n), 200)).collect::<Vec<_>>(),
        "time": times,
        "temps": temps,
        "stages": stages,
        "unit": view.temperature_unit(),
        "comma": view.decimal_comma,
    }))
}

/// The plot area of a picture for the script.
pub(super) fn frame(frame: &Frame) -> String {
    format!(
        "{:.1} {:.1} {:.1} {:.1} {:.6} {:.6}",
        frame.left, frame.right, frame.top, frame.bottom, frame.x.0, frame.x.1
    )
}

/// The script.
pub(super) const SCRIPT: &str = include_str!("report.js");
