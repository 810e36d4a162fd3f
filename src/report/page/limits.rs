//! Limits and verdicts in the words of a view, rounded to the safe side.

use crate::judge::{Bound, Verdict};
use crate::line::Trace;
use crate::show::{Cell, Mark, Quantity, View, judged, nodes};

/// The bound as a short sign and number with unit, such as "≥ 1150 °C".
pub(super) fn bound_sign(bound: Bound, view: &View) -> String {
    Cell::from(bound).whole(view)
}

/// The judged value with unit.
pub(super) fn value(verdict: &Verdict, view: &View) -> String {
    judged(verdict.limit.bound, verdict.value).whole(view)
}

/// Node or pair of nodes in plain words.
pub(super) fn node(verdict: &Verdict, view: &View) -> String {
    nodes(&verdict.limit).whole(view)
}

/// Margin in K with unit, rounded down.
pub(super) fn margin_k(verdict: &Verdict, view: &View) -> String {
    let margin = Cell::number(verdict.margin_k, Quantity::Margin).whole(view);
    margin.replace('-', "\u{2212}")
}

/// Verdict of the whole run in words and whether it is good.
pub(super) fn headline(trace: &Trace, view: &View) -> (String, bool) {
    let headline = super::super::verdict::headline(trace);
    let good = matches!(headline, Cell::Mark(Mark::Ok, _));
    (headline.whole(view), good)
}
