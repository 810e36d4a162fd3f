//! Tick marks on round numbers.

/// Round tick values over a range.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticks {
    /// Tick values in rising order, all inside the range.
    pub values: Vec<f64>,
    /// Distance between ticks.
    pub step: f64,
    /// Decimals that tell neighbouring ticks apart.
    pub decimals: usize,
}

/// Ticks at 1, 2 or 5 times a power of ten, about `wanted` of them, inside `low..=high`
/// (the "nice numbers for graph labels" of P. Heckbert, Graphics Gems, 1990).
///
/// A range that is empty or not finite gives no ticks.
pub fn nice_ticks(low: f64, high: f64, wanted: usize) -> Ticks {
    let none = Ticks {
        values: Vec::new(),
        step: 1.0,
        decimals: 0,
    };
    let span = high - low;
    // ticks closer than the spacing of floating-point numbers would all print alike
    if !span.is_finite() || span <= 1e-12 * low.abs().max(high.abs()) || span < 1e-250 {
        return none;
    }
    let step = nice_step(span / wanted.max(1) as f64);
    let first = (low / step - 1e-9).ceil();
    let last = (high / step + 1e-9).floor();
    if !(last - first).is_finite() || last < first {
        return none;
    }
    let count = (last - first) as usize;
    let values = (0..=count.min(200))
        .map(|i| {
            let value = (first + i as f64) * step;
            if value == 0.0 { 0.0 } else { value }
        })
        .collect();
    Ticks {
        values,
        step,
        decimals: decimals(step),
    }
}

/// Smallest of 1, 2, 5 times a power of ten that is not below `raw`.
pub(crate) fn nice_step(raw: f64) -> f64 {
    if !raw.is_finite() || raw <= 0.0 {
        return 1.0;
    }
    let exponent = raw.log10().floor();
    let mantissa = raw / 10f64.powf(exponent);
    let nice = if mantissa <= 1.0 + 1e-9 {
        1.0
    } else if mantissa <= 2.0 + 1e-9 {
        2.0
    } else if mantissa <= 5.0 + 1e-9 {
        5.0
    } else {
        10.0
    };
    nice * 10f64.powf(exponent)
}

/// Decimals needed to write multiples of a nice step.
fn decimals(step: f64) -> usize {
    (-step.log10().floor()).clamp(0.0, 12.0) as usize
}

/// A range widened to include some air and to be drawable even when all values are equal.
pub(crate) fn airy(low: f64, high: f64, share: f64) -> (f64, f64) {
    let span = high - low;
    if span > 1e-9 * low.abs().max(high.abs()) {
        (low - share * span, high + share * span)
    } else {
        let half = (0.05 * low.abs()).max(0.5);
        (low - half, high + half)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        let ticks = nice_ticks(842.0, 1253.0, 6);
        assert_eq!(ticks.values, [900.0, 1000.0, 1100.0, 1200.0]);
        let ticks = nice_ticks(-0.3, 0.31, 6);
        assert_eq!(ticks.decimals, 1);
        assert_eq!(ticks.values.len(), 3);
        assert!(ticks.values.contains(&0.0));
    }

    #[test]
    fn hopeless_ranges_give_no_ticks() {
        for (low, high) in [(1.0, 1.0), (2.0, 1.0), (f64::NAN, 1.0), (0.0, f64::INFINITY)] {
            assert!(nice_ticks(low, high, 5).values.is_empty());
        }
    }
}
