//! How many blows, how they share the change of shape, and their rhythm.

use std::ops::Range;

use toml::Spanned;

use super::context::Check;
use crate::line::file::keys;
use crate::line::file::problem::ProblemKind;
use crate::line::file::raw::RawStage;
use crate::line::trace::Owner;

/// Number of blows, and the share of the change of shape that each makes where those are given.
pub(super) fn blows(check: &mut Check, base: &str, raw: &RawStage) -> (u32, Vec<f64>) {
    check.exclusive("blows", &raw.blows, "blow_shares", &raw.blow_shares);
    if let Some(given) = &raw.blow_shares {
        let shares = blow_shares(check, base, raw, given);
        return (shares.len() as u32, shares);
    }
    let value = match &raw.blows {
        Some(given) => {
            let count = *given.get_ref() as f64;
            check.given(base, &keys::BLOWS, count, given.span());
            // A refused count goes on inside the range, so that no limit misses its blow too.
            count.clamp(keys::BLOWS.allowed.low, keys::BLOWS.allowed.high)
        }
        None => check.or_default(base, &keys::BLOWS, &None),
    };
    (value as u32, Vec::new())
}

/// Shares of the change of shape, which must sum to one within a hundredth (and are made to).
fn blow_shares(check: &mut Check, base: &str, raw: &RawStage, given: &Spanned<Vec<Spanned<f64>>>) -> Vec<f64> {
    let place = given.span();
    if raw.shape.is_none() {
        let kind = ProblemKind::NotHere {
            key: "blow_shares".to_owned(),
            place: "without shape".to_owned(),
            hint: "blows = how many".to_owned(),
        };
        check.problem(kind, place.clone());
    }
    let items = given.get_ref();
    let most = keys::BLOWS.allowed.high as usize;
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
    let mut refused = false;
    for item in items {
        let value = *item.get_ref();
        if !keys::BLOW_SHARE.allowed.contains(value) {
            refused = true;
            let kind = ProblemKind::OutOfRange {
                key: keys::BLOW_SHARE.name,
                value,
                unit: "",
                allowed: keys::BLOW_SHARE.allowed,
            };
            check.problem(kind, item.span());
        }
    }
    let shares: Vec<f64> = items.iter().map(|item| *item.get_ref()).collect();
    let sum: f64 = shares.iter().sum();
    if !refused && (sum - 1.0).abs() > 0.01 {
        let kind = ProblemKind::SharesSum { sum };
        check.problem(kind, place.clone());
    }
    let words: Vec<String> = shares.iter().map(f64::to_string).collect();
    let line = check.line(place.start);
    let source = format!("line {line}").into();
    check.record_word(base, "blow_shares", &words.join(", "), Owner::Given, source);
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
    let interval_s = check.or_default(base, &keys::INTERVAL, &raw.interval_s);
    if contact_s > interval_s {
        let kind = ProblemKind::BlowTooLong { contact_s, interval_s };
        match (&raw.contact_ms, &raw.interval_s) {
            (Some(contact), Some(interval)) => {
                let (contact, interval) = (contact.span(), interval.span());
                check.conflict(kind, contact, interval, "the interval");
            }
            (Some(only), None) | (None, Some(only)) => check.problem(kind, only.span()),
            (None, None) => check.problem(kind, place.clone()),
        }
    }
    interval_s
}
