//! How certain each limited value is, what that mostly comes from, and what to measure.

use crate::ask::certainty::{Certainty, Subject};
use crate::judge::Verdict;
use crate::show::{Block, Cell, Column, Joint, Mark, NoteKind, Quantity, Table, Text, judged, limit, say};

/// The limited values with their widths, and the largest unknowns with the measurement that would settle each.
pub fn blocks(certainty: &Certainty, verdicts: &[Verdict]) -> Vec<Block> {
    if certainty.doubts.is_empty() || verdicts.is_empty() {
        return Vec::new();
    }
    let mut blocks = vec![widths(certainty, verdicts)];
    if !certainty.unknowns.is_empty() {
        blocks.push(unknowns(certainty));
    }
    let refused = [
        ("certain.left_out", &certainty.left_out),
        ("certain.one_sided", &certainty.one_sided),
    ];
    let told = refused.into_iter().filter(|(_, paths)| !paths.is_empty());
    let told =
        told.map(|(id, paths)| Cell::from(say(id).with("names", Cell::List(paths.iter().map(Cell::name).collect()))));
    if let Some(text) = told.reduce(|one, other| one.joined(Joint::Space, other)) {
        blocks.push(Block::Note(NoteKind::Remark, text));
    }
    blocks
}

fn widths(certainty: &Certainty, verdicts: &[Verdict]) -> Block {
    let columns = vec![
        Column::numbers(say("limit.number"), Quantity::Count),
        Column::words(say("word.limit")),
        Column::mixed(say("word.value")),
        Column::words(say("certain.mostly")),
    ];
    let rows = verdicts
        .iter()
        .zip(&certainty.limits)
        .enumerate()
        .map(|(k, (verdict, width))| {
            let value = say("certain.value")
                .with("value", judged(verdict.limit.bound, verdict.value))
                .with("k", Cell::number(width.plus_minus_k, Quantity::Margin).up());
            vec![
                Cell::count(k + 1),
                limit(&verdict.limit).into(),
                if width.may_cross(verdict) {
                    Cell::Mark(Mark::Watch, value)
                } else {
                    value.into()
                },
                Cell::List(width.mostly.iter().map(|subject| what(*subject).into()).collect()),
            ]
        });
    let table = Table::new(columns).caption(say("certain.caption")).rows(rows);
    Block::Table(table.note(say("certain.note")))
}

fn unknowns(certainty: &Certainty) -> Block {
    let columns = vec![
        Column::words(say("certain.unknown")),
        Column::numbers(say("limit.number"), Quantity::Count),
        Column::mixed(say("certain.known")),
        Column::words(say("certain.settle")),
    ];
    let rows = certainty.unknowns.iter().map(|unknown| {
        let now = certainty.limits[unknown.limit].plus_minus_k;
        let width = |k: f64| Cell::number(k, Quantity::Margin).up();
        vec![
            what(unknown.subject).into(),
            Cell::count(unknown.limit + 1),
            say("certain.from_to")
                .with("now", width(now))
                .with("then", width(unknown.left_k))
                .into(),
            settle(unknown.subject).into(),
        ]
    });
    Block::Table(Table::new(columns).caption(say("certain.largest")).rows(rows))
}

/// A subject in words.
fn what(subject: Subject) -> Text {
    say(match subject {
        Subject::Resting => "certain.resting",
        Subject::Gripping => "certain.gripping",
        Subject::Blow => "certain.blow",
        Subject::Flash => "certain.flash",
        Subject::ContactTime => "certain.contact_time",
        Subject::Emissivity => "certain.emissivity",
        Subject::Tools => "certain.tools",
        Subject::Air => "certain.air",
        Subject::Times => "certain.times",
        Subject::Forming => "certain.forming",
        Subject::Exit => "certain.exit",
        Subject::Water => "certain.water",
        Subject::Heap => "certain.heap",
        Subject::Other => "certain.other",
    })
}

/// The measurement that settles a subject.
fn settle(subject: Subject) -> Text {
    say(match subject {
        Subject::Resting => "certain.measure_resting",
        Subject::Gripping => "certain.measure_gripping",
        Subject::Blow => "certain.measure_blow",
        Subject::Flash => "certain.measure_flash",
        Subject::ContactTime => "certain.measure_contact_time",
        Subject::Emissivity => "certain.measure_emissivity",
        Subject::Tools => "certain.measure_tools",
        Subject::Air => "certain.measure_air",
        Subject::Times => "certain.measure_times",
        Subject::Forming => "certain.measure_forming",
        Subject::Exit => "certain.measure_exit",
        Subject::Water => "certain.measure_water",
        Subject::Heap => "certain.measure_heap",
        Subject::Other => "certain.measure_other",
    })
}
