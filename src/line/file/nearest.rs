//! Places in a text, and the word that a misspelt one was meant to be.

/// Line and column, from 1, of a byte of the text; the column counts characters.
pub(crate) fn place(text: &str, byte: usize) -> (usize, usize) {
    let mut byte = byte.min(text.len());
    while !text.is_char_boundary(byte) {
        byte -= 1;
    }
    let before = &text[..byte];
    let line_start = before.rfind('\n').map_or(0, |at| at + 1);
    let line = before.matches('\n').count() + 1;
    (line, before[line_start..].chars().count() + 1)
}

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
