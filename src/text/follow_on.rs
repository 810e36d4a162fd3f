//! What is still worth telling of a file that has keys with unknown names or wrong types.
//!
//! Such keys are taken out before the rest is checked, so that one look shows what is wrong with the
//! numbers too. What is wrong only because a key was taken out is no news and is left out: the next
//! look, with the key right, will show whether it stays.

use std::ops::Range;

use super::parse::Reading;
use super::problem::{Problem, ProblemKind};

/// How far what a problem says depends on keys beside the one that it points at.
#[derive(PartialEq)]
enum Reach {
    /// The value by itself.
    Value,
    /// Other keys of its table.
    Table,
    /// Other tables.
    File,
}

fn reach(kind: &ProblemKind) -> Reach {
    match kind {
        ProblemKind::OutOfRange { .. }
        | ProblemKind::TextLength { .. }
        | ProblemKind::ControlCharacter { .. }
        | ProblemKind::TooMany { .. } => Reach::Value,
        ProblemKind::UnknownWord { what, .. } if !matches!(*what, "stage" | "node" | "zone") => Reach::Value,
        ProblemKind::Rule { code, .. } => match *code {
            "shares-sum" | "bad-zone" | "duplicate-stage" | "reserved-name" => Reach::Value,
            "empty-ring" | "blow-too-long" | "point-order" | "steel" => Reach::Table,
            _ => Reach::File,
        },
        // The length of a grip may stand in the table for all grips.
        ProblemKind::Missing { what, .. } if what.ends_with("of the grip") => Reach::File,
        // Whether a strip has a left side depends on its section.
        ProblemKind::Missing { what, .. } if what == "`left_mm`" => Reach::File,
        ProblemKind::Missing { .. } | ProblemKind::NotHere { .. } | ProblemKind::Exclusive { .. } => Reach::Table,
        _ => Reach::File,
    }
}

/// What was refused in reading and what stands of the check of the rest.
pub(crate) fn together<T>(text: &str, reading: &Reading<T>, checked: Vec<Problem>) -> Vec<Problem> {
    if reading.refused.is_empty() {
        return checked;
    }
    let extents = reading
        .touched
        .iter()
        .map(|table| extent(table, &reading.headers, text));
    let touched: Vec<Range<usize>> = extents.collect();
    let inside = |at: &Range<usize>| touched.iter().any(|t| at.start >= t.start && at.end <= t.end);
    let stands = |problem: &Problem| match reach(&problem.kind) {
        Reach::Value => true,
        Reach::Table => !inside(&problem.span),
        Reach::File => false,
    };
    let refused = reading.refused.iter().cloned();
    refused.chain(checked.into_iter().filter(stands)).collect()
}

/// All of a table: an inline one as it stands, another from its header to the next.
fn extent(table: &Range<usize>, headers: &[usize], text: &str) -> Range<usize> {
    let with_header = table.is_empty() || headers.contains(&table.start);
    if !with_header {
        return table.clone();
    }
    let next = headers.iter().find(|start| **start > table.start || table.is_empty());
    table.start..next.copied().unwrap_or(text.len())
}
