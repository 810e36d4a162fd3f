//! What messages are made of: numbers in words, and the word that a misspelt one was meant to be.

use std::fmt;

/// The candidate closest to `word`, if one is close enough to be what was meant: alike in the sense
/// of Jaro and Winkler, or one slip of the fingers away (two in longer words).
pub(crate) fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<String> {
    let lower = word.to_lowercase();
    let length = lower.chars().count();
    let slips = match length {
        0..=2 => 0,
        3..=5 => 1,
        _ => 2,
    };
    let mut best: Option<(f64, &str)> = None;
    for candidate in candidates {
        let other = candidate.to_lowercase();
        // A name that nobody types is not worth a quadratic comparison.
        if length > 300 || other.len() > 600 {
            continue;
        }
        let distance = strsim::osa_distance(&lower, &other);
        let alike = strsim::jaro_winkler(&lower, &other);
        let alike = if distance <= slips {
            alike.max(1.0 - 0.1 * distance as f64)
        } else {
            alike
        };
        if alike >= 0.8 && best.is_none_or(|(most, _)| alike > most) {
            best = Some((alike, candidate));
        }
    }
    best.map(|(_, candidate)| candidate.to_owned())
}

/// A number as a person writes it: `NaN` and infinities by name.
pub(super) struct Shown(pub f64);

impl fmt::Display for Shown {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        match self.0 {
            value if value.is_nan() => out.write_str("nan"),
            value if value.abs() >= 1e12 && value.is_finite() => write!(out, "{value:e}"),
            value => write!(out, "{value}"),
        }
    }
}

/// A unit with a blank before it, where there is one.
pub(super) fn spaced(unit: &str) -> String {
    if unit.is_empty() {
        String::new()
    } else {
        format!(" {unit}")
    }
}
