//! Curves over time as lines of block characters.

use unicode_width::UnicodeWidthStr;

use super::cut;
use crate::show::block::Plot;
use crate::show::view::View;

/// Eight heights of one character.
const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// Columns of the names.
const NAMES: usize = 16;

/// One line a curve over a bar of stages. All lines share one scale; each ends with its highest and lowest value.
/// Where a step of a line holds several samples, the lowest is drawn, so that short dips stay visible.
pub(super) fn text(plot: &Plot, view: &View, width: usize) -> String {
    let number = |value: f64| plot.quantity.digits(value, plot.quantity.side(), false, view);
    let seconds = |s: f64| format!("{} s", view.number(s, 1));
    let lines: Vec<_> = plot
        .curves
        .iter()
        .filter_map(|(name, points)| Some((name, points, extremes(points, plot.range)?)))
        .collect();
    let Some((low, high)) = lines
        .iter()
        .map(|line| line.2)
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    else {
        return String::new();
    };
    let ends = [low, high].map(|v| number(v).width()).into_iter().fold(4, usize::max);
    let heads = ["history.highest", "history.lowest"].map(|key| view.say(key));
    let ends = heads.iter().map(|head| head.width()).fold(ends, usize::max);
    let columns = width.saturating_sub(NAMES + 2 * ends + 4).max(10);
    let row = |name: &str, line: &str, most: &str, least: &str| {
        let right = |text: &str| format!("{}{text}", " ".repeat(ends.saturating_sub(text.width())));
        format!("{} {line} {} {}\n", padded(name, NAMES), right(most), right(least))
    };
    let unit = plot.quantity.unit(view.display);
    let mut out = row(unit, &" ".repeat(columns), heads[0], heads[1]);
    for (name, points, (least, most)) in &lines {
        let line = sparkline(&sampled(points, plot.range, columns), low, high);
        out.push_str(&row(name, &line, &number(*most), &number(*least)));
    }
    let (from, to) = (seconds(plot.range.0), seconds(plot.range.1));
    let gap = columns.saturating_sub(from.width() + to.width());
    out.push_str(&row(view.say("history.tools"), &bar(plot, columns), "", ""));
    out.push_str(&row("", &format!("{from}{}{to}", " ".repeat(gap)), "", ""));
    out
}

/// Tools as blocks, everything between as a line.
fn bar(plot: &Plot, columns: usize) -> String {
    let step = (plot.range.1 - plot.range.0) / columns as f64;
    let at = |k: usize| (plot.range.0 + step * k as f64, plot.range.0 + step * (k + 1) as f64);
    let busy = |k: usize| plot.busy.iter().any(|(from, to)| *from < at(k).1 && *to > at(k).0);
    (0..columns).map(|k| if busy(k) { '█' } else { '─' }).collect()
}

/// A line of block characters over equal steps of the values; gaps are blanks.
fn sparkline(values: &[Option<f64>], low: f64, high: f64) -> String {
    let block = |value: &Option<f64>| match value.filter(|v| v.is_finite()) {
        None => ' ',
        Some(_) if high <= low => BLOCKS[3],
        Some(v) => BLOCKS[(((v - low) / (high - low)).clamp(0.0, 1.0) * 7.0).round() as usize],
    };
    values.iter().map(block).collect()
}

/// The lowest value within each of equal steps over a range, or the one that goes on through the step.
fn sampled(points: &[(f64, Option<f64>)], (from, to): (f64, f64), columns: usize) -> Vec<Option<f64>> {
    let step = (to - from) / columns as f64;
    let mut next = points.partition_point(|p| p.0 < from);
    let mut held = next.checked_sub(1).and_then(|before| points[before].1);
    let mut out = Vec::with_capacity(columns);
    for k in 0..columns {
        let end = from + step * (k + 1) as f64;
        let mut low: Option<f64> = None;
        while let Some((_, value)) = points.get(next).filter(|p| p.0 <= end + 1e-9) {
            held = *value;
            low = low.zip(held).map(|(a, b)| a.min(b)).or(held).or(low);
            next += 1;
        }
        out.push(low.or(held.filter(|_| next < points.len())));
    }
    out
}

/// Lowest and highest value within a range.
fn extremes(points: &[(f64, Option<f64>)], (from, to): (f64, f64)) -> Option<(f64, f64)> {
    points
        .iter()
        .filter(|p| p.0 >= from - 1e-9 && p.0 <= to + 1e-9)
        .filter_map(|p| p.1.filter(|v| v.is_finite()))
        .map(|v| (v, v))
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
}

/// A name cut or filled to a number of columns.
fn padded(name: &str, columns: usize) -> String {
    let name = cut(name, columns);
    let room = columns.saturating_sub(name.width());
    name + &" ".repeat(room)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::Quantity;

    #[test]
    fn heights_follow_values() {
        let values = [Some(0.0), Some(7.0), None, Some(f64::NAN), Some(3.5)];
        assert_eq!(sparkline(&values, 0.0, 7.0), "▁█  ▅");
        assert_eq!(sparkline(&[Some(5.0)], 5.0, 5.0), "▄");
    }

    /// A peak that shares a step with lower values is in the numbers at the end all the same.
    #[test]
    fn the_extremes_are_those_of_all_samples() {
        let points: Vec<_> = (0..1000)
            .map(|k| {
                (
                    f64::from(k) / 100.0,
                    Some(if k == 503 { 1300.0 } else { 1200.0 - f64::from(k % 7) }),
                )
            })
            .collect();
        let plot = Plot {
            curves: vec![("edge".to_owned(), points)],
            range: (0.0, 9.99),
            busy: vec![(4.0, 6.0)],
            quantity: Quantity::Temperature,
        };
        for width in [60, 80, 160] {
            let text = text(&plot, &View::default(), width);
            let line = text.lines().find(|line| line.starts_with("edge")).unwrap();
            assert!(line.contains(" 1300 ") && line.trim_end().ends_with("1194"), "{text}");
            assert!(text.lines().all(|line| line.width() <= width), "{text}");
        }
    }
}
