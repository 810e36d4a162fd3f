//! Histogram of a sample with limits.

use super::axes::label_room;
use super::canvas::Canvas;
use super::frame::Frame;
use super::labels::Placer;
use super::line::extent;
use super::palette::{ALARM, PALETTE, PAPER};
use super::rules::{Rule, Rules};
use super::ticks::nice_step;
use super::{Axis, Drawing, Style};

/// How often values fall into classes of equal, round width.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Histogram {
    /// Title.
    pub title: String,
    /// The value axis.
    pub axis: Axis,
    /// Name of the count axis, for example `parts`.
    pub counted: String,
    /// The sample; values that are not finite are left out.
    pub values: Vec<f64>,
    /// Classes that were counted elsewhere as (from, to, count); used instead of `values` when not
    /// empty.
    pub given: Vec<(f64, f64, usize)>,
    /// Lowest allowed value.
    pub low_limit: Option<f64>,
    /// Highest allowed value.
    pub high_limit: Option<f64>,
    /// Further upright lines (mean, quantiles).
    pub rules: Vec<Rule>,
}

impl Histogram {
    /// Class edges and counts: between 8 and about 40 classes of a round width near that of
    /// Freedman and Diaconis (1981), 2·IQR·n^(-1/3).
    pub fn classes(&self) -> Vec<(f64, f64, usize)> {
        if !self.given.is_empty() {
            let sound = |c: &&(f64, f64, usize)| c.0.is_finite() && c.1.is_finite() && c.1 > c.0;
            return self.given.iter().filter(sound).copied().collect();
        }
        let mut values: Vec<f64> = self.values.iter().copied().filter(|v| v.is_finite()).collect();
        values.sort_by(f64::total_cmp);
        let (Some(&low), Some(&high)) = (values.first(), values.last()) else {
            return Vec::new();
        };
        let n = values.len();
        let span = high - low;
        if span <= 1e-9 * high.abs().max(1e-3) {
            let half = (1e-3 * high.abs()).max(0.5);
            return vec![(low - half, low + half, n)];
        }
        let iqr = values[(3 * n / 4).min(n - 1)] - values[n / 4];
        let width = (2.0 * iqr / (n as f64).cbrt()).clamp(span / 40.0, span / 20.0);
        let width = nice_step(width);
        let first = (low / width).floor() * width;
        let count = (((high - first) / width).floor() as usize + 1).min(1000);
        let mut classes: Vec<(f64, f64, usize)> = (0..count)
            .map(|i| (first + width * i as f64, first + width * (i + 1) as f64, 0))
            .collect();
        for v in values {
            let i = (((v - first) / width).floor().max(0.0) as usize).min(count - 1);
            classes[i].2 += 1;
        }
        classes
    }

    /// Draws the chart.
    pub fn draw(&self, style: &Style) -> Drawing {
        let classes = self.classes();
        let mut canvas = Canvas::new(style, &self.title);
        let alt = self.axis.sentence(&self.title, &Axis::new(self.counted.clone(), ""));
        let most = classes.iter().map(|c| c.2).max().unwrap_or(0);
        let limits = [self.low_limit, self.high_limit];
        let edges = classes.iter().flat_map(|c| [c.0, c.1]);
        let x = self.axis.range.filter(|(a, b)| a.is_finite() && b > a).or_else(|| {
            let near = limits.iter().flatten().copied().filter(|v| v.is_finite());
            let (low, high) = extent(edges.chain(near))?;
            let air = 0.03 * (high - low);
            Some((low - air, high + air))
        });
        let (Some(x), true) = (x, most > 0) else {
            return canvas.no_data(style, alt);
        };
        let mut rules = self.rules.clone();
        for (limit, sign) in [(self.low_limit, "\u{2265}"), (self.high_limit, "\u{2264}")] {
            if let Some(value) = limit.filter(|v| v.is_finite()) {
                let text = crate::text::number::fixed(value, 0, style.decimal_comma);
                rules.push(Rule {
                    value,
                    upright: true,
                    label: format!("{sign} {text} {}", self.axis.unit),
                });
            }
        }
        let y = (0.0, most as f64 * 1.08);
        let (top, bottom) = (canvas.head + 54.0, f64::from(style.height) - 84.0);
        let mut frame = Frame {
            left: label_room(y.0, y.1, bottom - top, style),
            right: f64::from(style.width) - 40.0,
            top,
            bottom,
            x,
            y,
        };
        let rules = Rules::place(&rules, &frame);
        frame.top += rules.height();
        frame.grid(&mut canvas, false);
        canvas.layer(&[], |pen| {
            for &(from, to, count) in &classes {
                if count == 0 {
                    continue;
                }
                let outside =
                    self.low_limit.is_some_and(|l| to <= l + 1e-9) || self.high_limit.is_some_and(|h| from >= h - 1e-9);
                let colour = if outside { ALARM } else { PALETTE[6].colour };
                let (a, b) = (frame.px(from, count as f64), frame.px(to, 0.0));
                let (a, b) = ((a.0.max(frame.left), a.1), (b.0.min(frame.right), b.1));
                pen.block(a, b, colour, 1.0);
                pen.outline(a, b, PAPER, 2);
            }
        });
        frame.axis_y(&mut canvas, &Axis::new(self.counted.clone(), ""), style, top - 26.0);
        frame.axis_x(&mut canvas, &self.axis, style, 62.0);
        rules.lines(&mut canvas, &frame);
        rules.labels(&mut canvas, &frame, &mut Placer::default());
        canvas.finish(alt, Some(frame))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_is_counted_once() {
        let values: Vec<f64> = (0..1000).map(|i| 1150.0 + f64::from(i % 97) * 0.7).collect();
        let histogram = Histogram {
            values,
            ..Histogram::default()
        };
        let classes = histogram.classes();
        assert_eq!(classes.iter().map(|c| c.2).sum::<usize>(), 1000);
        assert!((8..=41).contains(&classes.len()), "{}", classes.len());
        for pair in classes.windows(2) {
            assert!((pair[0].1 - pair[1].0).abs() < 1e-9);
        }
    }

    #[test]
    fn odd_samples_are_drawable() {
        for values in [vec![], vec![f64::NAN], vec![5.0; 40], vec![1.0]] {
            let histogram = Histogram {
                values,
                ..Histogram::default()
            };
            let svg = histogram.draw(&Style::default()).svg;
            assert!(!svg.contains("NaN"));
        }
    }
}
