//! A compact plot of the history in text, for a terminal.

use super::history::{Span, is_tool, shown_nodes, time_range};
use super::table::{COLUMNS, cut};
use crate::line::Trace;
use crate::show::View;

/// Eight heights of one character.
const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// A line of block characters over equal steps of the values; gaps are blanks.
pub fn sparkline(values: &[Option<f64>], low: f64, high: f64) -> String {
    values
        .iter()
        .map(|value| match value.filter(|v| v.is_finite()) {
            None => ' ',
            Some(_) if high <= low => BLOCKS[3],
            Some(v) => {
                let share = ((v - low) / (high - low)).clamp(0.0, 1.0);
                BLOCKS[((share * 7.0).round() as usize).min(7)]
            }
        })
        .collect()
}

/// Values of a node at equal steps over a time range, each the last sample not after the step's end
/// (the lowest one within the step, so that short dips stay visible).
fn sampled(trace: &Trace, node: usize, (from, to): (f64, f64), columns: usize) -> Vec<Option<f64>> {
    let step = (to - from) / columns as f64;
    let mut out = vec![None; columns];
    let mut held: Option<f64> = None;
    let mut next = 0;
    let samples = &trace.samples;
    while next < samples.len() && samples[next].time_s < from {
        held = samples[next].temps_c.get(node).copied().flatten();
        next += 1;
    }
    for (k, cell) in out.iter_mut().enumerate() {
        let end = from + step * (k + 1) as f64;
        let mut low: Option<f64> = None;
        while next < samples.len() && samples[next].time_s <= end + 1e-9 {
            held = samples[next].temps_c.get(node).copied().flatten();
            low = match (low, held) {
                (Some(a), Some(b)) => Some(a.min(b)),
                (a, b) => b.or(a),
            };
            next += 1;
        }
        *cell = low.or(if next < samples.len() { held } else { None });
    }
    out
}

/// Lowest and highest temperature of a node over all samples of a time range.
fn extremes(trace: &Trace, node: usize, (from, to): (f64, f64)) -> Option<(f64, f64)> {
    trace
        .samples
        .iter()
        .filter(|sample| sample.time_s >= from - 1e-9 && sample.time_s <= to + 1e-9)
        .filter_map(|sample| sample.temps_c.get(node).copied().flatten())
        .fold(None, |range: Option<(f64, f64)>, v| {
            Some(range.map_or((v, v), |(low, high)| (low.min(v), high.max(v))))
        })
}

/// The history as one spark line a node over a bar of stages, at most 80 columns wide.
///
/// All lines share one temperature scale; each ends with its highest and lowest value.
pub fn text_history(trace: &Trace, view: &View) -> String {
    let Some(range) = time_range(trace, Span::Line) else {
        return String::new();
    };
    let nodes = shown_nodes(trace);
    let name_width = 14;
    let columns = usize::from(COLUMNS) - name_width - 1 - 14;
    let lines: Vec<(usize, (f64, f64))> = nodes
        .into_iter()
        .filter_map(|i| Some((i, extremes(trace, i, range)?)))
        .collect();
    let ends = lines.iter().map(|(_, ends)| *ends);
    let Some((low, high)) = ends.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))) else {
        return String::new();
    };
    let mut text = String::new();
    for (i, (least, most)) in &lines {
        let values = sampled(trace, *i, range, columns);
        let degrees = |c: f64| view.number(view.display.temperature(c), 0);
        text.push_str(&format!(
            "{:<name_width$} {} {:>5} {:>5}\n",
            cut(&trace.nodes[*i], name_width),
            sparkline(&values, low, high),
            degrees(*most),
            degrees(*least),
        ));
    }
    // stages: tools as blocks, everything between as a line
    let step = (range.1 - range.0) / columns as f64;
    let mut bar: Vec<char> = vec!['─'; columns];
    for stage in trace.stages.iter().filter(|s| is_tool(s)) {
        let from = ((stage.start_s - range.0) / step).floor().max(0.0) as usize;
        let to = ((stage.end_s - range.0) / step).ceil().max(0.0) as usize;
        for cell in bar.iter_mut().take(to.min(columns)).skip(from) {
            *cell = '█';
        }
    }
    let bar: String = bar.into_iter().collect();
    text.push_str(&format!(
        "{:<name_width$} {bar} {} {}\n",
        "tools at work",
        "max, min",
        view.display.temperature_unit()
    ));
    text.push_str(&format!(
        "{:<name_width$} {:<half$}{:>rest$}\n",
        "",
        format!("{} s", view.number(range.0, 1)),
        format!("{} s", view.number(range.1, 1)),
        half = columns / 2,
        rest = columns - columns / 2,
    ));
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heights_follow_values() {
        assert_eq!(
            sparkline(&[Some(0.0), Some(7.0), None, Some(f64::NAN), Some(3.5)], 0.0, 7.0),
            "▁█  ▅"
        );
        assert_eq!(sparkline(&[Some(5.0)], 5.0, 5.0), "▄");
    }
}
