//! Histogram with round class limits.

use serde::Serialize;

use super::summary::Summary;
use crate::ask::PlanError;

/// Counts of values in classes of equal width with round limits.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Histogram {
    /// Lower limit of the first class.
    pub start: f64,
    /// Class width.
    pub width: f64,
    /// Values in each class; a value on a limit counts in the upper class.
    pub counts: Vec<u64>,
}

/// Differences below this share of the mean are rounding.
const STILL: f64 = 1e-9;

impl Histogram {
    /// Counts the values. The width is the one of 1, 2, 5 times a power of ten next above the rule
    /// of D. Freedman and P. Diaconis, Z. Wahrscheinlichkeitstheorie 57 (1981), 453-476, with the
    /// normal's quartile distance (2 x 1.349 sd / n^(1/3)), and never makes more than 60 classes.
    ///
    /// # Errors
    /// No values, or one that is not finite.
    #[allow(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss
    )]
    pub fn of(values: &[f64]) -> Result<Self, PlanError> {
        let summary = Summary::of(values)?;
        // What differs by rounding alone is one value.
        let still = summary.max - summary.min <= STILL * summary.mean.abs().max(1.0);
        let span = if still { 0.0 } else { summary.max - summary.min };
        let rule = if still { 0.0 } else { 2.0 * 1.349 } * summary.sd / (values.len() as f64).cbrt();
        let least = (span / 60.0).max(rule);
        // All values equal: one class of one unit in the last shown place.
        let width = round_up(if least > 0.0 { least } else { 1.0 });
        let start = (summary.min / width).floor() * width;
        let classes = (((summary.max - start) / width).floor() as usize + 1).min(100);
        let mut counts = vec![0; classes];
        for &value in values {
            let k = ((value - start) / width).floor().max(0.0) as usize;
            counts[k.min(classes - 1)] += 1;
        }
        Ok(Self { start, width, counts })
    }
}

/// Next of 1, 2, 5 times a power of ten at or above `x`.
fn round_up(x: f64) -> f64 {
    let power = 10_f64.powf(x.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|f| f * power)
        .find(|w| *w >= x * (1.0 - 1e-12))
        .unwrap_or(10.0 * power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_is_counted_once() {
        let values: Vec<f64> = (0..1000).map(|k| 1150.0 + f64::from(k % 83)).collect();
        let h = Histogram::of(&values).unwrap();
        assert_eq!(h.counts.iter().sum::<u64>(), 1000);
        assert!([1.0, 2.0, 5.0, 10.0, 20.0].contains(&h.width), "{}", h.width);
        assert!(h.start <= 1150.0 && h.start + h.width * h.counts.len() as f64 > 1232.0);
        // Twenty runs of a limit that nothing moves differ in their last digits.
        let same: Vec<f64> = (0..20).map(|k| 1215.0 + 2e-13 * f64::from(k % 3)).collect();
        let one = Histogram::of(&same).unwrap();
        assert_eq!((one.width, one.counts.as_slice()), (1.0, [20].as_slice()));
        let one = Histogram::of(&[5.0, 5.0]).unwrap();
        assert_eq!(one.counts, [2]);
    }
}
