//! Numbers as people read them: fixed decimals, decimal comma, rounding to the safe side.

/// A number with fixed decimals, with a decimal comma where wanted, and without a negative zero.
/// Numbers that are not finite give an empty text.
pub fn fixed(value: f64, decimals: usize, decimal_comma: bool) -> String {
    if !value.is_finite() {
        return String::new();
    }
    let mut text = format!("{value:.decimals$}");
    if text.starts_with('-') && text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.')) {
        text.remove(0);
    }
    if decimal_comma {
        text = text.replace('.', ",");
    }
    text
}

/// Like [`fixed`] with a sign in front always.
pub fn signed(value: f64, decimals: usize, decimal_comma: bool) -> String {
    let text = fixed(value, decimals, decimal_comma);
    if text.is_empty() || text.starts_with('-') {
        text
    } else {
        format!("+{text}")
    }
}

/// A number text with a real minus sign, for pictures and pages.
pub fn minus(text: &str) -> String {
    text.replace('-', "\u{2212}")
}

/// Rounded down at a number of decimals, with a guard so that 4.2 stays 4.2 at one decimal although
/// its binary form may lie a hair lower.
pub fn down(value: f64, decimals: u32) -> f64 {
    let scale = 10f64.powi(decimals as i32);
    (value * scale + 1e-6).floor() / scale
}

/// Rounded up at a number of decimals, with the guard of [`down`].
pub fn up(value: f64, decimals: u32) -> f64 {
    let scale = 10f64.powi(decimals as i32);
    (value * scale - 1e-6).ceil() / scale
}

/// A number as it was written where that is short, else in six significant digits.
pub fn plain(value: f64, decimal_comma: bool) -> String {
    let exact = value.to_string();
    let text = if exact.len() <= 12 || !value.is_finite() || value == 0.0 {
        exact
    } else {
        let digits = 5 - value.abs().log10().floor() as i32;
        format!("{value:.*}", digits.clamp(0, 12) as usize)
    };
    if decimal_comma { text.replace('.', ",") } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_written_plainly() {
        assert_eq!(fixed(-0.04, 1, false), "0.0");
        assert_eq!(fixed(1234.56, 1, true), "1234,6");
        assert_eq!(fixed(f64::NAN, 1, false), "");
        assert_eq!(signed(3.0, 0, false), "+3");
        assert_eq!(signed(-3.0, 0, false), "-3");
    }

    #[test]
    fn long_numbers_are_cut() {
        assert_eq!(plain(10999.998874648252, false), "11000.0");
        assert_eq!(plain(0.25, true), "0,25");
        assert_eq!(plain(1e-9, false), "0.000000001");
    }

    #[test]
    fn safe_rounding_never_moves_to_the_risky_side() {
        assert_eq!(down(4.2, 1), 4.2);
        assert_eq!(down(4.29, 1), 4.2);
        assert_eq!(up(4.21, 1), 4.3);
        assert_eq!(up(1150.0, 0), 1150.0);
        assert_eq!(down(-0.01, 1), -0.1);
    }
}
