//! Limits and verdicts in the words of a view, rounded to the safe side.

use crate::judge::{Bound, Cause, Verdict};
use crate::line::Trace;
use crate::show::{Side, View};

/// The bound as a short sign and number with unit, such as "≥ 1150 °C".
pub(super) fn bound_sign(bound: Bound, view: &View) -> String {
    let unit = view.temperature_unit();
    match bound {
        Bound::MinC(c) => format!("\u{2265} {} {unit}", view.degrees(c, Side::Up)),
        Bound::MaxC(c) => format!("\u{2264} {} {unit}", view.degrees(c, Side::Down)),
        Bound::MaxDifferenceK(k) => format!(
            "\u{394} \u{2264} {} {}",
            view.kelvins(k, Side::Down),
            view.difference_unit()
        ),
    }
}

/// The bound in words.
pub(super) fn bound_words(bound: Bound, view: &View) -> String {
    let unit = view.temperature_unit();
    let (key, value) = match bound {
        Bound::MinC(c) => ("verdict.at_least", format!("{} {unit}", view.degrees(c, Side::Up))),
        Bound::MaxC(c) => ("verdict.at_most", format!("{} {unit}", view.degrees(c, Side::Down))),
        Bound::MaxDifferenceK(k) => (
            "verdict.difference",
            format!("{} {}", view.kelvins(k, Side::Down), view.difference_unit()),
        ),
    };
    view.say_with(key, &[("v", &value)])
}

/// The judged value with unit.
pub(super) fn value(verdict: &Verdict, view: &View) -> String {
    let unit = view.temperature_unit();
    match verdict.limit.bound {
        Bound::MinC(_) => format!("{} {unit}", view.degrees(verdict.value, Side::Down)),
        Bound::MaxC(_) => format!("{} {unit}", view.degrees(verdict.value, Side::Up)),
        Bound::MaxDifferenceK(_) => format!("{} {}", view.kelvins(verdict.value, Side::Up), view.difference_unit()),
    }
}

/// Node or pair of nodes in plain words.
pub(super) fn node(verdict: &Verdict, view: &View) -> String {
    match (&verdict.limit.bound, &verdict.limit.other) {
        (Bound::MaxDifferenceK(_), Some(other)) => {
            format!("{} / {}", view.node(&verdict.limit.node), view.node(other))
        }
        _ => view.node(&verdict.limit.node),
    }
}

/// Margin in K with unit, rounded down.
pub(super) fn margin_k(verdict: &Verdict, view: &View) -> String {
    format!(
        "{} {}",
        view.kelvins(verdict.margin_k, Side::Down).replace('-', "\u{2212}"),
        view.difference_unit()
    )
}

/// Margin in s with the stage it is about, empty where there is none.
pub(super) fn margin_s(verdict: &Verdict, view: &View) -> String {
    let Some(seconds) = verdict.margin_s else {
        return String::new();
    };
    let stage = verdict.margin_stage.as_deref().unwrap_or("");
    if seconds >= 0.0 {
        let s = view.seconds(seconds, Side::Down);
        view.say_with("verdict.spare", &[("s", &s), ("stage", stage)])
    } else {
        let s = view.seconds(-seconds, Side::Up);
        view.say_with("verdict.late", &[("s", &s), ("stage", stage)])
    }
}

/// Cause in words.
pub(super) fn cause(cause: Cause, view: &View) -> &'static str {
    view.say(match cause {
        Cause::TooHot => "cause.too_hot",
        Cause::TooCold => "cause.too_cold",
        Cause::TooUneven => "cause.too_uneven",
    })
}

/// Verdict of the whole run in words and whether it is good.
pub(super) fn headline(trace: &Trace, view: &View) -> (String, bool) {
    let total = trace.verdicts.len();
    let broken = trace.verdicts.iter().filter(|v| !v.holds).count();
    let (n, k) = (total.to_string(), broken.to_string());
    let places = [("n", n.as_str()), ("k", k.as_str())];
    if total == 0 {
        (view.say("verdict.none").to_owned(), false)
    } else if broken == 0 {
        (view.say_with("verdict.pass", &places), true)
    } else {
        (view.say_with("verdict.fail", &places), false)
    }
}
