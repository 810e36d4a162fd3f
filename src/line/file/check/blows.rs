//! How many blows, how they share the change of shape, and their rhythm.

use std::ops::Range;

use toml::Spanned;

use super::context::Check;
use crate::line::file::tables::RawStage;
use crate::text::ProblemKind;

/// Number of blows, and the share of the change of shape that each makes where those are given.
pub(super) fn blows(check: &mut Check, base: &str, raw: &RawStage) -> (u32, Vec<f64>) {
    check.exclusive(&raw.blows, &raw.blow_shares);
    if let Some(given) = raw.blow_shares.as_ref() {
        let shares = blow_shares(check, base, raw, given);
        return (shares.len() as u32, shares);
    }
    let count = match raw.blows.value() {
        Some(given) => {
            check.whole(base, &raw.blows);
            // A refused count goes on inside the range, so that no limit misses its blow too.
            let allowed = raw.blows.key.allowed;
            (*given as f64).clamp(allowed.low, allowed.high)
        }
        None => check.whole_or_default(base, &raw.blows),
    };
    (count as u32, Vec::new())
}

/// Shares of the change of shape, which must sum to one within a hundredth (and are made to).
fn blow_shares(check: &mut Check, base: &str, raw: &RawStage, given: &Spanned<Vec<Spanned<f64>>>) -> Vec<f64> {
    let place = given.span();
    if raw.shape.is_none() {
        check.not_here("blow_shares", place.clone(), "without shape", "blows = how many");
    }
    let items = given.get_ref();
    let most = raw.blows.key.allowed.high as usize;
    if items.is_empty() {
        check.missing(
            place,
            "a share for each blow in blow_shares",
            "blow_shares = [0.5, 0.3, 0.2]",
        );
        return vec![1.0];
    }
    if items.len() > most {
        let kind = ProblemKind::TooMany {
            what: "blows",
            count: items.len(),
            most,
        };
        check.problem(kind, items[most].span());
        return vec![1.0];
    }
    let before = check.problems.len();
    for item in items {
        check.in_range(&raw.blow_shares, *item.get_ref(), item.span());
    }
    let refused = check.problems.len() > before;
    let shares: Vec<f64> = items.iter().map(|item| *item.get_ref()).collect();
    let sum: f64 = shares.iter().sum();
    if !refused && (sum - 1.0).abs() > 0.01 {
        let detail = format!("blow_shares sum to {sum:.3}; allowed is 0.99 to 1.01");
        check.problem(ProblemKind::rule("shares-sum", detail, ""), place.clone());
    }
    let words: Vec<String> = shares.iter().map(f64::to_string).collect();
    check.record_given(base, "blow_shares", &words.join(", "), place);
    shares.iter().map(|share| share / sum).collect()
}

/// Time from the start of one blow to that of the next, s.
pub(super) fn interval(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    blows: u32,
    contact_s: f64,
    place: &Range<usize>,
) -> f64 {
    if raw.interval_s.is_none() && blows <= 1 {
        return contact_s;
    }
    let interval_s = check.or_default(base, &raw.interval_s);
    if contact_s > interval_s {
        let micro = |value: f64| (value * 1e6).round() / 1e6;
        let (blow, time) = (micro(contact_s), micro(interval_s));
        let detail = format!("a blow of {blow} s is longer than its interval of {time} s");
        let kind = ProblemKind::rule("blow-too-long", detail, "");
        match (raw.contact_ms.span(), raw.interval_s.span()) {
            (Some(contact), Some(interval)) => {
                check.conflict(kind, contact, interval, "the interval");
            }
            (Some(only), None) | (None, Some(only)) => check.problem(kind, only),
            (None, None) => check.problem(kind, place.clone()),
        }
    }
    interval_s
}
